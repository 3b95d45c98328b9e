//! Photographs that measure and compare.

pub mod orient;
pub mod progress;

pub use progress::Progress;
pub mod outline;
pub mod plane;
pub mod sure;
pub mod trace;
