//! `measure`: lengths, cracks and stains on drawn photographs whose truth is known
//! (`witnessmark-scenes`), held to the schema, written down, repeated; and what bad input is told.
//! Uncertainty: a value lies within U (k = 2) of the truth in about 95 % (JCGM 100:2008, 6.3.3); single
//! values are held to 1.5 U.

use std::path::Path;

use serde_json::Value;
use witnessmark_scenes::random_scenes::{crack_setup, stain_setup};
use witnessmark_scenes::{
    Exif, Rendered, TEST_SIZE, encode_jpeg, random_card_scene, random_crack_scene,
    random_stain_scene,
};

use super::{good, notebook, refused, run};

fn keep(folder: &Path, name: &str, picture: &Rendered) -> String {
    let file = folder.join(name);
    let exif = Exif::demo("Whole", "2025:05:03 09:10:00", "+02:00", "");
    std::fs::write(&file, encode_jpeg(picture, &exif)).unwrap();
    file.display().to_string()
}

fn measure(folder: &Path, words: &[&str]) -> Value {
    let schema: Value = serde_json::from_str(include_str!("../schemas/measure.json")).unwrap();
    let held = jsonschema::validator_for(&schema).unwrap();
    let words: Vec<&str> = ["measure"].iter().chain(words).copied().collect();
    let words = [words.as_slice(), &["--json"]].concat();
    let shown = serde_json::from_str(&good(folder, &words)).unwrap();
    let wrong: Vec<String> = held.iter_errors(&shown).map(|e| e.to_string()).collect();
    assert!(wrong.is_empty(), "{wrong:?}\n{shown}");
    shown
}

fn said(points: &[[f64; 2]]) -> String {
    points
        .iter()
        .map(|p| format!("{:.1},{:.1}", p[0], p[1]))
        .collect::<Vec<_>>()
        .join(" ")
}

/// Taps as a finger sets them: a few pixels beside.
fn rough(points: &[[f64; 2]]) -> Vec<[f64; 2]> {
    points
        .iter()
        .enumerate()
        .map(|(i, p)| {
            let a = i as f64 * 2.4 + 0.7;
            [p[0] + 4.0 * a.cos(), p[1] + 4.0 * a.sin()]
        })
        .collect()
}

fn within(shown: &Value, truth: f64) {
    let (value, expanded) = (
        shown["value"].as_f64().unwrap(),
        shown["U"].as_f64().unwrap(),
    );
    assert!(
        (value - truth).abs() <= 1.5 * expanded,
        "{value} ± {expanded}, drawn {truth}"
    );
    assert!(expanded < 0.2 * truth, "{value} ± {expanded} says nothing");
}

#[test]
fn a_length_by_the_card_is_what_was_drawn_and_repeats_to_the_digit() {
    let scratch = tempfile::tempdir().unwrap();
    let at = scratch.path();
    let scene = random_card_scene(11, TEST_SIZE);
    let photo = keep(at, "card.jpg", &scene);
    let card = said(&rough(&scene.truth.cards[0].corners_px));
    let known = &scene.truth.lengths[0];
    let path = said(&known.path_px);
    let shown = measure(at, &["length", &photo, "--card", &card, "--path", &path]);
    within(&shown, known.length_mm);
    assert_eq!(shown["method"], "card");
    assert_eq!(shown["marks"]["scale"]["snapped"], true);
    // Printed values are those of the stored marks, to the last digit.
    let file = at.join("kept.json").display().to_string();
    std::fs::write(&file, shown.to_string()).unwrap();
    let again: Value = serde_json::from_str(&good(
        at,
        &["measure", "repeat", &file, "--photo", &photo, "--json"],
    ))
    .unwrap();
    let row = &again["measures"][0];
    assert_eq!(row["same"], true, "{again}");
    assert_eq!(row["from_photo"]["value"], shown["value"]);
    assert_eq!(row["from_photo"]["corners_moved_px"], 0.0);
    // One corner moved in the stored marks: no longer what was written.
    let mut other = shown.clone();
    let x = other["marks"]["scale"]["used"][1][0].as_i64().unwrap();
    other["marks"]["scale"]["used"][1][0] = (x + 400).into();
    std::fs::write(&file, other.to_string()).unwrap();
    let changed = run(at, &["measure", "repeat", &file, "--json"]);
    assert_eq!(changed.status.code(), Some(1));
    let changed: Value = serde_json::from_slice(&changed.stdout).unwrap();
    assert_eq!(changed["measures"][0]["same"], false);
}

