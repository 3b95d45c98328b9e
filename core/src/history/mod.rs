//! What was seen of each zone over time, and what got worse.

pub mod significance;
