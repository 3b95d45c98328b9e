//! Random pairs of pictures: one place seen twice, two places that only look alike, and one view
//! sharp and blurred. Invented, with known truth.

use crate::camera::Camera;
use crate::geometry::{Shape, turned};
use crate::marks::{Dent, Head, Letters, Row, Seam, Stain, fastener_row};
use crate::random::Random;
use crate::random_scenes::{
    PAINTS, Setup, Size, around, bright, card_setup, crack_setup, daylight, handheld, soiled,
};
use crate::scene::{Rendered, Scene};
use crate::surface::{Area, Material};
use crate::truth::{self, PairTruth};
use std::f64::consts::PI;

/// Two pictures and how they belong together.
#[derive(Clone, Debug)]
pub struct ViewPair {
    /// The older picture.
    pub older: Rendered,
    /// The newer picture.
    pub newer: Rendered,
    /// How they belong together.
    pub truth: PairTruth,
}

/// A part of an airframe as a view pair sees it: sheets, seams, rows of fasteners, a hatch,
/// lettering, a stripe of paint, dents and scratches.
fn panel(random: &mut Random, across: f64) -> Scene {
    let paint = PAINTS[random.below(PAINTS.len())];
    let mut scene = Scene::of(Material::Paint(paint), random.bits());
    if random.chance(0.7) {
        let other = PAINTS[random.below(PAINTS.len())];
        let slant = random.range(-0.4, 0.4);
        let y = across * random.range(-0.3, 0.3);
        let h = across * random.range(0.02, 0.12);
        let end = across * slant;
        scene.lay(Area::flat(
            Shape::polygon(
                vec![
                    [-across, y - end],
                    [across, y + end],
                    [across, y + end + h],
                    [-across, y - end + h * 1.4],
                ],
                0.0,
            ),
            Material::Paint(other),
            random.bits(),
        ));
    }
    for _ in 0..1 + random.below(3) {
        let at = around([0.0, 0.0], across * 0.4, random);
        let angle = if random.chance(0.5) { 0.0 } else { PI / 2.0 } + random.range(-0.06, 0.06);
        let d = turned([1.3 * across, 0.0], angle);
        let (a, b) = ([at[0] - d[0], at[1] - d[1]], [at[0] + d[0], at[1] + d[1]]);
        scene.lay(Seam {
            from: a,
            to: b,
            width: random.range(0.5, 1.2),
            depth: random.range(0.4, 0.9) as f32,
        });
        let n = turned([0.0, random.range(8.0, 14.0)], angle);
        let head = [Head::Dome, Head::Flush, Head::Cross(0.3), Head::Slot(0.7)][random.below(4)];
        scene.lay(fastener_row(
            [a[0] + n[0], a[1] + n[1]],
            [b[0] + n[0], b[1] + n[1]],
            random.range(18.0, 34.0),
            random.range(1.8, 3.2),
            head,
            random,
        ));
    }
    if random.chance(0.6) {
        let centre = around([0.0, 0.0], across * 0.3, random);
        let half = [
            across * random.range(0.08, 0.16),
            across * random.range(0.06, 0.12),
        ];
        let hatch = Shape::Plate {
            centre,
            half,
            corner: 8.0,
            turn: random.range(-0.05, 0.05),
        };
        scene.lay(Area::flat(hatch, Material::Paint(paint), random.bits()).raised(1.2, 0.5, 0.8));
        for (sx, sy) in [(-1.0, -1.0), (1.0, -1.0), (1.0, 1.0), (-1.0, 1.0)] {
            scene.lay(Row::single(
                [
                    centre[0] + sx * (half[0] - 9.0),
                    centre[1] + sy * (half[1] - 9.0),
                ],
                3.2,
                Head::Cross(random.range(0.0, PI)),
            ));
        }
    }
    if random.chance(0.6) {
        let words = [
            "NO STEP",
            "FUEL 24.5 US GAL",
            "TOW LIMIT",
            "OIL",
            "LIFT HERE",
            "STATIC PORT",
        ];
        let at = around([-20.0, 0.0], across * 0.3, random);
        let mut line = Letters::new(
            words[random.below(words.len())],
            at,
            random.range(6.0, 14.0),
        );
        line.colour = if bright(paint) > 0.3 {
            [0.35, 0.03, 0.03]
        } else {
            [0.75, 0.75, 0.72]
        };
        scene.lay(line);
    }
    for _ in 0..random.below(4) {
        scene.lay(Dent {
            centre: around([0.0, 0.0], across * 0.4, random),
            radius: random.range(6.0, 25.0),
            depth: random.range(0.3, 1.2),
        });
    }
    soiled(scene, [0.0, 0.0], across, random)
}

