//! Random scenes for tests and benchmarks: cards, cracks, stains (pairs of views are in
//! [`crate::random_views`]). A seed gives the
//! same picture everywhere. All of it is invented; what it is good for is that the truth is known.

use crate::camera::Camera;
use crate::geometry::{Bounds, Point, Shape, apart, between, turned};
use crate::light::{Light, Shadow};
use crate::marks::{Card, Crack, Head, Row, Scratch, Seam, Stain, Tone, fastener_row};
use crate::random::Random;
use crate::scene::{Rendered, Scene};
use crate::surface::{Material, Specks};
use crate::truth;
use std::f64::consts::{PI, TAU};

/// Width and height of a picture in pixels.
pub type Size = [u32; 2];

/// The size that tests use.
pub const TEST_SIZE: Size = [1600, 1200];

/// A scene and a camera: ask for the truth alone, or draw it.
#[derive(Clone)]
pub struct Setup {
    /// The scene.
    pub scene: Scene,
    /// The camera.
    pub camera: Camera,
    /// Seed of the sensor's noise.
    pub seed: u64,
}

impl Setup {
    /// Draws the picture.
    pub fn render(&self) -> Rendered {
        self.scene.render(&self.camera, self.seed)
    }

    /// The truth without the picture.
    pub fn truth(&self) -> truth::Truth {
        self.scene.truth(&self.camera)
    }
}

pub(crate) const PAINTS: [[f32; 3]; 8] = [
    [0.70, 0.70, 0.67],
    [0.62, 0.60, 0.52],
    [0.45, 0.47, 0.50],
    [0.10, 0.20, 0.42],
    [0.48, 0.06, 0.05],
    [0.58, 0.44, 0.08],
    [0.15, 0.28, 0.18],
    [0.26, 0.27, 0.29],
];

const CARDS: [[f32; 3]; 5] = [
    [0.82, 0.82, 0.80],
    [0.74, 0.76, 0.78],
    [0.80, 0.72, 0.42],
    [0.42, 0.62, 0.72],
    [0.66, 0.70, 0.58],
];

pub(crate) fn bright(colour: [f32; 3]) -> f32 {
    0.21 * colour[0] + 0.72 * colour[1] + 0.07 * colour[2]
}

/// Painted or bare sheet that is light enough for a dark line to show.
fn light_sheet(random: &mut Random) -> Material {
    if random.chance(0.2) {
        Material::Metal(random.range(0.0, PI))
    } else {
        let paints: Vec<[f32; 3]> = PAINTS.into_iter().filter(|c| bright(*c) > 0.24).collect();
        Material::Paint(paints[random.below(paints.len())])
    }
}

fn any_ground(random: &mut Random) -> Material {
    match random.below(8) {
        0 => Material::Concrete,
        1 => Material::Metal(random.range(0.0, PI)),
        2 => Material::Rubber,
        3 => Material::Plastic([0.2, 0.2, 0.21]),
        _ => Material::Paint(PAINTS[random.below(PAINTS.len())]),
    }
}

pub(crate) fn daylight(about: Point, across: f64, random: &mut Random) -> Light {
    let angle = random.range(0.0, TAU);
    let low = random.range(0.25, 1.0);
    let warm = random.range(-0.06, 0.10) as f32;
    let sun = random.range(0.35, 0.95) as f32;
    let mut light = Light {
        sun: [low * angle.cos(), low * angle.sin(), 0.8],
        sun_colour: [sun * (1.0 + warm), sun, sun * (1.0 - warm)],
        sky_colour: [0.33, 0.35, 0.38],
        up: [0.0, -1.0, random.range(0.0, 0.6)],
        ..Light::default()
    };
    light.pool = (
        [
            about[0] + across * random.range(-0.4, 0.4),
            about[1] + across * random.range(-0.4, 0.4),
        ],
        across * random.range(0.5, 1.2),
        random.range(0.05, 0.5) as f32,
    );
    if random.chance(0.45) {
        let turn = random.range(0.0, TAU);
        light.shadows.push(Shadow {
            shape: Shape::Half {
                at: [
                    about[0] + across * random.range(-0.4, 0.4),
                    about[1] + across * random.range(-0.4, 0.4),
                ],
                outward: [turn.cos(), turn.sin()],
            },
            soft: across * random.range(0.01, 0.08),
            dark: random.range(0.2, 0.7) as f32,
        });
    }
    light
}

