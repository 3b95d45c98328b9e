//! What comes out of a photo on its way in. Pictures are drawn here, so the truth is known.

use std::io::Cursor;

use image::codecs::jpeg::JpegEncoder;
use image::{DynamicImage, ImageBuffer, ImageFormat, Luma, Rgb, RgbImage, Rgba};

use super::decode::decode;
use super::nearly::{distance, nearly_same};
use super::orient::Orientation;
use super::*;
use crate::ErrorKind;
use crate::evidence::{Examined, examine};

fn scene(width: u32, height: u32) -> RgbImage {
    RgbImage::from_fn(width, height, |x, y| {
        let (u, v) = (x * 255 / width.max(1), y * 255 / height.max(1));
        let spot = (x * 7 / width + y * 5 / height).is_multiple_of(3);
        Rgb([u as u8, if spot { 220 } else { 40 }, v as u8])
    })
}

fn jpeg(picture: &RgbImage) -> Vec<u8> {
    let mut out = Vec::new();
    JpegEncoder::new_with_quality(&mut out, 92)
        .encode_image(picture)
        .unwrap();
    out
}

fn look(bytes: &[u8]) -> Examined {
    examine(&mut Cursor::new(bytes.to_vec()), bytes.len() as u64, "").unwrap()
}

fn take(bytes: &[u8], what: &Examined) -> Intake {
    intake(
        &mut Cursor::new(bytes.to_vec()),
        what,
        &Limits::default(),
        &Progress::new(),
    )
    .unwrap()
}

/// Mean difference per channel of two pictures of one size.
fn differ(a: &RgbImage, b: &RgbImage) -> f64 {
    assert_eq!(a.dimensions(), b.dimensions());
    let sum: u64 = a
        .as_raw()
        .iter()
        .zip(b.as_raw())
        .map(|(a, b)| u64::from(a.abs_diff(*b)))
        .sum();
    sum as f64 / a.as_raw().len() as f64
}

#[test]
fn all_eight_orientations_show_the_same_picture() {
    let upright = scene(1600, 1200);
    let mut first: Option<View> = None;
    for code in 1..=8u8 {
        // Stored so that turning it by `code` gives the upright picture.
        let back = (1..=8)
            .map(Orientation::from_code)
            .find(|o| o.then(Orientation::from_code(code)) == Orientation::UPRIGHT)
            .unwrap();
        let (w, h) = back.size(1600, 1200);
        let stored =
            RgbImage::from_raw(w, h, back.turn::<3>(upright.as_raw(), 1600, 1200)).unwrap();
        let bytes = jpeg(&stored);
        let mut what = look(&bytes);
        what.orientation = code;
        let view = take(&bytes, &what).view.unwrap();
        assert_eq!(
            (view.large.width, view.large.height),
            (800, 600),
            "orientation {code}"
        );
        assert_eq!((view.small.width, view.small.height), (320, 240));
        let shown = image::load_from_memory(&view.large.jpeg).unwrap().to_rgb8();
        assert!(
            differ(&shown, &decode::at_most(&upright, 800)) < 4.0,
            "orientation {code}"
        );
        let first = first.get_or_insert_with(|| view.clone());
        assert!(distance(first.signs, view.signs) <= 2, "orientation {code}");
        let full = decode::decode(
            &mut Cursor::new(bytes),
            &what,
            None,
            &Limits::default(),
            &Progress::new(),
        )
        .unwrap();
        assert_eq!(full.rgb.dimensions(), (1600, 1200));
        assert!(differ(&full.rgb, &upright) < 6.0, "orientation {code}");
    }
}

