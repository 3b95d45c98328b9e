//! Reads a layout file. What does not fit is noted; [`super::check`] adds what only shows in the whole.

use std::collections::BTreeMap;

use super::path;
use super::types::{
    Ata, Layout, LookFor, Outline, Part, Shape, Side, Stop, Stroke, StrokeKind, View, Zone,
};
use crate::datafile::{Fields, Marked, Notes, did_you_mean, short};
use crate::sources::{Cited, Standing};

/// Drawings that a layout may have.
pub(crate) const DRAWINGS: [&str; 5] = ["plan", "below", "left_side", "right_side", "cabin"];

/// A layout with the lines that the checks need.
pub(crate) struct Loaded {
    pub layout: Layout,
    /// Zones in file order with the lines of what they cite.
    pub zones: Vec<RawZone>,
    pub stops: Vec<RawStop>,
    pub views: Vec<RawStop>,
}

/// What a zone cites.
pub(crate) struct RawZone {
    pub code: Marked<String>,
    pub pair: Option<Marked<String>>,
    pub within: Option<Marked<String>>,
}

/// A stop or view with the zones it cites.
pub(crate) struct RawStop {
    pub key: Marked<String>,
    pub zones: Vec<Marked<String>>,
}

/// Reads the whole file.
pub(crate) fn load(notes: &Notes, file: &Fields<'_, '_>) -> Loaded {
    let cited = Cited::of(file);
    let name = file.need_text("name");
    if !name.value.is_empty() && !is_word(&name.value) {
        notes.wrong(
            name.line,
            format!("the name \"{}\" is not a plain word", short(&name.value)),
            "use small letters, digits and underscores",
        );
    }
    let title = file.need_text("title").value;
    let edition = file.need_text("edition").value;
    let door = side(file.one_of("door", &["left", "right"]));
    let route_source = match file.text("route_source") {
        Some(key) => cited.source(notes, &key),
        None => crate::sources::Source {
            document: "the writer of this layout".to_owned(),
            standing: Standing::Practice,
        },
    };

    let jasc_edition = file.text("jasc_edition").map(|text| text.value);

    let mut zones = Vec::new();
    let mut raw_zones = Vec::new();
    for fields in file.tables("zone", "a zone") {
        let (zone, raw) = zone(notes, &fields);
        zones.push(zone);
        raw_zones.push(raw);
        fields.done();
    }
    let mut stops = Vec::new();
    let mut raw_stops = Vec::new();
    for fields in file.tables("stop", "a stop") {
        let (stop, raw) = stop(notes, &cited, &fields);
        stops.push(stop);
        raw_stops.push(raw);
        fields.done();
    }
    let mut views = Vec::new();
    let mut raw_views = Vec::new();
    for fields in file.tables("view", "a view") {
        let key = fields.need_text("key");
        fields.call(format!("view {}", short(&key.value)));
        let zones = fields.texts("zones");
        views.push(View {
            key: key.value.clone(),
            name: fields.need_text("name").value,
            stand: fields.need_text("stand").value,
            baseline: fields.flag("baseline", true),
            handing_over: fields.flag("handing_over", false),
            zones: zones.iter().map(|zone| zone.value.clone()).collect(),
        });
        raw_views.push(RawStop { key, zones });
        fields.done();
    }
    let outlines = file
        .tables("outline", "an outline")
        .into_iter()
        .map(|fields| outline(notes, &fields))
        .collect();

    zones.sort_by(|a, b| a.code.cmp(&b.code));
    Loaded {
        layout: Layout {
            name: name.value,
            title,
            edition,
            door,
            route_source,
            jasc_edition,
            zones,
            stops,
            views,
            outlines,
        },
        zones: raw_zones,
        stops: raw_stops,
        views: raw_views,
    }
}

fn is_word(text: &str) -> bool {
    text.bytes()
        .all(|b| b.is_ascii_lowercase() || b.is_ascii_digit() || b == b'_')
}

fn side(word: Option<&str>) -> Side {
    match word {
        Some("left") => Side::Left,
        Some("right") => Side::Right,
        _ => Side::None,
    }
}

fn zone(notes: &Notes, fields: &Fields<'_, '_>) -> (Zone, RawZone) {
    let code = fields.need_text("code");
    fields.call(format!("zone {}", short(&code.value)));
    let shaped = code.value.len() == 3 && code.value.bytes().all(|b| b.is_ascii_digit());
    if !code.value.is_empty() && (!shaped || code.value.starts_with('0')) {
        notes.wrong(
            code.line,
            format!(
                "the code \"{}\" is not three digits from 100 to 999",
                short(&code.value)
            ),
            "take the published ATA major zone as first digit, then two of your own",
        );
    }
    let name = fields.need_text("name").value;
    let side = side(fields.one_of("side", &["left", "right", "none"]));
    let pair = fields.text("pair");
    let within = fields.text("within");
    let ata = fields
        .tables("ata", "an ATA chapter")
        .into_iter()
        .filter_map(|entry| ata(notes, &entry))
        .collect();
    let spoken = lower(notes, fields.texts("spoken"));
    let parts = fields
        .tables("part", "a part")
        .into_iter()
        .map(|entry| {
            let part = Part {
                name: entry.need_text("name").value,
                spoken: lower(notes, entry.texts("spoken")),
            };
            entry.done();
            part
        })
        .collect();
    let no_window = fields.flag("no_window", false);
    let mut shapes = Vec::new();
    for entry in fields.tables("shape", "a shape") {
        let view = entry.one_of("view", &DRAWINGS);
        let points = entry.need_text("points");
        let hidden = entry.flag("hidden", false);
        let over = entry.flag("over", false);
        entry.done();
        match (view, path::parse_points(&points.value)) {
            (Some(view), Ok(points)) => shapes.push(Shape {
                view: view.to_owned(),
                points,
                hidden,
                over,
            }),
            (_, Err(why)) if !points.value.is_empty() => notes.wrong(
                points.line,
                format!("a shape of zone {}: {why}", short(&code.value)),
                "write points = \"x,y x,y x,y\" in inches of the drawing",
            ),
            (None, _) => notes.wrong(
                entry.line,
                format!("a shape of zone {} names no drawing", short(&code.value)),
                "add view = \"plan\", \"below\", \"left_side\", \"right_side\" or \"cabin\"",
            ),
            _ => {}
        }
    }
    let zone = Zone {
        code: code.value.clone(),
        name,
        side,
        pair: pair.as_ref().map(|m| m.value.clone()),
        within: within.as_ref().map(|m| m.value.clone()),
        ata,
        spoken,
        parts,
        no_window,
        shapes,
    };
    (zone, RawZone { code, pair, within })
}