#[test]
fn corners_in_any_order_give_the_same_and_it_is_said() {
    let scratch = tempfile::tempdir().unwrap();
    let at = scratch.path();
    let scene = random_card_scene(11, TEST_SIZE);
    let photo = keep(at, "card.jpg", &scene);
    let [a, b, c, d] = scene.truth.cards[0].corners_px;
    let path = said(&scene.truth.lengths[0].path_px);
    let length = |order: &[[f64; 2]]| {
        measure(
            at,
            &["length", &photo, "--card", &said(order), "--path", &path],
        )
    };
    let straight = length(&[a, b, c, d]);
    for (order, word) in [
        ([a, c, b, d], "crosswise"),
        ([a, d, c, b], "counter-clockwise"),
    ] {
        let other = length(&order);
        assert_eq!(other["value"], straight["value"]);
        let warned = other["warnings"].to_string();
        assert!(
            warned.contains("reordered") && warned.contains(word),
            "{warned}"
        );
    }
    assert!(!straight["warnings"].to_string().contains("reordered"));
}

#[test]
fn a_ruler_of_two_points_scales_what_lies_beside_it() {
    let scratch = tempfile::tempdir().unwrap();
    let at = scratch.path();
    let scene = random_card_scene(11, TEST_SIZE);
    let photo = keep(at, "card.jpg", &scene);
    // A card's long side is a known length too (ISO/IEC 7810: 85.60 mm).
    let [a, b, ..] = scene.truth.cards[0].corners_px;
    let ruler = said(&[a, b]);
    let path = said(&scene.truth.lengths[0].path_px);
    let words = ["length", &photo, "--path", &path, "--ruler", &ruler];
    let shown = measure(
        at,
        &[words.as_slice(), &["--ruler-length", "85.6 mm"]].concat(),
    );
    assert_eq!(shown["method"], "ruler");
    let truth = scene.truth.lengths[0].length_mm;
    let (value, expanded) = (
        shown["value"].as_f64().unwrap(),
        shown["U"].as_f64().unwrap(),
    );
    assert!((value - truth).abs() <= expanded, "{shown} drawn {truth}");
    let inches = measure(
        at,
        &[words.as_slice(), &["--ruler-length", "3 47/127 in"]].concat(),
    );
    let ratio = inches["value"].as_f64().unwrap() / value;
    assert!((ratio * 85.6 / (25.4 * (3.0 + 47.0 / 127.0)) - 1.0).abs() < 1e-3);
}

