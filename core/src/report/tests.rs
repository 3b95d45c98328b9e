//! Snapshots and properties of every form, over a notebook with known content. All of it is invented.

use std::sync::Arc;

use super::{Ask, Cut, Form, Units, build};
use crate::notebook::{
    KeySource, NewFinding, NewLook, NewSighting, NewWalkaround, Notebook, Settled,
};
use crate::record::kinds::Measure;
use crate::record::{Digest, parse_when};
use crate::world::{GivenClock, SeededEntropy, SystemFiles, World};

struct Known {
    _folder: tempfile::TempDir,
    notebook: Notebook,
    aircraft: Digest,
    crack: Digest,
}

/// Two walkarounds: a crack that grew, a leak that was treated and came back, a zone that could not
/// be seen. `mark` goes into every text that a person types.
fn known(mark: &str) -> Known {
    let folder = tempfile::tempdir().unwrap();
    let clock = Arc::new(GivenClock::new(
        parse_when("2026-03-01T09:00:00+01:00").unwrap(),
    ));
    let world = World {
        clock: clock.clone(),
        entropy: Arc::new(SeededEntropy::new(7)),
        files: Arc::new(SystemFiles),
    };
    let name = |text: &str| format!("{text}{mark}");
    let root = folder.path().join("notebook");
    let mut notebook = Notebook::init(
        &root,
        world,
        &name("Ada Ventner"),
        &name("owner"),
        KeySource::Seed([5; 32]),
    )
    .unwrap();
    let aircraft = notebook
        .add_aircraft(
            "N0TS",
            &name("low wing"),
            Some(&name("S1")),
            "low_wing_fixed",
            false,
        )
        .unwrap();
    let mut ids = Vec::new();
    for (day, hours, length) in [("2026-03-01", "100", "10"), ("2026-05-02", "140.5", "14.2")] {
        clock.set(parse_when(&format!("{day}T09:00:00+01:00")).unwrap());
        notebook
            .start_walkaround(
                &aircraft,
                &NewWalkaround {
                    purpose: Some("routine".into()),
                    hours: Some(hours.into()),
                    ..NewWalkaround::default()
                },
            )
            .unwrap();
        let seen = NewSighting {
            basis: Some("measured".into()),
            measures: vec![
                Measure::typed("crack", &format!("length {length} mm +-0.3 by ruler")).unwrap(),
            ],
            text: Some(name("at the screw")),
            ..NewSighting::default()
        };
        if let Some(id) = ids.first() {
            notebook.sight(&aircraft, id, &seen).unwrap();
        } else {
            let new = NewFinding {
                zone: "550".into(),
                condition: "crack".into(),
                part: Some(name("outer rib")),
                unsure: vec![name("in paint")],
                text: Some(name("hairline")),
                ..NewFinding::default()
            };
            ids.push(notebook.open_finding(&aircraft, &new, &seen).unwrap());
            let leak = NewFinding {
                zone: "620".into(),
                condition: "fuel_leak".into(),
                part: Some(name("drain")),
                ..NewFinding::default()
            };
            let told = NewSighting {
                basis: Some("told".into()),
                text: Some(name("the seller says it was always so")),
                ..NewSighting::default()
            };
            ids.push(notebook.open_finding(&aircraft, &leak, &told).unwrap());
            notebook
                .treat(
                    &aircraft,
                    &ids[1],
                    "tightened",
                    Some(&name("a mechanic")),
                    Vec::new(),
                )
                .unwrap();
            notebook
                .told(&aircraft, &ids[0], &name("the workshop"))
                .unwrap();
            notebook
                .defer(
                    &aircraft,
                    &ids[1],
                    &name("me"),
                    &name("my word"),
                    &name("June"),
                )
                .unwrap();
            notebook.concern(&aircraft, &ids[0], "ask").unwrap();
            notebook
                .limit(
                    &aircraft,
                    &ids[0],
                    "length",
                    "25",
                    "mm",
                    &name("manual 51-10"),
                )
                .unwrap();
        }
        let look = NewLook {
            zones: vec!["110".into()],
            not_seen: Some(name("cover on")),
            ..NewLook::default()
        };
        notebook.look(&aircraft, &look).unwrap();
        notebook.finish_walkaround(&aircraft).unwrap();
    }
    Known {
        _folder: folder,
        notebook,
        aircraft,
        crack: ids[0],
    }
}

