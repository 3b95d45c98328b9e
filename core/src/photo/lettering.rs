//! Strokes and letters on derived pictures: a small stroke font of our own, so that no font file has
//! to be carried (a rasteriser such as `ab_glyph` was refused for that reason).
//!
//! Everything is drawn dark with a light rim, so that it stands out from any ground and survives a
//! grey print.

use image::RgbImage;
use unicode_normalization::UnicodeNormalization;

use super::geometry::Point;

/// Grey of ink.
pub const INK: u8 = 10;
/// Grey of the rim round ink.
pub const RIM: u8 = 250;

/// Draws a straight stroke with round ends, `width` pixels wide, edges softened over one pixel.
pub fn stroke(img: &mut RgbImage, a: Point, b: Point, width: f64, grey: u8) {
    let r = width / 2.0 + 1.0;
    let [w, h] = [img.width(), img.height()].map(f64::from);
    if ![a[0], a[1], b[0], b[1]].iter().all(|v| v.is_finite()) {
        return;
    }
    let Some((a, b)) = clipped(a, b, [-r, -r], [w + r, h + r]) else {
        return;
    };
    let (dx, dy) = (b[0] - a[0], b[1] - a[1]);
    let square = dx * dx + dy * dy;
    let (top, bottom) = (a[1].min(b[1]) - r, a[1].max(b[1]) + r);
    let clamp = |v: f64, hi: f64| v.clamp(0.0, hi) as u32;
    for y in clamp(top, h)..clamp(bottom.ceil(), h) {
        let py = f64::from(y) + 0.5;
        // Only the part of the row that the stroke can touch.
        let (mut left, mut right) = (a[0].min(b[0]), a[0].max(b[0]));
        if dy.abs() > 1e-9 {
            let at = |v: f64| a[0] + ((v - a[1]) / dy).clamp(0.0, 1.0) * dx;
            let (p, q) = (at(py - r), at(py + r));
            (left, right) = (p.min(q), p.max(q));
        }
        for x in clamp(left - r, w)..clamp((right + r).ceil(), w) {
            let px = f64::from(x) + 0.5;
            let t = if square > 0.0 {
                (((px - a[0]) * dx + (py - a[1]) * dy) / square).clamp(0.0, 1.0)
            } else {
                0.0
            };
            let d = (px - a[0] - t * dx).hypot(py - a[1] - t * dy);
            let cover = (width / 2.0 + 0.5 - d).clamp(0.0, 1.0);
            blend(img, x, y, grey, cover);
        }
    }
}

/// The part of a segment inside a rectangle: a line far outside must not be walked pixel by pixel.
fn clipped(a: Point, b: Point, low: Point, high: Point) -> Option<(Point, Point)> {
    let (mut t0, mut t1) = (0.0_f64, 1.0_f64);
    for i in 0..2 {
        let d = b[i] - a[i];
        if d == 0.0 {
            if a[i] < low[i] || a[i] > high[i] {
                return None;
            }
            continue;
        }
        let (p, q) = ((low[i] - a[i]) / d, (high[i] - a[i]) / d);
        t0 = t0.max(p.min(q));
        t1 = t1.min(p.max(q));
    }
    let at = |t: f64| [a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1])];
    (t0 <= t1).then(|| (at(t0), at(t1)))
}

fn blend(img: &mut RgbImage, x: u32, y: u32, grey: u8, cover: f64) {
    if cover <= 0.0 {
        return;
    }
    if let Some(p) = img.get_pixel_mut_checked(x, y) {
        for c in &mut p.0 {
            *c = (f64::from(*c) * (1.0 - cover) + f64::from(grey) * cover).round() as u8;
        }
    }
}

/// Fills a convex polygon with one grey per pixel; `None` leaves the pixel.
pub fn fill(img: &mut RgbImage, polygon: &[Point], grey: impl Fn(u32, u32) -> Option<u8>) {
    let (w, h) = (f64::from(img.width()), f64::from(img.height()));
    let low = polygon
        .iter()
        .map(|p| p[1])
        .fold(f64::INFINITY, f64::min)
        .clamp(0.0, h);
    let high = polygon
        .iter()
        .map(|p| p[1])
        .fold(0.0, f64::max)
        .clamp(0.0, h);
    for y in low as u32..high.ceil() as u32 {
        let py = f64::from(y) + 0.5;
        let mut left = f64::INFINITY;
        let mut right = f64::NEG_INFINITY;
        for (a, b) in polygon
            .iter()
            .zip(polygon.iter().skip(1).chain(polygon.first()))
        {
            if (a[1] <= py) != (b[1] <= py) {
                let x = a[0] + (py - a[1]) / (b[1] - a[1]) * (b[0] - a[0]);
                (left, right) = (left.min(x), right.max(x));
            }
        }
        for x in left.clamp(0.0, w) as u32..right.clamp(0.0, w).ceil() as u32 {
            if let Some(g) = grey(x, y) {
                blend(img, x, y, g, 1.0);
            }
        }
    }
}

