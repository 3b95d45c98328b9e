//! Lays an older photo of a place on a newer one.
//!
//! Matched features give a motion ([`features`], [`consensus`]); where there are too few, the spectra
//! do ([`spectrum`]). It is mended from coarse to fine by looking for small cells again ([`settle`]) and
//! then has to prove itself cell by cell ([`proof`]). A wrong fit offered as right is the worst that
//! can happen here, so many places all over the picture must agree, and "not the same view" is an
//! answer.

mod both;
mod consensus;
mod evened;
mod features;
mod homography;
mod proof;
mod settle;
mod spectrum;

use image::RgbImage;
use nalgebra::Matrix3;
use serde::{Deserialize, Serialize};

use crate::error::{Error, ErrorKind, Result};
use crate::photo::plane::{Plane, Window};
use crate::photo::progress::Progress;

pub use both::both;

/// Longer side of the working planes.
const SIDE: u32 = 640;

/// Pictures need no more pixels than this on their longer side to be laid: [`Laid::at_scale`] brings
/// the answer to the full ones.
pub const LEAST: u32 = 2 * SIDE;

/// What came of laying one photo on another.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Laid {
    /// Whether both show the same place closely enough to be laid on one another.
    pub same_view: bool,
    /// From pixels of the older picture to pixels of the newer, three rows, 1 in the last place.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub homography: Option<[[f64; 3]; 3]>,
    /// Share of what could be compared that agrees, times how well it does: 0 to 1.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub quality: Option<f64>,
    /// Root mean square of what is left over between both, in pixels of the newer picture.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub rms_px: Option<f64>,
    /// Number of places compared that agree.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub inliers: Option<usize>,
    /// Why it is not the same view.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub why: Option<String>,
}

impl Laid {
    fn not(why: impl Into<String>) -> Self {
        Self {
            same_view: false,
            homography: None,
            quality: None,
            rms_px: None,
            inliers: None,
            why: Some(why.into()),
        }
    }

    /// The same answer for pictures of which each pixel that was laid stands for `older` and `newer`
    /// pixels, both ways ([`Decoded::scale`](crate::photo::Decoded)).
    pub fn at_scale(mut self, older: f64, newer: f64) -> Self {
        if let Some(h) = &mut self.homography {
            // diag(newer, newer, 1) * H * diag(1 / older, 1 / older, 1)
            for (r, row) in h.iter_mut().enumerate() {
                for (c, v) in row.iter_mut().enumerate() {
                    if r < 2 {
                        *v *= newer;
                    }
                    if c < 2 {
                        *v /= older;
                    }
                }
            }
        }
        self.rms_px = self.rms_px.map(|v| v * newer);
        self
    }

    /// For a terminal.
    pub fn to_text(&self) -> String {
        match (self.quality, self.rms_px, self.inliers) {
            (Some(quality), Some(rms), Some(inliers)) if self.same_view => format!(
                "the same view: {inliers} places agree, {rms:.1} pixels left over, quality {quality:.2}\nlook at both before anything is carried over"
            ),
            _ => format!(
                "not the same view: {}",
                self.why.as_deref().unwrap_or("no fit was found")
            ),
        }
    }
}

/// Lays `older` on `newer`, both after their EXIF orientation.
///
/// Errors: cancelled. Pictures that cannot be laid are an answer, not an error. The person always
/// looks before anything is carried over.
pub fn lay(older: &RgbImage, newer: &RgbImage, progress: &Progress) -> Result<Laid> {
    let (wa, wb) = (Window::whole(older, SIDE), Window::whole(newer, SIDE));
    if wa.w.min(wa.h).min(wb.w).min(wb.h) < 64 {
        return Ok(Laid::not(
            "a picture is too small: both need at least 64 pixels each way",
        ));
    }
    progress.check()?;
    let (a, b) = (Plane::luma(older, wa), Plane::luma(newer, wb));
    progress.set_done(150);
    let (sa, sb) = (evened::Stack::of(&a), evened::Stack::of(&b));
    let (Some(ea), Some(eb)) = (sa.at(0), sb.at(0)) else {
        return Ok(Laid::not("a picture is too small"));
    };
    let (fa, fb) = (
        features::features(ea, progress)?,
        features::features(eb, progress)?,
    );
    progress.set_done(350);
    let pairs = features::matched(&fa, &fb);
    let mut best: Option<Candidate> = None;
    for m in consensus::motions(&fa, &fb, &pairs, 6) {
        let c = Candidate::refined(&sa, &sb, m.motion, progress)?;
        let done = c.convinces();
        c.into_best(&mut best);
        if done {
            break;
        }
    }
    progress.set_done(700);
    if best.as_ref().is_none_or(|c| !c.convinces()) {
        for m in spectrum::motions(ea, eb, progress)? {
            if !homography::sane(&m) {
                continue;
            }
            let c = Candidate::refined(&sa, &sb, m, progress)?;
            let done = c.convinces();
            c.into_best(&mut best);
            if done {
                break;
            }
        }
    }
    progress.set_done(950);
    let Some(found) = best else {
        return Ok(Laid::not(if fa.len().min(fb.len()) < 20 {
            "one of the pictures has hardly anything in it to hold on to"
        } else {
            "nothing in one picture is found again in the other"
        }));
    };
    if !found.convinces() {
        return Ok(Laid::not(found.doubt()));
    }
    progress.set_done(1000);
    Ok(found.into_laid(wa, wb))
}

