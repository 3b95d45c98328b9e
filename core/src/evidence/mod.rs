//! Files taken in: what they are, when they were made, whether they are whole, where they are kept.

mod clocks;
mod examine;
mod exif;
mod heic;
mod hint;
#[cfg(test)]
mod hostile;
mod jpeg;
pub mod limits;
mod media;
pub mod picture;
mod raster;
#[cfg(test)]
mod samples;
mod sniff;
mod sound;
mod source;
pub mod store;

pub use examine::{Complete, Examined, Seen, examine};
pub use exif::{Camera, Gps};
pub use hint::Hint;
pub use media::Media;
pub use sniff::sniff;
