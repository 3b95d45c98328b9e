//! What the close-ups share: colours, backgrounds, and short ways to outlines.

use crate::geometry::{Bounds, Point, Shape, smooth};
use crate::scene::Scene;
use crate::surface::{Material, Specks};

/// White of the aircraft.
pub(super) const WHITE: [f32; 3] = [0.70, 0.70, 0.68];
/// Its blue.
pub(super) const BLUE: [f32; 3] = [0.035, 0.12, 0.34];
/// Its red.
pub(super) const RED: [f32; 3] = [0.50, 0.045, 0.04];
/// The grey of the scale card.
pub(super) const CARD: [f32; 3] = [0.62, 0.64, 0.60];
/// An apron, out of focus.
pub(super) const APRON: Material = Material::Distant([0.20, 0.19, 0.18], [0.30, 0.29, 0.27]);
/// A meadow, out of focus.
pub(super) const MEADOW: Material = Material::Distant([0.06, 0.10, 0.03], [0.15, 0.20, 0.07]);

/// A closed smooth outline.
pub(super) fn closed(points: &[Point]) -> Shape {
    Shape::polygon(smooth(points, 12.0), 0.0)
}

/// A rectangle with rounded corners.
pub(super) fn plate(centre: Point, half: Point, corner: f64, turn: f64) -> Shape {
    Shape::Plate {
        centre,
        half,
        corner,
        turn,
    }
}

/// A smooth line of this half width.
pub(super) fn stroke(points: &[Point], half: f64) -> Shape {
    Shape::stroke(smooth(points, 6.0), half)
}

/// Small dirt all over.
pub(super) fn grime(scene: &mut Scene, share: f64, seed: u64) {
    scene.lay(Specks {
        region: Bounds::around(&[[0.0, 0.0]]).grown(500.0),
        cell: 4.0,
        share,
        radius: [0.10, 0.5],
        colour: [0.08, 0.065, 0.05],
        strength: 0.6,
        seed,
    });
}