/// A view of one place and another taken later: other distance, angle and light; about half have
/// new dirt, some a new stain.
pub fn view_pair_setup(seed: u64, size: Size) -> [Setup; 2] {
    let mut random = Random::new(seed ^ 0x9a14_0000);
    let across = random.range(220.0, 420.0);
    let scene = panel(&mut random, across);
    let target = [0.0, 0.0];
    let mut older = scene.clone();
    older.light = daylight(target, across, &mut random);
    let first = handheld(size, target, across, 12.0, &mut random);
    let mut newer = scene;
    if random.chance(0.5) {
        newer = soiled(newer, target, across, &mut random);
    }
    if random.chance(0.4) {
        let at = around(target, across * 0.3, &mut random);
        let radius = across * random.range(0.02, 0.07);
        newer = newer.stain(Stain::random(at, radius, 0.15, &mut random));
    }
    newer.light = daylight(target, across, &mut random);
    let moved = around(target, across * 0.13, &mut random);
    let scale = random.range(0.75, 1.35);
    let mut second = handheld(size, moved, across * scale, 14.0, &mut random);
    if random.chance(0.3) {
        // Now and then the phone is held more askew.
        let distance = Camera::distance_for(size, across * scale);
        let kept = second.clone();
        second = Camera::looking_at(
            size,
            moved,
            distance,
            random.range(-14.0, 14.0),
            random.range(-14.0, 14.0),
            random.range(-40.0, 40.0),
        );
        second.bend = kept.bend;
        second.sensor = kept.sensor;
    }
    [
        Setup {
            scene: older,
            camera: first,
            seed,
        },
        Setup {
            scene: newer,
            camera: second,
            seed: seed ^ 0xffff,
        },
    ]
}

/// Draws [`view_pair_setup`].
pub fn random_view_pair(seed: u64, size: Size) -> ViewPair {
    let [a, b] = view_pair_setup(seed, size);
    ViewPair {
        truth: truth::pair(&a.camera, &b.camera),
        older: a.render(),
        newer: b.render(),
    }
}

/// Two views of different places that look alike in kind: the same family of parts, drawn from
/// another seed, which no honest method may lay on one another.
pub fn impostor_pair(seed: u64, size: Size) -> ViewPair {
    let [a, _] = view_pair_setup(seed.wrapping_mul(2) ^ 0x1111_0000, size);
    let [_, b] = view_pair_setup(seed.wrapping_mul(2) ^ 0x2222_0001, size);
    ViewPair {
        truth: PairTruth {
            same_view: false,
            homography: [[0.0; 3]; 3],
            worst_px: 0.0,
            points: Vec::new(),
        },
        older: a.render(),
        newer: b.render(),
    }
}

/// The same view sharp and blurred (2 to 4 pixels at 1600 across, or shaken), with other noise:
/// sharp first.
pub fn sharpness_pair(seed: u64, size: Size) -> [Rendered; 2] {
    let mut random = Random::new(seed ^ 0x5a4b_0000);
    let mut setup = match random.below(3) {
        0 => card_setup(random.bits(), size),
        1 => crack_setup(random.bits(), random.chance(0.5), size),
        _ => {
            let [a, _] = view_pair_setup(random.bits(), size);
            a
        }
    };
    let sharp = setup.render();
    let pixel = f64::from(size[0]) / 1600.0;
    if random.chance(0.25) {
        setup.camera.sensor.shake = turned(
            [pixel * random.range(8.0, 14.0), 0.0],
            random.range(0.0, PI),
        );
        setup.camera.sensor.blur *= 1.2;
    } else {
        setup.camera.sensor.blur = pixel * random.range(2.0, 4.0);
    }
    setup.camera.sensor.noise = random.range(0.8, 3.2);
    setup.seed ^= 0x00ff_00ff;
    [sharp, setup.render()]
}
