//! Points, paths and shapes on the plane, in millimetres (or in pixels where said).

/// A point: x to the right, y downwards.
pub type Point = [f64; 2];

/// Distance between two points.
pub fn apart(a: Point, b: Point) -> f64 {
    // Not `hypot`: that guards against numbers that no scene has, and takes ten times as long.
    let (x, y) = (a[0] - b[0], a[1] - b[1]);
    (x * x + y * y).sqrt()
}

/// A point between two others: `a` at 0, `b` at 1.
pub fn between(a: Point, b: Point, t: f64) -> Point {
    [a[0] + (b[0] - a[0]) * t, a[1] + (b[1] - a[1]) * t]
}

/// Turns a vector by an angle in radians (positive turns x towards y: clockwise on the picture).
pub fn turned(v: Point, angle: f64) -> Point {
    if angle == 0.0 {
        return v;
    }
    let (s, c) = angle.sin_cos();
    [c * v[0] - s * v[1], s * v[0] + c * v[1]]
}

/// Length of a path of straight pieces.
pub fn path_length(path: &[Point]) -> f64 {
    path.windows(2).map(|w| apart(w[0], w[1])).sum()
}

/// Area inside a closed polygon (shoelace formula), never negative.
pub fn polygon_area(points: &[Point]) -> f64 {
    let mut twice = 0.0;
    for (i, a) in points.iter().enumerate() {
        let b = points[(i + 1) % points.len()];
        twice += a[0] * b[1] - b[0] * a[1];
    }
    (twice / 2.0).abs()
}

/// Distance from a point to a segment, and where on the segment (0 to 1) the nearest point lies.
pub fn to_segment(p: Point, a: Point, b: Point) -> (f64, f64) {
    let d = [b[0] - a[0], b[1] - a[1]];
    let long = d[0] * d[0] + d[1] * d[1];
    let t = if long > 0.0 {
        (((p[0] - a[0]) * d[0] + (p[1] - a[1]) * d[1]) / long).clamp(0.0, 1.0)
    } else {
        0.0
    };
    (apart(p, between(a, b, t)), t)
}

/// A smooth path through the given points (Catmull-Rom), in steps of about `step`.
pub fn smooth(points: &[Point], step: f64) -> Vec<Point> {
    let n = points.len();
    if n < 3 {
        return points.to_vec();
    }
    let at = |i: i64| points[i.clamp(0, n as i64 - 1) as usize];
    let mut out = vec![points[0]];
    for i in 0..n as i64 - 1 {
        let (p0, p1, p2, p3) = (at(i - 1), at(i), at(i + 1), at(i + 2));
        let pieces = (apart(p1, p2) / step).ceil().max(1.0) as usize;
        for k in 1..=pieces {
            let t = k as f64 / pieces as f64;
            let mut p = [0.0; 2];
            for (axis, slot) in p.iter_mut().enumerate() {
                let (a, b, c, d) = (p0[axis], p1[axis], p2[axis], p3[axis]);
                *slot = 0.5
                    * (2.0 * b
                        + (c - a) * t
                        + (2.0 * a - 5.0 * b + 4.0 * c - d) * t * t
                        + (3.0 * b - a - 3.0 * c + d) * t * t * t);
            }
            out.push(p);
        }
    }
    out
}

/// The part of a path from its start up to this length.
pub fn first_part(path: &[Point], length: f64) -> Vec<Point> {
    let mut out: Vec<Point> = path.first().copied().into_iter().collect();
    let mut gone = 0.0;
    for w in path.windows(2) {
        let step = apart(w[0], w[1]);
        if gone + step >= length {
            let t = if step > 0.0 {
                (length - gone) / step
            } else {
                0.0
            };
            out.push(between(w[0], w[1], t));
            return out;
        }
        gone += step;
        out.push(w[1]);
    }
    out
}

/// A box that holds something, in millimetres.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bounds {
    /// Left, top.
    pub low: Point,
    /// Right, bottom.
    pub high: Point,
}

impl Bounds {
    /// No end anywhere.
    pub const EVERYWHERE: Bounds = Bounds {
        low: [f64::NEG_INFINITY; 2],
        high: [f64::INFINITY; 2],
    };

