//! The apron by the sea on the five days: sun, sky and ground of the overall views.

use super::solid::{P3, dot, minus, unit};
use crate::light::smooth_step;
use crate::noise::octaves;

/// A day: where the sun stands, and its colours.
pub(super) struct Day {
    pub(super) sun: P3,
    pub(super) sun_colour: [f32; 3],
    pub(super) sky_low: [f32; 3],
    pub(super) sky_high: [f32; 3],
    pub(super) cloud: f32,
}

/// The day of a walkaround.
pub(super) fn day(walk: usize) -> Day {
    let day = |sun: P3, sun_colour, sky_low, sky_high, cloud| Day {
        sun: unit(sun),
        sun_colour,
        sky_low,
        sky_high,
        cloud,
    };
    match walk {
        0 => day(
            [-0.75, -0.55, -0.62],
            [1.25, 1.12, 0.90],
            [0.62, 0.68, 0.76],
            [0.18, 0.34, 0.66],
            0.35,
        ),
        1 => day(
            [0.30, -0.95, -0.50],
            [1.25, 1.20, 1.10],
            [0.60, 0.70, 0.80],
            [0.16, 0.36, 0.72],
            0.5,
        ),
        2 => day(
            [-0.10, -1.00, -0.35],
            [0.16, 0.16, 0.16],
            [0.70, 0.72, 0.74],
            [0.50, 0.53, 0.57],
            1.0,
        ),
        3 => day(
            [0.80, -0.36, -0.66],
            [1.30, 1.02, 0.70],
            [0.80, 0.68, 0.54],
            [0.26, 0.36, 0.56],
            0.6,
        ),
        _ => day(
            [-0.45, -0.85, -0.60],
            [1.30, 1.25, 1.15],
            [0.58, 0.70, 0.84],
            [0.14, 0.34, 0.74],
            0.4,
        ),
    }
}

impl Day {
    /// Sky in a direction; `soft` leaves the clouds out.
    pub(super) fn sky(&self, ray: P3, soft: bool) -> [f32; 3] {
        let up = (-ray[1]).max(0.0);
        let k = (up as f32).powf(0.55);
        let mut c = [0, 1, 2].map(|i| self.sky_low[i] + (self.sky_high[i] - self.sky_low[i]) * k);
        if up > 0.01 && !soft {
            let q = [ray[0] / (up + 0.12), ray[2] / (up + 0.12)];
            let puff = octaves([q[0] * 1.2, q[1] * 2.0], 1.6, 5, 0.55, 0.01, 77);
            let k = smooth_step(0.55 - 0.75 * self.cloud, 1.0 - 0.4 * self.cloud, puff);
            for (slot, white) in c.iter_mut().zip([0.92f32, 0.92, 0.93]) {
                *slot += (white * (0.75 + 0.25 * puff) - *slot)
                    * k
                    * 0.8
                    * smooth_step(0.0, 0.12, up as f32);
            }
        }
        c
    }

    /// Light of a surface with this colour.
    pub(super) fn shine(
        &self,
        colour: [f32; 3],
        normal: P3,
        ray: P3,
        gloss: f32,
        sun: f32,
    ) -> [f32; 3] {
        let n = if dot(normal, ray) > 0.0 {
            normal.map(|v| -v)
        } else {
            normal
        };
        let diffuse = dot(n, self.sun).max(0.0) as f32 * sun;
        let up = (0.5 - 0.5 * n[1]) as f32;
        let facing = (-dot(n, ray)).clamp(0.0, 1.0) as f32;
        let mirror = minus(ray, n.map(|v| 2.0 * dot(n, ray) * v));
        let share = gloss * (0.06 + 0.75 * (1.0 - facing).powi(5));
        let seen = if mirror[1] < 0.0 {
            self.sky(mirror, true)
        } else {
            [0.16, 0.15, 0.14]
        };
        let spark = dot(mirror, self.sun).max(0.0).powi(90) as f32 * gloss * 2.5 * sun;
        [0, 1, 2].map(|i| {
            let round = 0.62 * self.sky_low[i] * up + 0.17 * (1.0 - up);
            colour[i] * (self.sun_colour[i] * diffuse + round) * (1.0 - share)
                + seen[i] * share
                + spark * self.sun_colour[i]
        })
    }

    /// The ground far and near: apron with joints, a strip of grass, then the sea.
    pub(super) fn ground(&self, at: P3, foot: f64) -> ([f32; 3], f32) {
        let far = at[2];
        let mm = [at[0] * 1000.0, far * 1000.0];
        if far > 46.0 {
            let wave = octaves([at[0] / 6.0, far], 4.0, 4, 0.6, foot, 5);
            return (
                [
                    0.045 + 0.02 * wave,
                    0.085 + 0.03 * wave,
                    0.115 + 0.03 * wave,
                ],
                0.5,
            );
        }
        let edge = 15.0 + 0.6 * f64::from(octaves([at[0], far], 3.0, 3, 0.6, foot, 6));
        if far > edge {
            let tuft = octaves([at[0], far * 0.5], 0.5, 4, 0.75, foot, 7);
            let long = octaves([at[0], far], 9.0, 3, 0.6, foot, 8);
            let k = 1.0 + 0.35 * tuft + 0.25 * long;
            return ([0.075 * k + 0.02 * long, 0.115 * k, 0.032 * k], 0.0);
        }
        let mut grey = 0.255
            + 0.03 * octaves(mm, 2600.0, 5, 0.6, foot * 1000.0, 9)
            + 0.05 * octaves(mm, 24.0, 2, 0.8, foot * 1000.0, 10);
        // Joints every five metres, turned a little against the view.
        let (u, v) = (
            0.94 * at[0] + 0.34 * far + 1.3,
            0.94 * far - 0.34 * at[0] + 2.0,
        );
        for q in [u, v] {
            let d = (q / 5.0 - (q / 5.0).round()).abs() * 5.0;
            let half = 0.012f64.hypot(0.5 * foot);
            grey *= 1.0 - 0.55 * ((0.012 / half) * (-(d / half).powi(2)).exp()) as f32;
        }
        // The yellow line to the stand.
        let d = (at[0] * 0.42 - far * 0.9 - 3.4).abs() / 0.99;
        let line = smooth_step(0.08 + foot as f32, 0.08 - foot as f32 * 0.5, d as f32);
        let worn = (0.75 + 0.5 * octaves(mm, 70.0, 3, 0.7, foot * 1000.0, 12)).clamp(0.0, 1.0)
            * line
            * 0.8;
        let base = [grey * 1.02, grey, grey * 0.95];
        let yellow = [0.52f32, 0.36, 0.05];
        (
            [0, 1, 2].map(|i| base[i] + (yellow[i] - base[i]) * worn),
            0.04,
        )
    }
}