#[test]
fn every_kind_of_pixel_ends_up_as_the_same_picture() {
    let picture = scene(400, 300);
    let wide: ImageBuffer<Rgb<u16>, Vec<u16>> = ImageBuffer::from_fn(400, 300, |x, y| {
        Rgb(picture.get_pixel(x, y).0.map(|v| u16::from(v) * 257))
    });
    let clear: ImageBuffer<Rgba<u8>, Vec<u8>> = ImageBuffer::from_fn(400, 300, |x, y| {
        let [r, g, b] = picture.get_pixel(x, y).0;
        Rgba([r, g, b, 255])
    });
    for (name, dynamic, format) in [
        (
            "png of 8 bits",
            DynamicImage::ImageRgb8(picture.clone()),
            ImageFormat::Png,
        ),
        (
            "png of 16 bits",
            DynamicImage::ImageRgb16(wide),
            ImageFormat::Png,
        ),
        (
            "png with alpha",
            DynamicImage::ImageRgba8(clear),
            ImageFormat::Png,
        ),
        (
            "webp",
            DynamicImage::ImageRgb8(picture.clone()),
            ImageFormat::WebP,
        ),
        (
            "jpeg",
            DynamicImage::ImageRgb8(picture.clone()),
            ImageFormat::Jpeg,
        ),
    ] {
        let mut bytes = Cursor::new(Vec::new());
        dynamic.write_to(&mut bytes, format).unwrap();
        let bytes = bytes.into_inner();
        let full = decode(
            &mut Cursor::new(bytes.clone()),
            &look(&bytes),
            None,
            &Limits::default(),
            &Progress::new(),
        )
        .unwrap();
        let off = differ(&full.rgb, &picture);
        assert!(
            off < if name == "jpeg" { 8.0 } else { 0.01 },
            "{name}: {off}"
        );
    }
    let grey: ImageBuffer<Luma<u16>, Vec<u16>> =
        ImageBuffer::from_fn(40, 30, |x, _| Luma([x as u16 * 1600]));
    let mut bytes = Cursor::new(Vec::new());
    DynamicImage::ImageLuma16(grey)
        .write_to(&mut bytes, ImageFormat::Png)
        .unwrap();
    let bytes = bytes.into_inner();
    let full = decode(
        &mut Cursor::new(bytes.clone()),
        &look(&bytes),
        None,
        &Limits::default(),
        &Progress::new(),
    )
    .unwrap();
    assert_eq!(full.rgb.get_pixel(20, 3).0, [125; 3]);
}

/// A PNG of 65 bytes: signature, IHDR of 8-bit RGB, an almost empty IDAT.
fn claims(width: u32, height: u32) -> Vec<u8> {
    let mut png = b"\x89PNG\r\n\x1A\n".to_vec();
    let mut chunk = |kind: &[u8; 4], body: &[u8]| {
        png.extend((body.len() as u32).to_be_bytes());
        let named = [&kind[..], body].concat();
        let mut crc = u32::MAX;
        for byte in &named {
            crc ^= u32::from(*byte);
            for _ in 0..8 {
                crc = if crc & 1 == 1 {
                    crc >> 1 ^ 0xEDB8_8320
                } else {
                    crc >> 1
                };
            }
        }
        png.extend(named);
        png.extend((!crc).to_be_bytes());
    };
    let size = [width.to_be_bytes(), height.to_be_bytes()].concat();
    chunk(b"IHDR", &[&size[..], &[8, 2, 0, 0, 0]].concat());
    chunk(b"IDAT", &[0x78, 0x9C, 0x03, 0, 0, 0, 0, 1]);
    chunk(b"IEND", &[]);
    png
}

#[test]
fn a_png_of_a_few_bytes_that_claims_268_megapixels_is_refused_and_named() {
    let png = claims(16_384, 16_384);
    assert_eq!(png.len(), 65);
    let what = look(&png);
    assert_eq!((what.width, what.height), (16384, 16384));
    let made = take(&png, &what);
    assert_eq!(made.view, None);
    let odd = made.says.unwrap();
    assert_eq!(odd.code, "too_large");
    assert_eq!(
        odd.says,
        "16384 × 16384 pixels are more than the limit of 250 megapixels; the file itself is kept"
    );
    // Within the pixels but past the memory: refused as well.
    let less = claims(15_000, 15_000);
    let odd = take(&less, &look(&less)).says.unwrap();
    assert_eq!(odd.code, "too_large");
    assert!(odd.says.contains("the limit is 256 MB"), "{}", odd.says);
}

#[test]
fn a_photo_cut_in_half_is_shown_as_far_as_it_goes_and_said_so() {
    let bytes = jpeg(&scene(800, 600));
    let half = &bytes[..bytes.len() / 2];
    let what = look(half);
    let made = take(half, &what);
    assert_eq!(made.says.unwrap().code, "partly_shown");
    let shown = image::load_from_memory(&made.view.unwrap().large.jpeg)
        .unwrap()
        .to_rgb8();
    let top = decode::at_most(&scene(800, 600), 800);
    assert!(
        shown
            .get_pixel(10, 10)
            .0
            .iter()
            .zip(top.get_pixel(10, 10).0)
            .all(|(a, b)| a.abs_diff(b) < 30)
    );
}

