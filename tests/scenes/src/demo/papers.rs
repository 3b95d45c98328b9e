//! Papers of the demo aircraft: data plate, page of its log, hour meter. All invented.

use super::Stage;
use crate::geometry::{Bounds, Point, Shape};
use crate::marks::{Head, Letters, Row, Scratch, Tone};
use crate::random::Random;
use crate::scene::Scene;
use crate::surface::{Area, Material, Specks};

fn plate(centre: Point, half: Point, corner: f64) -> Shape {
    Shape::Plate {
        centre,
        half,
        corner,
        turn: 0.0,
    }
}

fn write(scene: &mut Scene, text: &str, at: Point, height: f64, colour: [f32; 3]) {
    let mut line = Letters::new(text, at, height);
    line.colour = colour;
    scene.lay(line);
}

/// The data plate beside the rear door post.
pub fn data_plate(stage: &Stage) -> Scene {
    let mut s = Scene::of(Material::Plastic([0.24, 0.27, 0.22]), 201);
    s.lay(
        Area::flat(
            plate([0.0, 0.0], [52.0, 34.0], 3.0),
            Material::Metal(0.0),
            202,
        )
        .raised(0.8, 0.6, 0.8),
    );
    for at in [[-46.5, -28.5], [46.5, -28.5], [46.5, 28.5], [-46.5, 28.5]] {
        s.lay(Row::single(at, 2.4, Head::Dome));
    }
    let black = [0.02, 0.02, 0.02];
    s.lay(Area::flat(
        plate([0.0, -19.5], [40.0, 6.2], 1.0),
        Material::Plastic([0.03, 0.03, 0.035]),
        203,
    ));
    write(
        &mut s,
        "SEABOARD FOUR",
        [-33.2, -16.6],
        5.9,
        [0.62, 0.62, 0.60],
    );
    for (i, (left, right)) in [
        ("MODEL", "SB-4 DEMO"),
        ("SERIAL NO", "D-0417"),
        ("MARK", "N0WM"),
        ("MAX WEIGHT", "1100 KG"),
    ]
    .iter()
    .enumerate()
    {
        let y = -4.6 + 8.0 * i as f64;
        write(&mut s, left, [-43.0, y], 3.6, black);
        write(&mut s, right, [-4.0, y], 4.4, black);
        s.lay(Scratch {
            from: [-6.0, y + 1.6],
            to: [42.0, y + 1.6],
            width: 0.35,
            strength: -0.8,
        });
    }
    write(&mut s, "DRAWN FOR A DEMO", [-24.0, 29.0], 2.6, black);
    s.lay(Tone {
        centre: [20.0, 10.0],
        reach: [50.0, 20.0],
        turn: 0.4,
        colour: [0.13, 0.11, 0.08],
        strength: 0.3,
        patchy: 0.9,
        seed: 204,
    });
    s.lay(Specks {
        region: Bounds::around(&[[0.0, 0.0]]).grown(200.0),
        cell: 3.0,
        share: 0.08,
        radius: [0.05, 0.3],
        colour: [0.07, 0.06, 0.05],
        strength: 0.7,
        seed: 205 + stage.walk as u64,
    });
    s
}

