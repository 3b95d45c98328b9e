//! What exif.rs writes, read back by kamadak-exif and, where it is installed, by exiftool.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use std::io::Cursor;
use witnessmark_scenes::exif::{Exif, Gps};
use witnessmark_scenes::jpeg::encode_rgb;

fn corners() -> image::RgbImage {
    // Red at the top left, green at the top right, blue at the bottom left: shows every turn.
    image::RgbImage::from_fn(96, 64, |x, y| {
        image::Rgb(match (x < 48, y < 32) {
            (true, true) => [200, 30, 30],
            (false, true) => [30, 200, 30],
            (true, false) => [30, 30, 200],
            (false, false) => [120, 120, 120],
        })
    })
}

fn sample(orientation: u16) -> Vec<u8> {
    let mut exif = Exif::demo("Phone A", "2026:05:03 09:10:11", "+02:00", "125");
    exif.orientation = orientation;
    exif.gps = Some(Gps {
        latitude: 54.37,
        longitude: -8.61,
        utc: "2026:05:03 07:10:11".into(),
    });
    encode_rgb(&corners(), &exif, 95)
}

#[test]
fn kamadak_reads_every_field() {
    let bytes = sample(6);
    let read = exif::Reader::new()
        .read_from_container(&mut Cursor::new(&bytes))
        .unwrap();
    let text = |tag| {
        read.get_field(tag, exif::In::PRIMARY)
            .unwrap_or_else(|| panic!("{tag} is missing"))
            .display_value()
            .to_string()
    };
    assert_eq!(text(exif::Tag::Make), "\"Witnessmark demo\"");
    assert_eq!(text(exif::Tag::DateTimeOriginal), "2026-05-03 09:10:11");
    assert_eq!(text(exif::Tag::OffsetTimeOriginal), "\"+02:00\"");
    assert_eq!(text(exif::Tag::SubSecTimeOriginal), "\"125\"");
    assert_eq!(text(exif::Tag::PixelXDimension), "64");
    assert_eq!(text(exif::Tag::GPSLatitude), "54 deg 22 min 12 sec");
    assert_eq!(text(exif::Tag::GPSLongitudeRef), "W");
    assert!(text(exif::Tag::ImageDescription).contains("not a photograph"));
    assert!(text(exif::Tag::Software).contains("drawn"));
    let o = read
        .get_field(exif::Tag::Orientation, exif::In::PRIMARY)
        .unwrap();
    assert_eq!(o.value.get_uint(0), Some(6));
}

#[test]
fn every_orientation_shows_the_picture_upright() {
    for orientation in 1..=8 {
        let bytes = sample(orientation);
        let mut decoder = image::codecs::jpeg::JpegDecoder::new(Cursor::new(&bytes)).unwrap();
        let told = image::ImageDecoder::orientation(&mut decoder).unwrap();
        let mut picture = image::DynamicImage::from_decoder(decoder).unwrap();
        picture.apply_orientation(told);
        let picture = picture.into_rgb8();
        assert_eq!(picture.dimensions(), (96, 64), "orientation {orientation}");
        for (x, y, channel) in [(12, 8, 0), (84, 8, 1), (12, 56, 2)] {
            let p = picture.get_pixel(x, y).0;
            assert!(
                (0..3).all(|c| c == channel || p[c] + 90 < p[channel]),
                "orientation {orientation}: {p:?} at {x},{y}"
            );
        }
    }
}

#[test]
fn exiftool_finds_no_fault() {
    let file = std::env::temp_dir().join(format!("witnessmark-exif-{}.jpg", std::process::id()));
    std::fs::write(&file, sample(8)).unwrap();
    let out = std::process::Command::new("exiftool")
        .args([
            "-validate",
            "-warning",
            "-s3",
            "-SubSecDateTimeOriginal",
            "-GPSPosition#",
        ])
        .arg(&file)
        .output();
    std::fs::remove_file(&file).ok();
    let Ok(out) = out else {
        println!("SKIPPED: exiftool is not installed (Debian libimage-exiftool-perl)");
        return;
    };
    let text = String::from_utf8_lossy(&out.stdout);
    assert!(text.contains("2026:05:03 09:10:11.125+02:00"), "{text}");
    assert!(text.contains("54.37 -8.61"), "{text}");
    assert!(text.contains("OK") && !text.contains("Warning"), "{text}");
}