/// A real file of Pillow's test images that reaches its end with coded data that the decoder cannot
/// follow: more forgiving decoders show a third of it and say nothing. Damage that still reads as
/// valid codes cannot be told from a picture here; the digest of the file tells it.
#[test]
fn damage_inside_of_a_whole_file_is_said() {
    let shared = std::env::var("WITNESSMARK_SHARED").map_or_else(
        |_| std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../../shared"),
        Into::into,
    );
    let path = shared.join("outside/exif/hopper_bad_exif.jpg");
    let Ok(bytes) = std::fs::read(&path) else {
        println!("SKIPPED: {} is not there", path.display());
        return;
    };
    let what = look(&bytes);
    assert_eq!(what.complete, crate::evidence::Complete::Yes);
    assert_eq!(
        take(&bytes, &what).says.map(|odd| odd.code),
        Some("partly_shown".to_owned())
    );
}

#[test]
fn every_prefix_of_a_photo_is_taken_in_without_a_panic() {
    let limits = Limits::default();
    let picture = scene(64, 48);
    let mut files = vec![jpeg(&picture)];
    for format in [ImageFormat::Png, ImageFormat::WebP] {
        let mut bytes = Cursor::new(Vec::new());
        DynamicImage::ImageRgb8(picture.clone())
            .write_to(&mut bytes, format)
            .unwrap();
        files.push(bytes.into_inner());
    }
    for bytes in files {
        for cut in (0..bytes.len()).step_by(3) {
            let part = bytes[..cut].to_vec();
            let what = look(&part);
            intake(&mut Cursor::new(part), &what, &limits, &Progress::new()).unwrap();
        }
    }
}

#[test]
fn cancelling_stops_and_is_no_view() {
    let bytes = jpeg(&scene(100, 100));
    let progress = Progress::new();
    progress.cancel();
    let error = intake(
        &mut Cursor::new(bytes.clone()),
        &look(&bytes),
        &Limits::default(),
        &progress,
    )
    .unwrap_err();
    assert_eq!(error.kind, ErrorKind::Cancelled);
}

#[test]
fn previews_are_the_same_every_time_and_black_is_said_to_be_dark() {
    let bytes = jpeg(&scene(700, 500));
    assert_eq!(take(&bytes, &look(&bytes)), take(&bytes, &look(&bytes)));
    let black = jpeg(&RgbImage::new(300, 200));
    let view = take(&black, &look(&black)).view.unwrap();
    assert!(view.exposure.too_dark && view.sharpness.blurred);
    assert_eq!((view.exposure.mean, view.exposure.black), (0, 1000));
}

#[test]
fn a_copy_of_lower_quality_is_nearly_the_same_and_another_picture_is_not() {
    let picture = scene(800, 600);
    let other = RgbImage::from_fn(800, 600, |x, y| {
        Rgb([((x * x + y * 3) / 900 % 256) as u8, (y / 3) as u8, 90])
    });
    let mut poor = Vec::new();
    JpegEncoder::new_with_quality(&mut poor, 30)
        .encode_image(&decode::at_most(&picture, 500))
        .unwrap();
    let signs = |bytes: &[u8]| take(bytes, &look(bytes)).view.unwrap().signs;
    let (a, b, c) = (signs(&jpeg(&picture)), signs(&poor), signs(&jpeg(&other)));
    assert!(nearly_same(a, b), "{} differ", distance(a, b));
    assert!(!nearly_same(a, c), "{} differ", distance(a, c));
    assert!(!nearly_same(0, 0), "blank pictures are like nothing");
}

#[test]
fn what_cannot_be_decoded_is_an_answer() {
    let bytes = b"\0\0\0\x14ftypheic\0\0\0\0mif1".to_vec();
    let made = take(&bytes, &look(&bytes));
    assert_eq!(
        (made.view, made.says.unwrap().code.as_str()),
        (None, "not_decodable")
    );
}
