//! Odd and hostile bytes: the inputs of the fuzz targets as property tests on stable Rust, and the
//! traps that are known by name. Everything here is invented, with the truth known by construction.

use std::io::Cursor;

use proptest::prelude::*;

use super::*;
use crate::photo::{Limits, Progress, intake};

fn look(bytes: &[u8]) -> Examined {
    examine(&mut Cursor::new(bytes.to_vec()), bytes.len() as u64, "x").unwrap()
}

/// A JPEG with the given EXIF block and the smallest frame and scan that pass for a picture.
fn jpeg_with(block: &[u8]) -> Vec<u8> {
    let mut file = vec![0xFF, 0xD8, 0xFF, 0xE1];
    file.extend((block.len() as u16 + 8).to_be_bytes());
    file.extend(b"Exif\0\0");
    file.extend(block);
    file.extend(SMALLEST);
    file
}

/// SOF0 of 8 × 8 in grey, SOS with one byte of coded data, EOI.
const SMALLEST: &[u8] = &[
    0xFF, 0xC0, 0, 11, 8, 0, 8, 0, 8, 1, 1, 0x11, 0, 0xFF, 0xDA, 0, 8, 1, 1, 0, 0, 63, 0, 0x12,
    0xFF, 0xD9,
];

/// A little-endian EXIF block: entries of IFD0, then of the EXIF directory, then of the GPS one.
fn block(zeroth: &[Entry], exif: &[Entry], gps: &[Entry]) -> Vec<u8> {
    let mut out = b"II*\0\x08\0\0\0".to_vec();
    let size = |n: usize| 2 + 12 * n + 4;
    let first = zeroth.len() + 2;
    let exif_at = 8 + size(first);
    let gps_at = exif_at + size(exif.len());
    let mut data_at = gps_at + size(gps.len());
    let mut data: Vec<u8> = Vec::new();
    let mut all = zeroth.to_vec();
    all.push((0x8769, 4, 1, (exif_at as u32).to_le_bytes().to_vec()));
    all.push((0x8825, 4, 1, (gps_at as u32).to_le_bytes().to_vec()));
    for entries in [&all[..], exif, gps] {
        out.extend((entries.len() as u16).to_le_bytes());
        for (tag, kind, count, value) in entries {
            out.extend(tag.to_le_bytes());
            out.extend(kind.to_le_bytes());
            out.extend(count.to_le_bytes());
            if value.len() <= 4 {
                let mut inline = value.clone();
                inline.resize(4, 0);
                out.extend(inline);
            } else {
                out.extend((data_at as u32).to_le_bytes());
                data.extend(value);
                data_at += value.len();
            }
        }
        out.extend([0; 4]);
    }
    out.extend(data);
    out
}

type Entry = (u16, u16, u32, Vec<u8>);

fn ascii(tag: u16, text: &str) -> Entry {
    let bytes = format!("{text}\0").into_bytes();
    (tag, 2, bytes.len() as u32, bytes)
}

fn fractions(tag: u16, parts: &[(u32, u32)]) -> Entry {
    let bytes = parts
        .iter()
        .flat_map(|(n, d)| [n.to_le_bytes(), d.to_le_bytes()].concat())
        .collect();
    (tag, 5, parts.len() as u32, bytes)
}

fn codes(found: &Examined) -> Vec<&str> {
    found.hints.iter().map(|h| h.code.as_str()).collect()
}

#[test]
fn only_the_offset_of_the_original_time_belongs_to_the_original_time() {
    let with = |exif: &[Entry]| look(&jpeg_with(&block(&[], exif, &[]))).seen;
    let original = ascii(0x9003, "2026:05:03 09:10:00");
    let of_change = ascii(0x9010, "+05:00");
    let seen = with(&[original.clone(), of_change.clone()]).unwrap();
    assert_eq!(
        seen.offset, None,
        "OffsetTime is the offset of the last change"
    );
    let seen = with(&[
        original,
        of_change,
        ascii(0x9011, "-03:30"),
        ascii(0x9291, "123"),
    ])
    .unwrap();
    assert_eq!(seen.offset.as_deref(), Some("-03:30"));
    assert_eq!(seen.time, "2026-05-03T09:10:00.123");
    assert_eq!(seen.from, "exif original");
}

