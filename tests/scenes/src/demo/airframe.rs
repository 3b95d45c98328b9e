//! Door seal, strut foot and elevator hinge from near: each is one plane, the same from walkaround to
//! walkaround but for what has grown, been treated or got dirty.

use super::Stage;
use super::parts::{BLUE, CARD, RED, WHITE, closed, grime, plate, stroke};
use crate::geometry::{Bounds, Shape, turned};
use crate::marks::{Card, Dent, Head, Row, Seam, Stain, Tone, fastener_row};
use crate::random::Random;
use crate::scene::Scene;
use crate::surface::{Area, Material, Specks};
use std::f64::consts::PI;

/// The lower edge of the cabin door with its seal, torn over `gap` mm.
pub fn seal(stage: &Stage, gap: f64) -> Scene {
    let mut s = Scene::of(Material::Paint(WHITE), 51);
    s.lay(
        Area::flat(
            Shape::Half {
                at: [34.0, 0.0],
                outward: [-1.0, 0.03],
            },
            Material::Plastic([0.27, 0.24, 0.19]),
            52,
        )
        .raised(3.0, 0.8, 3.0),
    );
    s.lay(Area::flat(
        plate([12.0, 0.0], [24.0, 400.0], 2.0, 0.0),
        Material::Metal(PI / 2.0),
        53,
    ));
    // Old adhesive where the seal is gone.
    s.lay(Area::flat(
        stroke(&[[10.0, -300.0], [8.0, 0.0], [10.0, 300.0]], 6.0),
        Material::Plastic([0.40, 0.30, 0.13]),
        54,
    ));
    let rubber = || Material::Plastic([0.035, 0.035, 0.037]);
    let top = -8.0;
    s.lay(
        Area::flat(
            stroke(&[[10.0, -300.0], [9.0, -120.0], [8.0, top]], 9.5),
            rubber(),
            55,
        )
        .raised(9.0, 1.5, 8.0),
    );
    s.lay(
        Area::flat(
            stroke(&[[8.0, top + gap + 19.0], [8.5, 130.0], [10.0, 300.0]], 9.5),
            rubber(),
            56,
        )
        .raised(9.0, 1.5, 8.0),
    );
    // The torn end hangs out.
    let hang = 10.0 + 0.9 * gap;
    s.lay(
        Area::flat(
            stroke(
                &[
                    [6.0, top - 6.0],
                    [17.0, top + 0.45 * hang],
                    [36.0, top + 0.9 * hang],
                    [50.0, top + hang],
                ],
                4.2,
            ),
            rubber(),
            57,
        )
        .raised(4.2, 1.4, 9.0),
    );
    for y in [-86.0, -30.0, 60.0, 108.0] {
        s.lay(Row::single([-32.0, y], 3.6, Head::Cross(y)));
    }
    s.lay(Seam {
        from: [-20.0, -300.0],
        to: [-20.0, 300.0],
        width: 0.9,
        depth: 0.7,
    });
    s.lay(Tone {
        centre: [8.0, 40.0],
        reach: [26.0, 90.0],
        turn: 0.0,
        colour: [0.16, 0.14, 0.11],
        strength: 0.35,
        patchy: 0.8,
        seed: 58,
    });
    let stripe = plate([-250.0, -88.0], [212.0, 11.0], 2.0, 0.0);
    s.lay(Area::flat(stripe, Material::Paint(BLUE), 59));
    grime(&mut s, 0.05, 60 + stage.walk as u64);
    s = s.length(vec![[8.0, top + 9.5], [8.0, top + gap + 9.5]]);
    s.card(Card::lying(
        [-78.0 + stage.slip[0], 14.0 + stage.slip[1]],
        0.05 + stage.tilt,
        CARD,
        61,
    ))
}

