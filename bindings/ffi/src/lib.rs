//! The one door for every shell: few coarse calls, plain records, typed errors.
//!
//! `DOOR.md` beside this crate shows the whole shape. Nothing is decided here: each call is one call
//! of the core, under one lock; no parallel calls are promised. Rules for shells: call from one
//! background thread; `shut` what you opened, then release the object; a call after `shut` is
//! [`Trouble::Closed`].

#![warn(missing_docs)]

#[cfg(all(target_os = "android", feature = "own-unwinder"))]
use unwinding as _;

mod correct;
mod file;
mod findings;
mod given;
mod handover;
mod meeting;
mod notebook;
mod photo;
mod talk;
mod trouble;
mod walk;

pub use file::Source;
pub use given::*;
pub use notebook::Notebook;
pub use photo::*;
pub use trouble::{Answer, Trouble};

use witnessmark_core::notebook::screens;
use witnessmark_core::notebook::screens::*;

uniffi::setup_scaffolding!("witnessmark");

witnessmark_core::screen_records!();

/// Version of this library.
#[uniffi::export]
pub fn library_version() -> String {
    env!("CARGO_PKG_VERSION").to_owned()
}

/// The first start: three questions.
#[uniffi::export]
pub fn first_start() -> FirstStartView {
    screens::first_start()
}

/// True if the folder holds a notebook.
#[uniffi::export]
pub fn notebook_is_in(folder: String) -> bool {
    file::folder(&folder).is_ok_and(|folder| folder.join("notebook.toml").is_file())
}

/// Purposes of a walkaround, the commonest first.
#[uniffi::export]
pub fn purposes() -> Vec<Choice> {
    screens::purposes()
}

/// Every kind of defect, by title.
#[uniffi::export]
pub fn conditions() -> Vec<ConditionLine> {
    screens::condition_list()
}

/// The kinds of event, by name.
#[uniffi::export]
pub fn events() -> Vec<EventLine> {
    screens::event_list()
}

/// Cuts of a pack, the commonest first.
#[uniffi::export]
pub fn cuts() -> Vec<Choice> {
    screens::cut_choices()
}

/// Why a zone could not be seen or a finding not be checked; other words do as well.
#[uniffi::export]
pub fn not_seen_reasons() -> Vec<Choice> {
    screens::not_seen_reasons()
}

/// How a finding was treated, for `treat`; other words do as well.
#[uniffi::export]
pub fn treatments() -> Vec<Choice> {
    screens::treatments()
}

/// When to look again, for `look_again` and `look_again_zone`; dates and hours do as well.
#[uniffi::export]
pub fn again_choices() -> Vec<Choice> {
    screens::again_choices()
}

/// Kinds of paper, for `take_paper`.
#[uniffi::export]
pub fn paper_kinds() -> Vec<Choice> {
    screens::paper_kinds()
}

/// Checks the notebook in a folder without opening it: works on a damaged one, writes nothing.
///
/// # Errors
/// `NoNotebook`, `Newer`, and those of the machine.
#[uniffi::export]
pub fn verify_folder(folder: String) -> Answer<VerifyView> {
    let world = notebook::world();
    let report = witnessmark_core::notebook::verify_folder(&world, file::folder(&folder)?)?;
    Ok((&report).into())
}

/// Objects of this library that are alive: notebooks and photos at work. For tests of shells.
#[uniffi::export]
pub fn live_objects() -> u64 {
    notebook::live()
}