/// A page of the log: ruled paper with entries in blue ink.
pub fn log_page(stage: &Stage, entries: &[[&str; 3]]) -> Scene {
    let mut s = Scene::of(Material::Wood, 211);
    s.lay(
        Area::flat(
            plate([3.0, 2.0], [112.0, 80.0], 1.5),
            Material::Paper([0.50, 0.47, 0.40]),
            212,
        )
        .raised(0.4, 0.2, 3.0),
    );
    s.lay(
        Area::flat(
            plate([0.0, 0.0], [112.0, 80.0], 1.5),
            Material::Paper([0.74, 0.71, 0.62]),
            213,
        )
        .raised(0.4, 0.2, 1.2),
    );
    let print = [0.05, 0.06, 0.07];
    write(&mut s, "AIRFRAME LOG", [-100.0, -62.0], 6.2, print);
    write(&mut s, "N0WM    PAGE 31", [18.0, -62.0], 4.4, print);
    write(&mut s, "INVENTED, FOR A DEMO", [18.0, -55.6], 2.6, print);
    for (text, x) in [("DATE", -102.0), ("HOURS", -64.0), ("WORK DONE", -34.0)] {
        write(&mut s, text, [x, -48.0], 3.2, print);
    }
    for k in 0..12 {
        let y = -45.0 + 10.0 * f64::from(k);
        s.lay(Scratch {
            from: [-140.0, y],
            to: [140.0, y],
            width: 0.3,
            strength: -0.0,
        });
        s.lay(Area::flat(
            plate([0.0, y], [104.0, 0.16], 0.0),
            Material::Paper([0.34, 0.40, 0.48]),
            214,
        ));
    }
    for x in [-68.0, -38.0] {
        s.lay(Area::flat(
            plate([x, 12.0], [0.2, 58.0], 0.0),
            Material::Paper([0.50, 0.25, 0.22]),
            215,
        ));
    }
    let mut random = Random::new(216);
    for (row, entry) in entries.iter().enumerate() {
        let y = -37.4 + 10.0 * row as f64;
        for (text, x) in entry.iter().zip([-102.0, -64.0, -34.0]) {
            // By hand: every letter a little off its line.
            let mut left = x;
            for letter in text.chars() {
                let mut one = Letters::new(
                    letter.to_string(),
                    [left, y + random.range(-0.5, 0.5)],
                    3.9 + random.range(-0.2, 0.2),
                );
                one.turn = random.range(-0.10, 0.02);
                one.colour = [0.03, 0.05, 0.26];
                s.lay(one);
                left += 3.25 + random.range(-0.12, 0.12);
            }
        }
    }
    s.lay(Tone {
        centre: [70.0, 48.0],
        reach: [22.0, 20.0],
        turn: 0.0,
        colour: [0.34, 0.26, 0.16],
        strength: 0.25,
        patchy: 0.3,
        seed: 217,
    });
    s.lay(Specks {
        region: Bounds::around(&[[0.0, 0.0]]).grown(200.0),
        cell: 6.0,
        share: 0.04,
        radius: [0.1, 0.4],
        colour: [0.25, 0.2, 0.15],
        strength: 0.5,
        seed: 218 + stage.walk as u64,
    });
    s
}

/// The hour meter in the panel, with this reading such as `12345` for 1234.5 hours.
pub fn meter(_stage: &Stage, reading: &str) -> Scene {
    let mut s = Scene::of(Material::Plastic([0.055, 0.055, 0.06]), 221);
    for at in [[-58.0, -44.0], [58.0, -44.0], [58.0, 44.0], [-58.0, 44.0]] {
        s.lay(Row::single(at, 3.4, Head::Cross(at[0])));
    }
    s.lay(
        Area::flat(
            Shape::Disc {
                centre: [0.0, 0.0],
                radius: 41.0,
            },
            Material::Metal(0.3),
            222,
        )
        .raised(3.0, 1.2, 3.0),
    );
    s.lay(
        Area::flat(
            Shape::Disc {
                centre: [0.0, 0.0],
                radius: 36.0,
            },
            Material::Plastic([0.018, 0.018, 0.02]),
            223,
        )
        .raised(-2.0, 0.8, 0.0),
    );
    write(&mut s, "HOURS", [-12.8, -14.0], 5.0, [0.70, 0.70, 0.68]);
    write(&mut s, "TOTAL TIME", [-15.0, 21.0], 3.5, [0.60, 0.60, 0.58]);
    write(&mut s, "1/10", [19.5, -10.0], 2.2, [0.60, 0.60, 0.58]);
    let digits: Vec<char> = reading.chars().collect();
    let n = digits.len().max(1);
    for (i, digit) in digits.iter().enumerate() {
        let x = -4.8 * (n as f64 - 1.0) + 9.6 * i as f64;
        let last = i + 1 == n;
        let (ground, ink) = if last {
            ([0.66, 0.64, 0.58], [0.35, 0.02, 0.02])
        } else {
            ([0.03, 0.03, 0.03], [0.80, 0.80, 0.76])
        };
        s.lay(
            Area::flat(
                plate([x, 2.0], [4.4, 7.2], 0.8),
                Material::Plastic(ground),
                224,
            )
            .raised(-1.2, 0.9, 0.0),
        );
        write(&mut s, &digit.to_string(), [x - 3.3, 6.8], 9.2, ink);
    }
    write(&mut s, "N0WM", [-17.0, 58.0], 8.0, [0.70, 0.70, 0.68]);
    s.lay(Tone {
        centre: [-16.0, -16.0],
        reach: [16.0, 8.0],
        turn: -0.7,
        colour: [0.5, 0.52, 0.55],
        strength: 0.16,
        patchy: 0.0,
        seed: 225,
    });
    s.lay(Specks {
        region: Bounds::around(&[[0.0, 0.0]]).grown(200.0),
        cell: 4.0,
        share: 0.12,
        radius: [0.05, 0.25],
        colour: [0.35, 0.34, 0.32],
        strength: 0.5,
        seed: 226,
    });
    s
}