fn cuts(known: &Known) -> [Cut; 6] {
    [
        Cut::Whole,
        Cut::Finding(known.crack),
        Cut::Review,
        Cut::Baseline,
        Cut::Sheet,
        Cut::HandingOver,
    ]
}

fn text(known: &Known, ask: &Ask) -> String {
    build(&known.notebook, &known.aircraft, ask).unwrap()
}

/// Parts of a page by their heading, a line an element, so that a snapshot can be read.
fn lines(html: &str) -> String {
    let body = html.find("<body").map_or(html, |at| &html[at..]);
    let body = body.find("<script>").map_or(body, |at| &body[..at]);
    body.replace("><", ">\n<")
}

#[test]
fn pages_are_as_they_were_looked_at() {
    let known = known("");
    for cut in cuts(&known) {
        let html = text(
            &known,
            &Ask {
                cut,
                ..Ask::default()
            },
        );
        // The diagram and the QR have tests of their own.
        let mut short = String::new();
        let mut rest = lines(&html);
        while let Some(start) = rest.find("<svg") {
            let Some(end) = rest[start..].find("</svg>") else {
                break;
            };
            short.push_str(&rest[..start]);
            short.push_str("<svg/>");
            rest = rest[start + end + 6..].to_owned();
        }
        short.push_str(&rest);
        insta::assert_snapshot!(format!("page_{}", cut.name()), short);
    }
}

#[test]
fn texts_are_as_they_were_looked_at() {
    let known = known("");
    for (name, form) in [
        ("markdown", Form::Markdown),
        ("csv", Form::Csv),
        ("message", Form::Text),
    ] {
        insta::assert_snapshot!(
            name,
            text(
                &known,
                &Ask {
                    form,
                    ..Ask::default()
                }
            )
        );
    }
}

/// HTML Living Standard 13.1.2: text holds no `<` and attribute values no quote that is not escaped.
#[test]
fn markup_in_every_text_stays_text_in_every_cut() {
    let evil = "<i data-evil>&\"'</style></script>";
    let known = known(evil);
    for cut in cuts(&known) {
        let html = text(
            &known,
            &Ask {
                cut,
                windows: true,
                ..Ask::default()
            },
        );
        assert!(!html.contains("<i data-evil"), "{}", cut.name());
        assert!(html.contains("&lt;i data-evil"), "{}", cut.name());
        let scripts = html.matches("<script").count();
        assert_eq!(scripts, usize::from(cut != Cut::Sheet), "{}", cut.name());
        assert_eq!(html.matches("</script>").count(), scripts);
        assert_eq!(
            html.matches("</title>").count(),
            1 + html.matches("<title>").count() - 1
        );
    }
    let markdown = text(
        &known,
        &Ask {
            form: Form::Markdown,
            ..Ask::default()
        },
    );
    // CommonMark 0.31, 2.4: an escaped `<` begins no tag.
    assert!(markdown.contains("\\<i data-evil"));
    assert!(!markdown.replace("\\<", "").contains("<i data-evil"));
}

#[test]
fn windows_stand_only_where_they_were_asked_for_and_never_on_the_sheet() {
    let known = known("");
    let asked = |cut, windows| {
        text(
            &known,
            &Ask {
                cut,
                windows,
                ..Ask::default()
            },
        )
    };
    assert!(!asked(Cut::Whole, false).contains("growth window"));
    assert!(
        asked(Cut::Whole, true)
            .to_lowercase()
            .contains("growth window")
    );
    assert!(
        !asked(Cut::Sheet, true)
            .to_lowercase()
            .contains("growth window")
    );
}

