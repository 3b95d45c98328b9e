//! Draws photographs whose truth is known: for tests, benchmarks and the demo, never for the
//! library itself. A tool of proof ships no forger, so every file made here says in its EXIF that
//! it is drawn.
//!
//! A [`scene::Scene`] is a plane in millimetres with what lies on it; [`camera::Camera`] looks at
//! it; [`scene::Scene::render`] gives the picture with its [`truth::Truth`]. Pixels count from the
//! top left corner of the upright picture, x right, y down; the centre of the first pixel is at
//! (0.5, 0.5).
//!
//! ```
//! use witnessmark_scenes::random_scenes::{card_setup, TEST_SIZE};
//! let setup = card_setup(7, TEST_SIZE);
//! let truth = setup.truth(); // without drawing
//! assert_eq!(truth.cards[0].size_mm, [85.60, 53.98]);
//! ```
#![warn(missing_docs)]
#![cfg_attr(test, allow(clippy::unwrap_used, clippy::expect_used, clippy::panic))]

pub mod camera;
pub mod demo;
pub mod exif;
pub mod geometry;
pub mod jpeg;
pub mod light;
pub mod marks;
pub mod noise;
pub mod random;
pub mod random_scenes;
pub mod random_views;
mod render;
pub mod scene;
pub mod surface;
pub mod truth;

pub use camera::Camera;
pub use exif::Exif;
pub use jpeg::{encode_jpeg, make_large_jpeg};
pub use random_scenes::{
    Setup, TEST_SIZE, random_card_scene, random_crack_scene, random_stain_scene,
};
pub use random_views::{ViewPair, impostor_pair, random_view_pair, sharpness_pair};
pub use scene::{Rendered, Scene};
pub use truth::Truth;
