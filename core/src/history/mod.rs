//! What was seen of each zone over time, and what got worse.

pub mod again;
pub mod censor;
pub mod compare;
pub mod coverage;
pub mod finding_growth;
pub mod force;
pub mod growth;
mod life;
pub mod meters;
pub mod readings;
pub mod series;
pub mod significance;
pub mod state;
pub mod story;
pub mod trend;
pub mod window;

pub use life::first_seen;
pub mod view;