pub(crate) fn handheld(
    size: Size,
    target: Point,
    across: f64,
    steep: f64,
    random: &mut Random,
) -> Camera {
    let distance = Camera::distance_for(size, across);
    let mut camera = Camera::looking_at(
        size,
        target,
        distance,
        steep * random.range(-1.0, 1.0),
        steep * random.range(-1.0, 1.0),
        random.range(-14.0, 14.0),
    );
    // Phones straighten their pictures; about one per cent in the corners is left over (common
    // practice, no source).
    camera.bend = [random.range(-0.015, 0.012), random.range(-0.006, 0.006)];
    let pixel = f64::from(size[0]) / 1600.0;
    let sensor = &mut camera.sensor;
    sensor.blur = random.range(0.45, 0.95) * pixel.sqrt();
    sensor.noise = random.range(0.8, 3.2);
    sensor.exposure = random.range(0.22, 0.42);
    sensor.vignette = random.range(0.05, 0.25);
    sensor.balance = [
        random.range(0.94, 1.08) as f32,
        1.0,
        random.range(0.92, 1.08) as f32,
    ];
    camera
}

/// Dirt that is everywhere: specks, a film, a few scratches.
pub(crate) fn soiled(mut scene: Scene, about: Point, across: f64, random: &mut Random) -> Scene {
    scene.lay(Specks {
        region: Bounds::around(&[about]).grown(across),
        cell: 5.0,
        share: random.range(0.02, 0.2),
        radius: [0.08, 0.45],
        colour: [0.07, 0.06, 0.05],
        strength: random.range(0.3, 0.8) as f32,
        seed: random.bits(),
    });
    for _ in 0..random.below(3) {
        let at = around(about, across * 0.5, random);
        scene.lay(Tone {
            centre: at,
            reach: [
                across * random.range(0.05, 0.3),
                across * random.range(0.03, 0.1),
            ],
            turn: random.range(0.0, PI),
            colour: [0.09, 0.075, 0.06],
            strength: random.range(0.05, 0.25) as f32,
            patchy: 0.8,
            seed: random.bits(),
        });
    }
    for _ in 0..random.below(5) {
        let from = around(about, across * 0.5, random);
        let step = turned([random.range(8.0, 60.0), 0.0], random.range(0.0, TAU));
        scene.lay(Scratch {
            from,
            to: [from[0] + step[0], from[1] + step[1]],
            width: random.range(0.08, 0.2),
            strength: random.range(0.15, 0.45) as f32,
        });
    }
    scene
}

pub(crate) fn around(at: Point, reach: f64, random: &mut Random) -> Point {
    [
        at[0] + reach * random.range(-1.0, 1.0),
        at[1] + reach * random.range(-0.75, 0.75),
    ]
}

/// A card on some ground, with three known paths beside it (of two to four points, 20 to 120 mm
/// long); the card is from a sixth to a half of the picture wide and whole.
pub fn card_setup(seed: u64, size: Size) -> Setup {
    for attempt in 0..50 {
        let mut random = Random::new(seed).part(attempt);
        let across = 85.6 / random.range(0.17, 0.5);
        let ground = any_ground(&mut random);
        let scene = Scene::of(ground.clone(), random.bits());
        let mut scene = soiled(scene, [0.0, 0.0], across, &mut random);
        let mut colour = CARDS[random.below(CARDS.len())];
        if let Material::Paint(own) = ground
            && (bright(own) - bright(colour)).abs() < 0.22
        {
            colour = [0.20, 0.22, 0.24];
        }
        let centre = around([0.0, 0.0], across * 0.2, &mut random);
        let mut turn = random.range(-0.5, 0.5);
        if random.chance(0.3) {
            turn += PI / 2.0 * random.below(4) as f64;
        }
        scene = scene.card(Card::lying(centre, turn, colour, random.bits()));
        let camera = handheld(size, [0.0, 0.0], across, 26.0, &mut random);
        for _ in 0..3 {
            let points = 2 + random.below(3);
            let mut path = vec![around(centre, 85.0, &mut random)];
            let mut angle = random.range(0.0, TAU);
            let length = random.range(20.0, 120.0);
            for _ in 1..points {
                let last = path[path.len() - 1];
                let step = turned([length / (points - 1) as f64, 0.0], angle);
                path.push([last[0] + step[0], last[1] + step[1]]);
                angle += random.range(-0.9, 0.9);
            }
            for p in &path {
                scene.lay(Row {
                    places: vec![*p],
                    radius: 0.9,
                    head: Head::Flush,
                    bare: false,
                });
            }
            scene = scene.length(path);
        }
        scene.light = daylight([0.0, 0.0], across, &mut random);
        let truth = scene.truth(&camera);
        let whole = truth
            .cards
            .iter()
            .all(|c| c.corners_px.iter().all(|p| camera.sees(*p, 12.0)));
        let marks = truth
            .lengths
            .iter()
            .all(|l| l.path_px.iter().all(|p| camera.sees(*p, 5.0)));
        if (whole && marks) || attempt == 49 {
            return Setup {
                scene,
                camera,
                seed,
            };
        }
    }
    Setup {
        scene: Scene::default(),
        camera: Camera::looking_at(size, [0.0, 0.0], 300.0, 0.0, 0.0, 0.0),
        seed,
    }
}

