//! What one spot of the plane is like, and what it is made of.

use crate::geometry::{Bounds, Point, Shape};
use crate::noise::{octaves, value, value_and_slope};
use crate::random::lattice;

/// One spot of the plane, built up by the marks that lie on it, in order.
#[derive(Clone, Copy, Debug)]
pub struct Surface {
    /// Part of red, green and blue light thrown back, 0 to 1, linear.
    pub colour: [f32; 3],
    /// Rise of the surface towards the viewer per millimetre to the right and downwards.
    pub slope: [f32; 2],
    /// How much it mirrors, 0 (chalk) to 1 (chrome).
    pub gloss: f32,
    /// Light that reaches it, 1 unless something stands in the way.
    pub lit: f32,
    /// Whether something changes within a pixel here, so that the spot is sampled more finely.
    pub edge: bool,
}

impl Surface {
    /// A grey, flat, dull spot.
    pub const PLAIN: Surface = Surface {
        colour: [0.3; 3],
        slope: [0.0; 2],
        gloss: 0.0,
        lit: 1.0,
        edge: false,
    };

    /// Mixes a colour over this one; 0 leaves it as it is.
    pub fn tint(&mut self, colour: [f32; 3], how_much: f32) {
        for (own, other) in self.colour.iter_mut().zip(colour) {
            *own += (other - *own) * how_much;
        }
    }

    /// Darkens (below 1) or lightens the colour.
    pub fn shade(&mut self, factor: f32) {
        for own in &mut self.colour {
            *own *= factor;
        }
    }

    /// Lays another surface over this one with this coverage.
    pub fn cover(&mut self, other: &Surface, coverage: f32) {
        self.tint(other.colour, coverage);
        for (own, o) in self.slope.iter_mut().zip(other.slope) {
            *own += (o - *own) * coverage;
        }
        self.gloss += (other.gloss - self.gloss) * coverage;
        self.lit += (other.lit - self.lit) * coverage;
    }
}

/// Where and how a spot is looked at.
#[derive(Clone, Copy, Debug)]
pub struct Look {
    /// Width of a sample on the plane in millimetres.
    pub footprint: f64,
    /// Width of a whole pixel on the plane, below which textures are left out.
    pub grain: f64,
    /// Position of the camera.
    pub eye: [f64; 3],
    /// Direction along the plane towards the light, times the tangent of its angle from above.
    pub sun: Point,
}

impl Look {
    /// Where the ray that meets the plane at `p` passes a level `height` mm above it.
    pub fn raised(&self, p: Point, height: f64) -> Point {
        let t = height / -self.eye[2];
        [
            p[0] + (self.eye[0] - p[0]) * t,
            p[1] + (self.eye[1] - p[1]) * t,
        ]
    }

    /// How much of a sample lies inside an outline at this signed distance.
    pub fn coverage(&self, distance: f64) -> f32 {
        (0.5 - distance / self.footprint).clamp(0.0, 1.0) as f32
    }

    /// Whether an outline at this signed distance changes something within a few samples.
    pub fn close(&self, distance: f64) -> bool {
        distance.abs() < 1.6 * self.footprint
    }
}

/// What a mark does to a disc of the plane.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Reach {
    /// Nothing.
    Misses,
    /// Something somewhere.
    Touches,
    /// It hides all that is below it, everywhere.
    Hides,
}

/// Something that lies on the plane.
pub trait Mark: Send + Sync {
    /// A box outside of which it changes nothing.
    fn bounds(&self) -> Bounds;
    /// What it does to a disc; `Touches` is always right, the others save time.
    fn reach(&self, _centre: Point, _radius: f64) -> Reach {
        Reach::Touches
    }
    /// Changes a spot of a disc that it [`Reach::Hides`].
    fn apply_inside(&self, at: Point, look: &Look, surface: &mut Surface) {
        self.apply(at, look, surface);
    }
    /// Changes a spot.
    fn apply(&self, at: Point, look: &Look, surface: &mut Surface);
}

