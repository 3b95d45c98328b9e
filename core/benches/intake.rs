//! Intake of photos: time of every step against a full-size decode by `image` followed by the same
//! previews, and how well sharp is told from blurred. `cargo bench -p witnessmark-core --bench intake`
//! prints ratios; `tests/bench/intake.sh` compares whole processes with vipsthumbnail.
#![allow(clippy::unwrap_used, clippy::expect_used)]

use std::io::Cursor;
use std::time::{Duration, Instant};

use image::RgbImage;
use image::codecs::jpeg::JpegEncoder;
use witnessmark_core::evidence::examine;
use witnessmark_core::photo::decode::at_most;
use witnessmark_core::photo::{Limits, Progress, View, intake};
use witnessmark_scenes::{TEST_SIZE, sharpness_pair};

fn jpeg(picture: &RgbImage) -> Vec<u8> {
    let mut out = Vec::new();
    JpegEncoder::new_with_quality(&mut out, 90)
        .encode_image(picture)
        .unwrap();
    out
}

fn take(bytes: &[u8]) -> View {
    let mut file = Cursor::new(bytes);
    let found = examine(&mut file, bytes.len() as u64, "bench.jpg").unwrap();
    let mut file = Cursor::new(bytes.to_vec());
    intake(&mut file, &found, &Limits::default(), &Progress::new())
        .unwrap()
        .view
        .unwrap()
}

fn best(mut work: impl FnMut()) -> Duration {
    (0..7)
        .map(|_| {
            let start = Instant::now();
            work();
            start.elapsed()
        })
        .min()
        .unwrap()
}

fn main() {
    let mut state = 1u32;
    let picture = RgbImage::from_fn(4000, 3000, |x, y| {
        state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        let grain = (state >> 28) as u8;
        image::Rgb([
            (x / 16) as u8 ^ grain,
            (y / 12) as u8 ^ grain,
            ((x + y) / 28) as u8 ^ grain,
        ])
    });
    let bytes = jpeg(&picture);
    let ours = best(|| {
        take(&bytes);
    });
    let full = best(|| {
        let whole = image::load_from_memory(&bytes).unwrap().to_rgb8();
        let large = at_most(&whole, 1024);
        jpeg(&large);
        jpeg(&at_most(&large, 320));
    });
    println!(
        "intake of 12 megapixels, every step: {:.2} x a full decode by `image` with the same previews ({ours:?} against {full:?})",
        ours.as_secs_f64() / full.as_secs_f64()
    );

    // Truth: witnessmark-scenes blurs the second of each pair by 2 to 4 pixels at 1600 across, or
    // shakes it. Area under the curve: how often a sharp one of any pair scores above a blurred one.
    let views: Vec<[View; 2]> = (0..60)
        .map(|seed| sharpness_pair(seed, TEST_SIZE).map(|r| take(&jpeg(&r.rgb))))
        .collect();
    let measure = |name: &str, of: fn(&View) -> u32| {
        let mut wins = 0.0;
        for [sharp, _] in &views {
            for [_, blurred] in &views {
                let (a, b) = (of(sharp), of(blurred));
                wins += if a > b {
                    1.0
                } else if a == b {
                    0.5
                } else {
                    0.0
                };
            }
        }
        let pairs = views.iter().filter(|[s, b]| of(s) > of(b)).count();
        let mut low: Vec<u32> = views.iter().map(|v| of(&v[0])).collect();
        let mut high: Vec<u32> = views.iter().map(|v| of(&v[1])).collect();
        low.sort_unstable();
        high.sort_unstable();
        println!(
            "{name}: AUC {:.3}, right in {pairs} of {} pairs; sharp from {} (5 %: {}), blurred up to {} (95 %: {})",
            wins / (views.len() * views.len()) as f64,
            views.len(),
            low[0],
            low[3],
            high[59],
            high[56]
        );
    };
    measure("sharpness by the steepest edges", |v| v.sharpness.edges);
    measure("sharpness by variance of the Laplacian", |v| {
        v.sharpness.laplacian
    });
    let said = |n: usize| views.iter().filter(|v| v[n].sharpness.blurred).count();
    println!(
        "called blurred: {} of 60 blurred, {} of 60 sharp",
        said(1),
        said(0)
    );
}
