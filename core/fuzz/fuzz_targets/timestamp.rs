//! A reply of a time-stamping authority, and a query.

#![no_main]

use libfuzzer_sys::fuzz_target;
use witnessmark_core::record::proof::timestamp;

fuzz_target!(|bytes: &[u8]| {
    let _ = timestamp::Reply::parse(bytes);
    let _ = timestamp::nonce_of(bytes);
});