/// What a part of the plane is made of. Colours are linear.
#[derive(Clone, Debug)]
pub enum Material {
    /// Paint on sheet metal: orange peel, slight stains, gloss.
    Paint([f32; 3]),
    /// Bare aluminium, brushed along a direction in radians.
    Metal(f64),
    /// Cast or machined dark steel.
    Steel,
    /// Rubber.
    Rubber,
    /// Moulded plastic or felt of this colour.
    Plastic([f32; 3]),
    /// Paper or card of this colour.
    Paper([f32; 3]),
    /// Concrete of an apron.
    Concrete,
    /// Asphalt.
    Asphalt,
    /// Mown grass seen from above.
    Grass,
    /// Metal turned on a lathe about this point.
    Turned(Point),
    /// Cast light metal.
    Cast,
    /// Things far behind, out of focus, between two colours.
    Distant([f32; 3], [f32; 3]),
    /// Planed wood, its grain to the right.
    Wood,
    /// A hollow into which no light falls.
    Dark,
}

impl Material {
    /// The material at a spot.
    pub fn at(&self, p: Point, footprint: f64, seed: u64) -> Surface {
        let mut s = Surface::PLAIN;
        let n = |wavelength: f64, count: u32, keep: f32, salt: u64| {
            octaves(p, wavelength, count, keep, footprint, seed ^ salt)
        };
        match self {
            Material::Paint(colour) => {
                s.colour = *colour;
                s.shade(1.0 + 0.020 * n(160.0, 1, 0.6, 1) + 0.022 * n(1.1, 1, 0.7, 2));
                s.tint(
                    [0.16, 0.13, 0.10],
                    (n(70.0, 2, 0.55, 3) - 0.35).clamp(0.0, 1.0) * 0.12,
                );
                s.gloss = 0.32;
                // Orange peel: the slope of a low swell.
                if footprint < 1.3 {
                    let (_, rise) = value_and_slope(p[0] / 2.6, p[1] / 2.6, seed ^ 4);
                    let fade = 0.009 * (1.3 - footprint).min(1.0) as f32;
                    s.slope = rise.map(|v| v * fade);
                }
            }
            Material::Metal(direction) => {
                let (sin, cos) = direction.sin_cos();
                let along = [cos * p[0] + sin * p[1], -sin * p[0] + cos * p[1]];
                let brushed = octaves(
                    [along[0] / 22.0, along[1]],
                    0.9,
                    2,
                    0.7,
                    footprint,
                    seed ^ 6,
                );
                let grey = 0.46 + 0.06 * brushed + 0.04 * n(40.0, 3, 0.5, 7);
                s.colour = [grey, grey * 1.01, grey * 1.03];
                s.gloss = 0.55;
                s.slope = [-(sin as f32) * 0.05 * brushed, cos as f32 * 0.05 * brushed];
            }
            Material::Steel => {
                let grey = 0.12 + 0.02 * n(6.0, 4, 0.7, 8);
                s.colour = [grey * 1.05, grey, grey * 0.95];
                s.gloss = 0.35;
                s.slope = [0.10 * n(1.6, 2, 0.6, 9), 0.10 * n(1.6, 2, 0.6, 10)];
            }
            Material::Rubber => {
                let grey = 0.030 + 0.006 * n(3.0, 3, 0.7, 11) + 0.006 * n(60.0, 3, 0.6, 12);
                s.colour = [grey * 1.04, grey, grey * 0.98];
                s.tint(
                    [0.22, 0.19, 0.15],
                    (n(45.0, 4, 0.6, 13) - 0.25).clamp(0.0, 1.0) * 0.16,
                );
                s.gloss = 0.06;
                s.slope = [0.10 * n(1.4, 2, 0.6, 14), 0.10 * n(1.4, 2, 0.6, 15)];
            }
            Material::Plastic(colour) => {
                s.colour = *colour;
                s.shade(1.0 + 0.05 * n(0.9, 2, 0.7, 16) + 0.04 * n(50.0, 2, 0.6, 17));
                s.gloss = 0.10;
            }
            Material::Paper(colour) => {
                s.colour = *colour;
                s.shade(1.0 + 0.018 * n(0.8, 2, 0.7, 18) + 0.02 * n(70.0, 3, 0.6, 19));
            }
            Material::Concrete => {
                let grey = 0.30 + 0.035 * n(260.0, 4, 0.6, 20) + 0.05 * n(3.0, 3, 0.8, 21);
                s.colour = [grey * 1.02, grey, grey * 0.95];
                // Small pits where two swells meet.
                let pit = n(3.1, 1, 1.0, 22) * n(2.3, 1, 1.0, 40);
                s.shade(1.0 - 0.45 * ((pit - 0.30) * 5.0).clamp(0.0, 1.0));
                s.slope = [0.08 * n(2.5, 2, 0.6, 23), 0.08 * n(2.5, 2, 0.6, 24)];
            }
            Material::Asphalt => {
                let grey = 0.085 + 0.02 * n(400.0, 4, 0.6, 25) + 0.05 * n(7.0, 3, 0.9, 26).abs();
                s.colour = [grey, grey, grey * 1.02];
                s.slope = [0.2 * n(6.0, 2, 0.7, 27), 0.2 * n(6.0, 2, 0.7, 28)];
            }
            Material::Grass => {
                let long = value(p[0] / 60.0, p[1] / 60.0, seed ^ 29);
                let lean = 0.5 * f64::from(value(p[0] / 25.0, p[1] / 25.0, seed ^ 30));
                let blade = [p[0] + lean * p[1], p[1] / 6.0];
                let b = octaves(blade, 3.2, 3, 0.8, footprint, seed ^ 31);
                let light = (0.5 + 0.4 * b + 0.16 * long).clamp(0.08, 1.2);
                s.colour = [0.115 * light, 0.20 * light, 0.045 * light];
                s.tint(
                    [0.30, 0.26, 0.12],
                    (0.6 * b + 0.5 * long - 0.25).clamp(0.0, 0.5),
                );
            }
            Material::Turned(centre) => {
                let (dx, dy) = (p[0] - centre[0], p[1] - centre[1]);
                let r = dx.hypot(dy).max(1e-6);
                let ring = octaves([r, 0.5], 1.3, 3, 0.8, footprint, seed ^ 32);
                let grey = 0.40 + 0.07 * ring + 0.03 * n(30.0, 3, 0.5, 33);
                s.colour = [grey, grey * 1.01, grey * 1.02];
                s.gloss = 0.5;
                let tilt = 0.09 * ring;
                s.slope = [(dx / r) as f32 * tilt, (dy / r) as f32 * tilt];
            }
            Material::Cast => {
                let grey = 0.27 + 0.03 * n(1.2, 2, 0.8, 34) + 0.04 * n(35.0, 3, 0.6, 35);
                s.colour = [grey, grey, grey * 1.02];
                s.gloss = 0.16;
                s.slope = [0.12 * n(1.5, 2, 0.7, 36), 0.12 * n(1.5, 2, 0.7, 37)];
            }
            Material::Distant(low, high) => {
                let k = (0.5 + 0.75 * n(150.0, 3, 0.5, 38)).clamp(0.0, 1.0);
                s.colour = *low;
                s.tint(*high, k);
            }
            Material::Wood => {
                let grain = octaves([p[0] / 30.0, p[1]], 7.0, 4, 0.7, footprint, seed ^ 39);
                let k = 0.5 + 0.35 * grain;
                s.colour = [0.20 + 0.10 * k, 0.11 + 0.07 * k, 0.055 + 0.035 * k];
                s.gloss = 0.12;
            }
            Material::Dark => {
                s.colour = [0.012, 0.011, 0.010];
            }
        }
        s
    }
}

