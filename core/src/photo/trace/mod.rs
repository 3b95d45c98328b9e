//! Follows a crack between taps.
//!
//! The first two taps are its ends; each further one lies on the crack between them and pulls the
//! line back where a seam, a row of rivets or a scratch misled it. The window around the taps is
//! measured for thin dark and light lines ([`ridge`]), the cheapest way along them is found
//! ([`path`]), and the way of pixels becomes a smooth line ([`smooth`]) whose length is neither that
//! of the pixel staircase (4 to 5 % long) nor that of the chord.

mod order;
mod path;
mod ridge;
mod smooth;

use image::RgbImage;
use serde::{Deserialize, Serialize};

use crate::error::{Error, ErrorKind, Result};
use crate::photo::plane::{Plane, Window, quantile};
use crate::photo::progress::Progress;
use crate::photo::sure::Sure;

use path::{Costs, Field, RunnerUp};

/// More taps than this are refused: nobody taps so often, and every tap costs a search.
pub const MOST_TAPS: usize = 40;

/// Most points of a line that comes back; more would not fit a record line.
pub const MOST_POINTS: usize = 1000;

/// Longer side of the working window: larger ones are shrunk.
const SIDE: f64 = 900.0;

/// A crack followed between taps. Points and lengths in picture pixels.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Traced {
    /// The line from the first tap to the second.
    pub polyline: Vec<[f64; 2]>,
    /// Its smooth length.
    pub length_px: f64,
    /// Standard uncertainty of the length: where the taps were put, how well the line was centred,
    /// and half of what a second way would have made of it where one competes.
    pub u_px: f64,
    /// From the contrast along the line and from the runner-up.
    pub sure: Sure,
}

/// Follows the crack from `taps[0]` to `taps[1]` through all the others, in whatever order they come.
///
/// `img` is the picture after its EXIF orientation, taps are picture points (origin at the top left
/// corner). Errors: fewer than two taps, more than [`MOST_TAPS`], a tap that is no number or outside
/// the picture, ends less than 4 pixels apart; cancelled.
pub fn trace(img: &RgbImage, taps: &[[f64; 2]], progress: &Progress) -> Result<Traced> {
    check_taps(img, taps)?;
    let win = window(img, taps);
    if win.w < 5 || win.h < 5 {
        return Err(Error::new(
            ErrorKind::BadValue,
            "the picture is too small to follow a crack in",
        )
        .hint("use a photo of at least 5 by 5 pixels around the taps"));
    }
    progress.check()?;
    let grey = Plane::luma(img, win);
    progress.set_done(150);
    let ridges = ridge::ridges(&grey, progress)?;
    progress.set_done(400);

    let plane_taps: Vec<[f64; 2]> = taps.iter().map(|t| win.to_plane(*t)).collect();
    let reach = reach(img) / f64::from(win.shrink);
    let dark = Seeds::near(&ridges.dark, &plane_taps, reach);
    let light = Seeds::near(&ridges.light, &plane_taps, reach);
    // the taps say whether it is a dark or a light line; where they do not, both are followed
    const CLEAR: f32 = 1.5;
    let follow_dark = || Found::follow(&ridges.dark, &dark, true, progress);
    let follow_light = || Found::follow(&ridges.light, &light, false, progress);
    let found = if dark.weakest > CLEAR * light.weakest {
        follow_dark()?
    } else if light.weakest > CLEAR * dark.weakest {
        follow_light()?
    } else {
        let (d, l) = (follow_dark()?, follow_light()?);
        if d.strength() >= l.strength() { d } else { l }
    };
    progress.set_done(900);
    Ok(found.into_traced(&grey, win, &plane_taps, reach))
}

fn check_taps(img: &RgbImage, taps: &[[f64; 2]]) -> Result<()> {
    let bad = |what: String, remedy: &str| {
        Err(Error::new(ErrorKind::BadValue, what)
            .at("taps")
            .hint(remedy))
    };
    if taps.len() < 2 {
        return bad(
            format!("a crack needs two taps, its ends; there are {}", taps.len()),
            "tap both ends of the crack",
        );
    }
    if taps.len() > MOST_TAPS {
        return Err(Error::new(
            ErrorKind::TooLarge,
            format!("{} taps; at most {MOST_TAPS} are taken", taps.len()),
        )
        .at("taps")
        .hint("leave out some of those between the ends"));
    }
    let (w, h) = (f64::from(img.width()), f64::from(img.height()));
    for (i, t) in taps.iter().enumerate() {
        let inside = t[0] >= 0.0 && t[1] >= 0.0 && t[0] <= w && t[1] <= h;
        // NaN fails every comparison and so lands here too
        if !inside {
            return bad(
                format!(
                    "tap {} at {},{} is outside the picture, which is {w} by {h} pixels",
                    i + 1,
                    t[0],
                    t[1]
                ),
                "tap inside the picture",
            );
        }
    }
    if distance(taps[0], taps[1]) < 4.0 {
        return bad(
            "the two ends are less than 4 pixels apart".to_owned(),
            "tap one end of the crack, then the other; the third tap and later ones go between",
        );
    }
    Ok(())
}

