//! Shape and wear of a surface: curves, dents, scratches, and large soft changes of tone.

use crate::geometry::{Bounds, Point, to_segment, turned};
use crate::surface::{Look, Mark, Reach, Surface};

/// A smooth curve of the whole surface, such as a fairing has: it falls away from a middle.
#[derive(Clone, Debug)]
pub struct Bulge {
    /// Where it stands highest.
    pub centre: Point,
    /// Distance at which its slope reaches 1, to the right and downwards; infinite for straight.
    pub radius: Point,
    /// Turn of the two directions in radians.
    pub turn: f64,
}

impl Mark for Bulge {
    fn bounds(&self) -> Bounds {
        Bounds::EVERYWHERE
    }

    fn apply(&self, at: Point, _look: &Look, surface: &mut Surface) {
        let q = turned([at[0] - self.centre[0], at[1] - self.centre[1]], -self.turn);
        let s = turned([-q[0] / self.radius[0], -q[1] / self.radius[1]], self.turn);
        surface.slope[0] += s[0] as f32;
        surface.slope[1] += s[1] as f32;
    }
}

/// A dent: a smooth hollow.
#[derive(Clone, Debug)]
pub struct Dent {
    /// Middle.
    pub centre: Point,
    /// Radius in millimetres, where the hollow has run out.
    pub radius: f64,
    /// Depth in millimetres.
    pub depth: f64,
}

impl Mark for Dent {
    fn bounds(&self) -> Bounds {
        Bounds::around(&[self.centre]).grown(self.radius)
    }

    fn apply(&self, at: Point, _look: &Look, surface: &mut Surface) {
        let q = [at[0] - self.centre[0], at[1] - self.centre[1]];
        let k = q[0].hypot(q[1]) / self.radius;
        if k >= 1.0 {
            return;
        }
        // Height -depth (1 - k^2)^2, whose slope this is.
        let s = 4.0 * self.depth * (1.0 - k * k) / (self.radius * self.radius);
        surface.slope[0] += (s * q[0]) as f32;
        surface.slope[1] += (s * q[1]) as f32;
    }
}

/// A scratch: thin, light, without shadow.
#[derive(Clone, Debug)]
pub struct Scratch {
    /// One end.
    pub from: Point,
    /// The other.
    pub to: Point,
    /// Width in millimetres.
    pub width: f64,
    /// How strong; negative for a dark one.
    pub strength: f32,
}

impl Mark for Scratch {
    fn bounds(&self) -> Bounds {
        Bounds::around(&[self.from, self.to]).grown(4.0 * self.width + 0.5)
    }

    fn reach(&self, centre: Point, radius: f64) -> Reach {
        if to_segment(centre, self.from, self.to).0 < 1.3 * radius + 2.0 * self.width {
            Reach::Touches
        } else {
            Reach::Misses
        }
    }

    fn apply(&self, at: Point, look: &Look, surface: &mut Surface) {
        let (d, t) = to_segment(at, self.from, self.to);
        let sigma = (0.5 * self.width).hypot(0.35 * look.footprint);
        if d > 3.0 * sigma {
            return;
        }
        surface.edge |= d < 2.0 * look.footprint;
        let ends = (8.0 * t * (1.0 - t)).min(1.0);
        let k = (-(d / sigma).powi(2) * 0.5).exp() * (0.5 * self.width / sigma) * ends;
        let strength = self.strength.abs() * k as f32;
        if self.strength >= 0.0 {
            surface.tint([0.72, 0.72, 0.70], strength);
        } else {
            surface.tint([0.05, 0.045, 0.04], strength);
        }
    }
}

/// A large soft change of tone: a band of dirt, a film of oil, a faded strip.
#[derive(Clone, Debug)]
pub struct Tone {
    /// Middle.
    pub centre: Point,
    /// Reach to the right and downwards in millimetres.
    pub reach: Point,
    /// Turn in radians.
    pub turn: f64,
    /// Colour.
    pub colour: [f32; 3],
    /// Strength in the middle, 0 to 1.
    pub strength: f32,
    /// How patchy, 0 to 1.
    pub patchy: f32,
    /// Seed of the patches.
    pub seed: u64,
}

impl Mark for Tone {
    fn bounds(&self) -> Bounds {
        Bounds::around(&[self.centre]).grown(2.6 * self.reach[0].max(self.reach[1]))
    }

    fn reach(&self, centre: Point, radius: f64) -> Reach {
        let q = turned(
            [centre[0] - self.centre[0], centre[1] - self.centre[1]],
            -self.turn,
        );
        let beyond = |v: f64, reach: f64| (v.abs() - radius).max(0.0) / reach;
        if beyond(q[0], self.reach[0]).hypot(beyond(q[1], self.reach[1])) < 2.15 {
            Reach::Touches
        } else {
            Reach::Misses
        }
    }

    fn apply(&self, at: Point, look: &Look, surface: &mut Surface) {
        let q = turned([at[0] - self.centre[0], at[1] - self.centre[1]], -self.turn);
        let (u, v) = (q[0] / self.reach[0], q[1] / self.reach[1]);
        let k = u * u + v * v;
        if k > 4.6 {
            return;
        }
        let wave = self.reach[0].min(self.reach[1]);
        let patch = crate::noise::octaves(q, wave, 4, 0.6, look.grain, self.seed);
        let rest = 1.0 - self.patchy + self.patchy * (0.5 + 0.9 * patch).clamp(0.0, 1.0);
        surface.tint(
            self.colour,
            self.strength * ((-k).exp() - 0.01).max(0.0) as f32 * rest,
        );
    }
}
