//! What was seen of each zone over time, and what got worse.

pub mod censor;
pub mod force;
pub mod growth;
mod life;
pub mod series;
pub mod significance;
pub mod state;
pub mod trend;
pub mod window;

pub use life::first_seen;
pub mod view;
