//! Kinds of defect: how each is measured, and which published scale classifies it.
//!
//! Each condition is one file in `core/conditions`, each published scale one in
//! `core/conditions/scales`; the ways to measure stand together in `core/conditions/_methods.toml`.
//! Nothing here is a limit of ours: scales are a document's words, refused where its terms are not met.
//!
//! Pure: no files, no clock.

mod event;
mod load;
mod scale;
#[cfg(test)]
mod tests;
mod types;

pub use event::{Event, EventPlace};
pub use scale::{Classed, NotClassed, Scale, ScaleFacts};
pub use types::{Ask, Condition, Conditions, Method, QuantitySpec, Step, Takes, WorseWhen};
