//! Rivets, screws and the seams between sheets.

use crate::geometry::{Bounds, Point, apart, between, turned};
use crate::noise::value;
use crate::random::Random;
use crate::surface::{Look, Mark, Reach, Surface};

/// What the head of a fastener looks like.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Head {
    /// A domed rivet.
    Dome,
    /// A rivet flush with the sheet: a faint ring.
    Flush,
    /// A screw with a cross recess, turned by this many radians.
    Cross(f64),
    /// A screw with a slot, turned by this many radians.
    Slot(f64),
    /// A hexagonal bolt head, turned by this many radians.
    Hexagon(f64),
}

/// A row of fasteners of one kind, or a single one.
#[derive(Clone, Debug)]
pub struct Row {
    /// Where they sit.
    pub places: Vec<Point>,
    /// Radius of a head in millimetres.
    pub radius: f64,
    /// Kind of head.
    pub head: Head,
    /// Bare metal (true) or painted over.
    pub bare: bool,
}

/// Fasteners at an even pitch from one place to another, each a little out of place.
pub fn fastener_row(
    from: Point,
    to: Point,
    pitch: f64,
    radius: f64,
    head: Head,
    random: &mut Random,
) -> Row {
    let count = (apart(from, to) / pitch).round().max(1.0);
    let places = (0..=count as usize)
        .map(|i| {
            let p = between(from, to, i as f64 / count);
            [
                p[0] + 0.05 * pitch.min(6.0) * random.gauss(),
                p[1] + 0.05 * pitch.min(6.0) * random.gauss(),
            ]
        })
        .collect();
    Row {
        places,
        radius,
        head,
        bare: !matches!(head, Head::Dome | Head::Flush),
    }
}

impl Row {
    /// One fastener.
    pub fn single(at: Point, radius: f64, head: Head) -> Row {
        Row {
            places: vec![at],
            radius,
            head,
            bare: !matches!(head, Head::Dome | Head::Flush),
        }
    }
}

impl Mark for Row {
    fn bounds(&self) -> Bounds {
        Bounds::around(&self.places).grown(2.2 * self.radius + 1.0)
    }

    fn reach(&self, centre: Point, radius: f64) -> Reach {
        let far = 1.3 * radius + 2.2 * self.radius;
        if self.places.iter().any(|p| apart(*p, centre) < far) {
            Reach::Touches
        } else {
            Reach::Misses
        }
    }

    fn apply(&self, at: Point, look: &Look, surface: &mut Surface) {
        let mut nearest = (f64::INFINITY, [0.0; 2], 0usize);
        for (i, place) in self.places.iter().enumerate() {
            let (dx, dy) = (at[0] - place[0], at[1] - place[1]);
            let d = dx.abs().max(dy.abs());
            if d < nearest.0 {
                nearest = (d, [dx, dy], i);
            }
        }
        let (_, q, index) = nearest;
        let r = apart(q, [0.0, 0.0]);
        if r > 2.2 * self.radius + look.footprint {
            return;
        }
        let d = r - self.radius;
        let shaped = !matches!(self.head, Head::Dome | Head::Flush);
        surface.edge |= look.close(d) || (shaped && d < 0.0);
        // A worn, dirty ring about the head.
        let ring = (-(d / (0.16 * self.radius).max(0.5 * look.footprint)).powi(2)).exp() as f32;
        let dirt = (-(d.max(0.0) / (0.6 * self.radius))).exp() as f32;
        surface.shade(1.0 - 0.10 * dirt);
        if self.head == Head::Flush {
            surface.shade(1.0 - 0.34 * ring);
            return;
        }
        if self.head == Head::Dome {
            let s = (look.sun[0].hypot(look.sun[1])).max(1e-6);
            let away = -(q[0] * look.sun[0] + q[1] * look.sun[1]) / (s * self.radius);
            if d > 0.0 && away > 0.0 {
                surface.lit *= 1.0 - 0.45 * (1.0 - d / (0.8 * self.radius)).clamp(0.0, 1.0) as f32;
            }
        }
        let inside = look.coverage(d);
        if inside <= 0.0 {
            surface.shade(1.0 - 0.45 * ring);
            return;
        }
        let mut own = *surface;
        own.lit = surface.lit.max(0.9);
        if self.bare {
            let worn = 0.9 + 0.12 * value(at[0] * 2.0, at[1] * 2.0, index as u64 + 17);
            own.colour = [0.40 * worn, 0.40 * worn, 0.41 * worn];
            own.gloss = 0.5;
        }
        let k = (r / self.radius).min(1.0);
        let dome = match self.head {
            Head::Dome => 0.9 * k * k * k,
            _ => 0.5 * (k - 0.75).max(0.0) / 0.25,
        } as f32;
        if r > 1e-9 {
            own.slope = [
                own.slope[0] - dome * (q[0] / r) as f32,
                own.slope[1] - dome * (q[1] / r) as f32,
            ];
        }
        let turn = |angle: f64| turned(q, -(angle + 0.9 * index as f64));
        let recess = match self.head {
            Head::Cross(angle) => {
                let t = turn(angle);
                let (a, b) = (t[0].abs(), t[1].abs());
                let arm = 0.15 * self.radius;
                let long = 0.58 * self.radius;
                (a - arm).max(b - long).min((b - arm).max(a - long))
            }
            Head::Slot(angle) => {
                let t = turn(angle);
                (t[0].abs() - 0.13 * self.radius).max(t[1].abs() - 0.86 * self.radius)
            }
            _ => f64::INFINITY,
        };
        let deep = look.coverage(recess);
        own.tint([0.025, 0.022, 0.02], 0.93 * deep);
        own.gloss *= 1.0 - deep;
        if let Head::Hexagon(angle) = self.head {
            // Inside the washer face stands the hexagon, with faces that catch the light.
            let t = turned(q, -angle);
            let sector = (t[1].atan2(t[0]) / (std::f64::consts::PI / 3.0)).round()
                * (std::f64::consts::PI / 3.0);
            let across = t[0] * sector.cos() + t[1] * sector.sin() - 0.80 * self.radius;
            if across > 0.0 {
                own.shade(0.55);
            } else if across > -0.10 * self.radius {
                let out = turned([sector.cos(), sector.sin()], angle);
                own.slope = [-0.8 * out[0] as f32, -0.8 * out[1] as f32];
            }
        }
        own.shade(1.0 - 0.35 * ring);
        surface.cover(&own, inside);
    }
}

