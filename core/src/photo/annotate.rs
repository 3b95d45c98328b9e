//! Derived pictures for the report and the pack: the marks on a copy of the photo, a scale bar, the
//! frame of the card with its face masked, and a caption below.
//!
//! The original is never touched. Everything reads in a grey print: ink with a light rim, and lines
//! that differ by form, not colour: newer solid, older dashed, growth hollow with end bars.

use image::{Rgb, RgbImage, imageops};

use super::geometry::{Homography, Point, distance, middle, path_length};
use super::lettering::{INK, RIM, fill, path, stroke, text, text_width};
use super::marks::{Marks, Measured, ScaleMarks, bad, to_pixels};
use super::measurement::Measurement;
use super::progress::Progress;
use super::scale::{Placed, Scale};
use crate::error::{Error, ErrorKind, Result};

/// Longest side in pixels of one photo within a derived picture.
pub const DERIVED_SIDE: u32 = 2000;

/// A photo with the marks of one measure.
#[derive(Debug, Clone, Copy)]
pub struct Marked<'a> {
    /// The upright photo.
    pub photo: &'a RgbImage,
    /// Marks made on it.
    pub marks: &'a Marks,
}

/// The words of a caption for one measure: `2026-05-03: 50.13 mm ± 0.42 mm (k = 2), by card`.
pub fn caption(date: &str, m: &Measurement) -> String {
    let line = m.to_text();
    format!("{date}: {}", line.lines().next().unwrap_or_default())
}

/// One marked photo with its caption lines (as from [`caption`]; at most twelve are shown).
pub fn annotate(marked: Marked<'_>, captions: &[String], progress: &Progress) -> Result<RgbImage> {
    let mut canvas = Canvas::new(marked, progress)?;
    canvas.card();
    canvas.bar();
    canvas.line(&marked.marks.line_px(), Form::Newer);
    Ok(with_captions(canvas.img, captions))
}

/// Older and newer in one frame: left the older photo with its line, right the newer photo with its
/// own line, the older line carried over, and what has been added drawn as growth. `older_to_newer`
/// takes pixels of the older photo to pixels of the newer one.
pub fn compare(
    older: Marked<'_>,
    newer: Marked<'_>,
    older_to_newer: &Homography,
    captions: &[String],
    progress: &Progress,
) -> Result<RgbImage> {
    if older.marks.quantity != newer.marks.quantity {
        return Err(
            bad("one of the two measures is a length, the other an area")
                .hint("compare two of one kind"),
        );
    }
    let mut left = Canvas::new(older, progress)?;
    left.card();
    left.bar();
    left.line(&older.marks.line_px(), Form::Older);
    left.tag("older");
    progress.set_done(400);
    let mut right = Canvas::new(newer, progress)?;
    right.card();
    right.bar();
    let line = newer.marks.line_px();
    let carried: Option<Vec<Point>> = older
        .marks
        .line_px()
        .iter()
        .map(|p| older_to_newer.apply(*p))
        .collect();
    let carried = carried.ok_or_else(|| {
        Error::new(
            ErrorKind::BadValue,
            "the older marks lie beyond the horizon of the newer photo",
        )
        .hint("lay the two photos on one another again")
    })?;
    right.line(&line, Form::Newer);
    right.line(&carried, Form::Older);
    if newer.marks.quantity == Measured::Length {
        // Two marks' error and a little for the laying: nearer than that is the same place.
        let long = f64::from(newer.marks.picture[0].max(newer.marks.picture[1]));
        for run in grown(&line, &carried, (0.004 * long).max(4.0)) {
            right.line(&run, Form::Growth);
        }
    }
    right.tag("newer");
    progress.set_done(800);
    progress.check()?;
    let height = left.img.height().min(right.img.height());
    let (a, b) = (to_height(left.img, height), to_height(right.img, height));
    let gap = (height / 100).max(4);
    let mut both = RgbImage::from_pixel(a.width() + gap + b.width(), height, Rgb([255; 3]));
    imageops::replace(&mut both, &a, 0, 0);
    imageops::replace(&mut both, &b, i64::from(a.width() + gap), 0);
    let mut lines = captions.to_vec();
    lines.push(match newer.marks.quantity {
        Measured::Length => "solid: newer   dashed: older   hollow: growth".to_owned(),
        Measured::Area => "solid: newer   dashed: older".to_owned(),
    });
    Ok(with_captions(both, &lines))
}

