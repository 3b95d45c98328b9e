//! Stains drawn here, whose truth is known by construction.

use super::*;
use image::Rgb;

/// An ellipse with a soft edge (`soft` pixels wide) on a ground that gets lighter to the right.
fn stain(w: u32, h: u32, centre: [f64; 2], radii: [f64; 2], soft: f64) -> RgbImage {
    let mut seed = 0x1234_5677u32;
    RgbImage::from_fn(w, h, |x, y| {
        let dx = (f64::from(x) + 0.5 - centre[0]) / radii[0];
        let dy = (f64::from(y) + 0.5 - centre[1]) / radii[1];
        let mean = (radii[0] * radii[1]).sqrt();
        let d = (dx.hypot(dy) - 1.0) * mean;
        let share = (0.5 - d / soft).clamp(0.0, 1.0);
        seed ^= seed << 13;
        seed ^= seed >> 17;
        seed ^= seed << 5;
        let noise = f64::from(seed % 1000) / 125.0 - 4.0;
        let ground = 170.0 + 30.0 * f64::from(x) / f64::from(w);
        let v = |ink: f64| (ground - ink * share + noise).clamp(0.0, 255.0) as u8;
        Rgb([v(45.0), v(55.0), v(75.0)])
    })
}

#[test]
fn a_stain_reads_its_own_area_hard_or_soft() {
    for soft in [1.0, 8.0, 20.0] {
        for (w, h, r) in [(600, 450, 70.0), (2000, 1500, 160.0)] {
            let centre = [0.45 * f64::from(w), 0.55 * f64::from(h)];
            let img = stain(w, h, centre, [r, 0.7 * r], soft);
            let got = outline(&img, [centre[0] + 0.2 * r, centre[1]], &Progress::new()).unwrap();
            let truth = std::f64::consts::PI * r * 0.7 * r;
            let ratio = got.area_px / truth;
            assert!((ratio - 1.0).abs() < 0.03, "soft {soft} {w}: {ratio}");
            assert!(got.warnings.is_empty(), "{:?}", got.warnings);
            assert_eq!(got.sure, Sure::Good);
            assert!((got.area_px - truth).abs() < 3.0 * got.u_px);
        }
    }
}

#[test]
fn a_stain_at_the_edge_of_the_picture_is_said() {
    let img = stain(600, 450, [10.0, 200.0], [80.0, 60.0], 4.0);
    let got = outline(&img, [30.0, 200.0], &Progress::new()).unwrap();
    assert!(
        got.warnings
            .iter()
            .any(|w| w.contains("edge of the picture"))
    );
    assert_ne!(got.sure, Sure::Good);
}

#[test]
fn one_colour_has_no_stain_and_a_tap_outside_is_an_error() {
    let black = RgbImage::new(300, 200);
    let e = outline(&black, [100.0, 100.0], &Progress::new()).unwrap_err();
    assert!(e.what.contains("nothing stands out"));
    for tap in [[-1.0, 5.0], [301.0, 5.0], [f64::NAN, 1.0]] {
        let e = outline(&black, tap, &Progress::new()).unwrap_err();
        assert_eq!(e.kind, ErrorKind::BadValue);
    }
}

#[test]
fn tiny_and_strange_pictures_come_back() {
    for (w, h) in [(1, 1), (8, 8), (9, 400), (3000, 8), (33, 17)] {
        let img = RgbImage::from_fn(w, h, |x, y| {
            Rgb([(x * 7) as u8, (y * 13) as u8, (x * y) as u8])
        });
        for tap in [[0.0, 0.0], [f64::from(w), f64::from(h)]] {
            if let Ok(o) = outline(&img, tap, &Progress::new()) {
                assert!(o.area_px.is_finite() && o.u_px.is_finite());
                assert!(o.polygon.len() <= MOST_POINTS);
            }
        }
    }
}
