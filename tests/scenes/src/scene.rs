//! A scene: a plane with what lies on it, and the light; builds the picture and its truth.

use crate::camera::Camera;
use crate::geometry::{Point, Shape, apart, path_length, polygon_area};
use crate::light::Light;
use crate::marks::{Card, Crack, Stain};
use crate::render;
use crate::surface::{Area, Mark, Material};
use crate::truth::{CardTruth, CrackTruth, LengthTruth, StainTruth, Truth, rows};
use std::sync::Arc;

/// A plane with what lies on it, from the bottom up.
#[derive(Clone, Default)]
pub struct Scene {
    pub(crate) layers: Vec<Arc<dyn Mark>>,
    /// The light.
    pub light: Light,
    cards: Vec<Card>,
    cracks: Vec<Crack>,
    stains: Vec<Stain>,
    lengths: Vec<Vec<Point>>,
}

/// A picture and what is known about it.
#[derive(Clone, Debug)]
pub struct Rendered {
    /// The upright picture, sRGB.
    pub rgb: image::RgbImage,
    /// What is known about it.
    pub truth: Truth,
}

impl Scene {
    /// A plane of one material.
    pub fn of(material: Material, seed: u64) -> Scene {
        Scene::default().with(Area::flat(Shape::Everywhere, material, seed))
    }

    /// Lays something on top.
    pub fn with(mut self, mark: impl Mark + 'static) -> Scene {
        self.lay(mark);
        self
    }

    /// Lays something on top.
    pub fn lay(&mut self, mark: impl Mark + 'static) {
        self.layers.push(Arc::new(mark));
    }

    /// Lays a scale card on top and remembers its corners.
    pub fn card(mut self, card: Card) -> Scene {
        self.lay(card.clone());
        self.cards.push(card);
        self
    }

    /// Draws a crack and remembers its course.
    pub fn crack(mut self, crack: Crack) -> Scene {
        self.lay(crack.clone());
        self.cracks.push(crack);
        self
    }

    /// Draws a stain and remembers its outline.
    pub fn stain(mut self, stain: Stain) -> Scene {
        self.lay(stain.clone());
        self.stains.push(stain);
        self
    }

    /// Remembers a length on the plane without drawing anything.
    pub fn length(mut self, path: Vec<Point>) -> Scene {
        self.lengths.push(path);
        self
    }

    /// Sets the light.
    pub fn lit(mut self, light: Light) -> Scene {
        self.light = light;
        self
    }

    /// What is known about a picture by this camera, without drawing it.
    pub fn truth(&self, camera: &Camera) -> Truth {
        let all = |path: &[Point]| -> Vec<Point> {
            path.iter().filter_map(|p| camera.to_pixel(*p)).collect()
        };
        let cards = self
            .cards
            .iter()
            .filter_map(|card| {
                let corners_mm = card.corners();
                let mut corners_px = [[0.0; 2]; 4];
                for (slot, mm) in corners_px.iter_mut().zip(corners_mm) {
                    *slot = camera.project([mm[0], mm[1], -card.lift])?;
                }
                Some(CardTruth {
                    corners_px,
                    corners_mm,
                    size_mm: Card::SIZE,
                    lift_mm: card.lift,
                    whole: corners_px.iter().all(|p| camera.sees(*p, 0.0)),
                })
            })
            .collect();
        let cracks = self
            .cracks
            .iter()
            .map(|crack| {
                let polyline_px = all(&crack.path);
                CrackTruth {
                    length_px: path_length(&polyline_px),
                    polyline_px,
                    polyline_mm: crack.path.clone(),
                    length_mm: path_length(&crack.path),
                    width_mm: crack.width,
                }
            })
            .collect();
        let stains = self
            .stains
            .iter()
            .filter_map(|stain| {
                let polygon_mm = stain.outline(720);
                let polygon_px = all(&polygon_mm);
                Some(StainTruth {
                    middle_px: camera.to_pixel(stain.centre)?,
                    area_px: polygon_area(&polygon_px),
                    polygon_px,
                    area_mm2: polygon_area(&polygon_mm),
                    polygon_mm,
                })
            })
            .collect();
        let lengths = self
            .lengths
            .iter()
            .map(|path| LengthTruth {
                path_px: all(path),
                path_mm: path.clone(),
                length_mm: path_length(path),
            })
            .collect();
        let middle = [
            f64::from(camera.width) / 2.0,
            f64::from(camera.height) / 2.0,
        ];
        let px_per_mm = match (
            camera.to_plane(middle),
            camera.to_plane([middle[0] + 1.0, middle[1]]),
        ) {
            (Some(a), Some(b)) => 1.0 / apart(a, b).max(1e-12),
            _ => 0.0,
        };
        let sensor = &camera.sensor;
        Truth {
            size: [camera.width, camera.height],
            cards,
            cracks,
            stains,
            lengths,
            plane_to_px: rows(&camera.homography()),
            bend: camera.bend,
            blur_px: sensor.blur,
            sharp: sensor.blur < 1.2 && sensor.shake[0].hypot(sensor.shake[1]) < 2.0,
            px_per_mm,
        }
    }

    /// Draws the picture. The seed decides the noise of the sensor alone.
    pub fn render(&self, camera: &Camera, seed: u64) -> Rendered {
        Rendered {
            rgb: render::picture(self, camera, seed),
            truth: self.truth(camera),
        }
    }
}
