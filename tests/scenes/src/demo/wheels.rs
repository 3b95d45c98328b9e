//! Wheel fairing, brake and nose tyre from near: each is one plane, the same from walkaround to
//! walkaround but for what has grown, been treated or got dirty.

use super::Stage;
use super::parts::{APRON, BLUE, CARD, WHITE, closed, grime, plate, stroke};
use crate::geometry::{Point, Shape, first_part, smooth, turned};
use crate::marks::{Bulge, Card, Crack, Head, Letters, Row, Scratch, Seam, Stain, Tone};
use crate::random::Random;
use crate::scene::Scene;
use crate::surface::{Area, Material};
use std::f64::consts::{PI, TAU};

/// A place where the seams meet, a crack, and a wheel fairing: the crack starts at a screw near
/// the lower edge and is `length` mm long.
pub fn fairing(stage: &Stage, length: f64) -> Scene {
    let mut s = Scene::of(APRON, 11);
    s.lay(
        Area::flat(
            Shape::Disc {
                centre: [-20.0, -40.0],
                radius: 150.0,
            },
            Material::Rubber,
            12,
        )
        .raised(40.0, 1.6, 6.0),
    );
    let skin = closed(&[
        [-420.0, -330.0],
        [-420.0, 20.0],
        [-260.0, 48.0],
        [-120.0, 66.0],
        [0.0, 70.0],
        [90.0, 64.0],
        [170.0, 44.0],
        [250.0, 8.0],
        [330.0, -60.0],
        [380.0, -330.0],
        [0.0, -420.0],
    ]);
    s.lay(Area::flat(skin, Material::Paint(WHITE), 13).raised(9.0, 1.4, 9.0));
    let swoosh = closed(&[
        [-420.0, -30.0],
        [-120.0, -74.0],
        [60.0, -104.0],
        [300.0, -128.0],
        [300.0, -104.0],
        [80.0, -78.0],
        [-120.0, -44.0],
        [-420.0, 8.0],
    ]);
    s.lay(Area::flat(swoosh, Material::Paint(BLUE), 14));
    s.lay(Bulge {
        centre: [-20.0, -50.0],
        radius: [420.0, 230.0],
        turn: 0.0,
    });
    s.lay(Seam {
        from: [88.0, -300.0],
        to: [72.0, 62.0],
        width: 0.8,
        depth: 0.8,
    });
    let screws = [
        [-118.0, 47.0],
        [-72.0, 52.0],
        [-25.0, 53.5],
        [22.0, 52.0],
        [58.0, 49.0],
        [98.0, 44.0],
    ];
    for (i, at) in screws.iter().enumerate() {
        s.lay(
            Area::flat(
                Shape::Disc {
                    centre: *at,
                    radius: 7.4,
                },
                Material::Metal(0.4),
                15,
            )
            .raised(1.2, 0.6, 0.7),
        );
        s.lay(Row::single(*at, 4.4, Head::Cross(0.5 * i as f64)));
    }
    for at in [[104.0, -10.0], [110.0, -62.0], [59.0, -12.0], [66.0, -64.0]] {
        s.lay(Row::single(at, 3.8, Head::Cross(at[1])));
    }
    s.lay(Tone {
        centre: [-40.0, 72.0],
        reach: [170.0, 26.0],
        turn: 0.02,
        colour: [0.13, 0.105, 0.08],
        strength: 0.45 + 0.06 * stage.walk as f32,
        patchy: 0.8,
        seed: 16,
    });
    grime(
        &mut s,
        0.03 + 0.02 * stage.walk as f64,
        17 + stage.walk as u64,
    );
    s.lay(Scratch {
        from: [-104.0, 8.0],
        to: [-64.0, 16.0],
        width: 0.25,
        strength: -0.35,
    });
    let path = Crack::wandering([22.5, 44.4], -1.95, 46.0, 0.42, &mut Random::new(0xf0));
    let mut crack = Crack::along(first_part(&path, length), 0.55, 0.95);
    crack.lip = 0.8;
    crack.lead = 0.0;
    crack.taper = 0.45;
    s = s.crack(crack);
    s.card(Card::lying(
        [-62.0 + stage.slip[0], -6.0 + stage.slip[1]],
        -0.05 + stage.tilt,
        CARD,
        18,
    ))
}

