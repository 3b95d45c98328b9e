//! Length from a card on drawn pictures with known truth: does U (k = 2) cover it, does the
//! first-order standard deviation agree with a Monte Carlo run, are the card's edges found.
//!
//! `cargo bench --bench card` draws 1,000 scenes (`-- 200` draws fewer); every figure it prints is a
//! ratio or a share from that one run.

// A benchmark may stop at the first thing that is wrong.
#![allow(missing_docs, clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use std::time::{Duration, Instant};

use witnessmark_core::photo::geometry::{Point, distance};
use witnessmark_core::photo::marks::{Measured, ScaleMarks, to_pixels};
use witnessmark_core::photo::scale::Scale;
use witnessmark_core::photo::uncertainty::{Random, monte_carlo};
use witnessmark_core::photo::{Options, Picture, Progress, ScaleTaps, measure_length};
use witnessmark_scenes::{TEST_SIZE, random_scenes::card_setup};

/// Standard deviation of the corner taps in pixels: rough, as by a thumb.
const TAP: f64 = 4.0;

fn main() {
    let count: u64 = std::env::args()
        .skip(1)
        .find_map(|a| a.parse().ok())
        .unwrap_or(1000);
    let show = std::env::args().any(|a| a == "--each");
    let mut random = Random::new(2026);
    let options = Options::default();
    let progress = Progress::new();
    let (mut snapped, mut whole_cards, mut wild) = (0_u32, 0_u32, 0_u32);
    let (mut covered, mut lengths) = (0_u32, 0_u32);
    let (mut z_corner, mut errors, mut ratios) = (Vec::new(), Vec::new(), Vec::new());
    let (mut z_length, mut first_order, mut draws) = (Vec::new(), Duration::ZERO, Duration::ZERO);
    let mut relative = Vec::new();
    for seed in 0..count {
        let drawn = card_setup(seed, TEST_SIZE).render();
        let picture = Picture::of(&drawn.rgb);
        let Some(card) = drawn.truth.cards.first().filter(|c| c.whole) else {
            continue;
        };
        whole_cards += 1;
        let [w, h] = picture.size.map(f64::from);
        let mut off = |p: Point, sd: f64| -> Point {
            [
                (p[0] + sd * random.normal()).clamp(0.0, w),
                (p[1] + sd * random.normal()).clamp(0.0, h),
            ]
        };
        let taps = card.corners_px.map(|p| off(p, TAP));
        for (n, truth) in drawn.truth.lengths.iter().enumerate() {
            let path: Vec<Point> = truth
                .path_px
                .iter()
                .map(|p| off(*p, options.mark_u))
                .collect();
            let started = Instant::now();
            let m = measure_length(picture, &ScaleTaps::Card(taps), &path, &options, &progress)
                .expect("a measure");
            first_order += started.elapsed();
            let ScaleMarks::Card(c) = &m.marks.scale else {
                continue;
            };
            let [value, u] = m.unrounded;
            let z = (value - truth.length_mm) / u;
            if n == 0 {
                snapped += u32::from(c.snapped);
                let mut worst = 0.0_f64;
                for (p, u) in c.used.iter().zip(&c.u) {
                    let p = to_pixels(*p);
                    let e = card
                        .corners_px
                        .iter()
                        .map(|q| distance(p, *q))
                        .fold(f64::INFINITY, f64::min);
                    worst = worst.max(e);
                    if c.snapped {
                        errors.push(e);
                        z_corner.push(e / (*u as f64 / 1000.0) / 2.0_f64.sqrt());
                    }
                }
                if c.snapped && worst > 2.5 {
                    wild += 1;
                    if show {
                        println!(
                            "seed {seed}: a corner is off by {worst:.1} px, z of the length {z:.1}"
                        );
                    }
                } else if !c.snapped && show {
                    println!("seed {seed}: edges not found");
                }
            }
            lengths += 1;
            covered += u32::from(z.abs() <= 2.0);
            z_length.push(z.abs());
            relative.push((value - truth.length_mm).abs() / truth.length_mm);
            if n == 0 && seed % 10 == 0 {
                let scale = Scale::new(&m.marks).expect("a scale");
                let started = Instant::now();
                let d = monte_carlo(
                    &scale,
                    Measured::Length,
                    &m.marks.line_px(),
                    options.mark_u,
                    20_000,
                    seed,
                    &progress,
                )
                .expect("draws");
                draws += started.elapsed();
                ratios.push((u / d.sd - 1.0).abs());
            }
        }
    }
    let at = |v: &mut Vec<f64>, q: f64| -> f64 {
        v.sort_by(f64::total_cmp);
        v.get(((v.len().max(1) - 1) as f64 * q) as usize)
            .copied()
            .unwrap_or(f64::NAN)
    };
    println!(
        "{whole_cards} scenes, {lengths} lengths, corner taps off by {TAP} px, marks by {} px (one standard deviation)",
        options.mark_u
    );
    println!(
        "edges found: {:.1} %; of those a corner off by more than 2.5 px: {:.1} %",
        100.0 * f64::from(snapped) / f64::from(whole_cards),
        100.0 * f64::from(wild) / f64::from(snapped.max(1))
    );
    println!(
        "corner error px: median {:.2}, p90 {:.2}, p99 {:.2}; over its stated u: median {:.2} (expected 0.83), p95 {:.2} (expected 1.73)",
        at(&mut errors, 0.5),
        at(&mut errors, 0.9),
        at(&mut errors, 0.99),
        at(&mut z_corner, 0.5),
        at(&mut z_corner, 0.95)
    );
    println!(
        "length error: median {:.2} %, p90 {:.2} %; |error| / u median {:.2}",
        100.0 * at(&mut relative, 0.5),
        100.0 * at(&mut relative, 0.9),
        at(&mut z_length, 0.5)
    );
    println!(
        "U (k = 2) covers the truth: {:.1} % of lengths (must: 93 to 97 %)",
        100.0 * f64::from(covered) / f64::from(lengths)
    );
    println!(
        "first-order u / Monte Carlo SD: largest difference {:.1} % (must: 5 %) over {} scenes",
        100.0 * at(&mut ratios, 1.0),
        ratios.len()
    );
    let one = first_order.as_secs_f64() / f64::from(lengths.max(1));
    let mc = draws.as_secs_f64() / ratios.len().max(1) as f64;
    println!(
        "one measure, edges looked for and all, takes {:.3} of a Monte Carlo run of 20,000",
        one / mc
    );
}
