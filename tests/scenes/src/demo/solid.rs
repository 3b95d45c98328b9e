//! Solid bodies made of triangles, for the overall views: drawn four times with the grid moved by
//! parts of a pixel, each time with a depth buffer, over a ground and a sky.

use crate::camera::Camera;
use crate::geometry::Point;

/// A point or direction in space, metres; which axes is said where it is used.
pub type P3 = [f64; 3];

/// A corner of a triangle.
#[derive(Clone, Copy, Debug)]
pub struct Corner {
    /// Place in the world of the camera, in metres: x right, y down, z away from the viewer.
    pub at: P3,
    /// Direction straight out of the surface.
    pub normal: P3,
    /// The same place in the axes of the aircraft, for its paint.
    pub own: P3,
}

/// A triangle of one part.
#[derive(Clone, Copy, Debug)]
pub struct Triangle {
    /// Its corners.
    pub corners: [Corner; 3],
    /// Number of the part, for its paint.
    pub part: u8,
}

/// `a` minus `b`.
pub fn minus(a: P3, b: P3) -> P3 {
    [a[0] - b[0], a[1] - b[1], a[2] - b[2]]
}

/// Cross product.
pub fn cross(a: P3, b: P3) -> P3 {
    [
        a[1] * b[2] - a[2] * b[1],
        a[2] * b[0] - a[0] * b[2],
        a[0] * b[1] - a[1] * b[0],
    ]
}

/// Dot product.
pub fn dot(a: P3, b: P3) -> f64 {
    a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
}

/// Of length 1.
pub fn unit(a: P3) -> P3 {
    let k = dot(a, a).sqrt().max(1e-12);
    [a[0] / k, a[1] / k, a[2] / k]
}

/// Triangles of a skin spanned over rings of points, with smooth normals; `closed` joins the last
/// point of each ring to its first. `to_world` places the aircraft before the camera.
pub fn skin(
    rings: &[Vec<P3>],
    closed: bool,
    part: u8,
    to_world: &dyn Fn(P3) -> P3,
    out: &mut Vec<Triangle>,
) {
    let n = rings.first().map_or(0, Vec::len);
    if n < 2 || rings.iter().any(|r| r.len() != n) {
        return;
    }
    let last = if closed { n } else { n - 1 };
    let world: Vec<Vec<P3>> = rings
        .iter()
        .map(|r| r.iter().map(|p| to_world(*p)).collect())
        .collect();
    let mut normals = vec![vec![[0.0; 3]; n]; rings.len()];
    let mut faces = Vec::new();
    for i in 0..rings.len() - 1 {
        for j in 0..last {
            let k = (j + 1) % n;
            for face in [
                [(i, j), (i + 1, j), (i, k)],
                [(i, k), (i + 1, j), (i + 1, k)],
            ] {
                let [a, b, c] = face.map(|(r, s)| world[r][s]);
                let normal = cross(minus(b, a), minus(c, a));
                for (r, s) in face {
                    for (slot, v) in normals[r][s].iter_mut().zip(normal) {
                        *slot += v;
                    }
                }
                faces.push(face);
            }
        }
    }
    for face in faces {
        out.push(Triangle {
            corners: face.map(|(r, s)| Corner {
                at: world[r][s],
                normal: unit(normals[r][s]),
                own: rings[r][s],
            }),
            part,
        });
    }
}

/// What covers a pixel: depth and where on which triangle.
#[derive(Clone, Copy)]
pub struct Hit {
    /// Index of the triangle.
    pub triangle: u32,
    /// Weights of its second and third corner.
    pub weights: [f32; 2],
}

/// The nearest triangle at every pixel, with the grid moved by `shift` (in pixels).
pub fn cover(triangles: &[Triangle], camera: &Camera, shift: Point) -> Vec<Option<Hit>> {
    let (w, h) = (camera.width as i64, camera.height as i64);
    let mut depth = vec![f32::INFINITY; (w * h) as usize];
    let mut hits: Vec<Option<Hit>> = vec![None; (w * h) as usize];
    for (index, triangle) in triangles.iter().enumerate() {
        let mut p = [[0.0; 2]; 3];
        let mut far = [0.0; 3];
        let mut behind = false;
        for (i, corner) in triangle.corners.iter().enumerate() {
            let Some(q) = camera.project(corner.at) else {
                behind = true;
                break;
            };
            p[i] = [q[0] - shift[0], q[1] - shift[1]];
            far[i] = dot(minus(corner.at, camera.eye), minus(corner.at, camera.eye)).sqrt();
        }
        let area =
            (p[1][0] - p[0][0]) * (p[2][1] - p[0][1]) - (p[2][0] - p[0][0]) * (p[1][1] - p[0][1]);
        if behind || area.abs() < 1e-9 {
            continue;
        }
        let low = |k: usize| p.iter().map(|q| q[k]).fold(f64::INFINITY, f64::min);
        let high = |k: usize| p.iter().map(|q| q[k]).fold(f64::NEG_INFINITY, f64::max);
        let (x0, x1) = (
            (low(0) - 0.5).floor().max(0.0) as i64,
            (high(0).ceil() as i64).min(w - 1),
        );
        let (y0, y1) = (
            (low(1) - 0.5).floor().max(0.0) as i64,
            (high(1).ceil() as i64).min(h - 1),
        );
        for y in y0..=y1 {
            for x in x0..=x1 {
                let q = [x as f64 + 0.5, y as f64 + 0.5];
                let side = |a: Point, b: Point| {
                    (b[0] - a[0]) * (q[1] - a[1]) - (b[1] - a[1]) * (q[0] - a[0])
                };
                let u = side(p[2], p[0]) / area;
                let v = side(p[0], p[1]) / area;
                if u < 0.0 || v < 0.0 || u + v > 1.0 {
                    continue;
                }
                // Weights in space, not on the picture.
                let inv = [(1.0 - u - v) / far[0], u / far[1], v / far[2]];
                let sum = inv[0] + inv[1] + inv[2];
                let z = (1.0 / sum) as f32;
                let slot = (y * w + x) as usize;
                if z < depth[slot] {
                    depth[slot] = z;
                    hits[slot] = Some(Hit {
                        triangle: index as u32,
                        weights: [(inv[1] / sum) as f32, (inv[2] / sum) as f32],
                    });
                }
            }
        }
    }
    hits
}

/// The place a hit lies at.
pub fn place(triangle: &Triangle, hit: &Hit) -> Corner {
    let (u, v) = (f64::from(hit.weights[0]), f64::from(hit.weights[1]));
    let mix = |get: &dyn Fn(&Corner) -> P3| {
        let [a, b, c] = [0, 1, 2].map(|i| get(&triangle.corners[i]));
        [0, 1, 2].map(|k| (1.0 - u - v) * a[k] + u * b[k] + v * c[k])
    };
    Corner {
        at: mix(&|c| c.at),
        normal: unit(mix(&|c| c.normal)),
        own: mix(&|c| c.own),
    }
}
