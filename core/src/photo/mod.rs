//! Photographs that measure and compare.

// `!(x > 0.0)` is meant as it stands: it also refuses what is not a number.
#![allow(clippy::neg_cmp_op_on_partial_ord)]

pub mod annotate;
pub mod area;
pub mod corners;
pub mod decode;
pub mod edges;
pub mod geometry;
#[cfg(test)]
mod intake_tests;
pub mod lay;
pub mod length;
pub mod lettering;
pub mod marks;
pub mod measurement;
mod mixed;
pub mod nearly;
pub mod orient;
pub mod outline;
pub mod plane;
pub mod preview;
pub mod progress;
pub mod quality;
pub mod scale;
pub mod sheet;
mod shrink;

pub mod sure;
pub mod targets;
pub mod trace;
pub mod uncertainty;
pub mod work;

pub use area::measure_area;
pub use decode::{Decoded, Limits};
pub use length::measure_length;
pub use marks::Marks;
pub use measurement::{Measurement, Options, Picture, ScaleTaps};
pub use preview::{Intake, Odd, Preview, View, intake};
pub use progress::Progress;
pub use work::{Drawn, Shown, on_photo, repeat};