/// A path, rim first. `dash`: lengths of ink and gap in pixels.
pub fn path(img: &mut RgbImage, points: &[Point], width: f64, dash: Option<[f64; 2]>) {
    for (w, grey) in [(width * 2.2 + 1.0, RIM), (width, INK)] {
        for [a, b] in dashes(points, dash) {
            stroke(img, a, b, w, grey);
        }
    }
}

fn dashes(points: &[Point], dash: Option<[f64; 2]>) -> Vec<[Point; 2]> {
    let pairs = points.iter().zip(points.iter().skip(1));
    let Some([ink, gap]) = dash.filter(|d| d[0] > 0.5 && d[1] > 0.5) else {
        return pairs.map(|(a, b)| [*a, *b]).collect();
    };
    let mut out = Vec::new();
    let mut walked = 0.0;
    for (a, b) in pairs {
        let long = (a[0] - b[0]).hypot(a[1] - b[1]);
        let mut done = 0.0;
        while done < long {
            let phase = walked % (ink + gap);
            let (left, drawn) = if phase < ink {
                (ink - phase, true)
            } else {
                (ink + gap - phase, false)
            };
            // Never less than a thousandth of a pixel: rounding must not hold the walk up.
            let step = left.max(1e-3).min(long - done).max(1e-6);
            let at = |t: f64| {
                [
                    a[0] + t / long * (b[0] - a[0]),
                    a[1] + t / long * (b[1] - a[1]),
                ]
            };
            if drawn {
                out.push([at(done), at((done + step).min(long))]);
            }
            done += step;
            walked += step;
        }
    }
    out
}

/// Width in pixels of a line of text whose capitals are `height` pixels high.
pub fn text_width(text: &str, height: f64) -> f64 {
    letters(text).iter().map(|g| advance(g)).sum::<f64>() * height / 6.0
}

/// Writes one line, the top left corner of its capitals at `at`; with a rim unless `plain`.
pub fn text(img: &mut RgbImage, at: Point, height: f64, text: &str, plain: bool) {
    let unit = height / 6.0;
    let width = (height / 7.5).max(1.0);
    for (w, grey) in [(width * 2.6 + 1.0, RIM), (width, INK)] {
        if plain && grey == RIM {
            continue;
        }
        let mut x = at[0];
        for glyph in letters(text) {
            for line in glyph.split('/') {
                let points: Vec<Point> = pairs(line)
                    .map(|p| [x + p[0] * unit, at[1] + p[1] * unit])
                    .collect();
                for (a, b) in points.iter().zip(points.iter().skip(1)) {
                    stroke(img, *a, *b, w, grey);
                }
            }
            x += advance(glyph) * unit;
        }
    }
}

fn pairs(line: &str) -> impl Iterator<Item = Point> + '_ {
    let b = line.as_bytes();
    b.chunks_exact(2).map(|p| {
        let d = |i: usize| p.get(i).map_or(0.0, |c| f64::from(c.saturating_sub(b'0')));
        [d(0), d(1)]
    })
}

fn advance(glyph: &str) -> f64 {
    let widest = glyph
        .split('/')
        .flat_map(pairs)
        .map(|p| p[0])
        .fold(1.5, f64::max);
    if glyph.is_empty() { 3.0 } else { widest + 1.8 }
}

/// Letters with marks (é, ü) are written as their base; what has no form here is a box.
fn letters(text: &str) -> Vec<&'static str> {
    text.nfd()
        .filter(|c| !unicode_normalization::char::is_combining_mark(*c))
        .map(form)
        .collect()
}

