//! What is made of a photo after it is kept. The pictures are drawn here, so the truth is known.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use std::path::{Path, PathBuf};
use std::sync::Arc;

use image::codecs::jpeg::JpegEncoder;
use image::{Rgb, RgbImage};
use witnessmark_core::ErrorKind;
use witnessmark_core::notebook::{
    Captured, KeySource, NewWalkaround, Notebook, Place, PreviewSize,
};
use witnessmark_core::photo::Progress;
use witnessmark_core::record::{Digest, parse_when};
use witnessmark_core::world::{GivenClock, SeededEntropy, SystemFiles, World};

struct Desk {
    notebook: Notebook,
    aircraft: Digest,
    scratch: tempfile::TempDir,
}

impl Desk {
    fn new() -> Self {
        let scratch = tempfile::tempdir().unwrap();
        let world = World {
            clock: Arc::new(GivenClock::new(
                parse_when("2026-05-03T09:10:00+02:00").unwrap(),
            )),
            entropy: Arc::new(SeededEntropy::new(5)),
            files: Arc::new(SystemFiles),
        };
        let root = scratch.path().join("n");
        let mut notebook =
            Notebook::init(&root, world, "Invented", "owner", KeySource::File).unwrap();
        let aircraft = notebook
            .add_aircraft("N0TEST", "two-seater", None, "low_wing_fixed", false)
            .unwrap();
        notebook
            .start_walkaround(&aircraft, &NewWalkaround::default())
            .unwrap();
        Self {
            notebook,
            aircraft,
            scratch,
        }
    }

    fn take(&mut self, name: &str, bytes: &[u8]) -> Captured {
        let path = self.scratch.path().join(name);
        std::fs::write(&path, bytes).unwrap();
        let place = Place {
            aircraft: Some(self.aircraft),
            ..Place::default()
        };
        self.notebook.take_photo(&path, &place).unwrap()
    }

    fn advice(&self, captured: &Captured) -> Vec<String> {
        let advice = self.notebook.advice(&captured.entry).unwrap();
        advice.into_iter().map(|one| one.code).collect()
    }

    fn previews(&self) -> Vec<PathBuf> {
        fn under(folder: &Path, out: &mut Vec<PathBuf>) {
            for entry in std::fs::read_dir(folder).into_iter().flatten() {
                let path = entry.unwrap().path();
                if path.is_dir() {
                    under(&path, out);
                } else {
                    out.push(path);
                }
            }
        }
        let mut out = Vec::new();
        under(&self.scratch.path().join("n/previews"), &mut out);
        out.sort();
        out
    }
}

fn drawn(shift: u32) -> RgbImage {
    RgbImage::from_fn(1600, 1200, |x, y| {
        let spot = ((x + shift) * 7 / 1600 + y * 5 / 1200).is_multiple_of(3);
        Rgb([(x / 7) as u8, if spot { 220 } else { 40 }, (y / 5) as u8])
    })
}

fn jpeg(picture: &RgbImage, quality: u8) -> Vec<u8> {
    let mut out = Vec::new();
    JpegEncoder::new_with_quality(&mut out, quality)
        .encode_image(picture)
        .unwrap();
    out
}

#[test]
fn previews_are_made_when_asked_for_and_made_again_when_lost() {
    let mut desk = Desk::new();
    let photo = desk.take("a.jpg", &jpeg(&drawn(0), 92));
    assert!(
        desk.previews().is_empty(),
        "the shutter waited for a decode"
    );
    let file = photo.file.unwrap();
    let small = desk
        .notebook
        .preview(&file, PreviewSize::Small)
        .unwrap()
        .unwrap();
    let shown = image::load_from_memory(&small).unwrap();
    assert_eq!((shown.width(), shown.height()), (320, 240));
    assert_eq!(desk.previews().len(), 3);
    for path in desk.previews() {
        std::fs::remove_file(path).unwrap();
    }
    assert_eq!(
        desk.notebook
            .preview(&file, PreviewSize::Small)
            .unwrap()
            .unwrap(),
        small
    );
    // Half of it lost, or something else in its place.
    let pictures: Vec<PathBuf> = desk
        .previews()
        .into_iter()
        .filter(|path| path.extension().is_some_and(|ending| ending == "jpg"))
        .collect();
    assert_eq!(pictures.len(), 2);
    for path in pictures {
        std::fs::remove_file(path).unwrap();
    }
    assert_eq!(
        desk.notebook
            .preview(&file, PreviewSize::Small)
            .unwrap()
            .unwrap(),
        small
    );
    for path in desk.previews() {
        std::fs::write(path, b"{").unwrap();
    }
    assert_eq!(
        desk.notebook
            .preview(&file, PreviewSize::Small)
            .unwrap()
            .unwrap(),
        small
    );
}

