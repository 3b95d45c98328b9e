//! Many aircraft, many phones: notebooks meet in an object store, and questions over a whole fleet
//! run on engines that people already have.
//!
//! There is no server code and no database here. [`Bucket`] drives an S3 store through the same steps
//! as a shared folder ([`witnessmark_core::pack::exchange`]); [`fleet`] writes one row a sighting and
//! one a look as Parquet. Keys of a store are never in a notebook: they come from the environment's
//! usual names ([`Address`]). Nothing relies on a store refusing to overwrite: [`probe`] asks and says.

#![warn(missing_docs)]
#![cfg_attr(test, allow(clippy::unwrap_used, clippy::expect_used, clippy::panic))]

mod address;
mod bucket;
pub mod fleet;
mod policy;
mod probe;
mod trouble;

pub use address::Address;
pub use bucket::Bucket;
pub use policy::policy;
pub use probe::{Probed, Puts, probe};