/// A part of the plane of one material, with an edge that may be rounded over and may throw a
/// shadow.
#[derive(Clone, Debug)]
pub struct Area {
    /// Where.
    pub shape: Shape,
    /// Of what.
    pub material: Material,
    /// Width of the rounded edge in millimetres; negative for an edge that dips inwards.
    pub round: f64,
    /// How steep the rounded edge is where it ends.
    pub steep: f32,
    /// Height above what lies below, for its shadow, in millimetres.
    pub height: f64,
    /// Seed of its texture.
    pub seed: u64,
}

impl Area {
    /// A flat area without shadow.
    pub fn flat(shape: Shape, material: Material, seed: u64) -> Area {
        Area {
            shape,
            material,
            round: 0.0,
            steep: 0.0,
            height: 0.0,
            seed,
        }
    }

    /// The same with a rounded edge of this width that stands this high.
    pub fn raised(mut self, round: f64, steep: f32, height: f64) -> Area {
        self.round = round;
        self.steep = steep;
        self.height = height;
        self
    }
}

impl Mark for Area {
    fn bounds(&self) -> Bounds {
        self.shape.bounds().grown(3.0 * self.height + 1.0)
    }

    fn reach(&self, centre: Point, radius: f64) -> Reach {
        let d = self.shape.distance(centre);
        if d > radius + 3.0 * self.height + 1.0 {
            Reach::Misses
        } else if d < -(1.1 * radius + self.round.abs()) {
            Reach::Hides
        } else {
            Reach::Touches
        }
    }