/// The brake of the left main wheel, with a weep below its fitting of this radius in mm.
pub fn brake(stage: &Stage, radius: f64) -> Scene {
    let mut s = Scene::of(
        Material::Distant([0.05, 0.05, 0.05], [0.09, 0.09, 0.085]),
        21,
    );
    let hub = [58.0, -70.0];
    s.lay(
        Area::flat(
            Shape::Disc {
                centre: hub,
                radius: 215.0,
            },
            Material::Rubber,
            22,
        )
        .raised(60.0, 1.5, 4.0),
    );
    s.lay(
        Area::flat(
            Shape::Disc {
                centre: hub,
                radius: 128.0,
            },
            Material::Paint([0.42, 0.43, 0.44]),
            23,
        )
        .raised(14.0, 1.0, 6.0),
    );
    s.lay(
        Area::flat(
            Shape::Disc {
                centre: hub,
                radius: 100.0,
            },
            Material::Turned(hub),
            24,
        )
        .raised(1.5, 0.8, 5.0),
    );
    s.lay(
        Area::flat(
            Shape::Disc {
                centre: hub,
                radius: 44.0,
            },
            Material::Cast,
            25,
        )
        .raised(6.0, 1.0, 7.0),
    );
    for k in 0..6 {
        let at = turned([31.0, 0.0], TAU * f64::from(k) / 6.0 + 0.3);
        s.lay(Row::single(
            [hub[0] + at[0], hub[1] + at[1]],
            6.0,
            Head::Hexagon(f64::from(k)),
        ));
    }
    s.lay(
        Area::flat(
            Shape::Disc {
                centre: hub,
                radius: 17.0,
            },
            Material::Dark,
            26,
        )
        .raised(3.0, 0.6, 0.0),
    );
    // The plate below on which the brake sits, painted grey.
    s.lay(
        Area::flat(
            closed(&[
                [-260.0, 20.0],
                [-60.0, 12.0],
                [60.0, 16.0],
                [260.0, 30.0],
                [260.0, 260.0],
                [-260.0, 260.0],
            ]),
            Material::Paint([0.50, 0.51, 0.50]),
            27,
        )
        .raised(4.0, 0.9, 6.0),
    );
    for at in [[-126.0, 34.0], [24.0, 30.0], [128.0, 36.0]] {
        s.lay(Row::single(at, 5.0, Head::Hexagon(at[0])));
    }
    // Hose, fitting, and the body with its two bolts.
    s.lay(
        Area::flat(
            stroke(
                &[
                    [-82.0, -14.0],
                    [-112.0, -22.0],
                    [-132.0, -60.0],
                    [-150.0, -150.0],
                ],
                6.5,
            ),
            Material::Rubber,
            28,
        )
        .raised(6.0, 1.6, 7.0),
    );
    s.lay(
        Area::flat(
            plate([-46.0, -22.0], [34.0, 42.0], 9.0, 0.03),
            Material::Cast,
            29,
        )
        .raised(7.0, 1.2, 12.0),
    );
    s.lay(
        Area::flat(
            plate([-34.0, -22.0], [13.0, 30.0], 5.0, 0.03),
            Material::Cast,
            30,
        )
        .raised(4.0, 0.9, 4.0),
    );
    for at in [[-66.0, -50.0], [-66.0, 8.0]] {
        s.lay(Row::single(at, 7.0, Head::Hexagon(0.3)));
    }
    s.lay(Row::single([-86.0, -16.0], 8.5, Head::Hexagon(0.1)));
    s.lay(Row::single([-34.0, -44.0], 4.2, Head::Hexagon(0.5)));
    s.lay(Seam {
        from: [-20.0, -60.0],
        to: [-20.0, 17.0],
        width: 0.9,
        depth: 0.8,
    });
    s.lay(Tone {
        centre: [-30.0, -30.0],
        reach: [80.0, 60.0],
        turn: 0.3,
        colour: [0.05, 0.045, 0.04],
        strength: 0.35,
        patchy: 0.9,
        seed: 31,
    });
    grime(
        &mut s,
        0.05 + 0.02 * stage.walk as f64,
        32 + stage.walk as u64,
    );
    if radius > 0.0 {
        let mut weep = Stain::random(
            [-62.0, 38.0 + 0.75 * radius],
            radius,
            0.10,
            &mut Random::new(0xb4),
        );
        weep.colour = [0.17, 0.028, 0.018];
        weep.strength = 0.78;
        weep.wet = 1.25;
        weep.long = 1.25;
        weep.soft = 0.07 * radius + 0.4;
        s = s.stain(weep);
        s.lay(Area::flat(
            stroke(&[[-62.0, 20.0], [-61.0, 30.0], [-62.0, 40.0]], 1.6),
            Material::Plastic([0.17, 0.028, 0.018]),
            33,
        ));
    }
    s.card(Card::lying(
        [62.0 + stage.slip[0], 76.0 + stage.slip[1]],
        0.03 + stage.tilt,
        CARD,
        34,
    ))
}

