//! What must come out of each published sample. The values were read with exiftool 12.57 (width,
//! height, orientation, times, position) and are compared again with the installed exiftool by
//! `tests/outside/exif.py`.

use std::io::Cursor;
use std::path::PathBuf;

use super::*;

/// Where the outside samples lie, or a loud line.
fn samples(folder: &str) -> Option<PathBuf> {
    let shared = std::env::var_os("WITNESSMARK_SHARED").map_or_else(
        || PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../../shared"),
        PathBuf::from,
    );
    let path = shared.join("outside").join(folder);
    if path.is_dir() {
        return Some(path);
    }
    println!(
        "SKIPPED: the outside samples in {} are not there",
        path.display()
    );
    None
}

fn look(bytes: &[u8], name: &str) -> Examined {
    examine(&mut Cursor::new(bytes.to_vec()), bytes.len() as u64, name).unwrap()
}

struct Row {
    file: &'static str,
    media: &'static str,
    size: (u32, u32),
    orientation: u8,
    seen: &'static str,
    position: &'static str,
    whole: bool,
    picture: bool,
    hints: &'static [&'static str],
}

#[rustfmt::skip]
const ROWS: &[Row] = &[
    Row { file: "exif/30-type_error.jpg", media: "jpg", size: (3872, 2403), orientation: 1, seen: "", position: "", whole: true, picture: true, hints: &["exif_partly_broken", "only_changed_time"] },
    Row { file: "exif/45-gps_ifd.jpg", media: "jpg", size: (1600, 900), orientation: 1, seen: "2012-06-23T06:55:49", position: "", whole: true, picture: true, hints: &["exif_partly_broken"] },
    Row { file: "exif/DSCN0010.jpg", media: "jpg", size: (640, 480), orientation: 1, seen: "2008-10-22T16:28:39", position: "43.46745 11.88513", whole: true, picture: true, hints: &["gps_day_differs", "clock_off"] },
    Row { file: "exif/HMD_Nokia_8.3_5G.jpg", media: "jpg", size: (4608, 1976), orientation: 1, seen: "2022-08-14T14:12:31 +03:00", position: "60.14671 24.90677", whole: true, picture: true, hints: &[] },
    Row { file: "exif/WWL_Polaroid_ION230.jpg", media: "jpg", size: (75, 100), orientation: 1, seen: "2026-11-24T14:41:16", position: "", whole: true, picture: true, hints: &["modified_before_taken"] },
    Row { file: "exif/empty_gps_ifd.jpg", media: "jpg", size: (10, 10), orientation: 6, seen: "2020-07-27T14:46:48.780685", position: "", whole: true, picture: true, hints: &[] },
    Row { file: "exif/exif-ifd-offset.jpg", media: "jpg", size: (200, 200), orientation: 1, seen: "", position: "", whole: true, picture: true, hints: &["exif_partly_broken", "only_changed_time"] },
    Row { file: "exif/frame_size.mpo", media: "jpg", size: (56, 70), orientation: 1, seen: "2025-09-07T14:16:43.472 -04:00", position: "", whole: true, picture: true, hints: &["more_behind_picture"] },
    Row { file: "exif/hopper_bad_exif.jpg", media: "jpg", size: (500, 500), orientation: 1, seen: "", position: "", whole: true, picture: true, hints: &["exif_partly_broken"] },
    Row { file: "exif/hopper_orientation_6.jpg", media: "jpg", size: (128, 128), orientation: 6, seen: "", position: "", whole: true, picture: true, hints: &[] },
    Row { file: "exif/hopper_orientation_6.webp", media: "webp", size: (128, 128), orientation: 6, seen: "", position: "", whole: true, picture: false, hints: &[] },
    Row { file: "exif/iphone_hdr_YES.jpg", media: "jpg", size: (3264, 2448), orientation: 1, seen: "2015-04-10T20:12:23.550", position: "40.44697 -3.72475", whole: true, picture: true, hints: &[] },
    Row { file: "exif/landscape_1.jpg", media: "jpg", size: (600, 450), orientation: 1, seen: "", position: "", whole: true, picture: true, hints: &[] },
    Row { file: "exif/landscape_2.jpg", media: "jpg", size: (600, 450), orientation: 2, seen: "", position: "", whole: true, picture: true, hints: &[] },
    Row { file: "exif/landscape_3.jpg", media: "jpg", size: (600, 450), orientation: 3, seen: "", position: "", whole: true, picture: true, hints: &[] },
    Row { file: "exif/landscape_4.jpg", media: "jpg", size: (600, 450), orientation: 4, seen: "", position: "", whole: true, picture: true, hints: &[] },
    Row { file: "exif/landscape_5.jpg", media: "jpg", size: (450, 600), orientation: 5, seen: "", position: "", whole: true, picture: true, hints: &[] },
    Row { file: "exif/landscape_6.jpg", media: "jpg", size: (450, 600), orientation: 6, seen: "", position: "", whole: true, picture: true, hints: &[] },
    Row { file: "exif/landscape_7.jpg", media: "jpg", size: (450, 600), orientation: 7, seen: "", position: "", whole: true, picture: true, hints: &[] },
    Row { file: "exif/landscape_8.jpg", media: "jpg", size: (450, 600), orientation: 8, seen: "", position: "", whole: true, picture: true, hints: &[] },
    Row { file: "exif/truncated_jpeg.jpg", media: "jpg", size: (100, 100), orientation: 1, seen: "", position: "", whole: false, picture: false, hints: &[] },
    Row { file: "exif/ultrahdr.jpg", media: "jpg", size: (1512, 2688), orientation: 1, seen: "2024-05-07T09:33:04.046 +08:00", position: "30.62765 119.73877", whole: false, picture: false, hints: &[] },
    Row { file: "heic/200MP.heic", media: "heic", size: (16320, 12240), orientation: 6, seen: "2025-01-19T14:53:27.031 +03:00", position: "", whole: true, picture: false, hints: &["position_unusable", "double_rotation"] },
    Row { file: "heic/IMG_5195.HEIC", media: "heic", size: (2566, 3313), orientation: 1, seen: "2021-04-11T15:47:53.054 -05:00", position: "39.05134 -94.28877", whole: true, picture: false, hints: &[] },
    Row { file: "heic/corrupted.heic", media: "heic", size: (0, 0), orientation: 1, seen: "", position: "", whole: false, picture: false, hints: &[] },
    Row { file: "heic/iphone_13_pro_max.HEIC", media: "heic", size: (4032, 3024), orientation: 6, seen: "2022-02-16T12:55:41.762 +01:00", position: "", whole: true, picture: false, hints: &["double_rotation"] },
    Row { file: "heic/pug.heic", media: "heic", size: (4032, 3024), orientation: 1, seen: "2023-02-21T14:33:08.302 +03:00", position: "44.85048 34.97665", whole: true, picture: false, hints: &[] },
    Row { file: "heic/xiaomi.heic", media: "heic", size: (2592, 1944), orientation: 1, seen: "2023-04-27T19:44:18.732", position: "47.22729 39.69999", whole: true, picture: false, hints: &[] },
];