#[test]
fn a_folder_in_the_way_of_previews_loses_nothing() {
    let mut desk = Desk::new();
    let photo = desk.take("a.jpg", &jpeg(&drawn(0), 92));
    std::fs::write(desk.scratch.path().join("n/previews"), b"in the way").unwrap();
    let large = desk
        .notebook
        .preview(&photo.file.unwrap(), PreviewSize::Large)
        .unwrap()
        .unwrap();
    assert!(image::load_from_memory(&large).is_ok());
    assert!(desk.advice(&photo).is_empty());
}

#[test]
fn dark_glaring_blurred_and_twice_the_same_are_said() {
    let mut desk = Desk::new();
    let sharp = desk.take("sharp.jpg", &jpeg(&drawn(0), 92));
    assert!(desk.advice(&sharp).is_empty());
    let again = desk.take("again.jpg", &jpeg(&drawn(0), 80));
    assert_eq!(desk.advice(&again), ["nearly_same"]);
    let other = desk.take(
        "other.jpg",
        &jpeg(&image::imageops::rotate90(&drawn(300)), 92),
    );
    assert!(desk.advice(&other).is_empty());
    let dark = desk.take(
        "dark.jpg",
        &jpeg(&RgbImage::from_pixel(800, 600, Rgb([4, 4, 4])), 90),
    );
    assert!(desk.advice(&dark).contains(&"too_dark".to_owned()));
    let glare = desk.take(
        "glare.jpg",
        &jpeg(&RgbImage::from_pixel(800, 600, Rgb([253, 253, 253])), 90),
    );
    assert!(desk.advice(&glare).contains(&"too_bright".to_owned()));
    // A picture drawn as if out of focus: every edge twelve pixels wide.
    let soft = image::imageops::blur(&drawn(500), 12.0);
    let soft = desk.take("soft.jpg", &jpeg(&soft, 92));
    assert!(desk.advice(&soft).contains(&"blurred".to_owned()));
}

#[test]
fn what_is_not_decoded_here_takes_a_preview_from_the_shell() {
    let mut desk = Desk::new();
    // The head of a HEIC file and nothing a decoder could use: kept, hashed, not shown.
    let mut heic = vec![0, 0, 0, 24];
    heic.extend_from_slice(b"ftypheic\0\0\0\0heicmif1");
    heic.extend_from_slice(&[0; 64]);
    let photo = desk.take("a.heic", &heic);
    let file = photo.file.unwrap();
    assert_eq!(
        desk.notebook.preview(&file, PreviewSize::Small).unwrap(),
        None
    );
    let no_picture = desk
        .notebook
        .hand_in_preview(&file, b"not a picture")
        .unwrap_err();
    assert_eq!(no_picture.kind, ErrorKind::BadFormat);
    let looks = desk
        .notebook
        .hand_in_preview(&file, &jpeg(&drawn(0), 90))
        .unwrap();
    assert!(looks.handed_in);
    let small = desk
        .notebook
        .preview(&file, PreviewSize::Small)
        .unwrap()
        .unwrap();
    assert_eq!(image::load_from_memory(&small).unwrap().width(), 320);
    // A photo that is decoded here takes none: what is shown is what was kept.
    let own = desk.take("b.jpg", &jpeg(&drawn(0), 90));
    let refused = desk
        .notebook
        .hand_in_preview(&own.file.unwrap(), &jpeg(&drawn(3), 90))
        .unwrap_err();
    assert_eq!(refused.kind, ErrorKind::WrongState);
    assert!(
        desk.notebook
            .looks(&Digest([7; 32]), &Progress::new())
            .is_err()
    );
}
