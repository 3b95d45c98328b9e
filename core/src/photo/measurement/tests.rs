//! Truth by construction: a pinhole camera of our own looks at a card and a mark of known size.
//! Monte Carlo after JCGM 101:2008; coverage with k = 2 after JCGM 100:2008, 6.3.3.

use super::super::area::measure_area;
use super::super::length::measure_length;
use super::super::uncertainty::{Random, monte_carlo};
use super::super::work::repeat;
use super::*;

/// A view of the plane z = 0 in mm: rotation rows, translation, focal length, middle of the picture.
struct View {
    r: [[f64; 3]; 3],
    t: [f64; 3],
    focal: f64,
    size: [u32; 2],
    k: f64,
}

impl View {
    /// Straight above the card's middle, then tilted by `tilt` degrees about an axis in the picture
    /// at `axis` degrees, turned by `roll` degrees; the card is `px` pixels wide.
    fn new(px: f64, tilt: f64, axis: f64, roll: f64, k: f64) -> Self {
        let size = [4000, 3000];
        let focal = 3000.0;
        let (a, t, g) = (axis.to_radians(), tilt.to_radians(), roll.to_radians());
        let (x, y) = (a.cos(), a.sin());
        let (c, s) = (t.cos(), t.sin());
        // Rodrigues' formula about (x, y, 0), after a turn in the plane.
        let m = [
            [c + x * x * (1.0 - c), x * y * (1.0 - c), y * s],
            [x * y * (1.0 - c), c + y * y * (1.0 - c), -x * s],
            [-y * s, x * s, c],
        ];
        let turn = [
            [g.cos(), -g.sin(), 0.0],
            [g.sin(), g.cos(), 0.0],
            [0.0, 0.0, 1.0],
        ];
        let mut r = [[0.0; 3]; 3];
        for i in 0..3 {
            for j in 0..3 {
                r[i][j] = (0..3).map(|n| m[i][n] * turn[n][j]).sum();
            }
        }
        let z = focal * 85.6 / px;
        let mid = [42.8, 26.99, 0.0];
        let t = [0, 1, 2].map(|i| [0.0, 0.0, z][i] - (0..3).map(|j| r[i][j] * mid[j]).sum::<f64>());
        Self {
            r,
            t,
            focal,
            size,
            k,
        }
    }

    fn see(&self, p: [f64; 3]) -> Point {
        let q = [0, 1, 2].map(|i| self.t[i] + (0..3).map(|j| self.r[i][j] * p[j]).sum::<f64>());
        let c = [2000.0, 1500.0];
        let ideal = [
            c[0] + self.focal * q[0] / q[2],
            c[1] + self.focal * q[1] / q[2],
        ];
        // The lens: the inverse of `undistort`, by fixed point.
        let mut d = ideal;
        for _ in 0..30 {
            let u = scale::undistort(d, c, 2500.0, self.k);
            d = [d[0] + ideal[0] - u[0], d[1] + ideal[1] - u[1]];
        }
        d
    }

    fn card(&self, size: [f64; 2]) -> [Point; 4] {
        let [w, h] = size;
        let m = [42.8 - w / 2.0, 26.99 - h / 2.0];
        [[0.0, 0.0], [w, 0.0], [w, h], [0.0, h]].map(|p| self.see([p[0] + m[0], p[1] + m[1], 0.0]))
    }

    fn picture(&self) -> Picture<'static> {
        Picture::sized(self.size[0], self.size[1])
    }
}

fn length(v: &View, corners: [Point; 4], path: &[Point]) -> Measurement {
    measure_length(
        v.picture(),
        &ScaleTaps::Card(corners),
        path,
        &Options::default(),
        &Progress::new(),
    )
    .unwrap()
}

#[test]
fn exact_marks_give_the_true_length_and_area() {
    for (tilt, axis, roll) in [(0.0, 0.0, 0.0), (30.0, 40.0, 70.0), (40.0, 200.0, 300.0)] {
        let v = View::new(1000.0, tilt, axis, roll, 0.0);
        let path = [[20.0, 70.0, 0.0], [50.0, 70.0, 0.0], [50.0, 90.0, 0.0]].map(|p| v.see(p));
        let m = length(&v, v.card([85.6, 53.98]), &path);
        // Marks are rounded to sixteenths of a pixel: up to 0.03 px at 0.09 mm.
        assert!((m.unrounded[0] - 50.0).abs() < 0.02, "{}", m.unrounded[0]);
        let square = [
            [10.0, 60.0, 0.0],
            [40.0, 60.0, 0.0],
            [40.0, 80.0, 0.0],
            [10.0, 80.0, 0.0],
        ]
        .map(|p| v.see(p));
        let a = measure_area(
            v.picture(),
            &ScaleTaps::Card(v.card([85.6, 53.98])),
            &square,
            &Options::default(),
            &Progress::new(),
        )
        .unwrap();
        assert!((a.unrounded[0] - 600.0).abs() < 0.5, "{}", a.unrounded[0]);
        assert_eq!(
            (a.quantity_name(), a.unit(), a.method()),
            ("area", "mm2", "card")
        );
    }
}

