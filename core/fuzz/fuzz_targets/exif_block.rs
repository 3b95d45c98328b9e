//! An EXIF block in a JPEG that is otherwise whole.
#![no_main]
use libfuzzer_sys::fuzz_target;
use witnessmark_core::evidence::examine;

fuzz_target!(|block: &[u8]| {
    let Ok(length) = u16::try_from(block.len() + 8) else {
        return;
    };
    let mut file = vec![0xFF, 0xD8, 0xFF, 0xE1];
    file.extend(length.to_be_bytes());
    file.extend(b"Exif\0\0");
    file.extend(block);
    file.extend([0xFF, 0xD9]);
    let len = file.len() as u64;
    examine(&mut std::io::Cursor::new(file), len, "fuzz.jpg")
        .expect("memory cannot fail to be read");
});