#[test]
fn impossible_dates_and_offsets_are_not_used() {
    for date in [
        "2026:13:03 09:10:00",
        "2026:02:30 09:10:00",
        "2026:05:03 24:10:00",
        "2026:05:03 09:60:00",
        "0026:05:03 09:10:00",
        "garbage",
    ] {
        let found = look(&jpeg_with(&block(&[], &[ascii(0x9003, date)], &[])));
        assert_eq!(found.seen, None, "{date}");
        assert_eq!(codes(&found), ["date_impossible"], "{date}");
    }
    for blank in ["0000:00:00 00:00:00", "    :  :     :  :  "] {
        let found = look(&jpeg_with(&block(&[], &[ascii(0x9003, blank)], &[])));
        assert_eq!(
            (
                found.seen,
                codes(&look(&jpeg_with(&block(&[], &[ascii(0x9003, blank)], &[]))))
            ),
            (None, vec![])
        );
    }
    for offset in ["+15:00", "-12:30", "+0200", "Z", "+02:60"] {
        let found = look(&jpeg_with(&block(
            &[],
            &[ascii(0x9003, "2026:05:03 09:10:00"), ascii(0x9011, offset)],
            &[],
        )));
        assert_eq!(found.seen.as_ref().unwrap().offset, None, "{offset}");
        assert_eq!(codes(&found), ["offset_unreadable"], "{offset}");
    }
}

#[test]
fn positions_are_used_only_if_whole_and_real() {
    let with = |lat: &[(u32, u32)], side: &str| {
        let gps = [
            ascii(1, side),
            fractions(2, lat),
            ascii(3, "W"),
            fractions(4, &[(9, 1), (30, 1), (0, 1)]),
        ];
        look(&jpeg_with(&block(&[], &[], &gps)))
    };
    let found = with(&[(41, 1), (15, 1), (36, 1)], "S");
    let gps = found.gps.unwrap();
    assert_eq!(
        (gps.lat.as_str(), gps.lon.as_str()),
        ("-41.2600000", "-9.5000000")
    );
    for (lat, side) in [
        (&[(0, 0), (0, 0), (0, 0)], "N"),
        (&[(91, 1), (0, 1), (0, 1)], "N"),
        (&[(41, 1), (0, 1), (0, 1)], "?"),
    ] {
        let found = with(lat, side);
        assert_eq!(found.gps, None);
        assert_eq!(codes(&found), ["position_unusable"]);
    }
}

#[test]
fn the_camera_s_clock_is_compared_with_the_satellites() {
    let with = |offset: Option<&str>, day: &str, clock: [(u32, u32); 3]| {
        let mut exif = vec![ascii(0x9003, "2026:05:03 09:10:00")];
        exif.extend(offset.map(|o| ascii(0x9011, o)));
        let gps = [ascii(0x1D, day), fractions(7, &clock)];
        let found = look(&jpeg_with(&block(&[], &exif, &gps)));
        found
            .hints
            .iter()
            .map(|h| h.says.clone())
            .collect::<Vec<_>>()
    };
    let none: Vec<String> = Vec::new();
    // 09:10:00 +02:00 is 07:10:00 UTC.
    assert_eq!(
        with(Some("+02:00"), "2026:05:03", [(7, 1), (10, 1), (20, 1)]),
        none
    );
    assert_eq!(with(None, "2026:05:03", [(7, 1), (10, 1), (20, 1)]), none);
    let says = with(Some("+02:00"), "2026:05:03", [(7, 1), (8, 1), (28, 1)]);
    assert!(says[0].contains("92 s ahead of"), "{says:?}");
    let says = with(None, "2026:05:03", [(7, 1), (11, 1), (32, 1)]);
    assert!(says[0].contains("92 s behind"), "{says:?}");
    let says = with(None, "2026:05:04", [(7, 1), (10, 1), (0, 1)]);
    assert!(
        says.len() == 1 && says[0].contains("one day ahead"),
        "{says:?}"
    );
    let says = with(Some("+02:00"), "2026:05:02", [(7, 1), (10, 1), (0, 1)]);
    assert!(
        says.len() == 1 && says[0].contains("one day behind"),
        "{says:?}"
    );
}

