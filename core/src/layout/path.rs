//! Lines of a drawing: absolute SVG path commands M, L, C, Q and Z, no more.
//!
//! Read into points so that a drawing can be turned and placed on a page; a general SVG path crate
//! would bring arcs and relative forms that no layout uses.

use super::types::Point;

/// One command of a path.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Segment {
    Move(Point),
    Line(Point),
    Quad(Point, Point),
    Cubic(Point, Point, Point),
    Close,
}

/// Largest coordinate that is accepted: a drawing is a light aircraft in inches.
const LARGEST: f64 = 5000.0;
/// Most points of one path or shape.
const MOST: usize = 2000;

/// Reads a path, or says what is wrong with it.
pub(crate) fn parse_path(text: &str) -> Result<Vec<Segment>, String> {
    let mut spaced = String::with_capacity(text.len() + 16);
    for c in text.chars() {
        match c {
            'M' | 'L' | 'C' | 'Q' | 'Z' => {
                spaced.push(' ');
                spaced.push(c);
                spaced.push(' ');
            }
            ',' => spaced.push(' '),
            c => spaced.push(c),
        }
    }
    let mut words = spaced.split_whitespace().peekable();
    let mut segments = Vec::new();
    let mut command = "";
    while let Some(word) = words.peek() {
        if matches!(*word, "M" | "L" | "C" | "Q" | "Z") {
            command = word;
            words.next();
            if command == "Z" {
                segments.push(Segment::Close);
                continue;
            }
        } else if command.is_empty() || command == "Z" {
            return Err(format!(
                "\"{}\" stands where a command should",
                crate::datafile::short(word)
            ));
        }
        let mut point = || -> Result<Point, String> {
            Ok(Point {
                x: number(words.next())?,
                y: number(words.next())?,
            })
        };
        let segment = match command {
            "M" => Segment::Move(point()?),
            "L" => Segment::Line(point()?),
            "Q" => Segment::Quad(point()?, point()?),
            _ => Segment::Cubic(point()?, point()?, point()?),
        };
        if segments.is_empty() && command != "M" {
            return Err("a path starts with M".to_owned());
        }
        segments.push(segment);
        // Further pairs after M are lines, as in SVG.
        if command == "M" {
            command = "L";
        }
        if segments.len() > MOST {
            return Err(format!("a path has at most {MOST} commands"));
        }
    }
    if segments.is_empty() {
        return Err("the path is empty".to_owned());
    }
    Ok(segments)
}

/// Reads `x,y x,y x,y` as a closed outline, or says what is wrong with it.
pub(crate) fn parse_points(text: &str) -> Result<Vec<Point>, String> {
    let mut points = Vec::new();
    for pair in text.split_whitespace() {
        let Some((x, y)) = pair.split_once(',') else {
            return Err(format!(
                "\"{}\" is not a point x,y",
                crate::datafile::short(pair)
            ));
        };
        points.push(Point {
            x: number(Some(x))?,
            y: number(Some(y))?,
        });
        if points.len() > MOST {
            return Err(format!("a shape has at most {MOST} points"));
        }
    }
    if points.len() < 3 {
        return Err(format!(
            "{} points do not enclose anything; three are needed",
            points.len()
        ));
    }
    Ok(points)
}

fn number(word: Option<&str>) -> Result<f64, String> {
    let Some(word) = word else {
        return Err("a number is missing at the end".to_owned());
    };
    match word.parse::<f64>() {
        Ok(value) if value.is_finite() && value.abs() <= LARGEST => Ok(value),
        _ => Err(format!(
            "\"{}\" is not a number between -{LARGEST} and {LARGEST}",
            crate::datafile::short(word)
        )),
    }
}

/// Area enclosed, always positive.
pub(crate) fn area(points: &[Point]) -> f64 {
    let mut sum = 0.0;
    let mut last = points.last().copied();
    for point in points {
        if let Some(before) = last {
            sum += before.x * point.y - point.x * before.y;
        }
        last = Some(*point);
    }
    sum.abs() / 2.0
}

/// True where (x, y) lies inside (even-odd rule).
pub(crate) fn inside(points: &[Point], x: f64, y: f64) -> bool {
    let mut within = false;
    let mut last = points.last().copied();
    for point in points {
        if let Some(before) = last
            && (point.y > y) != (before.y > y)
        {
            let cross = before.x + (y - before.y) / (point.y - before.y) * (point.x - before.x);
            if x < cross {
                within = !within;
            }
        }
        last = Some(*point);
    }
    within
}

/// A point well inside: the middle of the longest horizontal run through the shape's middle rows.
pub(crate) fn middle(points: &[Point]) -> Point {
    let low = points.iter().map(|p| p.y).fold(f64::INFINITY, f64::min);
    let high = points.iter().map(|p| p.y).fold(f64::NEG_INFINITY, f64::max);
    let mut best = (
        0.0,
        points.first().copied().unwrap_or(Point { x: 0.0, y: 0.0 }),
    );
    for row in [0.5, 0.4, 0.6, 0.3, 0.7, 0.2, 0.8] {
        // The tiny shift keeps the row off corners.
        let y = low + (high - low) * (row + 0.001_7);
        let mut crossings: Vec<f64> = Vec::new();
        let mut last = points.last().copied();
        for point in points {
            if let Some(before) = last
                && (point.y > y) != (before.y > y)
            {
                crossings
                    .push(before.x + (y - before.y) / (point.y - before.y) * (point.x - before.x));
            }
            last = Some(*point);
        }
        crossings.sort_by(f64::total_cmp);
        for pair in crossings.chunks_exact(2) {
            if let [left, right] = pair
                // Middle rows win over rows a little longer near the edge.
                && (right - left) > best.0 * 1.25
            {
                best = (
                    right - left,
                    Point {
                        x: (left + right) / 2.0,
                        y,
                    },
                );
            }
        }
    }
    best.1
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn reads_paths_and_refuses_others() {
        assert_eq!(
            parse_path("M0,0 L10,0 10,5 Q1,2 3,4 C1 2 3 4 5 6Z")
                .unwrap()
                .len(),
            6
        );
        for bad in [
            "",
            "L1,2",
            "M1",
            "M1,2 A1,2",
            "M1,2 Lx,3",
            "M1,9e9",
            "1,2",
            "M0,0 Z 4,5",
        ] {
            assert!(parse_path(bad).is_err(), "{bad}");
        }
        assert!(parse_points("0,0 1,1").is_err());
        assert!(parse_points("0,0 1,1 2").is_err());
        assert!(parse_points("0,0 1,1 NaN,1").is_err());
    }

    #[test]
    fn an_l_shape_contains_its_middle() {
        let shape = parse_points("0,0 10,0 10,2 2,2 2,10 0,10").unwrap();
        assert_eq!(area(&shape), 36.0);
        let middle = middle(&shape);
        assert!(inside(&shape, middle.x, middle.y));
        assert!(!inside(&shape, 5.0, 5.0));
    }
}