/// Draws [`card_setup`].
pub fn random_card_scene(seed: u64, size: Size) -> Rendered {
    card_setup(seed, size).render()
}

/// A crack on sheet, from 26 to 56 % of the picture long, some beginning at a fastener; with
/// `with_seam` a dark seam and a row of fasteners run close beside it or across its ends' line. A
/// card lies whole in about a third of them.
pub fn crack_setup(seed: u64, with_seam: bool, size: Size) -> Setup {
    let mut random = Random::new(seed ^ 0x0c4a_c000);
    let across = random.range(120.0, 230.0);
    let length = across * random.range(0.26, 0.56);
    let heading = random.range(0.0, TAU);
    let from = turned([-length / 2.0, 0.0], heading);
    let sheet = light_sheet(&mut random);
    let mut scene = Scene::of(sheet, random.bits());
    scene = soiled(scene, [0.0, 0.0], across, &mut random);
    let wander = random.range(0.25, 0.75);
    let path = Crack::wandering(from, heading, length, wander, &mut random);
    let end = path[path.len() - 1];
    let middle = between(from, end, 0.5);
    // Measured in pixels, since what can be followed depends on them.
    let px = f64::from(size[0]) / across;
    let width = random.range(1.6, 4.2) / px * (f64::from(size[0]) / 1600.0).max(0.5);
    let depth = random.range(0.45, 0.95) as f32;
    if random.chance(0.5) {
        let beyond = turned([-2.6, 0.0], heading);
        scene.lay(Row::single(
            [from[0] + beyond[0], from[1] + beyond[1]],
            2.6,
            Head::Cross(random.range(0.0, PI)),
        ));
    }
    if with_seam {
        let chord = (end[1] - from[1]).atan2(end[0] - from[0]);
        let angle = chord + random.range(-0.30, 0.30);
        let aside = turned(
            [
                0.0,
                length * random.range(0.06, 0.22) * if random.chance(0.5) { 1.0 } else { -1.0 },
            ],
            chord,
        );
        let at = [middle[0] + aside[0], middle[1] + aside[1]];
        let d = turned([2.0 * across, 0.0], angle);
        let (a, b) = ([at[0] - d[0], at[1] - d[1]], [at[0] + d[0], at[1] + d[1]]);
        scene.lay(Seam {
            from: a,
            to: b,
            width: random.range(0.35, 0.9),
            depth: random.range(0.55, 0.95) as f32,
        });
        let n = turned([0.0, random.range(7.0, 12.0)], angle);
        for side in [-1.0, 1.0] {
            scene.lay(fastener_row(
                [a[0] + side * n[0], a[1] + side * n[1]],
                [b[0] + side * n[0], b[1] + side * n[1]],
                random.range(14.0, 26.0),
                random.range(1.6, 2.4),
                if random.chance(0.5) {
                    Head::Dome
                } else {
                    Head::Flush
                },
                &mut random,
            ));
        }
    }
    let mut crack = Crack::along(path.clone(), width, depth);
    crack.taper = random.range(0.2, 0.65);
    crack.lip = random.range(0.0, 0.6) as f32;
    scene = scene.crack(crack);
    // A card beside the crack, kept if it is whole and covers no part of it.
    let side = if random.chance(0.5) { 1.0 } else { -1.0 };
    let off = turned([0.0, side * (0.12 * length + 34.0)], heading);
    let card = Card::lying(
        [middle[0] + off[0], middle[1] + off[1]],
        heading + if random.chance(0.5) { PI } else { 0.0 },
        CARDS[random.below(CARDS.len())],
        random.bits(),
    );
    let wanted = random.chance(0.7);
    let camera = handheld(
        size,
        between(middle, card.centre, 0.35),
        across,
        16.0,
        &mut random,
    );
    let outline = Shape::Plate {
        centre: card.centre,
        half: [Card::SIZE[0] / 2.0, Card::SIZE[1] / 2.0],
        corner: 0.0,
        turn: heading,
    };
    let seen = |p: &Point| camera.to_pixel(*p).is_some_and(|q| camera.sees(q, 8.0));
    let clear = |p: &Point| outline.distance(*p) > 3.0;
    if wanted && path.iter().all(clear) && card.corners().iter().all(seen) {
        scene = scene.card(card);
    }
    scene.light = daylight(middle, across, &mut random);
    Setup {
        scene,
        camera,
        seed,
    }
}

