//! The built-in layouts.

use std::sync::OnceLock;

use super::types::Layout;
use crate::datafile::embedded;

impl Layout {
    /// Every built-in layout, sorted by name. A test holds that each embedded file is one.
    pub fn all() -> &'static [Layout] {
        static LIST: OnceLock<Vec<Layout>> = OnceLock::new();
        LIST.get_or_init(|| {
            let read = |(_, text): &(&str, &str)| Layout::parse(text).ok();
            embedded::LAYOUTS.iter().filter_map(read).collect()
        })
    }

    /// The built-in layout of a name.
    pub fn built_in(name: &str) -> Option<&'static Layout> {
        Self::all().iter().find(|layout| layout.name == name)
    }

    /// The text of a built-in layout's file: what an entry that relies on it stores as evidence, and what
    /// a user copies to make one.
    pub fn built_in_text(name: &str) -> Option<&'static str> {
        embedded::LAYOUTS
            .iter()
            .find(|(file, _)| file.strip_suffix(".toml") == Some(name))
            .map(|(_, text)| *text)
    }
}
