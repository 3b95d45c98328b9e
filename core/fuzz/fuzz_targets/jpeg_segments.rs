//! Anything behind the start of a JPEG.
#![no_main]
use libfuzzer_sys::fuzz_target;
use witnessmark_core::evidence::examine;

fuzz_target!(|rest: &[u8]| {
    let mut file = vec![0xFF, 0xD8, 0xFF];
    file.extend(rest);
    let len = file.len() as u64;
    examine(&mut std::io::Cursor::new(file), len, "fuzz.jpg")
        .expect("memory cannot fail to be read");
});