#[test]
fn first_order_agrees_with_monte_carlo_and_k_2_covers_the_truth() {
    // 1,000 scenes as a person takes them: card 300 to 1,400 px wide, slant up to 40 degrees.
    let mut r = Random::new(6);
    let (mut covered, mut worst, mut within) = (0, 0.0_f64, 0);
    let (mut ratios, mut compared) = (Vec::new(), 0);
    let o = Options::default();
    let even = |r: &mut Random, a: f64, b: f64| a + (b - a) * r.unit();
    for scene in 0..1000 {
        let k = even(&mut r, -o.lens, o.lens);
        let v = View::new(
            even(&mut r, 300.0, 1400.0),
            even(&mut r, 0.0, 40.0),
            even(&mut r, 0.0, 360.0),
            even(&mut r, 0.0, 360.0),
            k,
        );
        let h = even(&mut r, -o.offset_mm, o.offset_mm);
        let s = [
            even(&mut r, -o.slope, o.slope),
            even(&mut r, -o.slope, o.slope),
        ];
        let real = [
            85.6 + even(&mut r, -0.125, 0.125),
            53.98 + even(&mut r, -0.055, 0.055),
        ];
        let at = |p: Point| [p[0], p[1], h + s[0] * (p[0] - 42.8) + s[1] * (p[1] - 26.99)];
        let from = [even(&mut r, 0.0, 90.0), even(&mut r, 60.0, 80.0)];
        let (long, way) = (
            even(&mut r, 15.0, 80.0),
            even(&mut r, 0.0, 180.0_f64.to_radians()),
        );
        let to = [from[0] + long * way.cos(), from[1] + long * way.sin()];
        let (a, b) = (at(from), at(to));
        let truth = ((a[0] - b[0]).powi(2) + (a[1] - b[1]).powi(2) + (a[2] - b[2]).powi(2)).sqrt();
        let mut off = |p: Point| [p[0] + r.normal(), p[1] + r.normal()];
        let corners = v.card(real).map(&mut off);
        let path = [off(v.see(a)), off(v.see(b))];
        if corners
            .iter()
            .chain(&path)
            .any(|p| p[0] < 0.0 || p[1] < 0.0 || p[0] > 4000.0 || p[1] > 3000.0)
        {
            // Drawn again without counting would bend the figures: kept as a miss of the draw.
            continue;
        }
        compared += 1;
        let m = length(&v, corners, &path);
        let [value, u] = m.unrounded;
        covered += usize::from((value - truth).abs() <= 2.0 * u);
        if scene % 10 == 0 {
            let sc = Scale::new(&m.marks).unwrap();
            let d = monte_carlo(
                &sc,
                Measured::Length,
                &m.marks.line_px(),
                1.0,
                20_000,
                scene,
                &Progress::new(),
            )
            .unwrap();
            let ratio = u / d.sd;
            worst = worst.max((ratio - 1.0).abs());
            within += usize::from((ratio - 1.0).abs() <= 0.05);
            ratios.push(ratio);
        }
    }
    let share = covered as f64 / f64::from(compared);
    println!(
        "{compared} scenes: covered {:.1} %; u / Monte Carlo worst {:.1} %, {within} of {} within 5 %",
        100.0 * share,
        100.0 * worst,
        ratios.len()
    );
    assert!(compared > 800);
    assert!((0.93..=0.97).contains(&share), "covered {share}");
    assert_eq!(within, ratios.len(), "first order is off by up to {worst}");
}