#[test]
fn a_crack_is_followed_and_written_down_with_its_marks() {
    let scratch = tempfile::tempdir().unwrap();
    let at = scratch.path();
    // The first drawn crack that has a card beside it.
    let seed = (1..60)
        .find(|seed| {
            !crack_setup(*seed, false, TEST_SIZE)
                .truth()
                .cards
                .is_empty()
        })
        .unwrap();
    let scene = random_crack_scene(seed, false, TEST_SIZE);
    let photo = keep(at, "crack.jpg", &scene);
    let crack = &scene.truth.cracks[0];
    let (first, last) = (
        crack.polyline_px[0],
        crack.polyline_px[crack.polyline_px.len() - 1],
    );
    let (from, to) = (said(&[first]), said(&[last]));
    let taps = ["trace", &photo, "--tap", &from, "--tap", &to];
    let plain = measure(at, &taps);
    let length = plain["length_px"].as_f64().unwrap();
    assert!(
        (length / crack.length_px - 1.0).abs() < 0.03,
        "{length}, drawn {}",
        crack.length_px
    );
    assert!(plain.get("value").is_none());
    // With a further tap on the crack.
    let middle = said(&[crack.polyline_px[crack.polyline_px.len() / 2]]);
    let more = measure(at, &[taps.as_slice(), &["--tap", &middle]].concat());
    assert!((more["length_px"].as_f64().unwrap() / crack.length_px - 1.0).abs() < 0.03);

    let folder = at.join("n");
    notebook(&folder);
    let opened: Value = serde_json::from_str(&good(
        &folder,
        &[
            "finding",
            "open",
            "--zone",
            "733",
            "--condition",
            "crack",
            "--json",
        ],
    ))
    .unwrap();
    let finding = opened["short"].as_str().unwrap();
    let card = said(&rough(&scene.truth.cards[0].corners_px));
    let written = [
        taps.as_slice(),
        &["--card", &card, "--finding", finding, "--late"],
    ]
    .concat();
    let shown = measure(&folder, &written);
    within(&shown, crack.length_mm);
    let history: Value = serde_json::from_str(&good(&folder, &["history", "--json"])).unwrap();
    let sightings = history["findings"][0]["sightings"].as_array().unwrap();
    // Recognised later: it stands before the one that opened the finding, with the photo's own date.
    assert_eq!(sightings.len(), 2);
    assert_eq!(sightings[0]["value"], shown["value"], "{sightings:?}");
    assert_eq!(sightings[0]["late"], true);
    assert!(sightings[0].to_string().contains("2025-05-03"));
    // Repeated from the record alone: from its marks, and from its taps on the original.
    let entry = shown["entry"].as_str().unwrap();
    let again: Value = serde_json::from_str(&good(
        &folder,
        &["measure", "repeat", &entry[..8], "--json"],
    ))
    .unwrap();
    let row = &again["measures"][0];
    assert_eq!(row["same"], true, "{again}");
    assert_eq!(row["from_photo"]["line_moved_px"], 0.0);
    assert_eq!(row["from_photo"]["value"], shown["value"]);
    // Measured again on the same bytes: the photo is not taken in twice.
    let photos = || {
        let text = good(&folder, &["history", "--json"]);
        serde_json::from_str::<Value>(&text).unwrap()
    };
    let before = std::fs::read_dir(folder.join("evidence")).unwrap().count();
    measure(&folder, &written);
    assert_eq!(
        std::fs::read_dir(folder.join("evidence")).unwrap().count(),
        before
    );
    assert_eq!(
        photos()["findings"][0]["sightings"]
            .as_array()
            .unwrap()
            .len(),
        3
    );
    assert!(good(&folder, &["verify"]).contains("in order"));
}

#[test]
fn a_stain_is_filled_to_its_edge() {
    let scratch = tempfile::tempdir().unwrap();
    let at = scratch.path();
    let seed = (1..60)
        .find(|seed| {
            let truth = stain_setup(*seed, TEST_SIZE).truth();
            truth.cards.first().is_some_and(|card| card.whole)
        })
        .unwrap();
    let scene = random_stain_scene(seed, TEST_SIZE);
    let photo = keep(at, "stain.jpg", &scene);
    let stain = &scene.truth.stains[0];
    let tap = said(&[stain.middle_px]);
    let card = said(&rough(&scene.truth.cards[0].corners_px));
    let shown = measure(at, &["outline", &photo, "--tap", &tap, "--card", &card]);
    let area = shown["area_px"].as_f64().unwrap();
    assert!(
        (area / stain.area_px - 1.0).abs() < 0.06,
        "{area}, drawn {}",
        stain.area_px
    );
    within(&shown, stain.area_mm2);
    assert_eq!(shown["unit"], "mm2");
    // The same edge drawn by hand.
    let every: Vec<[f64; 2]> = stain.polygon_px.iter().step_by(4).copied().collect();
    let edge = said(&every);
    let drawn = measure(at, &["outline", &photo, "--edge", &edge, "--card", &card]);
    within(&drawn, stain.area_mm2);
}

