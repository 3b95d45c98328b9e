//! What is wrong with a layout as a whole: loops, doubles, strangers, overlaps, places nobody reaches.
//!
//! The same checks hold the built-in files (tests below) and a user's own (`layout check`).

use std::collections::{BTreeMap, BTreeSet};

use serde::Serialize;

use super::load::{Loaded, load};
use super::path::{area, inside};
use super::types::{Layout, Point, Shape, Side, Zone};
use crate::datafile::{self, Mistake, Notes, did_you_mean, short};
use crate::error::Result;

/// What `layout check` says of a file.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct LayoutCheck {
    /// True where the layout can be used (hints may remain).
    pub usable: bool,
    /// Everything found, in order of lines.
    pub mistakes: Vec<Mistake>,
}

impl LayoutCheck {
    /// One line for each mistake: `line 12: … ; did you mean …?`, or that there is none.
    pub fn to_text(&self) -> String {
        if self.mistakes.is_empty() {
            return "no mistake found\n".to_owned();
        }
        let mut text = String::new();
        for mistake in &self.mistakes {
            let kind = if mistake.hint { " (hint)" } else { "" };
            text.push_str(&format!("line {}{kind}: {}", mistake.line, mistake.what));
            if !mistake.remedy.is_empty() {
                text.push_str(&format!("; {}", mistake.remedy));
            }
            text.push('\n');
        }
        text
    }
}

/// Checks the text of a layout file and lists every mistake with its line and a suggestion.
/// Never fails: a file that is no layout at all is a list of mistakes too. Files over
/// [`datafile::LARGEST_FILE`] bytes are refused unread.
pub fn check_toml(text: &str) -> LayoutCheck {
    let (_, mistakes) = read(text);
    LayoutCheck {
        usable: mistakes.iter().all(|mistake| mistake.hint),
        mistakes,
    }
}

impl Layout {
    /// Reads a layout file.
    ///
    /// Errors: `BadFormat` with the first mistake, its line and how many more there are; `TooLarge` past
    /// [`datafile::LARGEST_FILE`]. [`check_toml`] lists them all.
    pub fn parse(text: &str) -> Result<Layout> {
        datafile::settle(read(text), "the layout file")
    }
}

fn read(text: &str) -> (Option<Layout>, Vec<Mistake>) {
    datafile::read(text, |notes, fields| {
        let loaded = load(notes, fields);
        whole(notes, &loaded);
        loaded.layout
    })
}

/// More than any aeroplane needs; the checks below compare entries with one another.
const MOST_ENTRIES: usize = 2_000;
/// Zones named by all stops and views together.
const MOST_NAMED: usize = 20_000;

fn whole(notes: &Notes, loaded: &Loaded) {
    let layout = &loaded.layout;
    let named: usize = [&loaded.stops, &loaded.views]
        .iter()
        .flat_map(|list| list.iter().map(|entry| entry.zones.len()))
        .sum();
    if loaded.zones.len() > MOST_ENTRIES
        || loaded.stops.len() + loaded.views.len() > MOST_ENTRIES
        || named > MOST_NAMED
    {
        notes.wrong(
            1,
            format!(
                "more than {MOST_ENTRIES} zones or stops, or {MOST_NAMED} zones named by stops"
            ),
            "this cannot be one aeroplane: check what wrote the file",
        );
        return;
    }
    if layout.zones.is_empty() {
        notes.wrong(1, "there is no zone", "add at least one [[zone]]");
    }
    if layout.stops.is_empty() {
        notes.wrong(1, "there is no stop", "add at least one [[stop]]");
    }
    doubles(notes, loaded);
    strangers(notes, loaded);
    pairs(notes, loaded);
    loops(notes, loaded);
    reach(notes, loaded);
    overlaps(notes, loaded);
}

fn doubles(notes: &Notes, loaded: &Loaded) {
    let mut codes: BTreeMap<&str, usize> = BTreeMap::new();
    for zone in &loaded.zones {
        if let Some(first) = codes.get(zone.code.value.as_str()) {
            notes.wrong(
                zone.code.line,
                format!(
                    "zone {} is already on line {first}",
                    short(&zone.code.value)
                ),
                "give one of them another code",
            );
        } else {
            codes.insert(&zone.code.value, zone.code.line);
        }
    }
    for (what, list) in [("stop", &loaded.stops), ("view", &loaded.views)] {
        let mut keys: BTreeMap<&str, usize> = BTreeMap::new();
        for entry in list {
            if let Some(first) = keys.get(entry.key.value.as_str()) {
                notes.wrong(
                    entry.key.line,
                    format!(
                        "{what} {} is already on line {first}",
                        short(&entry.key.value)
                    ),
                    "give one of them another key",
                );
            } else {
                keys.insert(&entry.key.value, entry.key.line);
            }
            let mut seen = BTreeSet::new();
            for zone in &entry.zones {
                if !seen.insert(zone.value.as_str()) {
                    notes.wrong(
                        zone.line,
                        format!(
                            "{what} {} has zone {} twice",
                            short(&entry.key.value),
                            short(&zone.value)
                        ),
                        "leave one out",
                    );
                }
            }
        }
    }
    let lines = loaded.codes();
    let mut names: BTreeMap<&str, &str> = BTreeMap::new();
    for zone in &loaded.layout.zones {
        if let Some(other) = names.insert(zone.name.as_str(), zone.code.as_str())
            && other != zone.code
        {
            notes.wrong(
                line_of(&lines, &zone.code),
                format!(
                    "zones {other} and {} are both called \"{}\"",
                    zone.code,
                    short(&zone.name)
                ),
                "people find a zone by its name: tell them apart",
            );
        }
    }
}

