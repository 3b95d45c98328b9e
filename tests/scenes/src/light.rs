//! The light on a scene: sun or lamp, sky, and shadows of things that are not in the picture.

use crate::geometry::{Point, Shape};
use crate::surface::Surface;

/// The light on a scene.
#[derive(Clone, Debug)]
pub struct Light {
    /// Direction towards the sun or lamp: right, down, and towards the viewer (above 0).
    pub sun: [f64; 3],
    /// Colour and strength of the sun.
    pub sun_colour: [f32; 3],
    /// Colour and strength of the light from all round.
    pub sky_colour: [f32; 3],
    /// Direction of the zenith: a wall has [0, -1, 0], a floor [0, 0, 1].
    pub up: [f64; 3],
    /// Shadows thrown on the plane.
    pub shadows: Vec<Shadow>,
    /// Unevenness: middle of a pool of light, its reach in millimetres, and how much darker it is
    /// far from there (0 for even light).
    pub pool: (Point, f64, f32),
}

/// A shadow with a soft edge.
#[derive(Clone, Debug)]
pub struct Shadow {
    /// Its outline.
    pub shape: Shape,
    /// Half width of the soft edge in millimetres.
    pub soft: f64,
    /// Part of the sun that it takes away, 0 to 1.
    pub dark: f32,
}

impl Default for Light {
    fn default() -> Self {
        Light {
            sun: [-0.45, -0.55, 0.8],
            sun_colour: [0.80, 0.77, 0.70],
            sky_colour: [0.32, 0.35, 0.40],
            up: [0.0, -1.0, 0.15],
            shadows: Vec::new(),
            pool: ([0.0, 0.0], 1.0e9, 0.0),
        }
    }
}

fn dot(a: [f32; 3], b: [f32; 3]) -> f32 {
    a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
}

fn unit(v: [f32; 3]) -> [f32; 3] {
    let k = dot(v, v).sqrt().max(1e-9);
    [v[0] / k, v[1] / k, v[2] / k]
}

/// A smooth step from 0 at `low` to 1 at `high`.
pub fn smooth_step(low: f32, high: f32, x: f32) -> f32 {
    let t = ((x - low) / (high - low)).clamp(0.0, 1.0);
    t * t * (3.0 - 2.0 * t)
}

impl Light {
    /// Direction along the plane towards the sun times the tangent of its angle from above.
    pub fn lean(&self) -> Point {
        let z = self.sun[2].max(0.15);
        [self.sun[0] / z, self.sun[1] / z]
    }

    /// Made ready for a picture seen from an eye (millimetres).
    pub(crate) fn seen_from(&self, eye: [f64; 3]) -> Ready<'_> {
        Ready {
            light: self,
            sun: unit(self.sun.map(|v| v as f32)),
            up: unit(self.up.map(|v| v as f32)),
            eye,
        }
    }
}

/// A light with its directions brought to length 1.
pub(crate) struct Ready<'a> {
    light: &'a Light,
    sun: [f32; 3],
    up: [f32; 3],
    eye: [f64; 3],
}

impl Ready<'_> {
    /// Light of one spot that reaches the eye.
    pub(crate) fn shine(&self, at: Point, surface: &Surface) -> [f32; 3] {
        let light = self.light;
        let (l, u, eye) = (self.sun, self.up, self.eye);
        let n = unit([-surface.slope[0], -surface.slope[1], 1.0]);
        let v = unit([
            (eye[0] - at[0]) as f32,
            (eye[1] - at[1]) as f32,
            -eye[2] as f32,
        ]);
        let mut sun = surface.lit;
        for shadow in &light.shadows {
            let d = shadow.shape.distance(at);
            let k = (0.5 - d / (2.0 * shadow.soft)).clamp(0.0, 1.0) as f32;
            sun *= 1.0 - shadow.dark * k;
        }
        let (middle, reach, fall) = light.pool;
        let pool = if fall > 0.0 {
            let far = crate::geometry::apart(at, middle) / reach;
            1.0 - fall * (1.0 - (-far * far).exp() as f32)
        } else {
            1.0
        };
        let diffuse = dot(n, l).max(0.0) * sun * pool;
        let round = (0.62 + 0.38 * dot(n, u)) * pool * (0.55 + 0.45 * surface.lit);
        let mut out = [0.0; 3];
        for (i, slot) in out.iter_mut().enumerate() {
            *slot =
                surface.colour[i] * (light.sun_colour[i] * diffuse + light.sky_colour[i] * round);
        }
        if surface.gloss > 0.01 {
            let facing = dot(n, v).max(0.0);
            let mirror = [0, 1, 2].map(|i| 2.0 * dot(n, v) * n[i] - v[i]);
            let graze = (1.0 - facing).powi(5);
            let share = surface.gloss * (0.09 + 0.7 * graze);
            // What is mirrored: a light sky above a darker ground, brightest at the horizon.
            let height = dot(mirror, u);
            let sky = smooth_step(-0.12, 0.10, height) * (1.15 - 0.45 * height.max(0.0));
            let h = unit([l[0] + v[0], l[1] + v[1], l[2] + v[2]]);
            let spark = dot(n, h).max(0.0).powi(70) * 2.2 * sun * surface.gloss;
            let broad = dot(n, h).max(0.0).powi(12) * 0.16 * sun * surface.gloss;
            for (i, slot) in out.iter_mut().enumerate() {
                let seen = light.sky_colour[i] * (0.35 + 1.9 * sky) * pool;
                *slot +=
                    share * (seen - *slot * 0.5) + (spark + broad) * light.sun_colour[i] * pool;
            }
        }
        out.map(|x| x.max(0.0))
    }
}
