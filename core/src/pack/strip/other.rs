//! PNG and WebP without anything but their picture. What stays is a short list of parts that a
//! decoder needs; whatever is not in the list goes, known or not. No digest of the record covers these
//! formats' pictures, so such a copy is "on the packer's word".

/// Chunks of a PNG that stay (W3C PNG, section 11): the picture, and how its numbers are to be shown.
const PNG_KEPT: [&[u8; 4]; 8] = [
    b"IHDR", b"PLTE", b"IDAT", b"IEND", b"tRNS", b"gAMA", b"cHRM", b"sRGB",
];

/// The copy of a PNG; `None` for what is no whole one.
pub fn png(bytes: &[u8]) -> Option<Vec<u8>> {
    const HEAD: &[u8] = b"\x89PNG\r\n\x1a\n";
    let mut rest = bytes.strip_prefix(HEAD)?;
    let mut out = HEAD.to_vec();
    let mut pixels = false;
    loop {
        let (length, kind) = (number_be(rest)?, rest.get(4..8)?);
        let whole = rest.get(..length.checked_add(12)?)?;
        let data = whole.get(4..length + 8)?;
        let sum = whole.get(length + 8..)?;
        if crc32fast::hash(data).to_be_bytes() != sum {
            return None;
        }
        if PNG_KEPT.iter().any(|kept| kept.as_slice() == kind) {
            out.extend_from_slice(whole);
        }
        pixels |= kind == b"IDAT";
        if kind == b"IEND" {
            return pixels.then_some(out);
        }
        rest = rest.get(whole.len()..)?;
    }
}

/// The copy of a WebP that does not move; `None` for what is no whole one.
pub fn webp(bytes: &[u8]) -> Option<Vec<u8>> {
    let size = number_le(bytes.strip_prefix(b"RIFF")?)?;
    let mut rest = bytes.get(8..size.checked_add(8)?)?.strip_prefix(b"WEBP")?;
    let mut out = b"RIFF\0\0\0\0WEBP".to_vec();
    let mut pixels = false;
    while !rest.is_empty() {
        let kind = rest.get(..4)?;
        let length = number_le(rest.get(4..)?)?;
        let whole = rest.get(..length.checked_add(8 + length % 2)?)?;
        match kind {
            b"VP8X" => {
                // Flags of the container (WebP container specification): only transparency stays;
                // profile, EXIF and XMP go with their chunks. What moves is not copied.
                let flags = *whole.get(8)?;
                if flags & 0x02 != 0 {
                    return None;
                }
                let at = out.len() + 8;
                out.extend_from_slice(whole);
                *out.get_mut(at)? = flags & 0x10;
            }
            b"VP8 " | b"VP8L" | b"ALPH" => {
                pixels |= kind != b"ALPH";
                out.extend_from_slice(whole);
            }
            b"ANIM" | b"ANMF" => return None,
            _ => {}
        }
        rest = rest.get(whole.len()..)?;
    }
    let size = u32::try_from(out.len().checked_sub(8)?).ok()?;
    out.get_mut(4..8)?.copy_from_slice(&size.to_le_bytes());
    pixels.then_some(out)
}

fn number_be(bytes: &[u8]) -> Option<usize> {
    let four: [u8; 4] = bytes.get(..4)?.try_into().ok()?;
    usize::try_from(u32::from_be_bytes(four)).ok()
}

