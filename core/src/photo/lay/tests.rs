//! Panels drawn here and seen twice by a known homography; truth by construction.

use super::*;
use image::Rgb;

/// Brightness of an invented panel at a place: blotches, rivets at uneven spacing, a seam.
fn panel(seed: u32, x: f64, y: f64) -> f64 {
    let hash = |i: i64, j: i64, k: u32| {
        let mut v = (i as u32)
            .wrapping_mul(0x9E37_79B1)
            .wrapping_add((j as u32).wrapping_mul(0x85EB_CA77))
            .wrapping_add(seed.wrapping_mul(0xC2B2_AE3D))
            .wrapping_add(k.wrapping_mul(0x27D4_EB2F));
        v ^= v >> 15;
        v = v.wrapping_mul(0x2C1B_3C6D);
        v ^= v >> 12;
        v = v.wrapping_mul(0x297A_2D39);
        v ^= v >> 15;
        f64::from(v) / f64::from(u32::MAX)
    };
    let noise = |size: f64, k: u32| {
        let (u, v) = (x / size, y / size);
        let (i, j) = (u.floor(), v.floor());
        let (fu, fv) = (u - i, v - j);
        let (su, sv) = (fu * fu * (3.0 - 2.0 * fu), fv * fv * (3.0 - 2.0 * fv));
        let at = |di: i64, dj: i64| hash(i as i64 + di, j as i64 + dj, k) - 0.5;
        let top = at(0, 0) + (at(1, 0) - at(0, 0)) * su;
        let low = at(0, 1) + (at(1, 1) - at(0, 1)) * su;
        top + (low - top) * sv
    };
    let mut v = 150.0 + 40.0 * noise(45.0, 1) + 30.0 * noise(14.0, 2);
    let cell = 60.0;
    let (i, j) = ((x / cell).floor(), (y / cell).floor());
    if hash(i as i64, j as i64, 3) < 0.5 {
        let cx = (i + 0.3 + 0.4 * hash(i as i64, j as i64, 4)) * cell;
        let cy = (j + 0.3 + 0.4 * hash(i as i64, j as i64, 5)) * cell;
        let d = (x - cx).hypot(y - cy);
        v -= 60.0 * (7.0 - d).clamp(0.0, 1.0);
    }
    v
}

/// The panel as a camera sees it: `to_panel` takes picture pixels to the panel.
fn seen(seed: u32, w: u32, h: u32, to_panel: &Matrix3<f64>, gain: f64, dirt: bool) -> RgbImage {
    let mut noise = 0x1357_9BDFu32;
    RgbImage::from_fn(w, h, |x, y| {
        let p = [f64::from(x) + 0.5, f64::from(y) + 0.5];
        let q = homography::mapped(to_panel, p).unwrap_or([0.0, 0.0]);
        noise ^= noise << 13;
        noise ^= noise >> 17;
        noise ^= noise << 5;
        let mut v = panel(seed, q[0], q[1]) * gain * (0.8 + 0.4 * p[0] / f64::from(w));
        if dirt && (q[0] - 380.0).hypot((q[1] - 300.0) * 1.5) < 90.0 {
            v *= 0.5;
        }
        let v = (v + f64::from(noise % 100) / 12.5 - 4.0).clamp(0.0, 255.0) as u8;
        Rgb([v, v, (f64::from(v) * 0.9) as u8])
    })
}

fn view(scale: f64, turn: f64, shift: [f64; 2], lean: f64) -> Matrix3<f64> {
    let (s, c) = turn.sin_cos();
    let mid = Matrix3::new(1.0, 0.0, -400.0, 0.0, 1.0, -300.0, 0.0, 0.0, 1.0);
    let back = Matrix3::new(
        1.0,
        0.0,
        400.0 + shift[0],
        0.0,
        1.0,
        300.0 + shift[1],
        0.0,
        0.0,
        1.0,
    );
    let m = Matrix3::new(
        scale * c,
        -scale * s,
        0.0,
        scale * s,
        scale * c,
        0.0,
        lean,
        0.5 * lean,
        1.0,
    );
    back * m * mid
}

