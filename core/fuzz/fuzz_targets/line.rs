//! A line of a chain: read strictly; what is read is the same bytes again.

#![no_main]

use libfuzzer_sys::fuzz_target;
use witnessmark_core::record::Line;

fuzz_target!(|bytes: &[u8]| {
    if let Ok(line) = Line::parse(bytes) {
        assert_eq!(line.bytes, bytes);
        let _ = line.signature_holds();
    }
});
