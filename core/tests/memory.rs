//! No file of a megabyte makes the program take more than 64 MB to examine it, whatever it claims
//! about itself. Measured by an allocator that counts; a test of its own, since the count is global.
#![allow(unsafe_code, clippy::unwrap_used, clippy::expect_used)]

use std::io::Cursor;

use witnessmark_core::evidence::examine;
use witnessmark_core::photo::{Limits, Progress, intake};

mod counting;

const MEGABYTE: usize = 1 << 20;

fn padded(head: &[u8], with: &[u8]) -> Vec<u8> {
    let mut file = head.to_vec();
    while file.len() < MEGABYTE {
        file.extend(with);
    }
    file.truncate(MEGABYTE);
    file
}

fn hostile() -> Vec<(&'static str, Vec<u8>)> {
    let exif_of = |block: &[u8]| {
        let mut head = vec![0xFF, 0xD8, 0xFF, 0xE1];
        head.extend((block.len() as u16 + 8).to_be_bytes());
        head.extend(b"Exif\0\0");
        head.extend(block);
        padded(&head, &[0])
    };
    let mut overlapping = b"II*\0\x08\0\0\0".to_vec();
    overlapping.extend(2000u32.to_le_bytes().repeat(6000));
    overlapping.extend([0, 0]);
    for n in 0..6000u32 {
        overlapping.extend((12 + 4 * n).to_le_bytes());
    }
    overlapping.resize(65_000, 0);
    // One directory of 5000 text entries that all point at the same 60,000 zeros.
    let mut texts = b"II*\0\x08\0\0\0\x88\x13".to_vec();
    for n in 0..5000u16 {
        texts.extend((0x9003 + n % 3).to_le_bytes());
        texts.extend([2, 0, 0x60, 0xEA, 0, 0, 8, 0, 0, 0]);
    }
    texts.resize(65_000, 0);
    let mut directory = b"MM\0*\0\0\0\x08\xFF\xFF".to_vec();
    directory.extend([0x87, 0x69, 0, 4, 0, 0, 0, 1, 0, 0, 0, 8].repeat(80_000));
    let boxes = |kind: &[u8; 4]| {
        let mut head = b"\0\0\0\x18ftypheic\0\0\0\0mif1heic".to_vec();
        head.extend(((MEGABYTE - 24) as u32).to_be_bytes());
        head.extend(b"meta\0\0\0\0\0\0\0\x0Epitm\0\0\0\0\0\x01");
        head.extend(((MEGABYTE - 24 - 26) as u32).to_be_bytes());
        head.extend(kind);
        head
    };
    let mut places = boxes(b"iloc");
    places.extend([2, 0, 0, 0, 0, 0, 0xFF, 0xFF, 0xFF, 0xFF]);
    let mut short_places = boxes(b"iloc");
    short_places.extend([1, 0, 0, 0, 0x20, 0, 0xFF, 0xFF]);
    let mut sof = vec![0xFF, 0xD8, 0xFF, 0xC2, 0, 17, 8, 0x3A, 0x98, 0x3A, 0x98, 3];
    sof.extend([1, 0x11, 0, 2, 0x11, 0, 3, 0x11, 0]);
    let mut baseline = sof.clone();
    baseline[3] = 0xC0;
    vec![
        ("zeros", padded(b"", &[0])),
        ("overlapping EXIF directories", exif_of(&overlapping)),
        ("5000 texts in one place", exif_of(&texts)),
        ("a TIFF of pointers to itself", padded(&directory, &[0])),
        (
            "a TIFF of nothing but text",
            padded(
                b"II*\0\x08\0\0\0\x01\0\x0F\x01\x02\0\0\0\x08\0\x1A\0\0\0\0\0\0\0",
                &[0],
            ),
        ),
        (
            "four billion places",
            padded(&places, &[0, 0, 0, 9, 0, 0, 0, 0, 0xFF, 0xFF]),
        ),
        (
            "places of two bytes",
            padded(&short_places, &[0, 1, 0, 0, 0, 0, 0xFF, 0xFF]),
        ),
        (
            "a progressive JPEG of 225 megapixels",
            padded(&sof, &[0xFF, 0xDA, 0, 8, 1, 1, 0, 0, 63, 0]),
        ),
        (
            "a plain JPEG of 225 megapixels",
            padded(&baseline, &[0xFF, 0xDA, 0, 8, 1, 1, 0, 0, 63, 0]),
        ),
        (
            "chunks of a PNG",
            padded(b"\x89PNG\r\n\x1A\n", b"\0\0\0\0eXIf\0\0\0\0"),
        ),
        (
            "pages of an Ogg",
            padded(b"", b"OggS\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0\x00"),
        ),
        ("a megabyte of text", padded(b"", b"\xC3\xA9")),
    ]
}

#[test]
fn a_megabyte_never_takes_more_than_64() {
    for (name, file) in hostile() {
        let len = file.len() as u64;
        let mut reader = Cursor::new(file);
        let start = std::time::Instant::now();
        let mut found = None;
        let took = counting::most_while(|| found = examine(&mut reader, len, "hostile").ok());
        let found = found.unwrap();
        println!("{name}: {} KiB in {:?}", took / 1024, start.elapsed());
        assert!(took <= 64 << 20, "{name} took {took} bytes");
        // Pixels come on top, and only within the limit that the caller sets.
        let limits = Limits {
            memory: 32 << 20,
            ..Limits::default()
        };
        let took = counting::most_while(|| {
            intake(&mut reader, &found, &limits, &Progress::new()).unwrap();
        });
        assert!(took <= 64 << 20, "{name} took {took} bytes to decode");
    }
}