/// A seam between two sheets: a dark joint, one edge of which stands a little higher.
#[derive(Clone, Debug)]
pub struct Seam {
    /// One end.
    pub from: Point,
    /// The other.
    pub to: Point,
    /// Width of the joint in millimetres.
    pub width: f64,
    /// How dark, 0 to 1.
    pub depth: f32,
}

impl Mark for Seam {
    fn bounds(&self) -> Bounds {
        Bounds::around(&[self.from, self.to]).grown(6.0 * self.width + 3.0)
    }

    fn reach(&self, centre: Point, radius: f64) -> Reach {
        let (d, _) = crate::geometry::to_segment(centre, self.from, self.to);
        if d < 1.5 * radius + 6.0 * self.width {
            Reach::Touches
        } else {
            Reach::Misses
        }
    }

    fn apply(&self, at: Point, look: &Look, surface: &mut Surface) {
        let (d, t) = crate::geometry::to_segment(at, self.from, self.to);
        if d > 6.0 * self.width + 2.0 * look.footprint {
            return;
        }
        surface.edge |= look.close(d - self.width / 2.0) || d < self.width;
        let side = (self.to[0] - self.from[0]) * (at[1] - self.from[1])
            - (self.to[1] - self.from[1]) * (at[0] - self.from[0]);
        let along = t * apart(self.from, self.to);
        let uneven = 1.0 + 0.25 * f64::from(value(along / 9.0, 0.3, 5));
        let half = 0.5 * self.width * uneven;
        let sigma = half.hypot(0.35 * look.footprint);
        let joint = (-(d / sigma).powi(2) * 0.5).exp() * (half / sigma);
        let lip =
            (-((d - self.width) / (0.8 * self.width).max(0.4 * look.footprint)).powi(2)).exp();
        let n = [
            (self.to[1] - self.from[1]) / apart(self.from, self.to).max(1e-9),
            -(self.to[0] - self.from[0]) / apart(self.from, self.to).max(1e-9),
        ];
        let s = if side > 0.0 { 1.0 } else { -0.4 };
        surface.slope[0] += (0.35 * lip * n[0] * s) as f32;
        surface.slope[1] += (0.35 * lip * n[1] * s) as f32;
        let dirt = (-d / (2.5 * self.width)).exp() as f32;
        surface.shade(1.0 - 0.12 * dirt * self.depth);
        surface.tint([0.02, 0.018, 0.016], self.depth * joint as f32);
        surface.gloss *= 1.0 - self.depth * joint as f32;
    }
}
