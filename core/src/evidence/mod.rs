//! Files taken in: what they are, when they were made, whether they are whole, where they are kept.

pub mod store;