#[test]
fn corners_may_come_in_any_order_and_the_order_is_said() {
    for (tilt, axis) in [(0.0, 0.0), (35.0, 30.0), (35.0, 120.0)] {
        let v = View::new(900.0, tilt, axis, 15.0, 0.0);
        let c = v.card([85.6, 53.98]);
        let path = [[20.0, 70.0, 0.0], [70.0, 70.0, 0.0]].map(|p| v.see(p));
        let plain = length(&v, c, &path);
        assert!(plain.warnings.is_empty(), "{:?}", plain.warnings);
        for i in 0..4 {
            for j in 0..4 {
                for k in 0..4 {
                    let l = 6 - (i + j + k) as i32;
                    if i == j || j == k || i == k || !(0..4).contains(&l) {
                        continue;
                    }
                    let m = length(&v, [c[i], c[j], c[k], c[l as usize]], &path);
                    assert!(
                        (m.value - plain.value).abs() < 0.02,
                        "{i}{j}{k}: {} {}",
                        m.value,
                        plain.value
                    );
                    let as_used = [[0, 1, 2, 3], [2, 3, 0, 1]].contains(&[i, j, k, l as usize]);
                    assert_eq!(
                        m.warnings
                            .iter()
                            .any(|w| w.code == WarningCode::CornersReordered),
                        !as_used,
                        "{i}{j}{k}"
                    );
                }
            }
        }
    }
}

#[test]
fn a_poor_picture_is_warned_of() {
    let codes = |v: &View, path: [[f64; 3]; 2]| -> Vec<WarningCode> {
        let m = length(v, v.card([85.6, 53.98]), &path.map(|p| v.see(p)));
        m.warnings.iter().map(|w| w.code).collect()
    };
    let near = [[20.0, 70.0, 0.0], [70.0, 70.0, 0.0]];
    assert_eq!(codes(&View::new(800.0, 10.0, 0.0, 0.0, 0.0), near), []);
    assert_eq!(
        codes(&View::new(150.0, 10.0, 0.0, 0.0, 0.0), near),
        [WarningCode::CardSmall]
    );
    assert_eq!(
        codes(&View::new(500.0, 58.0, 0.0, 0.0, 0.0), near),
        [WarningCode::Steep]
    );
    let far = [[300.0, 70.0, 0.0], [330.0, 70.0, 0.0]];
    assert_eq!(
        codes(&View::new(400.0, 0.0, 0.0, 0.0, 0.0), far),
        [WarningCode::FarFromScale]
    );
}

#[test]
fn bad_taps_are_refused_in_words() {
    let v = View::new(800.0, 0.0, 0.0, 0.0, 0.0);
    let c = v.card([85.6, 53.98]);
    let path = [[1500.0, 2000.0], [1800.0, 2000.0]];
    let run = |c: [Point; 4], path: &[Point]| {
        measure_length(
            v.picture(),
            &ScaleTaps::Card(c),
            path,
            &Options::default(),
            &Progress::new(),
        )
    };
    let what = |r: Result<Measurement>| r.unwrap_err().what;
    assert!(what(run(c, &[[1.0, 1.0], [4001.0, 5.0]])).contains("outside the picture"));
    assert!(what(run(c, &[[1.0, 1.0], [f64::NAN, 5.0]])).contains("not a number"));
    assert!(what(run(c, &[[9.0, 9.0], [9.0, 9.0]])).contains("coincide"));
    assert!(what(run([c[0], c[0], c[2], c[3]], &path)).contains("coincide"));
    assert!(what(run([c[0], c[1], c[2], [2100.0, 1450.0]], &path)).contains("do not make a card"));
    assert!(what(run([c[0], c[1], c[2], [-3.0, 10.0]], &path)).contains("outside"));
    assert!(
        what(run(
            [
                c[0],
                [(c[0][0] + c[2][0]) / 2.0, (c[0][1] + c[2][1]) / 2.0],
                c[2],
                c[3]
            ],
            &path
        ))
        .contains("do not make a card")
    );
    // A figure with four corners that no view of a card could have.
    let odd = run([c[0], c[1], c[2], [1900.0, 1700.0]], &path).unwrap();
    assert!(odd.warnings.iter().any(|w| w.code == WarningCode::NotACard));
    // Beyond the horizon of a plane seen at a slant.
    let steep = View::new(500.0, 60.0, 0.0, 0.0, 0.0);
    let r = measure_length(
        steep.picture(),
        &ScaleTaps::Card(steep.card([85.6, 53.98])),
        &[[2000.0, 5.0], [2000.0, 2995.0]],
        &Options::default(),
        &Progress::new(),
    );
    let far = r.map(|m| m.warnings.len());
    assert!(far.is_err() || far.is_ok_and(|n| n > 0));
    let p = Progress::new();
    p.cancel();
    let e = measure_length(
        v.picture(),
        &ScaleTaps::Card(c),
        &path,
        &Options::default(),
        &p,
    )
    .unwrap_err();
    assert_eq!(e.kind, crate::error::ErrorKind::Cancelled);
}