#[test]
fn every_sample_says_what_exiftool_says() {
    let (Some(exif), Some(_)) = (samples("exif"), samples("heic")) else {
        return;
    };
    let root = exif.parent().unwrap().to_path_buf();
    let mut wrong = Vec::new();
    for row in ROWS {
        let found = look(&std::fs::read(root.join(row.file)).unwrap(), row.file);
        let seen = found.seen.as_ref().map_or(String::new(), |s| {
            format!("{} {}", s.time, s.offset.as_deref().unwrap_or(""))
        });
        let position = found.gps.as_ref().map_or(String::new(), |g| {
            let round = |t: &str| format!("{:.5}", t.parse::<f64>().unwrap());
            format!("{} {}", round(&g.lat), round(&g.lon))
        });
        let hints: Vec<&str> = found.hints.iter().map(|h| h.code.as_str()).collect();
        let is = format!(
            "{} {:?} {} [{}] [{position}] {} {} {hints:?}",
            found.media.extension(),
            (found.width, found.height),
            found.orientation,
            seen.trim(),
            found.complete == Complete::Yes,
            found.picture.is_some(),
        );
        let must = format!(
            "{} {:?} {} [{}] [{}] {} {} {:?}",
            row.media,
            row.size,
            row.orientation,
            row.seen,
            row.position,
            row.whole,
            row.picture,
            row.hints,
        );
        if is != must {
            wrong.push(format!(
                "{}\n   is   {is}\n   must {must}\n   {:?}",
                row.file, found.hints
            ));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    // Nothing that lies there is left out of the table.
    for folder in ["exif", "heic"] {
        for entry in std::fs::read_dir(root.join(folder)).unwrap() {
            let name = entry.unwrap().file_name().into_string().unwrap();
            let named = format!("{folder}/{name}");
            assert!(
                name.starts_with("LICENSE") || ROWS.iter().any(|r| r.file == named),
                "{named} is not in the table"
            );
        }
    }
}

#[test]
fn every_prefix_of_every_small_sample_is_examined_without_a_panic() {
    let (Some(exif), Some(heic)) = (samples("exif"), samples("heic")) else {
        return;
    };
    for path in [
        exif.join("WWL_Polaroid_ION230.jpg"),
        exif.join("empty_gps_ifd.jpg"),
        exif.join("hopper_orientation_6.webp"),
        exif.join("frame_size.mpo"),
        heic.join("corrupted.heic"),
    ] {
        let bytes = std::fs::read(&path).unwrap();
        for cut in 0..bytes.len() {
            let found = look(&bytes[..cut], "cut.jpg");
            if found.media == Media::Jpg && !path.ends_with("frame_size.mpo") {
                assert_ne!(found.complete, Complete::Yes, "{} at {cut}", path.display());
                assert_eq!(found.picture, None);
            }
        }
    }
    // The directory of a large HEIC stands at its head.
    let bytes = std::fs::read(heic.join("iphone_13_pro_max.HEIC")).unwrap();
    for cut in (0..6000).step_by(7).chain([bytes.len() - 1]) {
        let found = look(&bytes[..cut], "cut.heic");
        assert!(
            matches!(found.complete, Complete::No(_) | Complete::NotChecked),
            "{cut}"
        );
    }
}
