//! What was seen of each zone over time, and what got worse.

pub mod force;
mod life;
pub mod significance;
pub mod state;
pub mod trend;
pub mod window;

pub use life::first_seen;
pub mod view;