#[test]
fn warnings_say_what_is_wrong_with_the_picture() {
    let scratch = tempfile::tempdir().unwrap();
    let at = scratch.path();
    let photo = at.join("grey.png").display().to_string();
    image::RgbImage::from_pixel(1600, 1200, image::Rgb([120; 3]))
        .save(&photo)
        .unwrap();
    let warned = |card: &str, path: &str| {
        measure(at, &["length", &photo, "--card", card, "--path", path])["warnings"].to_string()
    };
    // A card of 100 pixels: small. Nothing to see in the picture: corners as tapped.
    let small = warned("700,500 800,500 800,563 700,563", "820,500 880,500");
    assert!(
        small.contains("small") && small.contains("not found"),
        "{small}"
    );
    let far = warned("100,100 500,100 500,352 100,352", "1400,1100 1500,1100");
    assert!(far.contains("within"), "{far}");
    let steep = warned("500,600 1100,600 900,700 700,700", "700,750 900,750");
    assert!(steep.contains("slant"), "{steep}");
}

#[test]
fn bad_input_is_told_what_and_where() {
    let scratch = tempfile::tempdir().unwrap();
    let at = scratch.path();
    let photo = at.join("black.png").display().to_string();
    image::RgbImage::from_pixel(800, 600, image::Rgb([0; 3]))
        .save(&photo)
        .unwrap();
    let card = "100,100 400,100 400,289 100,289";
    let length = |card: &str, path: &str| {
        refused(
            at,
            &["measure", "length", &photo, "--card", card, "--path", path],
            2,
        )
    };
    assert!(length(card, "10,10 900,10").contains("outside the picture"));
    assert!(length(card, "10,10 10,10").contains("coincide"));
    assert!(length(card, "10,10").contains("coincide"));
    assert!(length(card, "10;10 20,20").contains("not a point"));
    assert!(length(card, "nan,10 20,20").contains("not a point"));
    assert!(length("100,100 100,100 400,289 100,289", "10,10 50,10").contains("coincide"));
    assert!(length("100,100 400,100 400,289", "10,10 50,10").contains("4 points"));
    assert!(length("100,100 400,100 250,150 100,289", "10,10 50,10").contains("card"));
    assert!(length("-5,100 400,100 400,289 100,289", "10,10 50,10").contains("outside"));
    // Pure black: there is no stain and no crack to be found, and it is said.
    let said = refused(at, &["measure", "outline", &photo, "--tap", "400,300"], 2);
    assert!(said.contains("nothing stands out"), "{said}");
    let traced = measure(
        at,
        &["trace", &photo, "--tap", "100,100", "--tap", "600,400"],
    );
    assert_eq!(traced["sure"], "poor");
    let one = refused(at, &["measure", "trace", &photo, "--tap", "1,1"], 2);
    assert!(one.contains("two taps"), "{one}");
    let twice = ["measure", "trace", &photo, "--tap", "9,9", "--tap", "9,9"];
    assert!(refused(at, &twice, 2).contains("coincide"));
    let out = ["measure", "trace", &photo, "--tap", "9,9", "--tap", "9,700"];
    assert!(refused(at, &out, 2).contains("outside"));
    let none = ["measure", "length", &photo, "--path", "1,1 9,9"];
    assert!(refused(at, &none, 2).contains("scale"));
    let missing = ["measure", "outline", "missing.jpg", "--tap", "1,1"];
    assert!(refused(at, &missing, 2).contains("missing.jpg"));
    assert!(refused(at, &["measure", "repeat", "abcdef"], 2).contains("notebook"));
}

/// A PNG of 65 bytes that claims 16,384 × 16,384, and a header of 250 megapixels and one more row.
#[test]
fn pictures_that_claim_too_much_are_refused_with_the_limit_and_kept() {
    let scratch = tempfile::tempdir().unwrap();
    let folder = scratch.path().join("n");
    notebook(&folder);
    for (name, side, said_of_it) in [
        ("claims.png", 16_384_u32, "megapixels"),
        ("panorama.png", 15_812, "250 megapixels"),
    ] {
        let file = scratch.path().join(name);
        std::fs::write(&file, claiming(side, side)).unwrap();
        let shown = file.display().to_string();
        let said = refused(&folder, &["measure", "outline", &shown, "--tap", "5,5"], 2);
        assert!(said.contains(said_of_it), "{said}");
        // Stored all the same.
        good(&folder, &["photo", &shown, "--zone", "733"]);
    }
}