    fn apply_inside(&self, at: Point, look: &Look, surface: &mut Surface) {
        *surface = self.material.at(at, look.grain, self.seed);
    }

    fn apply(&self, at: Point, look: &Look, surface: &mut Surface) {
        let d = self.shape.distance(at);
        if self.height > 0.0 && d > -look.footprint {
            // The soft shadow falls away from the light.
            let from = [
                at[0] + look.sun[0] * self.height,
                at[1] + look.sun[1] * self.height,
            ];
            let soft = 0.35 * self.height + look.footprint;
            let s = self.shape.distance(from);
            surface.lit *= 1.0 - 0.75 * (0.5 - s / (2.0 * soft)).clamp(0.0, 1.0) as f32;
            // Less of the sky is seen close to its foot.
            if d < self.height {
                surface.shade(1.0 - 0.22 * (1.0 - d.max(0.0) / self.height) as f32);
            }
        }
        if d > look.footprint {
            return;
        }
        surface.edge |= look.close(d);
        let mut own = self.material.at(at, look.grain, self.seed);
        let wide = self.round.abs();
        if wide > 0.0 && d > -wide {
            let out = self.shape.outward(at);
            let k = ((d + wide) / wide).clamp(0.0, 1.0) as f32;
            let fall = self.steep * k * k * if self.round > 0.0 { -1.0 } else { 1.0 };
            own.slope[0] += out[0] as f32 * fall;
            own.slope[1] += out[1] as f32 * fall;
        }
        surface.cover(&own, look.coverage(d));
    }
}

/// Dust and specks scattered over a region: little spots, one chance in each cell.
#[derive(Clone, Debug)]
pub struct Specks {
    /// Where.
    pub region: Bounds,
    /// Width of a cell in millimetres; at most one speck in each.
    pub cell: f64,
    /// Part of the cells that hold one.
    pub share: f64,
    /// Smallest and largest radius.
    pub radius: [f64; 2],
    /// Their colour.
    pub colour: [f32; 3],
    /// How opaque they are.
    pub strength: f32,
    /// Seed.
    pub seed: u64,
}

impl Mark for Specks {
    fn bounds(&self) -> Bounds {
        self.region
    }

    fn apply(&self, at: Point, look: &Look, surface: &mut Surface) {
        if !self.region.holds(at) {
            return;
        }
        let (cx, cy) = (
            (at[0] / self.cell).floor() as i64,
            (at[1] / self.cell).floor() as i64,
        );
        let bits = lattice(cx, cy, self.seed);
        let part = |shift: u32| f64::from((bits >> shift) as u16) / 65_536.0;
        if part(0) >= self.share {
            return;
        }
        let radius = self.radius[0] + (self.radius[1] - self.radius[0]) * part(16) * part(16);
        let room = (self.cell - 2.0 * radius).max(0.0);
        let centre = [
            cx as f64 * self.cell + radius + room * part(32),
            cy as f64 * self.cell + radius + room * part(48),
        ];
        let d = crate::geometry::apart(at, centre) - radius;
        let soft = look.footprint.max(radius * 0.3);
        let cover = (0.5 - d / soft).clamp(0.0, 1.0) as f32;
        // A speck smaller than a sample fills only a part of it.
        let thin = (radius / look.footprint).min(1.0) as f32;
        surface.tint(self.colour, self.strength * cover * thin * thin);
    }
}
