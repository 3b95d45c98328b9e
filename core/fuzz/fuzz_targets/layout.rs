//! A layout file of a user.

#![no_main]

use libfuzzer_sys::fuzz_target;
use witnessmark_core::layout::Layout;

fuzz_target!(|text: &str| {
    let _ = Layout::parse(text);
});