/// The foot of the left wing strut, with corrosion whose worst patch has this radius in mm.
pub fn strut(stage: &Stage, radius: f64) -> Scene {
    let mut s = Scene::of(Material::Paint(WHITE), 71);
    s.lay(Area::flat(
        closed(&[
            [-400.0, 74.0],
            [-100.0, 84.0],
            [100.0, 86.0],
            [400.0, 78.0],
            [400.0, 300.0],
            [-400.0, 300.0],
        ]),
        Material::Paint(BLUE),
        72,
    ));
    let mut random = Random::new(73);
    s.lay(Seam {
        from: [-400.0, 58.0],
        to: [400.0, 64.0],
        width: 0.7,
        depth: 0.7,
    });
    s.lay(fastener_row(
        [-400.0, 48.0],
        [400.0, 54.0],
        22.0,
        2.1,
        Head::Dome,
        &mut random,
    ));
    s.lay(fastener_row(
        [-128.0, -300.0],
        [-118.0, 48.0],
        22.0,
        2.1,
        Head::Dome,
        &mut random,
    ));
    // Fitting, strut and its cuff.
    s.lay(
        Area::flat(
            closed(&[
                [8.0, 40.0],
                [-6.0, 12.0],
                [14.0, -22.0],
                [64.0, -34.0],
                [92.0, 0.0],
                [70.0, 42.0],
            ]),
            Material::Paint([0.48, 0.49, 0.49]),
            74,
        )
        .raised(5.0, 1.0, 5.0),
    );
    s.lay(
        Area::flat(
            stroke(&[[58.0, -12.0], [140.0, -116.0], [330.0, -360.0]], 27.0),
            Material::Paint(WHITE),
            75,
        )
        .raised(26.0, 1.25, 22.0),
    );
    s.lay(
        Area::flat(
            stroke(&[[52.0, -6.0], [84.0, -46.0]], 30.0),
            Material::Cast,
            76,
        )
        .raised(16.0, 1.1, 12.0),
    );
    s.lay(
        Area::flat(
            Shape::Disc {
                centre: [44.0, 4.0],
                radius: 14.0,
            },
            Material::Metal(0.2),
            77,
        )
        .raised(2.0, 0.7, 2.0),
    );
    s.lay(Row::single([44.0, 4.0], 10.0, Head::Hexagon(0.35)));
    s.lay(
        Area::flat(
            stroke(&[[31.0, 10.0], [44.0, 4.0], [58.0, -3.0], [61.0, 2.0]], 1.1),
            Material::Metal(0.0),
            78,
        )
        .raised(1.0, 0.8, 1.5),
    );
    // Rust-brown and white bloom about the lower edge of the fitting.
    let main = [4.0, 30.0];
    for (i, (at, share)) in [
        (main, 1.0),
        ([22.0, 44.0], 0.62),
        ([-8.0, 12.0], 0.5),
        ([46.0, 48.0], 0.4),
    ]
    .into_iter()
    .enumerate()
    {
        let mut patch = Stain::random(at, radius * share, 0.22, &mut Random::new(79 + i as u64));
        patch.colour = [0.20, 0.085, 0.03];
        patch.strength = 0.8;
        patch.wet = 0.2;
        patch.soft = 0.10 * radius * share + 0.3;
        if i == 0 {
            s = s.stain(patch);
        } else {
            s.lay(patch);
        }
        s.lay(Dent {
            centre: at,
            radius: radius * share * 1.5,
            depth: -0.05 * radius,
        });
    }
    for (colour, cell, share) in [
        ([0.74, 0.74, 0.70], 2.4, 0.30),
        ([0.10, 0.04, 0.015], 2.0, 0.24),
    ] {
        s.lay(Specks {
            region: Bounds::around(&[main]).grown(radius * 1.05),
            cell,
            share,
            radius: [0.2, 0.95],
            colour,
            strength: 0.75,
            seed: 84 + stage.walk as u64 / 9,
        });
    }
    s.lay(Tone {
        centre: [4.0, 66.0],
        reach: [14.0, 40.0],
        turn: 0.0,
        colour: [0.26, 0.14, 0.06],
        strength: 0.10 + 0.02 * radius as f32,
        patchy: 0.6,
        seed: 86,
    });
    grime(&mut s, 0.05, 87 + stage.walk as u64);
    s.card(Card::lying(
        [-66.0 + stage.slip[0], -24.0 + stage.slip[1]],
        -0.08 + stage.tilt,
        CARD,
        88,
    ))
}

