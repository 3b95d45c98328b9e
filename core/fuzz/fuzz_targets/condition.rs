#![no_main]
#[path = "../claims.rs"]
mod claims;
libfuzzer_sys::fuzz_target!(|bytes: &[u8]| claims::condition(bytes));