/// Runs of `line` that lie farther than `near` pixels from `old`, walked in steps of a pixel or two.
pub fn grown(line: &[Point], old: &[Point], near: f64) -> Vec<Vec<Point>> {
    let long = path_length(line);
    if !(long > 0.0) || old.is_empty() {
        return Vec::new();
    }
    // At most 2,000 steps against at most 2,000 pieces.
    let step = (long / 2000.0).max(1.5);
    let mut runs: Vec<Vec<Point>> = Vec::new();
    let mut open = false;
    let mut visit = |p: Point| {
        let far = to_path(p, old) > near;
        if far && !open {
            runs.push(Vec::new());
        }
        if far && let Some(run) = runs.last_mut() {
            run.push(p);
        }
        open = far;
    };
    for (a, b) in line.iter().zip(line.iter().skip(1)) {
        let n = (distance(*a, *b) / step).ceil().max(1.0);
        for i in 0..n as usize {
            let t = i as f64 / n;
            visit([a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1])]);
        }
    }
    if let Some(p) = line.last() {
        visit(*p);
    }
    // A step or two is the thickness of the line.
    runs.retain(|r| path_length(r) > near / 2.0);
    runs
}

fn to_path(p: Point, path: &[Point]) -> f64 {
    let mut least = path.first().map_or(f64::INFINITY, |a| distance(*a, p));
    for (a, b) in path.iter().zip(path.iter().skip(1)) {
        let (dx, dy) = (b[0] - a[0], b[1] - a[1]);
        let square = dx * dx + dy * dy;
        let t = if square > 0.0 {
            (((p[0] - a[0]) * dx + (p[1] - a[1]) * dy) / square).clamp(0.0, 1.0)
        } else {
            0.0
        };
        least = least.min((p[0] - a[0] - t * dx).hypot(p[1] - a[1] - t * dy));
    }
    least
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Form {
    Newer,
    Older,
    Growth,
}

/// A shrunk copy of a photo being drawn on.
struct Canvas<'a> {
    img: RgbImage,
    marks: &'a Marks,
    placed: Option<Placed>,
    /// Derived pixels to one photo pixel.
    shrink: f64,
    /// Width of a thin line in derived pixels.
    thin: f64,
}

impl<'a> Canvas<'a> {
    fn new(marked: Marked<'a>, progress: &Progress) -> Result<Self> {
        let Marked { photo, marks } = marked;
        progress.check()?;
        let scale = Scale::new(marks)?;
        if [photo.width(), photo.height()] != marks.picture {
            let [w, h] = marks.picture;
            return Err(bad(format!(
                "this picture has {} × {} pixels, the one that was marked had {w} × {h}",
                photo.width(),
                photo.height()
            ))
            .hint("give the original photo"));
        }
        let long = photo.width().max(photo.height());
        let (img, shrink) = if long > DERIVED_SIDE {
            let k = f64::from(DERIVED_SIDE) / f64::from(long);
            let side = |s: u32| ((f64::from(s) * k).round() as u32).max(1);
            (
                imageops::resize(
                    photo,
                    side(photo.width()),
                    side(photo.height()),
                    imageops::FilterType::Triangle,
                ),
                k,
            )
        } else {
            (photo.clone(), 1.0)
        };
        progress.check()?;
        let thin = (f64::from(img.width().max(img.height())) / 550.0).max(1.0);
        let placed = scale.placed(&vec![0.0; scale.parameters().len()]);
        Ok(Self {
            img,
            marks,
            placed,
            shrink,
            thin,
        })
    }

