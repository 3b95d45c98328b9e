//! The line where a field passes through a level, to a fraction of a pixel (marching squares), as one
//! closed polygon.

use crate::photo::plane::Plane;

/// The closed line of largest area along which `field` equals `level`, higher inside. Plane points.
/// Outside the plane the field counts as far below the level, so every line closes.
pub fn largest(field: &Plane, level: f32) -> Vec<[f64; 2]> {
    let (w, h) = (field.w as isize, field.h as isize);
    let value = |x: isize, y: isize| {
        if x < 0 || y < 0 || x >= w || y >= h {
            level - 1.0
        } else {
            field.at(x, y)
        }
    };
    // sides of cells are numbered: across from (x, y) is 2i, down from (x, y) is 2i + 1
    let stride = (w + 2) as usize;
    let across = |x: isize, y: isize| 2 * ((y + 1) as usize * stride + (x + 1) as usize);
    let down = |x: isize, y: isize| across(x, y) + 1;
    const NONE: u32 = u32::MAX;
    let mut next = vec![NONE; 2 * stride * (h + 2) as usize];
    for y in -1..h {
        for x in -1..w {
            let v = [
                value(x, y),
                value(x + 1, y),
                value(x + 1, y + 1),
                value(x, y + 1),
            ];
            let inside = v.map(|v| v >= level);
            if inside == [true; 4] || inside == [false; 4] {
                continue;
            }
            let sides = [across(x, y), down(x + 1, y), across(x, y + 1), down(x, y)];
            let mid = v.iter().sum::<f32>() / 4.0 >= level;
            // walking round the cell clockwise, the line leaves where inside turns to outside and
            // came in where outside turns to inside
            let enters: Vec<usize> = (0..4)
                .filter(|&i| !inside[i] && inside[(i + 1) % 4])
                .collect();
            let leaves: Vec<usize> = (0..4)
                .filter(|&i| inside[i] && !inside[(i + 1) % 4])
                .collect();
            match (enters.as_slice(), leaves.as_slice()) {
                ([a], [b]) => next[sides[*a]] = sides[*b] as u32,
                ([a, c], [b, d]) => {
                    // a saddle: joined across the middle or kept apart
                    let (first, second) = if mid == ((a + 1) % 4 == *b) {
                        (d, b)
                    } else {
                        (b, d)
                    };
                    next[sides[*a]] = sides[*first] as u32;
                    next[sides[*c]] = sides[*second] as u32;
                }
                _ => {}
            }
        }
    }
    let point = |side: usize| -> [f64; 2] {
        let i = side / 2;
        let (x, y) = ((i % stride) as isize - 1, (i / stride) as isize - 1);
        let (dx, dy) = if side.is_multiple_of(2) {
            (1, 0)
        } else {
            (0, 1)
        };
        let (a, b) = (value(x, y), value(x + dx, y + dy));
        let t = if (b - a).abs() > 1e-12 {
            f64::from(((level - a) / (b - a)).clamp(0.0, 1.0))
        } else {
            0.5
        };
        [x as f64 + t * dx as f64, y as f64 + t * dy as f64]
    };
    let mut best: (f64, Vec<[f64; 2]>) = (0.0, Vec::new());
    for start in 0..next.len() {
        if next[start] == NONE {
            continue;
        }
        let mut line = Vec::new();
        let mut at = start;
        while next[at] != NONE {
            line.push(point(at));
            let to = next[at] as usize;
            next[at] = NONE;
            at = to;
        }
        let a = area(&line);
        if a > best.0 {
            best = (a, line);
        }
    }
    best.1
}

/// Area within a closed polygon (shoelace formula), whatever way round it goes.
pub fn area(polygon: &[[f64; 2]]) -> f64 {
    let n = polygon.len();
    let twice: f64 = (0..n)
        .map(|i| {
            let (a, b) = (polygon[i], polygon[(i + 1) % n]);
            a[0] * b[1] - b[0] * a[1]
        })
        .sum();
    (twice / 2.0).abs()
}

/// Length round a closed polygon.
pub fn round(polygon: &[[f64; 2]]) -> f64 {
    let n = polygon.len();
    (0..n)
        .map(|i| {
            let (a, b) = (polygon[i], polygon[(i + 1) % n]);
            (b[0] - a[0]).hypot(b[1] - a[1])
        })
        .sum()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_disc_has_the_area_of_a_disc() {
        let mut f = Plane::filled(80, 60, 0.0);
        for y in 0..60 {
            for x in 0..80 {
                let d = (x as f32 - 41.3).hypot(y as f32 - 28.8);
                f.data[y * 80 + x] = 20.0 - d;
            }
        }
        let line = largest(&f, 0.0);
        let truth = std::f64::consts::PI * 400.0;
        assert!((area(&line) / truth - 1.0).abs() < 0.003, "{}", area(&line));
        assert!((round(&line) / 125.66 - 1.0).abs() < 0.01);
    }

    #[test]
    fn closes_at_the_edge_and_survives_saddles() {
        let full = Plane::filled(7, 5, 1.0);
        let a = area(&largest(&full, 0.5));
        assert!((24.0..40.0).contains(&a), "{a}");
        let mut chess = Plane::filled(9, 9, 0.0);
        for i in 0..81 {
            chess.data[i] = (i % 2) as f32;
        }
        assert!(!largest(&chess, 0.5).is_empty());
        assert!(largest(&Plane::filled(4, 4, 0.0), 0.5).is_empty());
    }
}