    /// The smallest box around these points.
    pub fn around(points: &[Point]) -> Bounds {
        let mut b = Bounds {
            low: [f64::INFINITY; 2],
            high: [f64::NEG_INFINITY; 2],
        };
        for p in points {
            b.low = [b.low[0].min(p[0]), b.low[1].min(p[1])];
            b.high = [b.high[0].max(p[0]), b.high[1].max(p[1])];
        }
        b
    }

    /// The same box, larger by a margin on every side.
    pub fn grown(self, margin: f64) -> Bounds {
        Bounds {
            low: [self.low[0] - margin, self.low[1] - margin],
            high: [self.high[0] + margin, self.high[1] + margin],
        }
    }

    /// Whether two boxes touch.
    pub fn touches(&self, other: &Bounds) -> bool {
        (0..2).all(|i| self.low[i] <= other.high[i] && other.low[i] <= self.high[i])
    }

    /// Whether a point lies inside.
    pub fn holds(&self, p: Point) -> bool {
        (0..2).all(|i| self.low[i] <= p[i] && p[i] <= self.high[i])
    }
}

/// An outline given by its signed distance: negative inside.
#[derive(Clone, Debug)]
pub enum Shape {
    /// The whole plane.
    Everywhere,
    /// Everything on the side of `at` that `outward` (of length 1) points away from.
    Half {
        /// A point of the edge.
        at: Point,
        /// Points out of the shape.
        outward: Point,
    },
    /// A disc.
    Disc {
        /// Centre.
        centre: Point,
        /// Radius.
        radius: f64,
    },
    /// A ring.
    Ring {
        /// Centre.
        centre: Point,
        /// Radius of the middle of the ring.
        radius: f64,
        /// Half of its width.
        half: f64,
    },
    /// A rectangle with rounded corners, turned about its centre.
    Plate {
        /// Centre.
        centre: Point,
        /// Half width and half height.
        half: Point,
        /// Radius of the corners.
        corner: f64,
        /// Turn in radians.
        turn: f64,
    },
    /// A closed polygon with its corners rounded by growing it.
    Polygon {
        /// Its outline.
        line: Line,
        /// Radius by which it is grown.
        grow: f64,
    },
    /// A line of this half width along a path.
    Stroke {
        /// The path.
        line: Line,
        /// Half of its width.
        half: f64,
    },
}

/// A path in pieces, each with its box, so that the nearest part is found quickly.
#[derive(Clone, Debug)]
pub struct Line {
    points: Vec<Point>,
    pieces: Vec<(Bounds, usize, usize)>,
}

const PIECE: usize = 10;

impl Line {
    /// A path, joined to its start if `closed`.
    pub fn new(mut points: Vec<Point>, closed: bool) -> Line {
        if closed {
            points.extend(points.first().copied());
        }
        let mut pieces = Vec::new();
        let mut first = 0;
        while first + 1 < points.len() {
            let end = (first + PIECE).min(points.len() - 1);
            pieces.push((Bounds::around(&points[first..=end]), first, end));
            first = end;
        }
        Line { points, pieces }
    }

    /// Distance to the path and its nearest point.
    fn nearest(&self, p: Point) -> (f64, Point) {
        let mut best = (f64::INFINITY, p);
        let beyond = |bounds: &Bounds| {
            let [x, y] = [0, 1].map(|k| (bounds.low[k] - p[k]).max(p[k] - bounds.high[k]).max(0.0));
            x * x + y * y
        };
        // The piece whose box is nearest goes first, so that most others need no look.
        let mut start = (f64::INFINITY, 0);
        for (i, (bounds, ..)) in self.pieces.iter().enumerate() {
            let d = beyond(bounds);
            if d < start.0 {
                start = (d, i);
            }
        }
        let order =
            std::iter::once(start.1).chain((0..self.pieces.len()).filter(|i| *i != start.1));
        for (bounds, first, end) in order.filter_map(|i| self.pieces.get(i)) {
            if beyond(bounds) >= best.0 {
                continue;
            }
            for w in self.points[*first..=*end].windows(2) {
                let d = [w[1][0] - w[0][0], w[1][1] - w[0][1]];
                let long = d[0] * d[0] + d[1] * d[1];
                let along = (p[0] - w[0][0]) * d[0] + (p[1] - w[0][1]) * d[1];
                let t = (along / long.max(1e-300)).clamp(0.0, 1.0);
                let on = [w[0][0] + t * d[0], w[0][1] + t * d[1]];
                let (x, y) = (p[0] - on[0], p[1] - on[1]);
                let square = x * x + y * y;
                if square < best.0 {
                    best = (square, on);
                }
            }
        }
        (best.0.sqrt(), best.1)
    }

