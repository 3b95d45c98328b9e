//! What each screen of a shell shows, in the order and the words in which it shows it, so that two
//! shells cannot differ. Rules of showing live here; shells and the door only carry.

mod captures;
mod events;
mod findings;
mod handover;
mod readings;
mod records;
mod start;
mod walk;

pub use captures::{draft_of, draft_view, heard};
pub use events::event_list;
pub use handover::cut_choices;
pub use records::*;
pub use start::{
    again_choices, condition_list, first_start, layout_choices, not_seen_reasons, paper_kinds,
    purposes, treatments,
};

use crate::error::{Error, ErrorKind, Result};
use crate::layout::{Layout, Route, Stop};
use crate::record::Digest;

/// Reads a digest that a shell hands back.
///
/// # Errors
/// `BadValue` for anything but 64 hexadecimal digits.
pub fn digest(text: &str, what: &str) -> Result<Digest> {
    text.parse().map_err(|_| {
        let shown: String = text.chars().take(20).collect();
        Error::new(
            ErrorKind::BadValue,
            format!("\"{shown}\" is no {what} of this notebook"),
        )
        .at(what)
        .hint("hand back what a list gave, unchanged")
    })
}

/// A remark as a sentence of its own: capital and full stop.
pub fn sentence(text: &str) -> String {
    let mut letters = text.chars();
    let stop = if text.ends_with(['.', '?', '!']) {
        ""
    } else {
        "."
    };
    letters
        .next()
        .map(|first| format!("{}{}{stop}", first.to_uppercase(), letters.as_str()))
        .unwrap_or_default()
}

/// A count with its word: "1 finding", "3 findings".
pub(crate) fn counted(n: usize, one: &str) -> String {
    if n == 1 {
        format!("1 {one}")
    } else {
        format!("{n} {one}s")
    }
}

fn number(n: usize) -> u32 {
    u32::try_from(n).unwrap_or(u32::MAX)
}

fn the_stop<'a>(layout: &'a Layout, key: &str) -> Result<&'a Stop> {
    layout.stop(key).ok_or_else(|| {
        let shown: String = key.chars().take(40).collect();
        Error::new(ErrorKind::Unknown, format!("there is no stop \"{shown}\""))
            .at(&layout.name)
            .hint("take a stop from the walk")
    })
}

fn keys_in_order(layout: &Layout, route: &Route) -> Result<Vec<String>> {
    Ok(layout
        .route(route)?
        .into_iter()
        .map(|stop| stop.key.clone())
        .collect())
}