/// The nose tyre and its sidewall, with a crack along it of this length.
pub fn tyre(stage: &Stage, length: f64) -> Scene {
    let hub = [70.0, -96.0];
    let mut s = Scene::of(
        Material::Distant([0.10, 0.11, 0.10], [0.18, 0.18, 0.17]),
        91,
    );
    s.lay(Area::flat(
        Shape::Half {
            at: [0.0, 96.0],
            outward: [0.0, -1.0],
        },
        Material::Asphalt,
        92,
    ));
    s.lay(Tone {
        centre: [70.0, 108.0],
        reach: [150.0, 16.0],
        turn: 0.0,
        colour: [0.01, 0.01, 0.01],
        strength: 0.9,
        patchy: 0.0,
        seed: 93,
    });
    let wall = Material::Plastic([0.060, 0.060, 0.062]);
    s.lay(
        Area::flat(
            Shape::Disc {
                centre: hub,
                radius: 196.0,
            },
            wall.clone(),
            94,
        )
        .raised(46.0, 1.6, 6.0),
    );
    // Ribs of the shoulder and of the bead.
    for (r, half) in [(172.0, 1.2), (164.0, 0.8), (112.0, 1.4)] {
        s.lay(
            Area::flat(
                Shape::Ring {
                    centre: hub,
                    radius: r,
                    half,
                },
                wall.clone(),
                95,
            )
            .raised(1.2, 1.2, 1.0),
        );
    }
    s.lay(
        Area::flat(
            Shape::Disc {
                centre: hub,
                radius: 96.0,
            },
            Material::Paint([0.55, 0.56, 0.56]),
            96,
        )
        .raised(9.0, 1.2, 6.0),
    );
    s.lay(
        Area::flat(
            Shape::Disc {
                centre: hub,
                radius: 74.0,
            },
            Material::Paint([0.40, 0.41, 0.42]),
            97,
        )
        .raised(-8.0, 0.9, 0.0),
    );
    s.lay(
        Area::flat(
            Shape::Disc {
                centre: hub,
                radius: 30.0,
            },
            Material::Cast,
            98,
        )
        .raised(5.0, 1.0, 5.0),
    );
    for k in 0..6 {
        let at = turned([54.0, 0.0], TAU * f64::from(k) / 6.0 + 0.25);
        s.lay(Row::single(
            [hub[0] + at[0], hub[1] + at[1]],
            6.5,
            Head::Hexagon(f64::from(k)),
        ));
    }
    // Raised lettering along the sidewall.
    for (i, letter) in "5.00-5  6 PLY  TUBE TYPE".chars().enumerate() {
        let angle = 2.72 - 0.078 * i as f64;
        let at = [hub[0] + 126.0 * angle.cos(), hub[1] + 126.0 * angle.sin()];
        let mut one = Letters::new(letter.to_string(), at, 9.5);
        one.turn = angle - PI / 2.0;
        one.colour = [0.17, 0.17, 0.17];
        one.strength = 0.75;
        s.lay(one);
    }
    // Fine cracks along the sidewall; the longest is the one that is followed.
    let arc = |radius: f64, from: f64, long: f64, seed: u64| {
        let mut random = Random::new(seed);
        let steps = (long / 2.0).ceil().max(4.0) as usize;
        let raw: Vec<Point> = (0..=steps)
            .map(|i| {
                let angle = from - (i as f64 / steps as f64) * long * 1.04 / radius;
                let r = radius + 0.35 * random.gauss();
                [hub[0] + r * angle.cos(), hub[1] + r * angle.sin()]
            })
            .collect();
        first_part(&smooth(&raw, 0.25), long)
    };
    let dusty = Tone {
        centre: [-46.0, 22.0],
        reach: [80.0, 60.0],
        turn: 0.6,
        colour: [0.30, 0.27, 0.22],
        strength: 0.42,
        patchy: 0.7,
        seed: 99,
    };
    s.lay(dusty);
    for k in 0..(2 + stage.walk as u64) {
        let from = 2.1 + 0.14 * k as f64;
        s.lay(Crack::along(
            arc(146.0 + 3.0 * (k % 3) as f64, from, 5.0 + k as f64, 100 + k),
            0.5,
            0.8,
        ));
    }
    let mut main = Crack::along(arc(154.0, 2.42, length, 109), 0.9, 0.97);
    main.taper = 0.5;
    s = s.crack(main);
    grime(&mut s, 0.04, 110 + stage.walk as u64);
    s.card(Card::lying(
        [46.0 + stage.slip[0], -52.0 + stage.slip[1]],
        0.06 + stage.tilt,
        CARD,
        111,
    ))
}