/// A PNG without pixels: signature, IHDR, an IDAT of eight bytes, IEND (PNG, third edition).
fn claiming(width: u32, height: u32) -> Vec<u8> {
    let mut out = b"\x89PNG\r\n\x1a\n".to_vec();
    let mut header = Vec::new();
    header.extend(width.to_be_bytes());
    header.extend(height.to_be_bytes());
    header.extend([8, 2, 0, 0, 0]);
    for (kind, data) in [
        (b"IHDR", header.as_slice()),
        (b"IDAT", &[0x78, 0x9c, 0x03, 0, 0, 0, 0, 1]),
        (b"IEND", &[]),
    ] {
        out.extend((data.len() as u32).to_be_bytes());
        let mut body = kind.to_vec();
        body.extend(data);
        out.extend(&body);
        out.extend(crc(&body).to_be_bytes());
    }
    out
}

/// CRC-32 of ISO 3309 as PNG uses it.
fn crc(bytes: &[u8]) -> u32 {
    !bytes.iter().fold(!0_u32, |mut crc, byte| {
        crc ^= u32::from(*byte);
        for _ in 0..8 {
            crc = if crc & 1 == 1 {
                (crc >> 1) ^ 0xedb8_8320
            } else {
                crc >> 1
            };
        }
        crc
    })
}

/// The scale sheet as it is: marks 160.0 and 100.0 mm apart, the bar 100 mm, on both papers. The SVG
/// is read by its numbers (its unit is the millimetre: viewBox over width in mm, SVG 1.1 section 7.7);
/// the PDF's page is compared with ISO 216 and with 8.5 × 11 in, in points of 1/72 in (ISO 32000-1, 8.3.2.3).
#[test]
fn the_scale_sheet_is_as_long_as_it_says() {
    let scratch = tempfile::tempdir().unwrap();
    let at = scratch.path();
    for (paper, width, height) in [("a4", 210.0, 297.0), ("letter", 215.9, 279.4)] {
        let svg = at.join(format!("{paper}.svg")).display().to_string();
        good(at, &["scale-sheet", "--out", &svg, "--paper", paper]);
        let text = std::fs::read_to_string(&svg).unwrap();
        assert!(text.contains(&format!(
            "width=\"{width}mm\" height=\"{height}mm\" viewBox=\"0 0 {width} {height}\""
        )));
        let number = |line: &str, name: &str| -> f64 {
            let from = line.split(&format!(" {name}=\"")).nth(1).unwrap();
            from.split('"').next().unwrap().parse().unwrap()
        };
        let marks: Vec<[f64; 2]> = text
            .lines()
            .filter(|line| line.starts_with("<circle"))
            .map(|line| [number(line, "cx"), number(line, "cy")])
            .collect();
        let [a, b, c, d] = <[[f64; 2]; 4]>::try_from(marks).unwrap();
        let apart = |p: [f64; 2], q: [f64; 2]| (p[0] - q[0]).hypot(p[1] - q[1]);
        for (got, wanted) in [
            (apart(a, b), 160.0),
            (apart(c, d), 160.0),
            (apart(b, c), 100.0),
            (apart(d, a), 100.0),
            (apart(a, c), 160f64.hypot(100.0)),
        ] {
            assert!((got - wanted).abs() < 0.002, "{got} {wanted}");
        }
        // The widest black figure is the bar.
        let widest = text
            .lines()
            .filter(|line| line.starts_with("<polygon"))
            .map(|line| {
                let list = line.split('"').nth(1).unwrap();
                let xs: Vec<f64> = list
                    .split(' ')
                    .map(|p| p.split(',').next().unwrap().parse().unwrap())
                    .collect();
                xs.iter().copied().fold(f64::MIN, f64::max)
                    - xs.iter().copied().fold(f64::MAX, f64::min)
            })
            .fold(0.0, f64::max);
        assert!((widest - 100.0).abs() < 0.001, "{widest}");
        let pdf = at.join(format!("{paper}.pdf")).display().to_string();
        good(at, &["scale-sheet", "--out", &pdf, "--paper", paper]);
        let bytes = std::fs::read(&pdf).unwrap();
        let text = String::from_utf8_lossy(&bytes);
        let page = text.split("/MediaBox [").nth(1).unwrap();
        let page: Vec<f64> = page
            .split(']')
            .next()
            .unwrap()
            .split_whitespace()
            .map(|v| v.parse().unwrap())
            .collect();
        assert!((page[2] - width / 25.4 * 72.0).abs() < 0.01, "{page:?}");
        assert!((page[3] - height / 25.4 * 72.0).abs() < 0.01, "{page:?}");
    }
    let said = refused(at, &["scale-sheet", "--out", "sheet.docx"], 2);
    assert!(said.contains(".pdf or .svg"), "{said}");
    refused(at, &["scale-sheet", "--out", "s.pdf", "--paper", "b5"], 2);
}

