//! Any file at all: told, examined and shown with little memory.
#![no_main]
use libfuzzer_sys::fuzz_target;
use witnessmark_core::evidence::examine;
use witnessmark_core::photo::{Limits, Progress, intake};

fuzz_target!(|bytes: &[u8]| {
    let len = bytes.len() as u64;
    let mut file = std::io::Cursor::new(bytes.to_vec());
    let found = examine(&mut file, len, "fuzz").expect("memory cannot fail to be read");
    let limits = Limits {
        pixels: 4_000_000,
        memory: 16 << 20,
    };
    intake(&mut file, &found, &limits, &Progress::new()).expect("memory cannot fail to be read");
});