    /// Whether a point lies inside the closed path (a ray to the right crosses it oddly often).
    fn encloses(&self, p: Point) -> bool {
        let mut inside = false;
        for (bounds, first, end) in &self.pieces {
            if p[1] < bounds.low[1] || p[1] > bounds.high[1] || p[0] > bounds.high[0] {
                continue;
            }
            for w in self.points[*first..=*end].windows(2) {
                let (a, b) = (w[0], w[1]);
                if (a[1] > p[1]) != (b[1] > p[1])
                    && p[0] < (b[0] - a[0]) * (p[1] - a[1]) / (b[1] - a[1]) + a[0]
                {
                    inside = !inside;
                }
            }
        }
        inside
    }
}

impl Shape {
    /// A closed polygon, grown by a radius.
    pub fn polygon(points: Vec<Point>, grow: f64) -> Shape {
        Shape::Polygon {
            line: Line::new(points, true),
            grow,
        }
    }

    /// A line of this half width along a path.
    pub fn stroke(points: Vec<Point>, half: f64) -> Shape {
        Shape::Stroke {
            line: Line::new(points, false),
            half,
        }
    }

    /// Signed distance from the outline, negative inside.
    pub fn distance(&self, p: Point) -> f64 {
        match self {
            Shape::Everywhere => f64::NEG_INFINITY,
            Shape::Half { at, outward } => {
                (p[0] - at[0]) * outward[0] + (p[1] - at[1]) * outward[1]
            }
            Shape::Disc { centre, radius } => apart(p, *centre) - radius,
            Shape::Ring {
                centre,
                radius,
                half,
            } => (apart(p, *centre) - radius).abs() - half,
            Shape::Plate {
                centre,
                half,
                corner,
                turn,
            } => {
                let q = turned([p[0] - centre[0], p[1] - centre[1]], -turn);
                let d = [q[0].abs() - half[0] + corner, q[1].abs() - half[1] + corner];
                apart([d[0].max(0.0), d[1].max(0.0)], [0.0, 0.0]) + d[0].max(d[1]).min(0.0) - corner
            }
            Shape::Polygon { line, grow } => {
                let (d, _) = line.nearest(p);
                (if line.encloses(p) { -d } else { d }) - grow
            }
            Shape::Stroke { line, half } => line.nearest(p).0 - half,
        }
    }

    /// The direction in which the distance grows, of length about 1.
    pub fn outward(&self, p: Point) -> Point {
        if let Shape::Polygon { line, .. } | Shape::Stroke { line, .. } = self {
            let (d, on) = line.nearest(p);
            let sign = match self {
                Shape::Polygon { .. } if line.encloses(p) => -1.0,
                _ => 1.0,
            };
            return if d > 0.0 {
                [sign * (p[0] - on[0]) / d, sign * (p[1] - on[1]) / d]
            } else {
                [0.0, 0.0]
            };
        }
        let e = 0.01;
        let dx = self.distance([p[0] + e, p[1]]) - self.distance([p[0] - e, p[1]]);
        let dy = self.distance([p[0], p[1] + e]) - self.distance([p[0], p[1] - e]);
        let long = dx.hypot(dy);
        if long > 0.0 && long.is_finite() {
            [dx / long, dy / long]
        } else {
            [0.0, 0.0]
        }
    }

    /// A box that holds the shape.
    pub fn bounds(&self) -> Bounds {
        match self {
            Shape::Everywhere | Shape::Half { .. } => Bounds::EVERYWHERE,
            Shape::Disc { centre, radius } => Bounds::around(&[*centre]).grown(*radius),
            Shape::Ring {
                centre,
                radius,
                half,
            } => Bounds::around(&[*centre]).grown(radius + half),
            Shape::Plate { centre, half, .. } => {
                Bounds::around(&[*centre]).grown(half[0].hypot(half[1]))
            }
            Shape::Polygon { line, grow } => Bounds::around(&line.points).grown(*grow),
            Shape::Stroke { line, half } => Bounds::around(&line.points).grown(*half),
        }
    }
}
