//! A stain or a damp patch: an irregular blob with a soft edge.

use crate::geometry::{Bounds, Point};
use crate::random::Random;
use crate::surface::{Look, Mark, Reach, Surface};
use std::f64::consts::TAU;

/// A blob whose outline, at half of its strength, is known.
#[derive(Clone, Debug)]
pub struct Stain {
    /// Its middle in millimetres.
    pub centre: Point,
    /// Mean radius.
    pub radius: f64,
    /// Waves of the outline: strength as a part of the radius, and phase, for 2, 3, ... lobes.
    pub waves: Vec<[f64; 2]>,
    /// Width of the soft edge in millimetres; the outline of the truth is its middle.
    pub soft: f64,
    /// Its colour.
    pub colour: [f32; 3],
    /// How opaque it is, 0 to 1.
    pub strength: f32,
    /// What it does to the gloss: 1 nothing, above 1 wet.
    pub wet: f32,
    /// Lengthens it downwards (a run), 1 for none.
    pub long: f64,
}

impl Stain {
    /// A random outline about a middle.
    pub fn random(centre: Point, radius: f64, ragged: f64, random: &mut Random) -> Stain {
        let waves = (2..9)
            .map(|k| {
                [
                    ragged * random.range(0.4, 1.0) / f64::from(k - 1).powf(0.9),
                    random.range(0.0, TAU),
                ]
            })
            .collect();
        Stain {
            centre,
            radius,
            waves,
            soft: radius * 0.12,
            colour: [0.05, 0.035, 0.02],
            strength: 0.6,
            wet: 1.0,
            long: 1.0,
        }
    }

    fn edge(&self, angle: f64) -> f64 {
        let mut r = 1.0;
        for (i, [size, phase]) in self.waves.iter().enumerate() {
            r += size * ((i as f64 + 2.0) * angle + phase).cos();
        }
        self.radius * r.max(0.15)
    }

    /// The outline in millimetres, at half of the strength, with this many points.
    pub fn outline(&self, points: usize) -> Vec<Point> {
        (0..points)
            .map(|i| {
                let angle = TAU * i as f64 / points as f64;
                let r = self.edge(angle);
                [
                    self.centre[0] + r * angle.cos(),
                    self.centre[1] + r * angle.sin() * self.long,
                ]
            })
            .collect()
    }
}

impl Mark for Stain {
    fn bounds(&self) -> Bounds {
        Bounds::around(&self.outline(180)).grown(self.soft + self.radius * 0.05)
    }

    fn reach(&self, centre: Point, radius: f64) -> Reach {
        let far = crate::geometry::apart(centre, self.centre) - radius - self.soft;
        let ragged: f64 = self.waves.iter().map(|w| w[0].abs()).sum();
        if far > 1.05 * self.radius * (1.0 + ragged) * self.long.max(1.0) + radius {
            Reach::Misses
        } else {
            Reach::Touches
        }
    }

    fn apply(&self, at: Point, look: &Look, surface: &mut Surface) {
        let (dx, dy) = (at[0] - self.centre[0], (at[1] - self.centre[1]) / self.long);
        let beyond = crate::geometry::apart([dx, dy], [0.0, 0.0]) - self.edge(dy.atan2(dx));
        let soft = self.soft.max(look.footprint);
        // A smooth step that is one half exactly on the outline.
        let t = (0.5 - beyond / (2.0 * soft)).clamp(0.0, 1.0);
        let cover = (t * t * (3.0 - 2.0 * t)) as f32;
        if cover <= 0.0 {
            return;
        }
        if self.soft < 1.5 * look.footprint {
            surface.edge |= look.close(beyond);
        }
        surface.tint(self.colour, self.strength * cover);
        surface.gloss *= 1.0 + (self.wet - 1.0) * cover;
    }
}