#[test]
fn a_ruler_measures_what_lies_beside_it_and_admits_its_slant() {
    let v = View::new(900.0, 0.0, 0.0, 20.0, 0.0);
    let ends = [[0.0, 70.0, 0.0], [100.0, 70.0, 0.0]].map(|p| v.see(p));
    let taps = ScaleTaps::Ruler {
        ends,
        length_mm: 100.0,
    };
    let path = [[20.0, 75.0, 0.0], [70.0, 75.0, 0.0]].map(|p| v.see(p));
    let m = measure_length(
        v.picture(),
        &taps,
        &path,
        &Options::default(),
        &Progress::new(),
    )
    .unwrap();
    assert!((m.value - 50.0).abs() < 0.05);
    assert_eq!(m.method(), "ruler");
    // Across the ruler the slant of the picture matters much more.
    let across = [[50.0, 75.0, 0.0], [50.0, 125.0, 0.0]].map(|p| v.see(p));
    let a = measure_length(
        v.picture(),
        &taps,
        &across,
        &Options::default(),
        &Progress::new(),
    )
    .unwrap();
    assert!(
        a.budget.plane > 1.5 * m.budget.plane,
        "{:?} {:?}",
        a.budget,
        m.budget
    );
    // Twelve degrees of slant stay within U.
    for axis in [0.0, 45.0, 90.0, 200.0] {
        let v = View::new(900.0, 12.0, axis, 20.0, 0.0);
        let taps = ScaleTaps::Ruler {
            ends: [[0.0, 70.0, 0.0], [100.0, 70.0, 0.0]].map(|p| v.see(p)),
            length_mm: 100.0,
        };
        for path in [
            [[20.0, 75.0, 0.0], [70.0, 75.0, 0.0]],
            [[50.0, 75.0, 0.0], [50.0, 125.0, 0.0]],
        ] {
            let m = measure_length(
                v.picture(),
                &taps,
                &path.map(|p| v.see(p)),
                &Options::default(),
                &Progress::new(),
            )
            .unwrap();
            assert!(
                (m.unrounded[0] - 50.0).abs() <= 2.0 * m.unrounded[1],
                "{axis}: {:?}",
                m.unrounded
            );
        }
    }
}

#[test]
fn stored_marks_repeat_the_printed_digits() {
    let v = View::new(700.0, 25.0, 60.0, 33.0, 0.0);
    let c = v.card([85.6, 53.98]);
    let drawn: Vec<Point> = (0..300)
        .map(|i| {
            let t = f64::from(i) / 5.0;
            let p = v.see([10.0 + t, 70.0 + 5.0 * (t / 9.0).sin(), 0.0]);
            [p[0] + 0.4 * (t * 17.0).sin(), p[1] + 0.4 * (t * 23.0).cos()]
        })
        .collect();
    let m = length(&v, c, &drawn);
    let text = serde_json::to_string(&m.marks).unwrap();
    let back: Marks = serde_json::from_str(&text).unwrap();
    let again = repeat(&back, None, &Progress::new()).unwrap().from_marks;
    assert_eq!(
        (again.value_text(), again.u_text()),
        (m.value_text(), m.u_text())
    );
    assert_eq!(
        serde_json::to_value(&again).unwrap()["U"],
        serde_json::to_value(&m).unwrap()["U"]
    );
}

#[test]
fn json_has_the_fields_and_digits_that_are_printed() {
    let v = View::new(600.0, 10.0, 0.0, 0.0, 0.0);
    let path = [[20.0, 70.0, 0.0], [70.0, 70.0, 0.0]].map(|p| v.see(p));
    let m = length(&v, v.card([85.6, 53.98]), &path);
    let j = serde_json::to_value(&m).unwrap();
    assert_eq!(j["quantity"], "length");
    assert_eq!(
        (j["unit"].as_str(), j["method"].as_str(), j["k"].as_u64()),
        (Some("mm"), Some("card"), Some(2))
    );
    assert!((j["U"].as_f64().unwrap() - 2.0 * j["u"].as_f64().unwrap()).abs() < 1e-9);
    assert!(j["warnings"].as_array().unwrap().is_empty());
    assert_eq!(
        j["value"]
            .as_f64()
            .unwrap()
            .to_string()
            .parse::<f64>()
            .unwrap(),
        m.value
    );
    assert!(
        m.to_text()
            .starts_with(&format!("{} mm ± ", m.value_text())),
        "{}",
        m.to_text()
    );
}
