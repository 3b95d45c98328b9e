//! Lettering in a tiny bitmap font, drawn with the edges of its cells.

use crate::geometry::{Bounds, Point, turned};
use crate::surface::{Look, Mark, Surface};

/// One line of lettering.
#[derive(Clone, Debug)]
pub struct Letters {
    /// What it says (capitals, digits and common signs of ASCII; others are left blank).
    pub text: String,
    /// Left end of the line of writing, at the foot of the letters, in millimetres.
    pub at: Point,
    /// Height of a capital in millimetres.
    pub height: f64,
    /// Turn in radians.
    pub turn: f64,
    /// Colour.
    pub colour: [f32; 3],
    /// How opaque, 0 to 1.
    pub strength: f32,
    /// Rise above the plane of what it is printed on.
    pub raised: f64,
}

impl Letters {
    /// Dark, level lettering.
    pub fn new(text: impl Into<String>, at: Point, height: f64) -> Letters {
        Letters {
            text: text.into(),
            at,
            height,
            turn: 0.0,
            colour: [0.02, 0.02, 0.025],
            strength: 0.9,
            raised: 0.0,
        }
    }

    /// Width of the line in millimetres.
    pub fn width(&self) -> f64 {
        self.text.chars().count() as f64 * 6.0 * self.height / 7.0
    }
}

impl Mark for Letters {
    fn bounds(&self) -> Bounds {
        let (w, h) = (self.width(), self.height);
        let corners: Vec<Point> = [[0.0, 0.0], [w, 0.0], [0.0, -h], [w, -h]]
            .iter()
            .map(|c| {
                let t = turned(*c, self.turn);
                [self.at[0] + t[0], self.at[1] + t[1]]
            })
            .collect();
        Bounds::around(&corners).grown(3.0 * self.raised + 0.5)
    }

    fn apply(&self, at: Point, look: &Look, surface: &mut Surface) {
        let p = if self.raised > 0.0 {
            look.raised(at, self.raised)
        } else {
            at
        };
        let cell = self.height / 7.0;
        let q = turned([p[0] - self.at[0], p[1] - self.at[1]], -self.turn);
        let (u, v) = (q[0] / cell, q[1] / cell + 7.0);
        if v < 0.0 || u < 0.0 || v >= 7.0 {
            return;
        }
        let column = u as usize;
        let inked = |x: i64, y: i64| {
            (0..7).contains(&y)
                && x >= 0
                && x % 6 < 5
                && self
                    .text
                    .as_bytes()
                    .get(x as usize / 6)
                    .is_some_and(|b| glyph(char::from(*b))[y as usize] >> (4 - x % 6) & 1 == 1)
        };
        let (x, y) = (column as i64, v as i64);
        let here = inked(x, y);
        if !surface.edge {
            // An edge is near if a neighbouring cell within a sample and a half is otherwise.
            let near = (1.5 * look.footprint / cell).ceil() as i64;
            surface.edge = if near > 2 {
                true
            } else {
                (-near..=near).any(|i| (-near..=near).any(|j| inked(x + i, y + j) != here))
            };
        }
        if here {
            surface.tint(self.colour, self.strength);
        }
    }
}

/// Seven rows of five cells, the leftmost in bit 4. Drawn for this project.
fn glyph(letter: char) -> [u8; 7] {
    match letter.to_ascii_uppercase() {
        'A' => [14, 17, 17, 31, 17, 17, 17],
        'B' => [30, 17, 17, 30, 17, 17, 30],
        'C' => [14, 17, 16, 16, 16, 17, 14],
        'D' => [30, 17, 17, 17, 17, 17, 30],
        'E' => [31, 16, 16, 30, 16, 16, 31],
        'F' => [31, 16, 16, 30, 16, 16, 16],
        'G' => [14, 17, 16, 23, 17, 17, 14],
        'H' => [17, 17, 17, 31, 17, 17, 17],
        'I' => [14, 4, 4, 4, 4, 4, 14],
        'J' => [1, 1, 1, 1, 1, 17, 14],
        'K' => [17, 18, 20, 24, 20, 18, 17],
        'L' => [16, 16, 16, 16, 16, 16, 31],
        'M' => [17, 27, 21, 21, 17, 17, 17],
        'N' => [17, 25, 25, 21, 19, 19, 17],
        'O' => [14, 17, 17, 17, 17, 17, 14],
        'P' => [30, 17, 17, 30, 16, 16, 16],
        'Q' => [14, 17, 17, 17, 21, 18, 13],
        'R' => [30, 17, 17, 30, 20, 18, 17],
        'S' => [15, 16, 16, 14, 1, 1, 30],
        'T' => [31, 4, 4, 4, 4, 4, 4],
        'U' => [17, 17, 17, 17, 17, 17, 14],
        'V' => [17, 17, 17, 17, 10, 10, 4],
        'W' => [17, 17, 17, 21, 21, 27, 17],
        'X' => [17, 17, 10, 4, 10, 17, 17],
        'Y' => [17, 17, 10, 4, 4, 4, 4],
        'Z' => [31, 1, 2, 4, 8, 16, 31],
        '0' => [14, 17, 19, 21, 25, 17, 14],
        '1' => [4, 12, 4, 4, 4, 4, 14],
        '2' => [14, 17, 1, 6, 8, 16, 31],
        '3' => [30, 1, 1, 14, 1, 1, 30],
        '4' => [2, 6, 10, 18, 31, 2, 2],
        '5' => [31, 16, 30, 1, 1, 17, 14],
        '6' => [6, 8, 16, 30, 17, 17, 14],
        '7' => [31, 1, 2, 4, 4, 8, 8],
        '8' => [14, 17, 17, 14, 17, 17, 14],
        '9' => [14, 17, 17, 15, 1, 2, 12],
        '.' => [0, 0, 0, 0, 0, 12, 12],
        ',' => [0, 0, 0, 0, 12, 4, 8],
        ':' => [0, 12, 12, 0, 12, 12, 0],
        '-' => [0, 0, 0, 31, 0, 0, 0],
        '/' => [1, 1, 2, 4, 8, 16, 16],
        '(' => [2, 4, 8, 8, 8, 4, 2],
        ')' => [8, 4, 2, 2, 2, 4, 8],
        '+' => [0, 4, 4, 31, 4, 4, 0],
        '=' => [0, 0, 31, 0, 31, 0, 0],
        '#' => [10, 10, 31, 10, 31, 10, 10],
        '_' => [0, 0, 0, 0, 0, 0, 31],
        _ => [0; 7],
    }
}
