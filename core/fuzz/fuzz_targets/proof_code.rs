//! A proof code as typed: what is read is shown the same.

#![no_main]

use libfuzzer_sys::fuzz_target;
use witnessmark_core::record::proof::code::ProofCode;

fuzz_target!(|text: &str| {
    if let Ok(code) = ProofCode::parse(text) {
        assert_eq!(ProofCode::parse(&code.to_string()).ok(), Some(code));
    }
});
