//! Fills a stain from one tap and finds its edge.
//!
//! A filling from the tap is let grow through every tolerance at once ([`flood`]); the tolerance is
//! kept at which the boundary runs along the steepest change of colour. A fixed tolerance leaks: on
//! soft stains by 300 %. Then the ground around and the stain within are modelled, and the edge is
//! put where the colour is halfway between them ([`contour`]): half contrast is where a soft edge
//! is, however soft it is.

mod contour;
mod edge;
mod flood;

use image::RgbImage;
use serde::{Deserialize, Serialize};

use crate::error::{Error, ErrorKind, Result};
use crate::photo::plane::{Lab, Plane, Window, quantile};
use crate::photo::progress::Progress;
use crate::photo::sure::Sure;

/// Most points of an outline that comes back; more would not fit a record line.
pub const MOST_POINTS: usize = 1000;

/// Longer side of the working window in the first look over the whole picture.
const SIDE: u32 = 480;

/// A stain filled from one tap. Points in picture pixels, areas in square picture pixels.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Outlined {
    /// The edge, closed, at half contrast. Holes are filled.
    pub polygon: Vec<[f64; 2]>,
    /// Area within it.
    pub area_px: f64,
    /// Standard uncertainty of the area, from how soft the edge is and how much of it is unclear.
    pub u_px: f64,
    /// From the contrast along the edge and from leaks.
    pub sure: Sure,
    /// Leaks and the like, in words to show beside the outline; may be empty.
    pub warnings: Vec<String>,
}

/// Fills the stain under `tap`.
///
/// `img` is the picture after its EXIF orientation, the tap a picture point (origin at the top left
/// corner). Errors: the tap is no number or outside the picture; nothing stands out there (one colour
/// all over); cancelled.
pub fn outline(img: &RgbImage, tap: [f64; 2], progress: &Progress) -> Result<Outlined> {
    let (w, h) = (f64::from(img.width()), f64::from(img.height()));
    if !(tap[0] >= 0.0 && tap[1] >= 0.0 && tap[0] <= w && tap[1] <= h) {
        return Err(Error::new(
            ErrorKind::BadValue,
            format!(
                "the tap at {},{} is outside the picture, which is {w} by {h} pixels",
                tap[0], tap[1]
            ),
        )
        .at("tap")
        .hint("tap inside the stain"));
    }
    progress.check()?;
    let whole = Window::whole(img, SIDE);
    if whole.w < 8 || whole.h < 8 {
        return Err(nothing(tap));
    }
    let mut found = fill(img, whole, tap, progress)?.ok_or_else(|| nothing(tap))?;
    progress.set_done(500);
    // a small stain is looked at again from nearer by
    if found.win.shrink > 1 {
        let (lo, hi) = found.reach();
        let room = 0.6 * (hi[0] - lo[0]).max(hi[1] - lo[1]) + 8.0 * f64::from(whole.shrink);
        let long = (hi[0] - lo[0]).max(hi[1] - lo[1]) + 2.0 * room;
        let shrink = (long / f64::from(SIDE)).ceil().max(1.0) as u32;
        if shrink < whole.shrink {
            let near = Window::over(
                img,
                lo[0] - room,
                lo[1] - room,
                hi[0] + room,
                hi[1] + room,
                shrink,
            );
            if near.w >= 8
                && near.h >= 8
                && let Some(again) = fill(img, near, tap, progress)?
                && (0.5..2.0).contains(&(again.area_px() / found.area_px()))
            {
                found = again;
            }
        }
    }
    progress.set_done(1000);
    Ok(found.into_outlined(img))
}

fn nothing(tap: [f64; 2]) -> Error {
    Error::new(
        ErrorKind::BadValue,
        format!("nothing stands out at {},{}", tap[0], tap[1]),
    )
    .at("tap")
    .hint("tap the middle of the stain, or mark its edge by hand")
}

/// The filling of one window.
struct Filled {
    win: Window,
    /// Edge at half contrast, plane points.
    line: Vec<[f64; 2]>,
    /// Areas in plane pixels within the lines at 0.35 and 0.65 of the contrast.
    wide: f64,
    narrow: f64,
    /// Share of the edge where the colour hardly changes.
    unclear: f64,
    /// By how much a filling at half contrast that is not held back is larger.
    escapes: f64,
    /// Contrast between stain and ground over the noise of the ground.
    clear: f64,
}

fn fill(img: &RgbImage, win: Window, tap: [f64; 2], progress: &Progress) -> Result<Option<Filled>> {
    let sharp = Lab::of(img, win);
    let lab = sharp.blurred(1.2);
    let (w, h) = (win.w, win.h);
    let at = win.to_plane(tap);
    let cx = (at[0].round().max(0.0) as usize).min(w - 1);
    let cy = (at[1].round().max(0.0) as usize).min(h - 1);
    let mut seeds = Vec::new();
    for y in cy.saturating_sub(2)..=(cy + 2).min(h - 1) {
        for x in cx.saturating_sub(2)..=(cx + 2).min(w - 1) {
            seeds.push(y * w + x);
        }
    }
    let Some(mask) = swept(&lab, &seeds, w, h, progress)? else {
        return Ok(None);
    };
    edge::settle(&lab, mask, seeds[seeds.len() / 2], win, progress)
}

