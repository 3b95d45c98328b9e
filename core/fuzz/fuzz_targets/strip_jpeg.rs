//! A JPEG without its metadata: a copy that shows the same picture, or none.

#![no_main]

use libfuzzer_sys::fuzz_target;
use std::io::Cursor;
use witnessmark_core::evidence::examine;
use witnessmark_core::pack::strip;

fuzz_target!(|bytes: &[u8]| {
    let Some(copy) = strip::jpeg(bytes) else {
        return;
    };
    assert!(copy.len() <= bytes.len());
    let look = |bytes: &[u8]| {
        examine(&mut Cursor::new(bytes.to_vec()), bytes.len() as u64, "x")
            .ok()
            .and_then(|e| e.picture)
    };
    if let Some(picture) = look(bytes) {
        assert_eq!(look(&copy), Some(picture));
    }
});