fn lower(notes: &Notes, words: Vec<Marked<String>>) -> Vec<String> {
    words
        .into_iter()
        .map(|word| {
            let low = word.value.to_lowercase();
            if low != word.value {
                notes.doubt(
                    word.line,
                    format!(
                        "\"{}\" has capitals; spoken words are compared without",
                        short(&word.value)
                    ),
                    "write it in small letters",
                );
            }
            low
        })
        .collect()
}

fn ata(notes: &Notes, entry: &Fields<'_, '_>) -> Option<Ata> {
    let chapter = entry.need_text("chapter");
    let digits = |text: &str, n: usize| text.len() == n && text.bytes().all(|b| b.is_ascii_digit());
    let jasc = entry.text("jasc");
    let mark = entry.one_of("jasc_mark", &Standing::WORDS);
    entry.done();
    if !digits(&chapter.value, 2) {
        notes.wrong(
            chapter.line,
            format!("\"{}\" is not an ATA chapter", short(&chapter.value)),
            "write two digits, as \"32\"",
        );
        return None;
    }
    if let Some(jasc) = &jasc {
        // A zone may be filed under another chapter than its JASC code: 8550 is oil, ATA 79.
        if !digits(&jasc.value, 4) {
            notes.wrong(
                jasc.line,
                format!("\"{}\" is not a JASC code", short(&jasc.value)),
                "write four digits, as \"3242\"",
            );
        }
        if mark.is_none() {
            notes.wrong(
                jasc.line,
                format!(
                    "JASC {} does not say how well it is known",
                    short(&jasc.value)
                ),
                "add jasc_mark = \"read\", \"weak\" or \"memory\"",
            );
        }
    }
    Some(Ata {
        chapter: chapter.value,
        jasc: jasc.map(|m| m.value),
        jasc_mark: mark.map(Standing::from_word),
    })
}

fn stop(notes: &Notes, cited: &Cited, fields: &Fields<'_, '_>) -> (Stop, RawStop) {
    let key = fields.need_text("key");
    fields.call(format!("stop {}", short(&key.value)));
    if !key.value.is_empty() && !is_word(&key.value) {
        notes.wrong(
            key.line,
            format!("the key \"{}\" is not a plain word", short(&key.value)),
            "use small letters, digits and underscores",
        );
    }
    let zones = fields.texts("zones");
    let look_for = fields
        .tables("look_for", "a thing to look for")
        .into_iter()
        .map(|entry| {
            let look = LookFor {
                text: entry.need_text("text").value,
                source: cited.source(notes, &entry.need_text("source")),
            };
            entry.done();
            look
        })
        .collect();
    let cautions = fields
        .texts("cautions")
        .iter()
        .map(|key| cited.caution(notes, key))
        .collect();
    let stop = Stop {
        key: key.value.clone(),
        name: fields.need_text("name").value,
        zones: zones.iter().map(|zone| zone.value.clone()).collect(),
        look_for,
        cautions,
    };
    (stop, RawStop { key, zones })
}

fn outline(notes: &Notes, fields: &Fields<'_, '_>) -> Outline {
    let view = fields.need_text("view");
    if !view.value.is_empty() && !DRAWINGS.contains(&view.value.as_str()) {
        notes.wrong(
            view.line,
            format!("there is no drawing \"{}\"", short(&view.value)),
            did_you_mean(
                &view.value,
                DRAWINGS,
                "write plan, below, left_side, right_side or cabin",
            ),
        );
    }
    let title = fields.need_text("title").value;
    let mut strokes = Vec::new();
    for (key, kind) in [
        ("edges", StrokeKind::Edge),
        ("fine", StrokeKind::Fine),
        ("hidden", StrokeKind::Hidden),
    ] {
        for line in fields.texts(key) {
            match path::parse_path(&line.value) {
                Ok(_) => strokes.push(Stroke {
                    kind,
                    path: line.value,
                }),
                Err(why) => notes.wrong(
                    line.line,
                    format!("a line of the drawing {}: {why}", short(&view.value)),
                    "use M, L, C, Q, Z with absolute numbers",
                ),
            }
        }
    }
    fields.done();
    Outline {
        view: view.value,
        title,
        strokes,
    }
}

impl Loaded {
    /// Codes and the line of each one's first zone.
    pub(crate) fn codes(&self) -> BTreeMap<&str, usize> {
        let mut codes = BTreeMap::new();
        for zone in &self.zones {
            codes
                .entry(zone.code.value.as_str())
                .or_insert(zone.code.line);
        }
        codes
    }
}