/// The annotated copy hides the card's face, adds a strip for the words, leaves the original alone; and
/// two measures of one place stand in one frame.
#[test]
fn pictures_for_people_show_the_marks_and_hide_the_card() {
    let scratch = tempfile::tempdir().unwrap();
    let at = scratch.path();
    let scene = random_card_scene(11, TEST_SIZE);
    let photo = keep(at, "card.jpg", &scene);
    let before = std::fs::read(&photo).unwrap();
    let corners = scene.truth.cards[0].corners_px;
    let path = &scene.truth.lengths[0].path_px;
    let out = at.join("shown.png").display().to_string();
    let card = said(&corners);
    let words = ["length", &photo, "--card", &card, "--path", &said(path)].map(str::to_owned);
    let words: Vec<&str> = words.iter().map(String::as_str).collect();
    measure(at, &[words.as_slice(), &["--out", &out]].concat());
    assert_eq!(std::fs::read(&photo).unwrap(), before);
    let (shown, original) = (
        image::open(&out).unwrap().to_rgb8(),
        image::open(&photo).unwrap().to_rgb8(),
    );
    assert_eq!(shown.width(), original.width());
    assert!(shown.height() > original.height(), "no strip for the words");
    // Within the card, a twentieth in from its edges, nothing of its face is left: all is grey.
    let [a, b, c, d] = corners;
    for i in 1..20 {
        for j in 1..20 {
            let (s, t) = (f64::from(i) / 20.0, f64::from(j) / 20.0);
            let mix = |p: [f64; 2], q: [f64; 2], t: f64| {
                [p[0] + (q[0] - p[0]) * t, p[1] + (q[1] - p[1]) * t]
            };
            let p = mix(mix(a, b, s), mix(d, c, s), t);
            let pixel = shown.get_pixel(p[0] as u32, p[1] as u32).0;
            assert!(
                pixel[0] == pixel[1] && pixel[1] == pixel[2],
                "{p:?} {pixel:?}"
            );
        }
    }

    let folder = at.join("n");
    notebook(&folder);
    let opened: Value = serde_json::from_str(&good(
        &folder,
        &[
            "finding",
            "open",
            "--zone",
            "733",
            "--condition",
            "crack",
            "--json",
        ],
    ))
    .unwrap();
    let finding = opened["short"].as_str().unwrap();
    let half = said(&[
        path[0],
        [
            (path[0][0] + path[1][0]) / 2.0,
            (path[0][1] + path[1][1]) / 2.0,
        ],
    ]);
    let whole = said(&path[..2]);
    let sighted = |path: &str| {
        let words = ["length", &photo, "--card", &card, "--path", path];
        let shown = measure(
            &folder,
            &[words.as_slice(), &["--finding", finding]].concat(),
        );
        shown["entry"].as_str().unwrap().to_owned()
    };
    let (older, newer) = (sighted(&half), sighted(&whole));
    let both = at.join("both.jpg").display().to_string();
    let compared: Value = serde_json::from_str(&good(
        &folder,
        &[
            "measure", "compare", &older, &newer, "--out", &both, "--json",
        ],
    ))
    .unwrap();
    assert_eq!(compared["same_view"], true, "{compared}");
    let ratio =
        compared["newer"]["value"].as_f64().unwrap() / compared["older"]["value"].as_f64().unwrap();
    assert!((ratio - 2.0).abs() < 0.1, "{compared}");
    let picture = image::open(&both).unwrap();
    assert!(picture.width() > 2 * original.width());
}
