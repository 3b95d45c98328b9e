//! A crack: a thin dark line that follows a wandering path and thins out towards its ends.

use crate::geometry::{Bounds, Point, apart, first_part, path_length, smooth, to_segment};
use crate::random::Random;
use crate::surface::{Look, Mark, Reach, Surface};

/// A crack along a path.
#[derive(Clone, Debug)]
pub struct Crack {
    /// The path in millimetres, dense; the truth about its course and its length.
    pub path: Vec<Point>,
    /// Width in the middle, in millimetres.
    pub width: f64,
    /// How dark it is where it is widest, 0 to 1; negative for a light one.
    pub depth: f32,
    /// How quickly it thins out towards the end: 0 not at all, 1 from the start on.
    pub taper: f64,
    /// Length in millimetres over which its beginning thins out (0: it starts at a fastener).
    pub lead: f64,
    /// Strength of the light lip beside it where paint stands up, 0 for none.
    pub lip: f32,
    pieces: Vec<Piece>,
    length: f64,
}

#[derive(Clone, Debug)]
struct Piece {
    bounds: Bounds,
    first: usize,
    end: usize,
    start: f64,
}

const PIECE: usize = 12;

impl Crack {
    /// A crack along a dense path.
    pub fn along(path: Vec<Point>, width: f64, depth: f32) -> Crack {
        let mut pieces = Vec::new();
        let mut gone = 0.0;
        let mut first = 0;
        while first + 1 < path.len() {
            let end = (first + PIECE).min(path.len() - 1);
            pieces.push(Piece {
                bounds: Bounds::around(&path[first..=end]),
                first,
                end,
                start: gone,
            });
            gone += path_length(&path[first..=end]);
            first = end;
        }
        Crack {
            path,
            width,
            depth,
            taper: 0.35,
            lead: 1.0,
            lip: 0.0,
            pieces,
            length: gone,
        }
    }

    /// A wandering path of this length: its heading swings slowly about the first heading (as
    /// strongly as `wander`, in radians) with small faster turns on top.
    pub fn wandering(
        from: Point,
        heading: f64,
        length: f64,
        wander: f64,
        random: &mut Random,
    ) -> Vec<Point> {
        let step = 0.5f64.min(length / 24.0);
        let swings: Vec<[f64; 3]> = (0..5)
            .map(|i| {
                let wavelength = length / (0.7 + 1.1 * f64::from(i)) * random.range(0.8, 1.25);
                [
                    wander * random.range(0.6, 1.1) / (1.0 + 0.75 * f64::from(i)),
                    std::f64::consts::TAU / wavelength.max(5.0),
                    random.range(0.0, std::f64::consts::TAU),
                ]
            })
            .collect();
        let mut raw = vec![from];
        let mut at = from;
        let mut turn = 0.0;
        let mut gone = 0.0;
        // The drift keeps kinks of a few millimetres that crack paths have, and forgets them.
        while gone < length * 1.02 + step {
            turn = turn * 0.82 + random.gauss() * 0.10 * wander.min(0.8);
            let mut angle = heading + turn;
            for [size, rate, phase] in &swings {
                angle += size * ((rate * gone + phase).sin() - phase.sin() * (-gone / 8.0).exp());
            }
            at = [at[0] + step * angle.cos(), at[1] + step * angle.sin()];
            raw.push(at);
            gone += step;
        }
        first_part(&smooth(&raw, 0.25), length)
    }

    /// Its length in millimetres.
    pub fn length(&self) -> f64 {
        self.length
    }

    /// Distance from a point to the path, the length up to there, and which side it lies on;
    /// `None` beyond `reach`.
    fn nearest(&self, p: Point, reach: f64) -> Option<(f64, f64, f64)> {
        let mut best = (reach, 0.0, 0.0);
        let mut found = false;
        for piece in &self.pieces {
            if !piece.bounds.grown(best.0).holds(p) {
                continue;
            }
            let mut gone = piece.start;
            for i in piece.first..piece.end {
                let (a, b) = (self.path[i], self.path[i + 1]);
                let (d, t) = to_segment(p, a, b);
                let long = apart(a, b);
                if d < best.0 {
                    let side = (b[0] - a[0]) * (p[1] - a[1]) - (b[1] - a[1]) * (p[0] - a[0]);
                    best = (d, gone + t * long, side);
                    found = true;
                }
                gone += long;
            }
        }
        found.then_some(best)
    }
}

impl Mark for Crack {
    fn bounds(&self) -> Bounds {
        Bounds::around(&self.path).grown(4.0 * self.width + 1.0)
    }

    fn reach(&self, centre: Point, radius: f64) -> Reach {
        // Within a disc of sixteen pixels, a pixel is narrower than a fifth of the radius.
        let reach = 1.5 * radius + 4.0 * self.width;
        if self.nearest(centre, reach).is_some() {
            Reach::Touches
        } else {
            Reach::Misses
        }
    }

    fn apply(&self, at: Point, look: &Look, surface: &mut Surface) {
        // The line is drawn as a bell across; a sample wider than the line is covered in part.
        let reach = 4.0 * self.width + 2.5 * look.footprint;
        let Some((d, s, side)) = self.nearest(at, reach) else {
            return;
        };
        surface.edge |= d < self.width + 2.0 * look.footprint;
        let left = ((self.length - s) / self.length.max(1e-9)).clamp(0.0, 1.0);
        let thin = (1.0 - self.taper + self.taper * left).max(0.25);
        // Beyond its ends it stops within a sample, it does not fade: the truth has an end.
        let lead = if self.lead > 0.0 {
            (0.45 + 0.55 * s / self.lead).min(1.0)
        } else {
            1.0
        };
        let half = 0.5 * self.width * thin * lead;
        let sigma = half.hypot(0.35 * look.footprint);
        let bell = (-0.5 * (d / sigma) * (d / sigma)).exp() * (half / sigma);
        let dark = self.depth.abs() * bell as f32;
        if self.depth >= 0.0 {
            surface.tint([0.012, 0.010, 0.008], dark);
            surface.gloss *= 1.0 - dark;
        } else {
            surface.tint([0.80, 0.80, 0.78], dark);
        }
        if self.lip > 0.0 {
            let u = (d - 1.4 * half - 0.3 * look.footprint)
                / (0.8 * self.width).max(0.5 * look.footprint);
            let lip = self.lip * (-u * u).exp() as f32 * thin as f32;
            if side < 0.0 {
                surface.shade(1.0 + 0.35 * lip);
            } else {
                surface.shade(1.0 - 0.20 * lip);
            }
        }
    }
}
