//! `lay` holds to its schema, lays a later view where the drawn scene says it lies, and refuses
//! another place. Truth by construction: `witnessmark-scenes`.

use std::path::Path;

use witnessmark_scenes::random_views::{impostor_pair, random_view_pair};
use witnessmark_scenes::{Exif, Rendered, TEST_SIZE, encode_jpeg};

use super::{good, refused};

fn keep(folder: &Path, name: &str, picture: &Rendered) -> String {
    let file = folder.join(name);
    let exif = Exif::demo("Whole", "2026:05:03 09:10:00", "+02:00", "");
    std::fs::write(&file, encode_jpeg(picture, &exif)).unwrap();
    file.display().to_string()
}

fn lay(folder: &Path, words: &[&str]) -> serde_json::Value {
    let schema: serde_json::Value =
        serde_json::from_str(include_str!("../schemas/lay.json")).unwrap();
    let held = jsonschema::validator_for(&schema).unwrap();
    let shown = serde_json::from_str(&good(folder, words)).unwrap();
    let wrong: Vec<String> = held.iter_errors(&shown).map(|e| e.to_string()).collect();
    assert!(wrong.is_empty(), "{wrong:?}");
    shown
}

#[test]
fn a_later_view_is_laid_and_another_place_is_not() {
    let scratch = tempfile::tempdir().unwrap();
    let at = scratch.path();
    let pair = random_view_pair(1, TEST_SIZE);
    let (older, newer) = (
        keep(at, "older.jpg", &pair.older),
        keep(at, "newer.jpg", &pair.newer),
    );
    let both = at.join("both.png").display().to_string();
    let laid = lay(at, &["lay", &older, &newer, "--out", &both, "--json"]);
    assert_eq!(laid["same_view"], true, "{laid}");
    let h: [[f64; 3]; 3] = serde_json::from_value(laid["homography"].clone()).unwrap();
    assert!(!pair.truth.points.is_empty());
    let mut off: Vec<f64> = pair
        .truth
        .points
        .iter()
        .map(|[p, q]| {
            let v = h.map(|r| r[0] * p[0] + r[1] * p[1] + r[2]);
            (v[0] / v[2] - q[0]).hypot(v[1] / v[2] - q[1])
        })
        .collect();
    off.sort_by(f64::total_cmp);
    assert!(off[off.len() / 2] < 10.0, "{off:?}");
    let picture = image::open(&both).unwrap();
    assert!(picture.width() > 3 * 800 && picture.height() > 500);

    let other = impostor_pair(1, TEST_SIZE);
    let (a, b) = (
        keep(at, "a.jpg", &other.older),
        keep(at, "b.jpg", &other.newer),
    );
    let none = at.join("none.png");
    let refused_view = lay(
        at,
        &[
            "lay",
            &a,
            &b,
            "--out",
            &none.display().to_string(),
            "--json",
        ],
    );
    assert_eq!(refused_view["same_view"], false);
    assert!(!none.exists(), "a picture of a fit that does not hold");
    assert!(good(at, &["lay", &a, &b]).starts_with("not the same view: "));
}

#[test]
fn what_is_no_picture_is_said_with_its_name() {
    let scratch = tempfile::tempdir().unwrap();
    let at = scratch.path();
    let text = at.join("text.jpg").display().to_string();
    std::fs::write(&text, "no picture").unwrap();
    assert!(refused(at, &["lay", &text, &text], 2).contains("text.jpg"));
    assert!(refused(at, &["lay", "missing.jpg", &text], 2).contains("missing.jpg"));
    assert!(refused(at, &["lay", &text, &text, "--out", "both.txt"], 2).contains("both.txt"));
}
