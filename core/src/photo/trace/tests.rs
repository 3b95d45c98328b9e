//! Lines drawn here, whose truth is known by construction.

use super::*;
use image::Rgb;

/// A line of width 3 through the points, `ink` on `ground`, with repeatable noise of about 3 levels.
fn drawn(w: u32, h: u32, lines: &[&[[f64; 2]]], ground: f64, ink: f64) -> RgbImage {
    let mut seed = 0x9E37_79B9u32;
    RgbImage::from_fn(w, h, |x, y| {
        let p = [f64::from(x) + 0.5, f64::from(y) + 0.5];
        let d = lines
            .iter()
            .flat_map(|l| l.windows(2))
            .map(|s| to_segment(p, s[0], s[1]))
            .fold(f64::INFINITY, f64::min);
        let cover = (2.0 - d).clamp(0.0, 1.0);
        seed ^= seed << 13;
        seed ^= seed >> 17;
        seed ^= seed << 5;
        let noise = f64::from(seed % 1000) / 100.0 - 5.0;
        let v = (ground + (ink - ground) * cover + noise).clamp(0.0, 255.0) as u8;
        Rgb([v, v, v])
    })
}

fn to_segment(p: [f64; 2], a: [f64; 2], b: [f64; 2]) -> f64 {
    let d = [b[0] - a[0], b[1] - a[1]];
    let n = d[0] * d[0] + d[1] * d[1];
    let t = if n > 0.0 {
        (((p[0] - a[0]) * d[0] + (p[1] - a[1]) * d[1]) / n).clamp(0.0, 1.0)
    } else {
        0.0
    };
    distance(p, [a[0] + t * d[0], a[1] + t * d[1]])
}

/// A sine of given height over `x` from 40 to 360.
fn wave(height: f64) -> Vec<[f64; 2]> {
    (0..=160)
        .map(|i| {
            let x = 40.0 + 2.0 * f64::from(i);
            [x, 150.0 + height * (x / 30.0).sin()]
        })
        .collect()
}

fn length(line: &[[f64; 2]]) -> f64 {
    line.windows(2).map(|s| distance(s[0], s[1])).sum()
}

#[test]
fn a_wave_reads_its_own_length_dark_or_light() {
    for (ground, ink) in [(170.0, 110.0), (90.0, 150.0)] {
        let truth = wave(25.0);
        let img = drawn(400, 300, &[&truth], ground, ink);
        let ends = [truth[0], truth[160]];
        let got = trace(&img, &ends, &Progress::new()).unwrap();
        let ratio = got.length_px / length(&truth);
        assert!((ratio - 1.0).abs() < 0.01, "{ratio}");
        assert_eq!(got.sure, Sure::Good);
        assert!(got.u_px > 0.5 && got.u_px < 8.0);
    }
}

#[test]
fn a_straight_slope_reads_neither_staircase_nor_short() {
    let truth = [[50.0, 60.0], [350.0, 190.0]];
    let img = drawn(400, 300, &[&truth], 170.0, 100.0);
    let got = trace(&img, &truth, &Progress::new()).unwrap();
    let ratio = got.length_px / length(&truth);
    assert!((ratio - 1.0).abs() < 0.006, "{ratio}");
}

#[test]
fn a_third_tap_pulls_the_line_off_a_seam() {
    let truth = wave(45.0);
    let seam = [[20.0, 150.0], [380.0, 150.0]];
    let img = drawn(400, 300, &[&truth, &seam], 170.0, 100.0);
    let ends = vec![truth[0], truth[160]];
    let first = trace(&img, &ends, &Progress::new()).unwrap();
    assert_ne!(first.sure, Sure::Good, "the seam competes");
    let mut taps = ends;
    // on the crests, in no order
    taps.extend([truth[98], truth[145], truth[50]]);
    let got = trace(&img, &taps, &Progress::new()).unwrap();
    let off = truth
        .iter()
        .filter(|p| {
            got.polyline
                .windows(2)
                .map(|s| to_segment(**p, s[0], s[1]))
                .fold(f64::INFINITY, f64::min)
                > 6.0
        })
        .count();
    assert!(off < 24, "{off} of 161 points astray");
}

#[test]
fn no_crack_is_poor() {
    let noise = drawn(400, 300, &[], 150.0, 150.0);
    let ends = [[60.0, 60.0], [340.0, 240.0]];
    assert_eq!(
        trace(&noise, &ends, &Progress::new()).unwrap().sure,
        Sure::Poor
    );
    let black = RgbImage::new(400, 300);
    assert_eq!(
        trace(&black, &ends, &Progress::new()).unwrap().sure,
        Sure::Poor
    );
}

#[test]
fn taps_that_make_no_sense_are_errors_that_say_what_to_do() {
    let img = RgbImage::new(200, 100);
    let bad: [&[[f64; 2]]; 6] = [
        &[],
        &[[1.0, 1.0]],
        &[[1.0, 1.0], [1.0, 2.0]],
        &[[1.0, 1.0], [201.0, 50.0]],
        &[[f64::NAN, 1.0], [20.0, 50.0]],
        &[[1.0, 1.0], [150.0, 50.0], [-1.0, f64::INFINITY]],
    ];
    for taps in bad {
        let e = trace(&img, taps, &Progress::new()).unwrap_err();
        assert_eq!(e.kind, ErrorKind::BadValue);
        assert!(!e.remedy.is_empty());
    }
    let many = vec![[5.0, 5.0]; MOST_TAPS + 1];
    let e = trace(&img, &many, &Progress::new()).unwrap_err();
    assert_eq!(e.kind, ErrorKind::TooLarge);
}

#[test]
fn tiny_pictures_edge_taps_and_repeated_taps_come_back() {
    for (w, h) in [(1, 1), (2, 300), (5, 5), (9, 4), (64, 64)] {
        let img = RgbImage::from_fn(w, h, |x, y| Rgb([(x * 37 + y * 91) as u8, 0, 9]));
        let corner = [f64::from(w), f64::from(h)];
        let taps = [[0.0, 0.0], corner, corner, [0.0, 0.0]];
        if let Ok(t) = trace(&img, &taps, &Progress::new()) {
            assert!(t.length_px.is_finite() && t.u_px.is_finite());
            assert!(t.polyline.iter().flatten().all(|v| v.is_finite()));
        }
    }
}

#[test]
fn stops_when_asked() {
    let img = RgbImage::new(300, 300);
    let p = Progress::new();
    p.cancel();
    let e = trace(&img, &[[10.0, 10.0], [200.0, 200.0]], &p).unwrap_err();
    assert_eq!(e.kind, ErrorKind::Cancelled);
}
