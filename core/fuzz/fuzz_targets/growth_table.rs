//! A series from paper records as CSV, and all that is read off it.
#![no_main]
use libfuzzer_sys::fuzz_target;
use witnessmark_core::history::growth::{Ask, growth};

fuzz_target!(|table: &[u8]| {
    let ask = Ask {
        limit: Some("60".to_owned()),
        ..Ask::default()
    };
    if let Ok(shown) = growth(table, &ask) {
        assert_eq!(shown.window.is_none(), shown.no_window_because.is_some());
        assert!(!shown.to_text().is_empty());
    }
});
