//! One file a family of commands: arguments, one call to the core, what is printed.

pub mod aircraft;
pub mod capture;
pub mod correct;
pub mod demo;
pub mod event;
pub mod finding;
pub mod growth;
pub mod hear;
pub mod history;
pub mod lay;
pub mod layout;
pub mod measure;
pub mod meter;
pub mod notebook;
pub mod pack;
pub mod proof;
pub mod report;
pub mod say;
pub mod sheet;
pub mod walk;

#[cfg(feature = "store")]
pub mod fleet;
#[cfg(feature = "store")]
pub mod store;
