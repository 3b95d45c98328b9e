//! What can lie on the plane: damage, parts, and the scale card.

mod card;
mod crack;
mod fasteners;
mod letters;
mod stain;
mod wear;

pub use card::Card;
pub use crack::Crack;
pub use fasteners::{Head, Row, Seam, fastener_row};
pub use letters::Letters;
pub use stain::Stain;
pub use wear::{Bulge, Dent, Scratch, Tone};