    fn px(&self, p: Point) -> Point {
        [p[0] * self.shrink, p[1] * self.shrink]
    }

    /// The scale's frame; a card's face is covered, edge to edge.
    fn card(&mut self) {
        let (corners, is_card) = match &self.marks.scale {
            ScaleMarks::Card(c) => (c.used.map(to_pixels), true),
            ScaleMarks::Sheet { corners, .. } => (corners.used.map(to_pixels), false),
            ScaleMarks::Ruler { ends, .. } => {
                let ends = ends.map(|e| self.px(to_pixels(e)));
                let thin = self.thin;
                for e in ends {
                    cross(&mut self.img, e, 5.0 * thin, thin);
                }
                return;
            }
        };
        let q = corners.map(|c| self.px(c));
        let thin = self.thin;
        if is_card {
            // A little beyond the edges: nothing of the face may stay, whatever the corners' error.
            let m = middle(&q);
            let grown = q.map(|p| {
                let d = distance(p, m).max(1.0);
                let k = 1.0 + (2.0 * thin + 0.01 * d) / d;
                [m[0] + (p[0] - m[0]) * k, m[1] + (p[1] - m[1]) * k]
            });
            let pitch = (8.0 * thin).max(6.0) as u32;
            fill(&mut self.img, &grown, |x, y| {
                Some(if (x + y) % pitch < pitch / 5 {
                    165
                } else {
                    215
                })
            });
        }
        let mut round = q.to_vec();
        round.push(q[0]);
        path(&mut self.img, &round, thin, None);
        if is_card {
            let width = distance(q[0], q[1]).min(
                (q[0][0].max(q[1][0]).max(q[2][0]).max(q[3][0]))
                    - (q[0][0].min(q[1][0]).min(q[2][0]).min(q[3][0])),
            );
            let words = "card, face masked";
            let height = (0.8 * width * 10.0 / text_width(words, 10.0)).min(14.0 * thin);
            let m = middle(&q);
            let at = [m[0] - text_width(words, height) / 2.0, m[1] - height / 2.0];
            text(&mut self.img, at, height, words, false);
        }
    }

