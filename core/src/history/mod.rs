//! What was seen of each zone over time, and what got worse.

pub mod force;
mod life;
pub mod state;

pub use life::first_seen;