/// The region of the sweep whose boundary is steepest; none if nothing stands out.
fn swept(
    lab: &Lab,
    seeds: &[usize],
    w: usize,
    h: usize,
    progress: &Progress,
) -> Result<Option<Vec<bool>>> {
    let mut mid = [0.0f32; 3];
    for (c, plane) in [&lab.l, &lab.a, &lab.b].into_iter().enumerate() {
        let mut v: Vec<f32> = seeds.iter().map(|s| plane.data[*s]).collect();
        mid[c] = quantile(&mut v, 0.5);
    }
    let difference: Vec<f32> = (0..w * h)
        .map(|i| {
            let c = lab.colour(i);
            let d = [c[0] - mid[0], c[1] - mid[1], c[2] - mid[2]];
            (d[0] * d[0] + d[1] * d[1] + d[2] * d[2]).sqrt()
        })
        .collect();
    let level = flood::levels(&difference, w, h, seeds, progress)?;
    let steep = steepness(lab);
    let stages = flood::stages(&level, &steep.data, w, h);
    let mut all = steep.data.clone();
    let usual = f64::from(quantile(&mut all, 0.5)).max(0.05);
    let best = (0..stages.len())
        .filter(|&t| {
            let s = &stages[t];
            s.area >= 40
                && s.area * 10 <= w * h * 8
                && s.edge > 0
                && (s.border as f64) < 0.25 * s.edge as f64
        })
        .map(|t| {
            let s = &stages[t];
            // steep, compact, and staying the same while the tolerance grows
            let mean = s.steep / s.edge as f64;
            let compact = (4.0 * std::f64::consts::PI * s.area as f64).sqrt() / s.edge as f64;
            (t, mean * compact.clamp(0.1, 0.6).sqrt())
        })
        .max_by(|a, b| a.1.total_cmp(&b.1));
    Ok(best
        .filter(|(t, _)| stages[*t].steep / stages[*t].edge as f64 > 1.2 * usual)
        .map(|(t, _)| level.iter().map(|l| usize::from(*l) <= t).collect()))
}

/// Colour difference over four pixels, at every pixel.
fn steepness(lab: &Lab) -> Plane {
    let (w, h) = (lab.l.w, lab.l.h);
    let mut out = Plane::filled(w, h, 0.0);
    for y in 0..h {
        let (up, down) = (y.saturating_sub(2) * w, (y + 2).min(h - 1) * w);
        for x in 0..w {
            let (left, right) = (x.saturating_sub(2), (x + 2).min(w - 1));
            let mut sum = 0.0;
            for p in [&lab.l, &lab.a, &lab.b] {
                let dx = p.data[y * w + right] - p.data[y * w + left];
                let dy = p.data[down + x] - p.data[up + x];
                sum += dx * dx + dy * dy;
            }
            out.data[y * w + x] = sum.sqrt();
        }
    }
    out
}

impl Filled {
    fn area_px(&self) -> f64 {
        contour::area(&self.line) * f64::from(self.win.shrink).powi(2)
    }

    /// Corners of the box around it, in picture pixels.
    fn reach(&self) -> ([f64; 2], [f64; 2]) {
        let (mut lo, mut hi) = ([f64::INFINITY; 2], [f64::NEG_INFINITY; 2]);
        for p in &self.line {
            let p = self.win.to_picture(*p);
            for c in 0..2 {
                lo[c] = lo[c].min(p[c]);
                hi[c] = hi[c].max(p[c]);
            }
        }
        (lo, hi)
    }

    fn into_outlined(self, img: &RgbImage) -> Outlined {
        let area_px = self.area_px();
        let scale = f64::from(self.win.shrink);
        let (lo, hi) = self.reach();
        let edge = 1.5 * scale;
        let cut = lo[0] < edge
            || lo[1] < edge
            || hi[0] > f64::from(img.width()) - edge
            || hi[1] > f64::from(img.height()) - edge;
        let mut warnings = Vec::new();
        let leaks = self.unclear > 0.12 || self.escapes > 0.1;
        if leaks {
            warnings.push(format!(
                "the colour runs on without an edge along {:.0} % of the outline: it may have leaked out of the stain, or stopped short of its end",
                100.0 * self.unclear.max((self.escapes / 4.0).min(1.0))
            ));
        }
        if cut {
            warnings.push(
                "the outline reaches the edge of the picture: the stain may go on beyond it".into(),
            );
        }
        if self.clear < 3.0 {
            warnings.push(
                "the stain hardly stands out from the ground: check the outline by eye".into(),
            );
        }
        let sure = if self.unclear > 0.3 || self.escapes > 0.5 || self.clear < 2.0 {
            Sure::Poor
        } else if !warnings.is_empty() || self.clear < 4.0 {
            Sure::Fair
        } else {
            Sure::Good
        };
        let soft = (self.wide - self.narrow).abs() * scale * scale / 6.0;
        let round = contour::round(&self.line) * scale;
        let u_px = (soft.powi(2)
            + (0.01 * area_px).powi(2)
            + (0.15 * scale * round).powi(2)
            + (0.5 * self.unclear * area_px).powi(2))
        .sqrt();
        let every = self.line.len().div_ceil(MOST_POINTS).max(1);
        let polygon = self
            .line
            .iter()
            .step_by(every)
            .map(|p| self.win.to_picture(*p))
            .collect();
        Outlined {
            polygon,
            area_px,
            u_px,
            sure,
            warnings,
        }
    }
}

#[cfg(test)]
mod tests;
