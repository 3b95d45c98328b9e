//! Photographs that measure and compare.

pub mod progress;

pub use progress::Progress;
