//! Canonical JSON: what is accepted is its own canonical form.

#![no_main]

use libfuzzer_sys::fuzz_target;
use witnessmark_core::record::canonical;

fuzz_target!(|bytes: &[u8]| {
    if let Ok(value) = canonical::parse_canonical(bytes) {
        assert_eq!(canonical::to_bytes(&value).ok().as_deref(), Some(bytes));
    }
});