/// The outer hinge of the elevator; `turned_by` degrees is how far its bolt has turned against the
/// witness mark, `gap` the play in mm.
pub fn hinge(stage: &Stage, turned_by: f64, gap: f64) -> Scene {
    let mut s = Scene::of(
        Material::Distant([0.16, 0.18, 0.17], [0.28, 0.30, 0.28]),
        121,
    );
    s.lay(
        Area::flat(
            Shape::Half {
                at: [0.0, -12.0],
                outward: [0.0, 1.0],
            },
            Material::Paint(WHITE),
            122,
        )
        .raised(14.0, 1.2, 10.0),
    );
    s.lay(
        Area::flat(
            Shape::Half {
                at: [0.0, 16.0],
                outward: [0.0, -1.0],
            },
            Material::Paint(WHITE),
            123,
        )
        .raised(14.0, 1.2, 10.0),
    );
    s.lay(Area::flat(
        plate([0.0, 2.0], [300.0, 11.0], 0.0, 0.0),
        Material::Dark,
        124,
    ));
    s.lay(Area::flat(
        plate([-190.0, 72.0], [140.0, 14.0], 0.0, 0.0),
        Material::Paint(RED),
        125,
    ));
    let mut random = Random::new(126);
    s.lay(fastener_row(
        [-300.0, -30.0],
        [300.0, -30.0],
        24.0,
        2.0,
        Head::Dome,
        &mut random,
    ));
    s.lay(fastener_row(
        [-300.0, 36.0],
        [300.0, 36.0],
        24.0,
        2.0,
        Head::Dome,
        &mut random,
    ));
    let pin = [30.0, 2.0];
    s.lay(
        Area::flat(
            closed(&[
                [2.0, 40.0],
                [8.0, 6.0],
                [16.0, -12.0],
                [44.0, -12.0],
                [52.0, 6.0],
                [58.0, 40.0],
                [30.0, 48.0],
            ]),
            Material::Cast,
            127,
        )
        .raised(4.0, 1.0, 5.0),
    );
    s.lay(
        Area::flat(
            closed(&[
                [6.0, -56.0],
                [8.0, -10.0],
                [18.0, 14.0],
                [42.0, 14.0],
                [52.0, -10.0],
                [54.0, -56.0],
                [30.0, -60.0],
            ]),
            Material::Metal(0.5),
            128,
        )
        .raised(3.0, 0.9, 5.0),
    );
    for at in [[18.0, -46.0], [42.0, -46.0], [16.0, 34.0], [44.0, 34.0]] {
        s.lay(Row::single(at, 3.6, Head::Dome));
    }
    s.lay(Area::flat(
        Shape::Disc {
            centre: [pin[0] + gap, pin[1] + 0.4 * gap],
            radius: 12.0 + gap,
        },
        Material::Dark,
        129,
    ));
    s.lay(
        Area::flat(
            Shape::Disc {
                centre: pin,
                radius: 12.0,
            },
            Material::Metal(1.1),
            130,
        )
        .raised(1.6, 0.8, 2.0),
    );
    s.lay(Row::single(
        pin,
        8.6,
        Head::Hexagon(0.25 + turned_by.to_radians()),
    ));
    s.lay(
        Area::flat(
            stroke(
                &[
                    [pin[0] - 13.0, pin[1] + 5.0],
                    pin,
                    [pin[0] + 13.0, pin[1] - 5.0],
                    [pin[0] + 16.0, pin[1] - 1.0],
                ],
                1.0,
            ),
            Material::Metal(0.0),
            131,
        )
        .raised(0.9, 0.8, 1.2),
    );
    // The witness mark: lacquer across bolt and bracket, drawn in two parts.
    let mark = |from: f64, to: f64, turn: f64| {
        let t = |r: f64| {
            let v = turned([0.0, -r], turn);
            [pin[0] + v[0], pin[1] + v[1]]
        };
        Shape::stroke(vec![t(from), t(to)], 1.5)
    };
    let lacquer = Material::Plastic([0.75, 0.22, 0.02]);
    s.lay(Area::flat(mark(13.0, 27.0, 0.35), lacquer.clone(), 132));
    s.lay(Area::flat(
        mark(0.5, 10.5, 0.35 + turned_by.to_radians()),
        lacquer,
        133,
    ));
    s.lay(Tone {
        centre: [pin[0] + 2.0, pin[1] + 24.0],
        reach: [7.0 + 4.0 * gap, 20.0],
        turn: 0.0,
        colour: [0.10, 0.045, 0.02],
        strength: (0.25 + 0.5 * gap) as f32,
        patchy: 0.6,
        seed: 134,
    });
    grime(&mut s, 0.04, 135 + stage.walk as u64);
    s.card(Card::lying(
        [-58.0 + stage.slip[0], -54.0 + stage.slip[1]],
        0.02 + stage.tilt,
        CARD,
        136,
    ))
}