/// Carries points of the older picture onto the newer by a homography from [`Laid`]; a point that it
/// takes beyond the horizon is an error.
pub fn carry(homography: &[[f64; 3]; 3], points: &[[f64; 2]]) -> Result<Vec<[f64; 2]>> {
    let m = Matrix3::from_fn(|r, c| homography[r][c]);
    points
        .iter()
        .map(|p| {
            homography::mapped(&m, *p)
                .filter(|q| q.iter().all(|v| v.is_finite()))
                .ok_or_else(|| {
                    Error::new(
                        ErrorKind::BadValue,
                        format!("the point {},{} cannot be carried over", p[0], p[1]),
                    )
                    .at("homography")
                    .hint("mark this point on the newer photo by hand")
                })
        })
        .collect()
}

/// A motion that may be true.
struct Candidate {
    motion: Matrix3<f64>,
    verdict: proof::Verdict,
    coarse: proof::Verdict,
}

impl Candidate {
    fn refined(
        a: &evened::Stack,
        b: &evened::Stack,
        start: Matrix3<f64>,
        progress: &Progress,
    ) -> Result<Self> {
        let judge = |m: &Matrix3<f64>, size: usize| match (
            a.at(size),
            b.at(size),
            evened::at_size(m, size),
        ) {
            (Some(p), Some(q), Some(h)) if homography::sane(m) => proof::ask(p, q, &h),
            _ => proof::Verdict::default(),
        };
        let mut motion = settle::settled(a, b, start, &[2, 2], progress)?;
        let coarse = judge(&motion, COARSE);
        let mut verdict = proof::Verdict::default();
        // most wrong motions are known by now
        if coarse.beyond_chance() >= 3.0 {
            motion = settle::settled(a, b, motion, &[1, 1], progress)?;
            verdict = judge(&motion, PROOF);
        }
        Ok(Self {
            verdict,
            coarse,
            motion,
        })
    }

    fn into_best(self, best: &mut Option<Self>) {
        if best.as_ref().is_none_or(|b| b.weight() < self.weight()) {
            *best = Some(self);
        }
    }

    fn weight(&self) -> f64 {
        self.verdict.beyond_chance() + self.coarse.beyond_chance()
    }

    fn convinces(&self) -> bool {
        let v = &self.verdict;
        let c = &self.coarse;
        v.asked >= 20
            && v.agree >= 14
            && v.share() >= 0.3
            && v.quarters >= 3
            && v.common >= 0.2
            && v.beyond_chance() >= 7.0
            && c.share() >= 0.4
            && c.beyond_chance() >= 5.0
    }

    fn doubt(&self) -> String {
        let v = &self.verdict;
        if v.asked < 20 {
            "too little of both pictures can be compared to be sure".to_owned()
        } else if v.common < 0.2 {
            "the pictures show too little of the same part to be sure".to_owned()
        } else {
            format!(
                "the best fit agrees in {} of {} places, which is not enough to be sure",
                v.agree, v.asked
            )
        }
    }

    fn into_laid(self, wa: Window, wb: Window) -> Laid {
        let (s, t) = (f64::from(wa.shrink), f64::from(wb.shrink));
        // picture to plane of the older, plane to picture of the newer
        let to = Matrix3::new(
            1.0 / s,
            0.0,
            -f64::from(wa.x) / s - 0.5,
            0.0,
            1.0 / s,
            -f64::from(wa.y) / s - 0.5,
            0.0,
            0.0,
            1.0,
        );
        let from = Matrix3::new(
            t,
            0.0,
            0.5 * t + f64::from(wb.x),
            0.0,
            t,
            0.5 * t + f64::from(wb.y),
            0.0,
            0.0,
            1.0,
        );
        let Some(m) = homography::scaled(from * self.motion * to) else {
            return Laid::not("the best fit is no view of a plane");
        };
        let v = &self.verdict;
        Laid {
            same_view: true,
            homography: Some([0, 1, 2].map(|r| [0, 1, 2].map(|c| m[(r, c)]))),
            quality: Some((v.share() * v.fit).sqrt().clamp(0.0, 1.0)),
            rms_px: Some(v.rms * t * f64::from(1u32 << PROOF)),
            inliers: Some(v.agree),
            why: None,
        }
    }
}

/// Size of the copies on which a motion has to prove itself: half of the working planes, where noise
/// is averaged down.
const PROOF: usize = 1;

/// Size of the copies on which most wrong motions are already known as such.
const COARSE: usize = 2;

#[cfg(test)]
mod tests;