fn line_of(codes: &BTreeMap<&str, usize>, code: &str) -> usize {
    codes.get(code).copied().unwrap_or(1)
}

fn strangers(notes: &Notes, loaded: &Loaded) {
    let codes = loaded.codes();
    let known = || codes.keys().copied();
    for (what, list) in [("stop", &loaded.stops), ("view", &loaded.views)] {
        for entry in list {
            if entry.zones.is_empty() && what == "stop" {
                notes.wrong(
                    entry.key.line,
                    format!("stop {} has no zones", short(&entry.key.value)),
                    "add zones = [\"…\"]",
                );
            }
            for zone in &entry.zones {
                if !codes.contains_key(zone.value.as_str()) {
                    notes.wrong(
                        zone.line,
                        format!(
                            "{what} {} names zone {}, which does not exist",
                            short(&entry.key.value),
                            short(&zone.value)
                        ),
                        did_you_mean(&zone.value, known(), "add the zone or correct the code"),
                    );
                }
            }
        }
    }
    for zone in &loaded.zones {
        for (what, cited) in [("pair", &zone.pair), ("within", &zone.within)] {
            if let Some(cited) = cited
                && !codes.contains_key(cited.value.as_str())
            {
                notes.wrong(
                    cited.line,
                    format!(
                        "{what} of zone {} is {}, which does not exist",
                        short(&zone.code.value),
                        short(&cited.value)
                    ),
                    did_you_mean(&cited.value, known(), "add the zone or correct the code"),
                );
            }
        }
    }
    let drawings: BTreeSet<&str> = loaded
        .layout
        .outlines
        .iter()
        .map(|o| o.view.as_str())
        .collect();
    for zone in &loaded.layout.zones {
        for shape in &zone.shapes {
            if !drawings.contains(shape.view.as_str()) {
                notes.wrong(
                    line_of(&codes, &zone.code),
                    format!(
                        "zone {} is drawn on {}, which has no outline",
                        zone.code, shape.view
                    ),
                    format!("add an [[outline]] with view = \"{}\"", shape.view),
                );
            }
        }
    }
}

fn pairs(notes: &Notes, loaded: &Loaded) {
    let zones: BTreeMap<&str, &Zone> = loaded
        .layout
        .zones
        .iter()
        .map(|z| (z.code.as_str(), z))
        .collect();
    for raw in &loaded.zones {
        let (Some(pair), Some(zone)) = (&raw.pair, zones.get(raw.code.value.as_str())) else {
            continue;
        };
        let Some(other) = zones.get(pair.value.as_str()) else {
            continue;
        };
        if other.pair.as_deref() != Some(&zone.code) {
            notes.wrong(
                pair.line,
                format!(
                    "zone {} is paired with {}, but not the other way",
                    zone.code, other.code
                ),
                format!("add pair = \"{}\" to zone {}", zone.code, other.code),
            );
        }
        let opposite = matches!(
            (zone.side, other.side),
            (Side::Left, Side::Right) | (Side::Right, Side::Left)
        );
        if !opposite {
            notes.wrong(
                pair.line,
                format!(
                    "zones {} and {} are a pair but not left and right",
                    zone.code, other.code
                ),
                "set side = \"left\" on one and \"right\" on the other",
            );
        }
    }
}