#[test]
fn an_older_view_lies_on_a_newer_one_scaled_turned_relit_and_dirty() {
    let older = seen(1, 800, 600, &Matrix3::identity(), 1.0, false);
    let views = [
        view(1.0, 0.0, [10.0, -5.0], 0.0),
        view(0.8, 0.3, [30.0, 20.0], 1e-4),
        view(1.3, -0.5, [-40.0, 10.0], -1e-4),
        view(1.1, 1.6, [0.0, 30.0], 5e-5),
    ];
    for (k, to_panel) in views.iter().enumerate() {
        let newer = seen(1, 800, 600, to_panel, 0.7, true);
        let got = lay(&older, &newer, &Progress::new()).unwrap();
        assert!(got.same_view, "view {k}: {:?}", got.why);
        let truth = to_panel.try_inverse().unwrap();
        let h = got.homography.unwrap();
        for p in [
            [250.0, 200.0],
            [550.0, 220.0],
            [400.0, 300.0],
            [300.0, 420.0],
        ] {
            let here = carry(&h, &[p]).unwrap()[0];
            let there = homography::mapped(&truth, p).unwrap();
            let off = (here[0] - there[0]).hypot(here[1] - there[1]);
            assert!(off < 2.5, "view {k}: {off} pixels off at {p:?}");
        }
        assert!(got.quality.unwrap() > 0.3 && got.rms_px.unwrap() < 6.0);
    }
}

#[test]
fn another_place_of_the_same_kind_is_not_the_same_view() {
    let older = seen(1, 800, 600, &Matrix3::identity(), 1.0, false);
    for seed in 2..6 {
        let other = seen(seed, 800, 600, &view(1.1, 0.2, [5.0, 5.0], 0.0), 0.8, false);
        let got = lay(&older, &other, &Progress::new()).unwrap();
        assert!(!got.same_view && got.homography.is_none());
        assert!(got.why.is_some_and(|w| !w.is_empty()));
    }
}

#[test]
fn pictures_with_nothing_in_them_are_an_answer() {
    let black = RgbImage::new(800, 600);
    let panel = seen(1, 800, 600, &Matrix3::identity(), 1.0, false);
    let tiny = RgbImage::new(1, 1);
    let thin = RgbImage::new(4000, 3);
    for (a, b) in [
        (&black, &black),
        (&black, &panel),
        (&panel, &black),
        (&tiny, &panel),
        (&panel, &thin),
    ] {
        assert!(!lay(a, b, &Progress::new()).unwrap().same_view);
    }
    // a grid of equal dots fits on itself in many ways: whatever is said, it must not panic
    let grid = RgbImage::from_fn(640, 480, |x, y| {
        Rgb([if x % 40 < 6 && y % 40 < 6 { 20 } else { 200 }; 3])
    });
    lay(&grid, &grid, &Progress::new()).unwrap();
}

#[test]
fn json_has_only_what_applies() {
    let black = RgbImage::new(100, 100);
    let no = serde_json::to_value(lay(&black, &black, &Progress::new()).unwrap()).unwrap();
    let keys: Vec<&String> = no.as_object().unwrap().keys().collect();
    assert_eq!(keys, ["same_view", "why"]);
}

#[test]
fn points_are_carried_or_refused() {
    let shift = [[1.0, 0.0, 5.0], [0.0, 1.0, -2.0], [0.0, 0.0, 1.0]];
    assert_eq!(carry(&shift, &[[1.0, 2.0]]).unwrap(), [[6.0, 0.0]]);
    let nonsense = [[0.0; 3]; 3];
    assert_eq!(
        carry(&nonsense, &[[1.0, 2.0]]).unwrap_err().kind,
        ErrorKind::BadValue
    );
}

#[test]
fn stops_when_asked() {
    let p = Progress::new();
    p.cancel();
    let img = RgbImage::new(200, 200);
    assert_eq!(lay(&img, &img, &p).unwrap_err().kind, ErrorKind::Cancelled);
}

#[test]
fn an_answer_for_smaller_copies_holds_for_the_full_pictures() {
    let h = [[1.1, 0.1, 5.0], [-0.1, 0.9, 7.0], [1e-4, 2e-4, 1.0]];
    let small = Laid {
        same_view: true,
        homography: Some(h),
        quality: Some(0.8),
        rms_px: Some(1.5),
        inliers: Some(40),
        why: None,
    };
    let full = small.clone().at_scale(4.0, 2.0);
    let p = carry(&h, &[[30.0, 40.0]]).unwrap()[0];
    let q = carry(&full.homography.unwrap(), &[[120.0, 160.0]]).unwrap()[0];
    assert!((q[0] - 2.0 * p[0]).abs() < 1e-9 && (q[1] - 2.0 * p[1]).abs() < 1e-9);
    assert_eq!(full.rms_px, Some(3.0));
    assert!(full.to_text().contains("3.0 pixels"));
}