    /// A bar of round length in the plane of the scale, on the side of the card away from the mark.
    fn bar(&mut self) {
        let Some(placed) = self.placed.clone() else {
            return;
        };
        let sides: Vec<[Point; 2]> = match &self.marks.scale {
            ScaleMarks::Card(c) | ScaleMarks::Sheet { corners: c, .. } => {
                let [a, b, c, d] = c.used.map(to_pixels);
                vec![[a, b], [b, c], [d, c], [a, d]]
            }
            ScaleMarks::Ruler { ends, .. } => vec![ends.map(to_pixels)],
        };
        let all: Vec<Point> = sides.iter().flatten().copied().collect();
        let heart = middle(&all);
        let line = self.marks.line_px();
        let (w, h) = (
            f64::from(self.marks.picture[0]),
            f64::from(self.marks.picture[1]),
        );
        let off = 14.0 * self.thin / self.shrink;
        let length = bar_length(&placed, &sides);
        let mut best: Option<(f64, [Point; 2])> = None;
        for [a, b] in sides {
            let m = middle(&[a, b]);
            let mut out = [m[0] - heart[0], m[1] - heart[1]];
            let size = out[0].hypot(out[1]);
            if size < 1.0 {
                let l = distance(a, b).max(1.0);
                out = [-(b[1] - a[1]) / l, (b[0] - a[0]) / l];
            } else {
                out = out.map(|v| v / size);
            }
            let from = [a[0] + out[0] * off, a[1] + out[1] * off];
            let towards = [b[0] + out[0] * off, b[1] + out[1] * off];
            let Some(to) = at_length(&placed, from, towards, length) else {
                continue;
            };
            let margin = 10.0 * self.thin / self.shrink;
            let inside = [from, to]
                .iter()
                .all(|p| p[0] > margin && p[1] > margin && p[0] < w - margin && p[1] < h - margin);
            let clear = line
                .iter()
                .map(|p| to_path(*p, &[from, to]))
                .fold(f64::INFINITY, f64::min);
            let merit = clear + if inside { 1e7 } else { 0.0 };
            if best.is_none_or(|(m, _)| merit > m) {
                best = Some((merit, [from, to]));
            }
        }
        let Some((_, [from, to])) = best else { return };
        let (a, b) = (self.px(from), self.px(to));
        let thin = self.thin;
        for (width, grey) in [(6.0 * thin, RIM), (4.0 * thin, INK)] {
            stroke(&mut self.img, a, b, width, grey);
        }
        // Light blocks between the dark ones, in five parts.
        for i in [1.0, 3.0] {
            let at = |t: f64| at_length(&placed, from, to, length * t / 5.0).map(|p| self.px(p));
            if let (Some(p), Some(q)) = (at(i), at(i + 1.0)) {
                let d = distance(p, q).max(1.0);
                let inset = (2.0 * thin / d).min(0.4);
                let p2 = [p[0] + inset * (q[0] - p[0]), p[1] + inset * (q[1] - p[1])];
                let q2 = [q[0] - inset * (q[0] - p[0]), q[1] - inset * (q[1] - p[1])];
                stroke(&mut self.img, p2, q2, 2.4 * thin, RIM);
            }
        }
        let words = if (length - length.round()).abs() < 1e-9 {
            format!("{length:.0} mm")
        } else {
            format!("{length} mm")
        };
        let height = 13.0 * thin;
        let m = middle(&[a, b]);
        let centre = self.px(heart);
        let away = [m[0] - centre[0], m[1] - centre[1]];
        let l = away[0].hypot(away[1]).max(1.0);
        let wide = text_width(&words, height);
        let reach =
            8.0 * thin + (away[0] / l).abs() * wide / 2.0 + (away[1] / l).abs() * height / 2.0;
        let at = [
            m[0] + away[0] / l * reach - wide / 2.0,
            m[1] + away[1] / l * reach - height / 2.0,
        ];
        let (iw, ih) = (f64::from(self.img.width()), f64::from(self.img.height()));
        let at = [
            at[0].clamp(thin, (iw - wide).max(thin)),
            at[1].clamp(thin, (ih - height * 1.4).max(thin)),
        ];
        text(&mut self.img, at, height, &words, false);
    }

    fn line(&mut self, line: &[Point], form: Form) {
        let mut points: Vec<Point> = line.iter().map(|p| self.px(*p)).collect();
        if self.marks.quantity == Measured::Area
            && let Some(p) = points.first().copied()
        {
            points.push(p);
        }
        let thin = self.thin;
        match form {
            Form::Newer => path(&mut self.img, &points, 1.3 * thin, None),
            Form::Older => path(
                &mut self.img,
                &points,
                1.3 * thin,
                Some([9.0 * thin, 6.0 * thin]),
            ),
            Form::Growth => {
                for (width, grey) in [(7.0 * thin, RIM), (5.0 * thin, INK), (2.4 * thin, RIM)] {
                    for (a, b) in points.iter().zip(points.iter().skip(1)) {
                        stroke(&mut self.img, *a, *b, width, grey);
                    }
                }
            }
        }
        if self.marks.quantity == Measured::Area {
            return;
        }
        // Bars across both ends show where the measure begins and stops.
        let few = points.len().min(6);
        for end in [
            points.iter().take(few).copied().collect::<Vec<_>>(),
            points.iter().rev().take(few).copied().collect(),
        ] {
            let (Some(a), Some(b)) = (end.first(), end.last()) else {
                continue;
            };
            let l = distance(*a, *b);
            if l < 1e-6 {
                continue;
            }
            let n = [-(b[1] - a[1]) / l, (b[0] - a[0]) / l];
            let r = if form == Form::Older { 5.0 } else { 8.0 } * thin;
            let bar = [
                [a[0] + n[0] * r, a[1] + n[1] * r],
                [a[0] - n[0] * r, a[1] - n[1] * r],
            ];
            path(&mut self.img, &bar, 1.3 * thin, None);
        }
    }