fn loops(notes: &Notes, loaded: &Loaded) {
    let within: BTreeMap<&str, &str> = loaded
        .zones
        .iter()
        .filter_map(|z| Some((z.code.value.as_str(), z.within.as_ref()?.value.as_str())))
        .collect();
    let mut told: BTreeSet<&str> = BTreeSet::new();
    for zone in &loaded.zones {
        let start = zone.code.value.as_str();
        let mut way = vec![start];
        let mut here = start;
        while let Some(next) = within.get(here) {
            if let Some(from) = way.iter().position(|code| code == next) {
                let ring = way.get(from..).unwrap_or_default();
                if !ring.iter().any(|code| told.contains(code)) {
                    told.extend(ring.iter().copied());
                    notes.wrong(
                        zone.within.as_ref().map_or(zone.code.line, |m| m.line),
                        format!(
                            "the zones lie in one another in a loop: {} in {next}",
                            ring.join(" in ")
                        ),
                        "take one \"within\" out",
                    );
                }
                break;
            }
            way.push(next);
            here = next;
        }
    }
}

fn reach(notes: &Notes, loaded: &Loaded) {
    let stopped: BTreeSet<&str> = loaded
        .stops
        .iter()
        .flat_map(|stop| stop.zones.iter().map(|zone| zone.value.as_str()))
        .collect();
    let lines = loaded.codes();
    for zone in &loaded.layout.zones {
        let line = line_of(&lines, &zone.code);
        if !stopped.contains(zone.code.as_str()) {
            notes.wrong(
                line,
                format!("no stop covers zone {} ({})", zone.code, short(&zone.name)),
                "add its code to the zones of a stop",
            );
        }
        if zone.shapes.is_empty() {
            notes.doubt(
                line,
                format!("zone {} stands on no drawing", zone.code),
                "add a [[zone.shape]] so that it can be tapped",
            );
        } else if !zone
            .shapes
            .iter()
            .any(|shape| can_be_hit(&loaded.layout, zone, shape))
        {
            notes.wrong(
                line,
                format!("zone {} cannot be tapped: other shapes cover it", zone.code),
                "make it larger or move it",
            );
        }
    }
}

/// True where some point of the shape answers with the shape's own zone.
fn can_be_hit(layout: &Layout, zone: &Zone, shape: &Shape) -> bool {
    grid(shape, 12).any(|point| {
        layout
            .zone_at(&shape.view, point.x, point.y)
            .map(|z| &z.code)
            == Some(&zone.code)
    })
}

/// Points of a grid that lie inside a shape.
fn grid(shape: &Shape, n: u32) -> impl Iterator<Item = Point> + '_ {
    let fold = |get: fn(&Point) -> f64| {
        shape
            .points
            .iter()
            .map(get)
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), v| {
                (low.min(v), high.max(v))
            })
    };
    let ((left, right), (low, high)) = (fold(|p| p.x), fold(|p| p.y));
    (0..n * n).filter_map(move |i| {
        let at = |step: u32, from: f64, to: f64| {
            from + (to - from) * (f64::from(step) + 0.5) / f64::from(n)
        };
        let (x, y) = (at(i % n, left, right), at(i / n, low, high));
        inside(&shape.points, x, y).then_some(Point { x, y })
    })
}

/// Two shapes on one drawing may share ground only where one zone lies within the other or one of the
/// shapes is hidden behind something: a tap must have one answer that a person expects.
fn overlaps(notes: &Notes, loaded: &Loaded) {
    let lines = loaded.codes();
    let mut shapes: Vec<(&Zone, &Shape)> = Vec::new();
    for zone in &loaded.layout.zones {
        shapes.extend(zone.shapes.iter().map(|shape| (zone, shape)));
    }
    for (index, (zone, shape)) in shapes.iter().enumerate() {
        for (other, second) in shapes.iter().skip(index + 1) {
            if zone.code == other.code
                || shape.view != second.view
                || shape.hidden != second.hidden
                || shape.over
                || second.over
                || lies_in(loaded, &zone.code, &other.code)
                || lies_in(loaded, &other.code, &zone.code)
            {
                continue;
            }
            let (small, large) = if area(&shape.points) < area(&second.points) {
                (shape, second)
            } else {
                (second, shape)
            };
            let mut total = 0u32;
            let mut shared = 0u32;
            for point in grid(small, 16) {
                total += 1;
                shared += u32::from(inside(&large.points, point.x, point.y));
            }
            // A sixteenth allows for edges that touch.
            if shared * 16 > total {
                notes.wrong(
                    line_of(&lines, &other.code),
                    format!("zones {} and {} overlap on the drawing {}", zone.code, other.code, shape.view),
                    format!(
                        "move one, or say within = \"{}\", or over = true on the shape that lies in front",
                        zone.code
                    ),
                );
            }
        }
    }
}

fn lies_in(loaded: &Loaded, inner: &str, outer: &str) -> bool {
    let mut here = inner;
    for _ in 0..loaded.zones.len() {
        let Some(zone) = loaded.zones.iter().find(|z| z.code.value == here) else {
            return false;
        };
        match &zone.within {
            Some(next) if next.value == outer => return true,
            Some(next) => here = &next.value,
            None => return false,
        }
    }
    false
}
