//! The eight ways a picture can lie (EXIF orientation 1 to 8, CIPA DC-008), how they follow one
//! another, and turning pixels by them.

/// An orientation: how stored pixels are turned to stand upright. Held as: swap the axes first
/// (transpose) or not, then mirror left-right, then mirror top-bottom.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Orientation {
    /// Columns become rows.
    pub transposed: bool,
    /// Then left and right change places.
    pub mirrored: bool,
    /// Then top and bottom change places.
    pub flipped: bool,
}

const CODES: [(bool, bool, bool); 8] = [
    (false, false, false), // 1 upright
    (false, true, false),  // 2 mirrored
    (false, true, true),   // 3 half turn
    (false, false, true),  // 4 flipped
    (true, false, false),  // 5 transposed
    (true, true, false),   // 6 turn by 90° clockwise
    (true, true, true),    // 7 transposed about the other diagonal
    (true, false, true),   // 8 turn by 90° anti-clockwise
];

impl Orientation {
    /// Nothing to do.
    pub const UPRIGHT: Self = Self::of(0);
    /// Left and right change places.
    pub const MIRRORED: Self = Self::of(1);
    /// Top and bottom change places.
    pub const FLIPPED: Self = Self::of(3);

    const fn of(index: usize) -> Self {
        let (transposed, mirrored, flipped) = CODES[index & 7];
        Self {
            transposed,
            mirrored,
            flipped,
        }
    }

    /// From 1 to 8; anything else is upright.
    pub fn from_code(code: u8) -> Self {
        match code {
            1..=8 => Self::of(usize::from(code) - 1),
            _ => Self::UPRIGHT,
        }
    }

    /// 1 to 8.
    pub fn code(self) -> u8 {
        let wanted = (self.transposed, self.mirrored, self.flipped);
        CODES
            .iter()
            .position(|&c| c == wanted)
            .map_or(1, |n| n as u8 + 1)
    }

    /// So many quarter turns against the clock.
    pub fn anticlockwise(quarters: u8) -> Self {
        Self::from_code([1, 8, 3, 6][usize::from(quarters & 3)])
    }

    /// This one, then another.
    #[must_use]
    pub fn then(self, next: Self) -> Self {
        // A mirror in front of a transposition becomes the other mirror behind it.
        let (mirrored, flipped) = if next.transposed {
            (self.flipped, self.mirrored)
        } else {
            (self.mirrored, self.flipped)
        };
        Self {
            transposed: self.transposed ^ next.transposed,
            mirrored: mirrored ^ next.mirrored,
            flipped: flipped ^ next.flipped,
        }
    }

    /// Width and height after turning.
    pub fn size(self, width: u32, height: u32) -> (u32, u32) {
        if self.transposed {
            (height, width)
        } else {
            (width, height)
        }
    }

    /// Where a stored point lies in the upright picture of a stored size, in pixel centres.
    pub fn point(self, x: f64, y: f64, width: u32, height: u32) -> (f64, f64) {
        let (mut x, mut y) = if self.transposed { (y, x) } else { (x, y) };
        let (width, height) = self.size(width, height);
        if self.mirrored {
            x = f64::from(width) - 1.0 - x;
        }
        if self.flipped {
            y = f64::from(height) - 1.0 - y;
        }
        (x, y)
    }

    /// Turns rows of pixels of `N` bytes each. `pixels` holds `width × height` of them; missing ones
    /// come out as zeros.
    pub fn turn<const N: usize>(self, pixels: &[u8], width: u32, height: u32) -> Vec<u8> {
        if self == Self::UPRIGHT {
            return pixels.to_vec();
        }
        let (w, h) = (width as usize, height as usize);
        let (to_w, to_h) = if self.transposed { (h, w) } else { (w, h) };
        let mut out = vec![0; pixels.len()];
        for (y, row) in out
            .chunks_exact_mut((to_w * N).max(1))
            .enumerate()
            .take(to_h)
        {
            let from_y = if self.flipped { to_h - 1 - y } else { y };
            for (x, pixel) in row.chunks_exact_mut(N).enumerate() {
                let from_x = if self.mirrored { to_w - 1 - x } else { x };
                let at = if self.transposed {
                    from_x * w + from_y
                } else {
                    from_y * w + from_x
                };
                if let Some(found) = pixels.get(at * N..at * N + N) {
                    pixel.copy_from_slice(found);
                }
            }
        }
        out
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// CIPA DC-008, tag Orientation: which sides the stored row 0 and column 0 are. A letter that
    /// has no symmetry, drawn on 3 × 2, in all eight.
    #[test]
    fn the_eight_orientations_of_the_standard() {
        // a b c
        // d e f      as stored; the upright picture for each code:
        let stored = b"abcdef";
        let upright: [(&[u8], u32); 8] = [
            (b"abcdef", 3),
            (b"cbafed", 3), // row 0 top, column 0 right
            (b"fedcba", 3), // row 0 bottom, column 0 right
            (b"defabc", 3), // row 0 bottom, column 0 left
            (b"adbecf", 2), // row 0 left, column 0 top
            (b"daebfc", 2), // row 0 right, column 0 top
            (b"fcebda", 2), // row 0 right, column 0 bottom
            (b"cfbead", 2), // row 0 left, column 0 bottom
        ];
        for (code, (wanted, width)) in (1..=8).zip(upright) {
            let o = Orientation::from_code(code);
            assert_eq!(o.code(), code);
            assert_eq!(o.turn::<1>(stored, 3, 2), wanted, "orientation {code}");
            assert_eq!(o.size(3, 2).0, width);
            for (n, c) in stored.iter().enumerate() {
                let (x, y) = o.point((n % 3) as f64, (n / 3) as f64, 3, 2);
                assert_eq!(wanted[y as usize * width as usize + x as usize], *c);
            }
        }
    }

    #[test]
    fn one_after_another_is_the_same_as_both_turns() {
        let stored: Vec<u8> = (0..12).collect();
        for a in 1..=8 {
            for b in 1..=8 {
                let (a, b) = (Orientation::from_code(a), Orientation::from_code(b));
                let once = a.turn::<1>(&stored, 4, 3);
                let (w, h) = a.size(4, 3);
                assert_eq!(b.turn::<1>(&once, w, h), a.then(b).turn::<1>(&stored, 4, 3));
            }
        }
        let quarter = Orientation::anticlockwise(1);
        assert_eq!(quarter.then(quarter), Orientation::anticlockwise(2));
        assert_eq!(
            quarter.then(Orientation::anticlockwise(3)),
            Orientation::UPRIGHT
        );
    }
}