#[test]
fn the_picture_digest_covers_exactly_what_its_text_says() {
    use sha2::{Digest, Sha256};
    let frame: &[u8] = &[0xFF, 0xC0, 0, 11, 8, 0, 8, 0, 8, 1, 1, 0x11, 0];
    let adobe: &[u8] = b"\xFF\xEE\x00\x0EAdobe\x00\x64\x00\x00\x00\x00\x00";
    let scan: &[u8] = &[0xFF, 0xDA, 0, 8, 1, 1, 0, 0, 63, 0];
    let coded: &[u8] = &[0x12, 0xFF, 0x00, 0x34, 0xFF, 0xD0, 0x56];
    let wanted =
        data_encoding::HEXLOWER.encode(&Sha256::digest([frame, adobe, scan, coded].concat()));
    let join = |parts: &[&[u8]]| parts.concat();
    let start: &[u8] = &[0xFF, 0xD8];
    let end: &[u8] = &[0xFF, 0xD9];
    let plain = join(&[start, frame, adobe, scan, coded, end]);
    assert_eq!(look(&plain).picture.as_deref(), Some(wanted.as_str()));
    // Comments, EXIF, other APP14, fill bytes and what follows the end change nothing.
    let other: &[u8] = b"\xFF\xEE\x00\x06Else";
    let comment: &[u8] = b"\xFF\xFE\x00\x04hi";
    let filled_frame = join(&[&[0xFF, 0xFF], frame]);
    let filled_coded: &[u8] = &[
        0x12, 0xFF, 0x00, 0x34, 0xFF, 0xFF, 0xFF, 0xD0, 0x56, 0xFF, 0xFF,
    ];
    let dressed = join(&[
        start,
        comment,
        &filled_frame,
        other,
        adobe,
        comment,
        scan,
        filled_coded,
        end,
        b"film",
    ]);
    let found = look(&dressed);
    assert_eq!(found.picture.as_deref(), Some(wanted.as_str()));
    assert_eq!(codes(&found), ["more_behind_picture"]);
    // One bit of coded data changes it; no end, no digest; a second start is no end.
    let changed = join(&[start, frame, adobe, scan, &[0x13], &coded[1..], end]);
    assert_ne!(look(&changed).picture.as_deref(), Some(wanted.as_str()));
    for cut in 3..plain.len() {
        let found = look(&plain[..cut]);
        assert_eq!(found.picture, None);
        assert!(matches!(found.complete, Complete::No(_)));
    }
    let twice = join(&[start, frame, scan, &[1], &plain]);
    assert_eq!(look(&twice).picture, None);
}

/// Overlapping directories make gigabytes of entries out of 64 KiB in a reader without a limit.
#[test]
fn overlapping_directories_are_refused_before_they_cost_memory() {
    let mut hostile = vec![0u8; 65_000];
    hostile[..8].copy_from_slice(b"II*\0\x08\0\0\0");
    // Every fourth place says 2000 entries; the link behind each leads four bytes on.
    for at in (8..24_000).step_by(4) {
        hostile[at..at + 4].copy_from_slice(&2000u32.to_le_bytes());
        let link = at + 2 + 12 * 2000;
        hostile[link..link + 4].copy_from_slice(&(at as u32 + 4).to_le_bytes());
    }
    let found = look(&jpeg_with(&hostile));
    assert_eq!(found.seen, None);
    assert_eq!(codes(&found), ["exif_unreadable"]);
}

#[test]
fn text_called_jpg_an_empty_file_and_a_cut_recording_are_told() {
    let found = examine(&mut Cursor::new(b"no picture".to_vec()), 10, "wheel.jpg").unwrap();
    assert_eq!(
        (found.media, codes(&found)),
        (Media::Txt, vec!["name_differs"])
    );
    assert_eq!(look(b"").media, Media::Bin);
    // RFC 2361 / RIFF: one second of 8-bit mono at 8000 Hz, length never filled in.
    let mut wav = b"RIFF\0\0\0\0WAVEfmt \x10\0\0\0\x01\0\x01\0\x40\x1F\0\0\x40\x1F\0\0\x01\0\x08\0data\0\0\0\0".to_vec();
    wav.extend([128; 8000]);
    let found = look(&wav);
    assert_eq!((found.media, found.length_ms), (Media::Wav, Some(1000)));
    assert!(matches!(found.complete, Complete::No(_)));
    let n = wav.len();
    wav[n - 8004..n - 8000].copy_from_slice(&8000u32.to_le_bytes());
    assert_eq!(look(&wav).complete, Complete::Yes);
}