/// Draws [`crack_setup`].
pub fn random_crack_scene(seed: u64, with_seam: bool, size: Size) -> Rendered {
    crack_setup(seed, with_seam, size).render()
}

/// A stain with a soft edge on a light ground, from 8 to 40 % of the picture wide, some beside
/// fasteners; a card lies in about half of them.
pub fn stain_setup(seed: u64, size: Size) -> Setup {
    let mut random = Random::new(seed ^ 0x57a1_0000);
    let across = random.range(120.0, 320.0);
    let ground = if random.chance(0.25) {
        Material::Concrete
    } else {
        light_sheet(&mut random)
    };
    let mut scene = Scene::of(ground, random.bits());
    scene = soiled(scene, [0.0, 0.0], across, &mut random);
    if random.chance(0.5) {
        let y = across * random.range(-0.3, 0.3);
        scene.lay(fastener_row(
            [-across, y],
            [across, y + across * random.range(-0.1, 0.1)],
            random.range(16.0, 28.0),
            random.range(1.6, 2.6),
            Head::Dome,
            &mut random,
        ));
    }
    let radius = across * random.range(0.045, 0.19);
    let centre = around([0.0, 0.0], across * 0.12, &mut random);
    let mut stain = Stain::random(centre, radius, random.range(0.05, 0.20), &mut random);
    stain.soft = radius * random.range(0.03, 0.16);
    stain.strength = random.range(0.35, 0.85) as f32;
    stain.colour = [
        [0.05, 0.035, 0.02],
        [0.22, 0.05, 0.03],
        [0.03, 0.03, 0.035],
        [0.06, 0.10, 0.16],
    ][random.below(4)];
    stain.wet = random.range(0.7, 1.6) as f32;
    scene = scene.stain(stain);
    if random.chance(0.5) {
        let side = if random.chance(0.5) { 1.0 } else { -1.0 };
        let at = [centre[0], centre[1] + side * (1.7 * radius + 32.0)];
        let colour = CARDS[random.below(CARDS.len())];
        scene = scene.card(Card::lying(
            at,
            random.range(-0.2, 0.2),
            colour,
            random.bits(),
        ));
    }
    let camera = handheld(size, centre, across, 16.0, &mut random);
    scene.light = daylight(centre, across, &mut random);
    scene.light.shadows.clear();
    Setup {
        scene,
        camera,
        seed,
    }
}

/// Draws [`stain_setup`].
pub fn random_stain_scene(seed: u64, size: Size) -> Rendered {
    stain_setup(seed, size).render()
}

/// How far a path strays from another at most: for tests of traced cracks.
pub fn strays(path: &[Point], truth: &[Point]) -> f64 {
    path.iter()
        .map(|p| {
            truth
                .windows(2)
                .map(|w| crate::geometry::to_segment(*p, w[0], w[1]).0)
                .fold(f64::INFINITY, f64::min)
        })
        .fold(0.0, f64::max)
        .max(if path.is_empty() { f64::INFINITY } else { 0.0 })
}

/// The distance between the ends of a path.
pub fn chord(path: &[Point]) -> f64 {
    match (path.first(), path.last()) {
        (Some(a), Some(b)) => apart(*a, *b),
        _ => 0.0,
    }
}