    fn tag(&mut self, words: &str) {
        let thin = self.thin;
        text(
            &mut self.img,
            [8.0 * thin, 8.0 * thin],
            18.0 * thin,
            words,
            false,
        );
    }
}

fn cross(img: &mut RgbImage, at: Point, r: f64, width: f64) {
    for d in [[1.0, 0.0], [0.0, 1.0]] {
        let ends = [
            [at[0] - d[0] * r, at[1] - d[1] * r],
            [at[0] + d[0] * r, at[1] + d[1] * r],
        ];
        path(img, &ends, width, None);
    }
}

/// 1, 2 or 5 times a power of ten mm, at most two thirds of the scale's longest side.
fn bar_length(placed: &Placed, sides: &[[Point; 2]]) -> f64 {
    let long = sides
        .iter()
        .filter_map(|s| placed.evaluate(Measured::Length, s))
        .fold(0.0, f64::max)
        * 0.67;
    let mut best = 1.0;
    for power in [0.1, 1.0, 10.0, 100.0] {
        for n in [1.0, 2.0, 5.0] {
            if n * power <= long {
                best = n * power;
            }
        }
    }
    best
}

/// The pixel on the way from one to another (or beyond) at which the way is `mm` long.
fn at_length(placed: &Placed, from: Point, towards: Point, mm: f64) -> Option<Point> {
    let at = |t: f64| {
        [
            from[0] + t * (towards[0] - from[0]),
            from[1] + t * (towards[1] - from[1]),
        ]
    };
    let whole = placed.evaluate(Measured::Length, &[from, towards])?;
    if !(whole > 1e-9) {
        return None;
    }
    // Length grows along a ray of the plane; a few secant steps settle the perspective.
    let mut t = mm / whole;
    for _ in 0..20 {
        let got = placed.evaluate(Measured::Length, &[from, at(t)])?;
        if !(got > 1e-12) {
            return None;
        }
        t *= mm / got;
        if !t.is_finite() || t > 100.0 {
            return None;
        }
    }
    Some(at(t))
}

fn to_height(img: RgbImage, height: u32) -> RgbImage {
    if img.height() == height {
        return img;
    }
    let width =
        (u64::from(img.width()) * u64::from(height) / u64::from(img.height().max(1))).max(1) as u32;
    imageops::resize(&img, width, height, imageops::FilterType::Triangle)
}

/// Adds a white band below with the lines of text, made smaller where one is too long.
fn with_captions(img: RgbImage, captions: &[String]) -> RgbImage {
    let lines: Vec<&String> = captions.iter().take(12).collect();
    if lines.is_empty() {
        return img;
    }
    let (w, h) = (img.width(), img.height());
    let margin = f64::from(w) * 0.015;
    let widest = lines.iter().map(|l| text_width(l, 1.0)).fold(1.0, f64::max);
    let height = (f64::from(w) / 56.0)
        .min((f64::from(w) - 2.0 * margin) / widest)
        .max(5.0);
    let band = ((lines.len() as f64 * 1.9 + 0.9) * height).ceil() as u32;
    let mut out = RgbImage::from_pixel(w, h.saturating_add(band), Rgb([255; 3]));
    imageops::replace(&mut out, &img, 0, 0);
    for (i, line) in lines.iter().enumerate() {
        let y = f64::from(h) + (0.9 + 1.9 * i as f64) * height;
        text(&mut out, [margin, y], height, line, true);
    }
    out
}

#[cfg(test)]
mod tests {
    use super::super::length::measure_length;
    use super::super::measurement::{Options, Picture, ScaleTaps};
    use super::*;

    // Truth by construction: a grey ground, a red card, a black line of known pixels.

    const CARD: [Point; 4] = [
        [500.0, 300.0],
        [1100.0, 330.0],
        [1080.0, 708.0],
        [480.0, 680.0],
    ];