fn small() -> Limits {
    Limits {
        pixels: 4_000_000,
        memory: 16 << 20,
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    #[test]
    fn any_bytes_are_examined(bytes in proptest::collection::vec(any::<u8>(), 0..2000), head in 0usize..10) {
        let heads: [&[u8]; 10] = [b"", b"\xFF\xD8\xFF", b"\x89PNG\r\n\x1A\n\0\0\0\rIHDR", b"RIFF\xFF\0\0\0WEBPVP8X", b"RIFF\0\0\0\0WAVEfmt ", b"\0\0\0\x18ftypheic\0\0\0\0mif1heic", b"II*\0\x08\0\0\0", b"OggS\0\x02", b"\xFF\xF1\x50\x80", b"\0\0\0\x10ftypM4A \0\0\0\0"];
        let file = [heads[head], &bytes].concat();
        let found = look(&file);
        let made = intake(&mut Cursor::new(file), &found, &small(), &Progress::new());
        prop_assert!(made.is_ok());
    }

    #[test]
    fn any_exif_block_is_read(bytes in proptest::collection::vec(any::<u8>(), 0..600), little: bool) {
        let head: &[u8] = if little { b"II*\0\x08\0\0\0" } else { b"MM\0*\0\0\0\x08" };
        look(&jpeg_with(&[head, &bytes].concat()));
    }

    #[test]
    fn a_sound_exif_block_with_bytes_changed_is_read(changes in proptest::collection::vec((0usize..400, any::<u8>()), 1..12)) {
        let mut bytes = block(
            &[ascii(0x10F, "Maker"), ascii(0x110, "Model"), (0x112, 3, 1, vec![6, 0]), ascii(0x132, "2026:05:04 00:00:00")],
            &[ascii(0x9003, "2026:05:03 09:10:00"), ascii(0x9011, "+02:00"), ascii(0x9291, "5")],
            &[ascii(1, "N"), fractions(2, &[(41, 1), (15, 1), (36, 1)]), ascii(3, "E"), fractions(4, &[(9, 1), (30, 1), (0, 1)]), ascii(0x1D, "2026:05:03"), fractions(7, &[(7, 1), (10, 1), (0, 1)])],
        );
        let sound = look(&jpeg_with(&bytes));
        prop_assert_eq!(sound.orientation, 6);
        prop_assert!(sound.hints.is_empty() && sound.gps.is_some());
        for (at, value) in changes {
            let at = at % bytes.len();
            bytes[at] = value;
        }
        look(&jpeg_with(&bytes));
    }

    #[test]
    fn box_structures_with_bytes_changed_are_read(changes in proptest::collection::vec((0usize..400, any::<u8>()), 0..8)) {
        let boxed = |kind: &[u8; 4], body: &[u8]| [&(body.len() as u32 + 8).to_be_bytes()[..], kind, body].concat();
        let ispe = boxed(b"ispe", &[0, 0, 0, 0, 0, 0, 0, 40, 0, 0, 0, 30]);
        let irot = boxed(b"irot", &[1]);
        let ipco = boxed(b"ipco", &[ispe, irot].concat());
        let ipma = boxed(b"ipma", &[0, 0, 0, 0, 0, 0, 0, 1, 0, 1, 2, 1, 0x82]);
        let meta = [
            vec![0; 4],
            boxed(b"pitm", &[0, 0, 0, 0, 0, 1]),
            boxed(b"iinf", &[&[0, 0, 0, 0, 0, 1][..], &boxed(b"infe", b"\x02\0\0\0\0\x01\0\0hvc1\0")].concat()),
            boxed(b"iprp", &[ipco, ipma].concat()),
            boxed(b"iloc", &[0, 0, 0, 0, 0x44, 0, 0, 1, 0, 1, 0, 0, 0, 1, 0, 0, 0, 0, 0, 0, 0, 9]),
        ].concat();
        let mut file = [boxed(b"ftyp", b"heic\0\0\0\0mif1"), boxed(b"meta", &meta)].concat();
        let sound = look(&file);
        prop_assert_eq!((sound.width, sound.height, sound.orientation, &sound.complete), (40, 30, 8, &Complete::Yes));
        for (at, value) in changes {
            let at = at % file.len();
            file[at] = value;
        }
        look(&file);
    }
}
