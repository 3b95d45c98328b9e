//! Every rule of Witnessmark: what a record line is, where a zone is, when two measures may be
//! compared, how a photograph measures. Shells (a terminal, a phone) call [`notebook`] and show
//! what comes back.
//!
//! Data flows one way: a shell calls `notebook`, `evidence` takes the file, `record` appends the
//! entry, `index` follows the record, `history` reads the index, `report` and `pack` read history.
//! `speech`, `photo`, `layout`, `condition` and `quantity` are pure: no files, no clock, no database.

#![warn(missing_docs)]
#![cfg_attr(test, allow(clippy::unwrap_used, clippy::expect_used, clippy::panic))]

pub mod condition;
pub mod datafile;
pub mod error;
pub mod evidence;
pub mod history;
pub mod index;
pub mod layout;
pub mod notebook;
pub mod pack;
pub mod photo;
pub mod quantity;
pub mod record;
pub mod report;
pub mod sources;
pub mod speech;
pub mod stoppable;
pub mod world;

pub use error::{Error, ErrorClass, ErrorKind, Result, without_commands};
