//! A photo without anything but its picture: for packs that leave the position out. What stays of a
//! JPEG is what the `picture` digest covers (see `evidence::picture`), so the copy still proves the
//! picture; its colour profile is not covered. Copies of other formats prove nothing by themselves.

mod other;

pub use other::{png, webp};

/// Extensions that a copy may have; the first is that of copies that prove their picture.
pub const EXTENSIONS: [&str; 3] = ["jpg", "png", "webp"];

/// The copy of a photo of any format that can be cleaned, with its extension. A HEIC cannot: what is in
/// it is found by its place in the file, and parts that nobody knows may hold anything.
pub fn copy(bytes: &[u8]) -> Option<(Vec<u8>, &'static str)> {
    let [jpg, png_, webp_] = EXTENSIONS;
    jpeg(bytes)
        .map(|copy| (copy, jpg))
        .or_else(|| png(bytes).map(|copy| (copy, png_)))
        .or_else(|| webp(bytes).map(|copy| (copy, webp_)))
}

/// The copy: SOI, JFIF's own segment, every segment that a decoder needs, coded data, EOI. `None`
/// for what is no whole JPEG.
pub fn jpeg(bytes: &[u8]) -> Option<Vec<u8>> {
    let mut rest = bytes.strip_prefix(&[0xFF, 0xD8])?;
    let mut out = vec![0xFF, 0xD8];
    let mut scans = 0;
    loop {
        let [0xFF, after @ ..] = rest else {
            // Bytes outside any segment: skipped, as decoders do.
            let next = rest.iter().position(|b| *b == 0xFF)?;
            rest = rest.get(next..)?;
            continue;
        };
        let [marker, after @ ..] = after else {
            return None;
        };
        match *marker {
            0xFF => {
                rest = rest.get(1..)?;
                continue;
            }
            0xD9 => {
                out.extend([0xFF, 0xD9]);
                return (scans > 0).then_some(out);
            }
            0xD8 => return None,
            0x00 | 0x01 | 0xD0..=0xD7 => {
                rest = after;
                continue;
            }
            _ => {}
        }
        let [high, low, ..] = after else { return None };
        let length = usize::from(*high) << 8 | usize::from(*low);
        let payload = after.get(2..length.max(2))?;
        if length < 2 {
            return None;
        }
        let keep = matches!(*marker, 0xC0..=0xCF if *marker != 0xC8)
            || matches!(*marker, 0xDA..=0xDD)
            || *marker == 0xEE && payload.starts_with(b"Adobe")
            || *marker == 0xE0 && payload.starts_with(b"JFIF\0") && payload.len() == 14;
        if keep {
            out.extend([0xFF, *marker]);
            out.extend(after.get(..length)?);
        }
        rest = after.get(length..)?;
        if *marker == 0xDA {
            scans += 1;
            let end = coded_length(rest)?;
            out.extend(rest.get(..end)?);
            rest = rest.get(end..)?;
        }
    }
}

/// Bytes of coded data before the next marker that is neither a restart nor a stuffed zero.
fn coded_length(bytes: &[u8]) -> Option<usize> {
    let mut at = 0;
    loop {
        at += bytes.get(at..)?.iter().position(|b| *b == 0xFF)?;
        match bytes.get(at + 1)? {
            0x00 | 0xD0..=0xD7 => at += 2,
            0xFF => at += 1,
            _ => return Some(at),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::evidence::examine;
    use std::io::Cursor;
    use std::path::{Path, PathBuf};

    fn shared(what: &str) -> Option<PathBuf> {
        let root = std::env::var_os("WITNESSMARK_SHARED").map_or_else(
            || Path::new(env!("CARGO_MANIFEST_DIR")).join("../../shared"),
            PathBuf::from,
        );
        let path = root.join(what);
        if path.exists() {
            return Some(path);
        }
        eprintln!("SKIPPED: {} is not there", path.display());
        None
    }

    /// Camera files from public collections (exif-samples, Pillow; see the outside material).
    #[test]
    fn a_stripped_camera_file_keeps_its_picture_and_loses_its_position() {
        let Some(folder) = shared("outside/exif") else {
            return;
        };
        let (mut kept, mut positions) = (0, 0);
        for entry in std::fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            let bytes = std::fs::read(&path).unwrap();
            let look = |bytes: &[u8]| {
                examine(
                    &mut Cursor::new(bytes.to_vec()),
                    bytes.len() as u64,
                    "x.jpg",
                )
                .unwrap()
            };
            let before = look(&bytes);
            let copy = jpeg(&bytes);
            let Some(picture) = before.picture else {
                continue;
            };
            let copy = copy.unwrap();
            let after = look(&copy);
            assert_eq!(
                after.picture.as_deref(),
                Some(picture.as_str()),
                "{}",
                path.display()
            );
            assert!(after.gps.is_none() && after.seen.is_none() && after.camera.is_none());
            assert!(copy.len() <= bytes.len());
            kept += 1;
            positions += u32::from(before.gps.is_some());
        }
        assert!(kept >= 15 && positions >= 3, "{kept} {positions}");
    }

    proptest::proptest! {
        #[test]
        fn any_bytes_are_copied_or_refused(bytes in proptest::collection::vec(proptest::num::u8::ANY, 0..300)) {
            let _ = jpeg(&bytes);
            let _ = jpeg(&[&[0xFF, 0xD8][..], &bytes].concat());
        }
    }
}