fn number_le(bytes: &[u8]) -> Option<usize> {
    let four: [u8; 4] = bytes.get(..4)?.try_into().ok()?;
    usize::try_from(u32::from_le_bytes(four)).ok()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::evidence::examine;
    use std::io::Cursor;

    fn drawn(format: image::ImageFormat) -> (image::RgbImage, Vec<u8>) {
        let picture = image::RgbImage::from_fn(23, 17, |x, y| {
            image::Rgb([(x * 11) as u8, (y * 13) as u8, (x ^ y) as u8])
        });
        let mut out = Cursor::new(Vec::new());
        picture.write_to(&mut out, format).unwrap();
        (picture, out.into_inner())
    }

    fn gps(bytes: &[u8], name: &str) -> bool {
        let length = bytes.len() as u64;
        let seen = examine(&mut Cursor::new(bytes), length, name).unwrap();
        seen.gps.is_some()
    }

    /// An EXIF block with a position, of a public collection (see the outside material); made by hand
    /// where that is absent.
    fn position() -> Vec<u8> {
        // TIFF, one pointer to a GPS block with latitude and longitude (EXIF 2.32, 4.6.6).
        let mut tiff = b"MM\0\x2a\0\0\0\x08".to_vec();
        let entry = |out: &mut Vec<u8>, tag: u16, kind: u16, count: u32, value: [u8; 4]| {
            out.extend(tag.to_be_bytes());
            out.extend(kind.to_be_bytes());
            out.extend(count.to_be_bytes());
            out.extend(value);
        };
        tiff.extend([0, 1]);
        entry(&mut tiff, 0x8825, 4, 1, 26u32.to_be_bytes());
        tiff.extend([0; 4]);
        tiff.extend([0, 4]);
        entry(&mut tiff, 1, 2, 2, *b"N\0\0\0");
        entry(&mut tiff, 2, 5, 3, 80u32.to_be_bytes());
        entry(&mut tiff, 3, 2, 2, *b"E\0\0\0");
        entry(&mut tiff, 4, 5, 3, 104u32.to_be_bytes());
        tiff.extend([0; 4]);
        for value in [47u32, 8, 30, 11, 34, 0] {
            tiff.extend(value.to_be_bytes());
            tiff.extend(1u32.to_be_bytes());
        }
        tiff
    }

    #[test]
    fn a_png_keeps_its_pixels_and_loses_its_position() {
        let (picture, plain) = drawn(image::ImageFormat::Png);
        let chunk = |kind: &[u8; 4], data: &[u8]| {
            let body = [kind.as_slice(), data].concat();
            let sum = crc32fast::hash(&body).to_be_bytes();
            [&(data.len() as u32).to_be_bytes()[..], &body, &sum].concat()
        };
        let at = plain.windows(4).position(|w| w == b"IDAT").unwrap() - 4;
        let extra = [
            chunk(b"eXIf", &position()),
            chunk(b"tEXt", b"Comment\0here it stood"),
        ]
        .concat();
        let told = [&plain[..at], &extra, &plain[at..], b"behind the end"].concat();
        assert!(gps(&told, "x.png"));
        let copy = png(&told).unwrap();
        assert!(!gps(&copy, "x.png"));
        assert!(!copy.windows(8).any(|w| w == b"it stood"));
        assert!(!copy.ends_with(b"behind the end"));
        assert_eq!(image::load_from_memory(&copy).unwrap().to_rgb8(), picture);
        assert_eq!(png(&told[..told.len() - 40]), None);
    }

    #[test]
    fn a_webp_keeps_its_pixels_and_loses_its_position() {
        let (picture, plain) = drawn(image::ImageFormat::WebP);
        let chunk = |kind: &[u8; 4], data: &[u8]| {
            let mut out = kind.to_vec();
            out.extend((data.len() as u32).to_le_bytes());
            out.extend(data);
            out.extend(vec![0; data.len() % 2]);
            out
        };
        // VP8X: flags EXIF and XMP, size less one in three bytes each.
        let head = chunk(b"VP8X", &[0x0C, 0, 0, 0, 22, 0, 0, 16, 0, 0]);
        let body = [
            b"WEBP".as_slice(),
            &head,
            &plain[12..],
            &chunk(b"EXIF", &position()),
            &chunk(b"XMP ", b"here it stood too"),
        ]
        .concat();
        let told = [
            b"RIFF".as_slice(),
            &(body.len() as u32).to_le_bytes(),
            &body,
        ]
        .concat();
        assert!(gps(&told, "x.webp"));
        let copy = webp(&told).unwrap();
        assert!(!gps(&copy, "x.webp"));
        assert!(!copy.windows(8).any(|w| w == b"it stood"));
        assert_eq!(image::load_from_memory(&copy).unwrap().to_rgb8(), picture);
        assert_eq!(webp(&told[..told.len() - 4]), None);
    }

    proptest::proptest! {
        #[test]
        fn any_bytes_are_copied_or_refused(bytes in proptest::collection::vec(proptest::num::u8::ANY, 0..300)) {
            for head in [&b"\x89PNG\r\n\x1a\n"[..], b"RIFF", b"RIFF\x40\0\0\0WEBP"] {
                let bytes = [head, &bytes].concat();
                for copy in [png(&bytes), webp(&bytes)].into_iter().flatten() {
                    proptest::prop_assert!(copy.len() <= bytes.len());
                }
            }
        }
    }
}