fn distance(a: [f64; 2], b: [f64; 2]) -> f64 {
    (a[0] - b[0]).hypot(a[1] - b[1])
}

/// How far from the crack a tap may be, in picture pixels: a finger is no better than that.
fn reach(img: &RgbImage) -> f64 {
    6.0 + 0.003 * f64::from(img.width().max(img.height()))
}

/// The taps with room around them for a crack that bulges.
fn window(img: &RgbImage, taps: &[[f64; 2]]) -> Window {
    let (mut lo, mut hi) = (taps[0], taps[0]);
    for t in taps {
        for c in 0..2 {
            lo[c] = lo[c].min(t[c]);
            hi[c] = hi[c].max(t[c]);
        }
    }
    let span = distance(lo, hi);
    let room = 0.3 * span + 4.0 * reach(img);
    let long = (hi[0] - lo[0]).max(hi[1] - lo[1]) + 2.0 * room;
    let shrink = (long / SIDE).ceil().max(1.0) as u32;
    Window::over(
        img,
        lo[0] - room,
        lo[1] - room,
        hi[0] + room,
        hi[1] + room,
        shrink,
    )
}

/// Where the taps meet a line of one kind.
struct Seeds {
    /// Pixel of the line nearest to what was tapped, per tap.
    pixels: Vec<usize>,
    /// Response at the weakest of them.
    weakest: f32,
    /// Response that counts as fully on the crack.
    full: f32,
}

impl Seeds {
    fn near(ridge: &Plane, taps: &[[f64; 2]], reach: f64) -> Self {
        let mut pixels = Vec::with_capacity(taps.len());
        let mut strengths = Vec::with_capacity(taps.len());
        let r = reach.ceil() as isize;
        for t in taps {
            let cx = (t[0].round() as isize).clamp(0, ridge.w as isize - 1);
            let cy = (t[1].round() as isize).clamp(0, ridge.h as isize - 1);
            let mut best = (f64::MIN, cy as usize * ridge.w + cx as usize);
            for y in (cy - r).max(0)..=(cy + r).min(ridge.h as isize - 1) {
                for x in (cx - r).max(0)..=(cx + r).min(ridge.w as isize - 1) {
                    let i = y as usize * ridge.w + x as usize;
                    let d = distance([x as f64, y as f64], *t) / reach;
                    // near before strong: the finger meant what is under it
                    let score = f64::from(ridge.data[i]) * (-4.5 * d * d).exp();
                    if d <= 1.0 && score > best.0 {
                        best = (score, i);
                    }
                }
            }
            pixels.push(best.1);
            strengths.push(ridge.data[best.1]);
        }
        let weakest = strengths.iter().copied().fold(f32::INFINITY, f32::min);
        let full = (0.8 * quantile(&mut strengths, 0.5)).clamp(3.0, 40.0);
        Self {
            pixels,
            weakest,
            full,
        }
    }
}

/// The way that was found, with what it takes to judge it.
struct Found {
    way: Vec<usize>,
    /// Place in `way` of each tap, in order along it.
    order: Vec<usize>,
    /// Response at each pixel of the way.
    along: Vec<f32>,
    runner_up: Option<RunnerUp>,
    full: f32,
    dark: bool,
    w: usize,
}

impl Found {
    fn follow(ridge: &Plane, seeds: &Seeds, dark: bool, progress: &Progress) -> Result<Self> {
        let costs = costs(ridge, seeds.full);
        let n = seeds.pixels.len();
        let order = if n == 2 {
            vec![0, 1]
        } else {
            let mut between = vec![vec![0.0; n]; n];
            for (i, from) in seeds.pixels.iter().enumerate() {
                let field = Field::from(&costs, *from, progress)?;
                for (j, to) in seeds.pixels.iter().enumerate() {
                    between[i][j] = f64::from(field.total[*to]);
                }
            }
            order::along(&between)
        };
        let mut way: Vec<usize> = Vec::new();
        let mut runner_up: Option<RunnerUp> = None;
        for pair in order.windows(2) {
            let (a, b) = (seeds.pixels[pair[0]], seeds.pixels[pair[1]]);
            let there = Field::from(&costs, a, progress)?;
            let part = there.way(b);
            let back = Field::from(&costs, b, progress)?;
            let skip = (part.len() / 8).max(16);
            if let Some(r) = path::runner_up(&part, &there, &back, 6, skip)
                && runner_up.is_none_or(|best| r.ratio < best.ratio)
            {
                runner_up = Some(r);
            }
            let from = usize::from(!way.is_empty());
            way.extend(part.get(from..).unwrap_or_default());
        }
        Ok(Self {
            along: way.iter().map(|p| ridge.data[*p]).collect(),
            way,
            order,
            runner_up,
            full: seeds.full,
            dark,
            w: ridge.w,
        })
    }