#[test]
fn the_readers_units_stand_beside_what_was_measured() {
    let known = known("");
    let inches = text(
        &known,
        &Ask {
            units: Units::Inch,
            form: Form::Markdown,
            ..Ask::default()
        },
    );
    // 14.2 mm / 25.4 = 0.559 in.
    assert!(
        inches.contains("0.559 in") && inches.contains("14.2 mm"),
        "{inches}"
    );
}

#[test]
fn a_filled_sheet_settles_several_and_each_cites_the_picture() {
    let mut known = known("");
    let picture = known.notebook.root().join("sheet.txt");
    std::fs::write(&picture, "what stood on the sheet").unwrap();
    let state = known.notebook.state(&known.aircraft).unwrap();
    let open: Vec<Settled> = state
        .findings
        .iter()
        .map(|found| Settled {
            finding: found.id.hex(),
            how: "done as on the sheet".into(),
            by: Some("a mechanic".into()),
            reference: Some("WO 12".into()),
        })
        .collect();
    let twice = vec![open[0].clone(), open[0].clone()];
    assert!(
        known
            .notebook
            .settle_by_sheet(&known.aircraft, &picture, &twice)
            .is_err()
    );
    assert!(
        known
            .notebook
            .settle_by_sheet(&known.aircraft, &picture, &[])
            .is_err()
    );
    known
        .notebook
        .settle_by_sheet(&known.aircraft, &picture, &open)
        .unwrap();
    let json = text(
        &known,
        &Ask {
            form: Form::Json,
            ..Ask::default()
        },
    );
    let read: serde_json::Value = serde_json::from_str(&json).unwrap();
    assert_eq!(read["papers"][0]["settles"].as_array().unwrap().len(), 2);
    for found in read["findings"].as_array().unwrap() {
        assert_eq!(found["open"], false);
        let closed = found["steps"]
            .as_array()
            .unwrap()
            .iter()
            .find(|step| step["kind"] == "closed")
            .unwrap();
        assert!(
            closed["shown_by"]
                .as_str()
                .unwrap()
                .starts_with("sheet.txt")
        );
    }
}

/// Every pair of text and ground, light, dark and on paper: WCAG 2.2, 1.4.3 (AA, 4.5 : 1 for any
/// size); lines that carry meaning: 1.4.11 (3 : 1). Luminance as the standard defines it.
#[test]
fn every_colour_pair_can_be_read() {
    let style = super::page::frame::STYLE;
    let mut checked = 0;
    for block in style.split(":root{").skip(1) {
        let block = block.split('}').next().unwrap_or("");
        let colour = |name: &str| {
            let at = block
                .split(';')
                .find_map(|rule| rule.strip_prefix(&format!("--{name}:#")))?;
            let long: String = if at.len() == 3 {
                at.chars().flat_map(|c| [c, c]).collect()
            } else {
                at.to_owned()
            };
            u32::from_str_radix(&long, 16).ok()
        };
        let Some(ink) = colour("ink") else { continue };
        let part = |value: u32| {
            let c = f64::from(value & 255) / 255.0;
            if c <= 0.04045 {
                c / 12.92
            } else {
                ((c + 0.055) / 1.055).powf(2.4)
            }
        };
        let light = |c: u32| 0.2126 * part(c >> 16) + 0.7152 * part(c >> 8) + 0.0722 * part(c);
        let ratio = |a: u32, b: u32| {
            let (a, b) = (light(a).max(light(b)), light(a).min(light(b)));
            (a + 0.05) / (b + 0.05)
        };
        for ground in ["paper", "head"].map(|name| colour(name).unwrap()) {
            for text in [ink, colour("faint").unwrap()] {
                assert!(
                    ratio(text, ground) >= 4.5,
                    "{text:06x} on {ground:06x}: {:.2}",
                    ratio(text, ground)
                );
                checked += 1;
            }
        }
    }
    assert_eq!(checked, 12, "light, dark and paper");
}