    fn photo(end: f64) -> (RgbImage, Measurement) {
        let mut img = RgbImage::from_pixel(1600, 1200, Rgb([150; 3]));
        let inside = |x: u32, y: u32| {
            let p = [f64::from(x) + 0.5, f64::from(y) + 0.5];
            CARD.iter()
                .zip(CARD.iter().cycle().skip(1))
                .all(|(a, b)| super::super::geometry::turn(*a, *b, p) >= 0.0)
        };
        for (x, y, p) in img.enumerate_pixels_mut() {
            if inside(x, y) {
                *p = Rgb([200, 20, 30]);
            }
        }
        let line = [[400.0, 900.0], [700.0, 930.0], [end, 880.0]];
        for (a, b) in line.iter().zip(line.iter().skip(1)) {
            stroke(&mut img, *a, *b, 3.0, 20);
        }
        let taps = CARD.map(|p| [p[0] + 3.0, p[1] - 4.0]);
        let m = measure_length(
            Picture::of(&img),
            &ScaleTaps::Card(taps),
            &line,
            &Options::default(),
            &Progress::new(),
        )
        .unwrap();
        (img, m)
    }

    #[test]
    fn the_cards_face_is_gone_from_every_derived_picture() {
        let (img, m) = photo(1000.0);
        let ScaleMarks::Card(c) = &m.marks.scale else {
            panic!()
        };
        assert!(c.snapped);
        for (p, q) in c.used.iter().zip(CARD) {
            assert!(
                distance(to_pixels(*p), q) < 0.3,
                "{:?} {q:?}",
                to_pixels(*p)
            );
        }
        let coloured = |i: &RgbImage| {
            i.pixels()
                .filter(|p| p.0[0] != p.0[1] || p.0[1] != p.0[2])
                .count()
        };
        assert!(coloured(&img) > 100_000);
        let one = annotate(
            Marked {
                photo: &img,
                marks: &m.marks,
            },
            &[caption("2026-05-03", &m)],
            &Progress::new(),
        )
        .unwrap();
        assert_eq!(coloured(&one), 0);
        assert!(one.height() > 1200 && one.width() == 1600);
        let (older, o) = photo(850.0);
        let same = Homography::new(
            [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]],
            [0.0, 0.0],
        )
        .unwrap();
        let both = compare(
            Marked {
                photo: &older,
                marks: &o.marks,
            },
            Marked {
                photo: &img,
                marks: &m.marks,
            },
            &same,
            &[caption("2025-05-04", &o), caption("2026-05-03", &m)],
            &Progress::new(),
        )
        .unwrap();
        assert_eq!(coloured(&both), 0);
        // A larger photo is shrunk, and its card masked all the same.
        if let Ok(folder) = std::env::var("WITNESSMARK_LOOK") {
            one.save(format!("{folder}/one.png")).unwrap();
            both.save(format!("{folder}/both.png")).unwrap();
        }
    }

    #[test]
    fn growth_is_what_lies_beyond_the_older_line() {
        let old = [[100.0, 100.0], [300.0, 100.0]];
        let new = [[60.0, 101.0], [200.0, 102.0], [420.0, 100.0]];
        let runs = grown(&new, &old, 5.0);
        assert_eq!(runs.len(), 2);
        let long: Vec<f64> = runs.iter().map(|r| path_length(r)).collect();
        assert!(
            (long[0] - 35.0).abs() < 3.0 && (long[1] - 115.0).abs() < 3.0,
            "{long:?}"
        );
        assert!(grown(&old, &old, 5.0).is_empty());
    }

    #[test]
    fn another_picture_than_the_marked_one_is_refused() {
        let (_, m) = photo(1000.0);
        let e = annotate(
            Marked {
                photo: &RgbImage::new(30, 30),
                marks: &m.marks,
            },
            &[],
            &Progress::new(),
        )
        .unwrap_err();
        assert!(e.what.contains("30 × 30"), "{e}");
    }
}