    /// Median response along the way.
    fn strength(&self) -> f32 {
        quantile(&mut self.along.clone(), 0.5)
    }

    /// Share of the way that hardly stands out: the median over nine pixels is below a third of what
    /// the taps met.
    fn thin(&self) -> f64 {
        let n = self.along.len();
        let faint = (0..n)
            .filter(|&i| {
                let mut part = self.along[i.saturating_sub(4)..(i + 5).min(n)].to_vec();
                quantile(&mut part, 0.5) < 0.35 * self.full
            })
            .count();
        faint as f64 / n.max(1) as f64
    }

    fn sure(&self) -> Sure {
        let (strength, thin) = (self.strength(), self.thin());
        let rival = self.runner_up.map_or(f64::INFINITY, |r| r.ratio);
        if strength < 4.0 || thin > 0.35 || rival < 1.1 {
            Sure::Poor
        } else if strength < 6.0 || thin > 0.15 || rival < 1.4 {
            Sure::Fair
        } else {
            Sure::Good
        }
    }

    /// The clearer the line, the less it has to be smoothed: the noise of centring goes with one over
    /// the response, and its square is what the smoother has to balance.
    fn stiffness(&self) -> f64 {
        (15.0 / f64::from(self.strength().max(1.0)))
            .powi(2)
            .clamp(0.3, 10.0)
    }

    /// Standard uncertainty of a length in picture pixels: each end was tapped to about a quarter of
    /// the reach of a tap; centring and smoothing are good for about 0.6 % (measured on drawn cracks);
    /// of a second way that costs hardly more, a part of its difference in length is taken.
    fn uncertainty(&self, length_px: f64, scale: f64, reach: f64) -> f64 {
        let taps = 2.0 * (0.25 * reach * scale).powi(2);
        let centring = (0.006 * length_px).powi(2);
        let other = self.runner_up.map_or(0.0, |r| {
            let close = ((1.3 - r.ratio) / 0.3).clamp(0.0, 1.0);
            (0.5 * close * r.longer * scale).powi(2)
        });
        (taps + centring + other).sqrt()
    }

    fn into_traced(self, grey: &Plane, win: Window, taps: &[[f64; 2]], reach: f64) -> Traced {
        let steps: Vec<[f64; 2]> = self
            .way
            .iter()
            .map(|p| [(p % self.w) as f64, (p / self.w) as f64])
            .collect();
        let soft = grey.blurred(1.0);
        let mut line = smooth::resampled(&smooth::averaged(&steps, 3), 1.0);
        for _ in 0..2 {
            let (moved, weights) = smooth::centred(&soft, &line, self.dark);
            let mean = weights.iter().sum::<f64>() / weights.len().max(1) as f64;
            let weights: Vec<f64> = weights
                .iter()
                .map(|w| (w / mean.max(1e-6)).clamp(0.05, 2.0))
                .collect();
            line = smooth::resampled(&smooth::stiffened(&moved, &weights, self.stiffness()), 1.0);
        }
        let (first, last) = (self.order.first(), self.order.last());
        if let (Some(&f), Some(&l)) = (first, last) {
            smooth::ended_at(&mut line, taps[l], reach);
            line.reverse();
            smooth::ended_at(&mut line, taps[f], reach);
            line.reverse();
        }
        let scale = f64::from(win.shrink);
        let length_px = smooth::length(&line) * scale;
        let every = line.len().div_ceil(MOST_POINTS).max(1);
        let last = line.len().saturating_sub(1);
        let polyline = line
            .iter()
            .enumerate()
            .filter(|(i, _)| i % every == 0 || *i == last)
            .map(|(_, p)| win.to_picture(*p))
            .collect();
        Traced {
            polyline,
            length_px,
            u_px: self.uncertainty(length_px, scale, reach),
            sure: self.sure(),
        }
    }
}

/// Cost of each pixel: 1 part where the response reaches that of the tapped crack, rising to about
/// 20 parts where there is no line. A line stronger than the crack is no cheaper than the crack.
fn costs(ridge: &Plane, full: f32) -> Costs {
    const LEAST: f32 = 0.05;
    const ONE: f32 = 16.0;
    let cost = ridge
        .data
        .iter()
        .map(|z| {
            let r = (z / full).min(1.0);
            ((ONE * (1.0 + LEAST) / (r * r + LEAST)) as u16).min(path::MOST)
        })
        .collect();
    Costs {
        w: ridge.w,
        h: ridge.h,
        cost,
    }
}

#[cfg(test)]
mod tests;