/// Strokes of a letter on a grid 4 wide, capitals from 0 to 6, tails to 8: pairs of digits are
/// points, a slash lifts the pen.
fn form(c: char) -> &'static str {
    match c {
        ' ' | '\u{a0}' | '\u{202f}' => "",
        'A' => "062046/1434",
        'B' => "0006/003041423303/3344453606",
        'C' => "4130100105163645",
        'D' => "0006/003041453606",
        'E' => "40000646/0333",
        'F' => "400006/0333",
        'G' => "41301001051636454323",
        'H' => "0006/4046/0343",
        'I' => "0020/1016/0626",
        'J' => "4045361605",
        'K' => "0006/4004/1346",
        'L' => "000646",
        'M' => "0600234046",
        'N' => "06004640",
        'O' => "100105163645413010",
        'P' => "06003041423303",
        'Q' => "100105163645413010/2446",
        'R' => "06003041423303/2346",
        'S' => "413010010213334445361605",
        'T' => "0040/2026",
        'U' => "000516364540",
        'V' => "002640",
        'W' => "0016233640",
        'X' => "0046/4006",
        'Y' => "002340/2326",
        'Z' => "00400646",
        '0' => "100105163645413010/1531",
        '1' => "011016/0626",
        '2' => "01103041420646",
        '3' => "01103041423313/334445361605",
        '4' => "36300444",
        '5' => "400003334445361605",
        '6' => "4130100105163645443303",
        '7' => "004016",
        '8' => "100102133342413010/1304051636454433",
        '9' => "4313020110304145361605",
        'a' => "12324346/441405163645",
        'b' => "0006/0312324345361605",
        'c' => "4332120305163645",
        'd' => "4046/4332120305163645",
        'e' => "04444332120305163645",
        'f' => "30201116/0323",
        'g' => "4332120305163645/4247381807",
        'h' => "0006/0312324346",
        'i' => "1216/1010",
        'j' => "22271808/2020",
        'k' => "0006/4204/2346",
        'l' => "101526",
        'm' => "0206/03122326/23324346",
        'n' => "0206/0312324346",
        'o' => "120305163645433212",
        'p' => "0208/0312324345361605",
        'q' => "4248/4332120305163645",
        'r' => "0206/041232",
        's' => "43321203143445361605",
        't' => "101526/0222",
        'u' => "0205163645/4246",
        'v' => "022642",
        'w' => "0216243642",
        'x' => "0246/4206",
        'y' => "0226/4208",
        'z' => "02420646",
        '.' => "1616",
        ',' => "1607",
        ':' => "1313/1616",
        ';' => "1313/1607",
        '-' | '\u{2010}' | '\u{2011}' => "0333",
        '–' | '—' | '−' => "0343",
        '+' => "2125/0343",
        '=' => "0242/0444",
        '±' => "2024/0242/0646",
        '/' => "4006",
        '(' => "20111526",
        ')' => "00111506",
        '%' => "4006/0111/3545",
        '°' => "1001122110",
        '×' => "0335/0533",
        '²' => "1020211222",
        '\'' | '’' => "1012",
        '"' => "1012/3032",
        '!' => "1014/1616",
        '?' => "01103041422324/2626",
        '#' => "1016/3036/0242/0444",
        '_' => "0747",
        '<' => "310335",
        '>' => "013305",
        '→' => "0343/214325",
        '&' => "461211203132050516364444",
        _ => "0040460600",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_letter_differs_and_strokes_are_pairs_of_digits() {
        let all = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789.,:;-–+=±/()%°×²'\"!?#_<>→&";
        let mut seen = std::collections::BTreeSet::new();
        for c in all.chars() {
            let f = form(c);
            assert!(seen.insert(f), "{c} looks like another letter");
            assert!(
                f.split('/').all(|s| s.len() % 2 == 0
                    && s.len() >= 4
                    && s.bytes().all(|b| b.is_ascii_digit())),
                "{c}"
            );
        }
        assert_eq!(letters("é"), letters("e"));
        assert_eq!(form('漢'), form('\u{7}'));
    }

    #[test]
    fn strokes_stay_in_the_picture_and_wild_ones_end() {
        let mut img = RgbImage::from_pixel(40, 30, image::Rgb([128, 128, 128]));
        stroke(&mut img, [-1e12, 15.0], [1e12, 15.0], 3.0, 0);
        stroke(&mut img, [f64::NAN, 0.0], [1.0, 1.0], 3.0, 0);
        assert_eq!(img.get_pixel(20, 14).0, [0; 3]);
        assert_eq!(img.get_pixel(20, 5).0, [128; 3]);
        path(&mut img, &[[5.0, 5.0], [35.0, 5.0]], 1.0, Some([4.0, 4.0]));
        text(&mut img, [-5.0, 10.0], 12.0, "A±é漢", false);
        assert!((text_width("nn", 12.0) - 2.0 * text_width("n", 12.0)).abs() < 1e-9);
    }
}
