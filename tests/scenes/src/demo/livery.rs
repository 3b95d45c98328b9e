//! The paint of the demo aircraft: stripes, windows, joints, and its mark.

use super::model::{BODY, FAIRING, FIN, PROPELLER, SPINNER, STRUT, TAIL, TYRE, WING};
use super::solid::Corner;
use crate::marks::Letters;
use crate::surface::{Look, Mark, Surface};

/// Paint of a part at a place of the aircraft: colour and gloss.
pub(super) fn paint(part: u8, corner: &Corner, foot: f64) -> ([f32; 3], f32) {
    let [x, y, z] = corner.own;
    let white = [0.72, 0.72, 0.70];
    let blue = [0.035, 0.12, 0.36];
    let red = [0.50, 0.045, 0.04];
    let glass = ([0.025, 0.035, 0.04], 0.9);
    let lateral = corner.normal[2].abs() > 0.35;
    match part {
        BODY => {
            let sill = 1.50 + 0.02 * (x - 2.0);
            // Windscreen: the slope in front of the wing.
            if (1.70..2.34).contains(&x) && z > 1.60 + 0.05 * (x - 1.7) {
                let post = (y.abs() - 0.46 + 0.06 * (x - 1.7)).abs() < 0.022;
                return if post { (white, 0.4) } else { glass };
            }
            let window = |from: f64, to: f64, low: f64, high: f64, slant: f64| {
                let x = x - slant * (z - low);
                x > from && x < to && z > low && z < high
            };
            if lateral
                && (window(2.20, 3.06, sill, 1.97, 0.10)
                    || window(3.16, 3.78, sill, 1.95, 0.0)
                    || window(3.86, 4.32, sill + 0.02, 1.84, -0.45))
            {
                return glass;
            }
            let mut colour = white;
            // A broad and a narrow stripe that rise towards the tail.
            let rise = 1.16 + 0.018 * (x - 0.5) + 0.10 * (x / 8.0).powi(3);
            let wide = 0.15 * (1.0 - (x / 9.5).powi(2)).max(0.15);
            // The broad stripe gives way to the mark.
            let open = (4.95..6.02).contains(&x);
            if (z - rise).abs() < wide && !open {
                colour = blue;
            }
            if (z - rise + wide + 0.055).abs() < 0.022 {
                colour = red;
            }
            if x < 0.50 && (z - 1.30).abs() < 0.07 && y.abs() > 0.16 {
                return ([0.02, 0.02, 0.02], 0.1);
            }
            // Door and cowl joints.
            let near = |d: f64| d.abs() < 0.006f64.max(0.6 * foot);
            let door = (near(x - 2.16) || near(x - 3.11)) && z > 0.80 && z < 2.0
                || near(z - 0.80) && x > 2.16 && x < 3.11;
            if near(x - 1.52) || (door && lateral) {
                colour = colour.map(|c: f32| c * 0.45);
            }
            // The mark on both sides, readable from each.
            let height = 0.25;
            let flip = if y > 0.0 { 1.0 } else { -1.0 };
            let start = if y > 0.0 {
                5.05
            } else {
                5.05 + 4.0 * 6.0 * height / 7.0
            };
            let letters = Letters::new("N0WM", [0.0, 0.0], height);
            let mut spot = Surface {
                colour,
                ..Surface::PLAIN
            };
            let look = Look {
                grain: foot,
                footprint: foot,
                eye: [0.0, 0.0, -1.0],
                sun: [0.0; 2],
            };
            if lateral {
                letters.apply([flip * (x - start), -(z - 1.245)], &look, &mut spot);
                if spot.colour != colour {
                    colour = [0.03, 0.05, 0.12];
                }
            }
            (colour, 0.45)
        }
        WING => {
            let tip = y.abs() > 4.7 && y.abs() < 4.95;
            let joint =
                (x - 3.02 + 0.02 * y.abs()).abs() < 0.008f64.max(0.5 * foot) && y.abs() > 0.7;
            let ends = ((y.abs() - 2.72).abs() < 0.01 || (y.abs() - 4.6).abs() < 0.01) && x > 3.0;
            let colour = if tip { blue } else { white };
            (
                if joint || ends {
                    colour.map(|c: f32| c * 0.5)
                } else {
                    colour
                },
                0.4,
            )
        }
        TAIL => {
            let joint = (x - 7.62 - 0.06 * y.abs()).abs() < 0.008f64.max(0.5 * foot);
            (
                if joint {
                    white.map(|c: f32| c * 0.5)
                } else {
                    white
                },
                0.4,
            )
        }
        FIN => {
            let band = z - 0.20 * (x - 7.0);
            let colour = if (2.04..2.24).contains(&band) {
                blue
            } else if (1.98..2.01).contains(&band) {
                red
            } else {
                white
            };
            let joint = (x - 7.66 - 0.14 * (z - 1.4)).abs() < 0.008f64.max(0.5 * foot);
            (
                if joint {
                    colour.map(|c: f32| c * 0.5)
                } else {
                    colour
                },
                0.4,
            )
        }
        FAIRING => (if (z - 0.31).abs() < 0.03 { blue } else { white }, 0.45),
        TYRE => ([0.028, 0.028, 0.030], 0.04),
        PROPELLER => {
            let r = (z - 1.16).hypot(y);
            (
                if r > 0.80 {
                    [0.55, 0.38, 0.03]
                } else {
                    [0.035, 0.036, 0.04]
                },
                0.25,
            )
        }
        SPINNER => (white, 0.6),
        STRUT => (white, 0.4),
        _ => {
            let rib = ((corner.at[0] + corner.at[2]) * 1.6).sin() as f32;
            (
                [0.20 + 0.012 * rib, 0.235 + 0.012 * rib, 0.245 + 0.012 * rib],
                0.05,
            )
        }
    }
}
