//! A pinhole camera with a lens that bends straight lines a little.
//!
//! The scene is the plane z = 0 in millimetres, x to the right and y downwards as seen from the
//! camera, which stands at negative z and looks towards positive z.
//!
//! Pixels: the origin is the top left corner of the picture, x right, y down, and the centre of
//! the first pixel is at (0.5, 0.5).

use crate::geometry::Point;
use nalgebra::{Matrix3, Rotation3, Vector3};

/// Where the camera stands, what its lens does, and what its sensor adds.
#[derive(Clone, Debug)]
pub struct Camera {
    /// Width of the picture in pixels.
    pub width: u32,
    /// Height of the picture in pixels.
    pub height: u32,
    /// Focal length in pixels.
    pub focal: f64,
    /// First and second radial coefficient: an image point at distance r from the axis (in focal
    /// lengths) is moved to r (1 + k1 r^2 + k2 r^4). Brown's model without its tangential part.
    pub bend: [f64; 2],
    /// Position in millimetres.
    pub eye: [f64; 3],
    /// Turns world directions into camera directions (x right, y down, z ahead).
    pub rotation: Rotation3<f64>,
    /// What happens to the light between lens and file.
    pub sensor: Sensor,
}

/// What happens to the light between lens and file.
#[derive(Clone, Debug)]
pub struct Sensor {
    /// Standard deviation in pixels of the blur of lens and focus.
    pub blur: f64,
    /// Movement of the hand during the exposure, in pixels.
    pub shake: Point,
    /// Standard deviation of the noise at mid grey, in steps of 255.
    pub noise: f64,
    /// Mean brightness aimed at, 0 to 1 in linear light; 0.2 is a usual exposure.
    pub exposure: f64,
    /// Gain of red, green and blue.
    pub balance: [f32; 3],
    /// How much darker the corners are, 0 to 1.
    pub vignette: f64,
}

impl Default for Sensor {
    fn default() -> Self {
        Sensor {
            blur: 0.6,
            shake: [0.0, 0.0],
            noise: 1.5,
            exposure: 0.24,
            balance: [1.0, 1.0, 1.0],
            vignette: 0.12,
        }
    }
}

impl Camera {
    /// A phone's main camera (as wide as a 26 mm lens on 36 mm film) that looks at a point of the
    /// plane from a distance in millimetres; `yaw` looks from the right, `pitch` from below, and
    /// `roll` turns the camera, all in degrees.
    pub fn looking_at(
        size: [u32; 2],
        target: Point,
        distance: f64,
        yaw: f64,
        pitch: f64,
        roll: f64,
    ) -> Camera {
        // 26/36 of the longer side: common for phones, no source.
        let focal = 26.0 / 36.0 * f64::from(size[0].max(size[1]));
        // The direction from the target to the eye, starting from straight in front.
        let turn = Rotation3::from_axis_angle(&Vector3::y_axis(), -yaw.to_radians())
            * Rotation3::from_axis_angle(&Vector3::x_axis(), pitch.to_radians());
        let back = turn * Vector3::new(0.0, 0.0, -distance);
        let rolled = Rotation3::from_axis_angle(&Vector3::z_axis(), roll.to_radians());
        Camera {
            width: size[0],
            height: size[1],
            focal,
            bend: [0.0, 0.0],
            eye: [target[0] + back.x, target[1] + back.y, back.z],
            rotation: rolled * turn.inverse(),
            sensor: Sensor::default(),
        }
    }

    /// The distance at which this many millimetres of the plane fill the width of the picture.
    pub fn distance_for(size: [u32; 2], across: f64) -> f64 {
        26.0 / 36.0 * f64::from(size[0].max(size[1])) * across / f64::from(size[0])
    }

    /// Where a point in space (millimetres) lands on the picture, in pixels; `None` behind the
    /// camera or beyond what the lens model can bend.
    pub fn project(&self, at: [f64; 3]) -> Option<Point> {
        let c = self.rotation
            * Vector3::new(
                at[0] - self.eye[0],
                at[1] - self.eye[1],
                at[2] - self.eye[2],
            );
        if c.z <= 1e-6 {
            return None;
        }
        let (x, y) = (c.x / c.z, c.y / c.z);
        let r2 = x * x + y * y;
        let bend = 1.0 + self.bend[0] * r2 + self.bend[1] * r2 * r2;
        let slope = 1.0 + 3.0 * self.bend[0] * r2 + 5.0 * self.bend[1] * r2 * r2;
        if slope <= 0.0 {
            return None;
        }
        Some([
            f64::from(self.width) / 2.0 + self.focal * x * bend,
            f64::from(self.height) / 2.0 + self.focal * y * bend,
        ])
    }

    /// Where a point of the plane lands on the picture.
    pub fn to_pixel(&self, plane: Point) -> Option<Point> {
        self.project([plane[0], plane[1], 0.0])
    }

    /// The direction of the ray through a place of the picture, in world axes, unscaled.
    pub fn ray(&self, pixel: Point) -> Vector3<f64> {
        let x = (pixel[0] - f64::from(self.width) / 2.0) / self.focal;
        let y = (pixel[1] - f64::from(self.height) / 2.0) / self.focal;
        let bent = (x * x + y * y).sqrt();
        // Newton's method for the radius that the lens bends to `bent`.
        let mut r = bent;
        if self.bend != [0.0, 0.0] {
            let b2 = bent * bent;
            r = bent * (1.0 - self.bend[0] * b2 - self.bend[1] * b2 * b2);
            for _ in 0..3 {
                let r2 = r * r;
                let value = r * (1.0 + self.bend[0] * r2 + self.bend[1] * r2 * r2) - bent;
                let slope = 1.0 + 3.0 * self.bend[0] * r2 + 5.0 * self.bend[1] * r2 * r2;
                r -= value / slope.max(0.1);
            }
        }
        let k = if bent > 0.0 { r / bent } else { 1.0 };
        self.rotation.inverse() * Vector3::new(x * k, y * k, 1.0)
    }

    /// The point of the plane seen at a place of the picture; `None` above its horizon.
    pub fn to_plane(&self, pixel: Point) -> Option<Point> {
        let ray = self.ray(pixel);
        if ray.z <= 1e-9 {
            return None;
        }
        let t = -self.eye[2] / ray.z;
        Some([self.eye[0] + t * ray.x, self.eye[1] + t * ray.y])
    }

    /// The homography from the plane (mm) to the picture (px) as it would be with a perfect lens.
    pub fn homography(&self) -> Matrix3<f64> {
        let k = Matrix3::new(
            self.focal,
            0.0,
            f64::from(self.width) / 2.0,
            0.0,
            self.focal,
            f64::from(self.height) / 2.0,
            0.0,
            0.0,
            1.0,
        );
        let r = self.rotation.matrix();
        let t = -(r * Vector3::new(self.eye[0], self.eye[1], self.eye[2]));
        k * Matrix3::from_columns(&[r.column(0).into_owned(), r.column(1).into_owned(), t])
    }

    /// Whether a place lies on the picture, at least `margin` pixels from its edges.
    pub fn sees(&self, pixel: Point, margin: f64) -> bool {
        pixel[0] >= margin
            && pixel[1] >= margin
            && pixel[0] <= f64::from(self.width) - margin
            && pixel[1] <= f64::from(self.height) - margin
    }
}
