//! A file taken in: JPEG segments, EXIF, HEIC boxes, raster heads, sound.

#![no_main]

use libfuzzer_sys::fuzz_target;
use std::io::Cursor;
use witnessmark_core::evidence::examine;

fuzz_target!(|bytes: &[u8]| {
    let _ = examine(&mut Cursor::new(bytes.to_vec()), bytes.len() as u64, "x");
});
