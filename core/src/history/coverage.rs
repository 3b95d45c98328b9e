//! What was looked at when, how, with what access, by whom: oldest first; and what nobody saw, with
//! why. By zone, by ATA chapter before an annual, and costliest first before a purchase.

use std::collections::HashMap;

use serde::Serialize;

use super::state::{Look, State};
use super::story::Looks;
use crate::layout::{Layout, Zone};
use crate::record::Digest;

/// Titles of ATA chapters (trade-facts 1.2: ATA 100 chapter list, read; 31, 25, 74, 78, 79 from
/// memory).
const CHAPTERS: [(&str, &str); 27] = [
    ("05", "time limits and maintenance checks"),
    ("06", "dimensions and areas"),
    ("11", "placards and markings"),
    ("12", "servicing"),
    ("23", "communications"),
    ("24", "electrical power"),
    ("25", "equipment and furnishings"),
    ("27", "flight controls"),
    ("28", "fuel"),
    ("29", "hydraulic power"),
    ("30", "ice and rain protection"),
    ("31", "instruments"),
    ("32", "landing gear"),
    ("33", "lights"),
    ("34", "navigation"),
    ("51", "standard practices and structures"),
    ("52", "doors"),
    ("53", "fuselage"),
    ("54", "nacelles and pylons"),
    ("55", "stabilizers"),
    ("56", "windows"),
    ("57", "wings"),
    ("61", "propellers"),
    ("71", "power plant"),
    ("72", "reciprocating engine"),
    ("78", "exhaust"),
    ("79", "oil"),
];

/// What a buyer pays most for first. From memory of the trade: engine and propeller overhauls, then
/// structure that cannot be seen into, fuel tanks, gear, panel; trim and paint last.
pub const COSTLIEST: [(&str, &[&str]); 9] = [
    ("engine", &["71", "72", "73", "74", "78", "79"]),
    ("propeller", &["61"]),
    ("wing and its attachments", &["57"]),
    ("fuselage and tail structure", &["53", "54", "55", "51"]),
    ("fuel tanks and lines", &["28"]),
    ("landing gear", &["32"]),
    ("panel, instruments, radios", &["31", "34", "23", "22"]),
    ("flight controls", &["27"]),
    (
        "windows, doors, cabin, lights, placards",
        &["56", "52", "25", "33", "24", "12", "11", "30"],
    ),
];

/// A look that saw.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Seen {
    /// Date.
    pub date: String,
    /// By whom.
    pub by: String,
    /// nothing_found or findings.
    pub result: String,
    /// glance, close, touched …
    pub how: Option<String>,
    /// What was open or in the way.
    pub access: Option<String>,
    /// Hours then.
    pub hours: Option<String>,
    /// Zones that were covered by the same statement; more than one is *said together*.
    pub together: usize,
    /// Fresh eyes: before or after the earlier findings were opened; none if not said.
    pub fresh: Option<String>,
}

/// A statement that it could not be seen.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct NotSeen {
    /// Date.
    pub date: String,
    /// By whom.
    pub by: String,
    /// Why: snow, cover, fairing on, dark, wet …
    pub why: String,
}

/// One zone.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ZoneCover {
    /// Code.
    pub code: String,
    /// Name.
    pub name: String,
    /// ATA chapters.
    pub chapters: Vec<String>,
    /// The last look that saw; none if nobody ever did.
    pub last: Option<Seen>,
    /// Said since then, or ever where nobody saw it.
    pub not_seen: Option<NotSeen>,
    /// Open findings.
    pub open: usize,
    #[serde(skip)]
    order: i64,
}

/// Zones under one heading.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Group {
    /// ATA chapter, where the heading is one.
    pub chapter: Option<String>,
    /// In words.
    pub title: String,
    /// Zones, oldest look first.
    pub zones: Vec<ZoneCover>,
    /// How many of them nobody ever saw.
    pub never: usize,
    /// How many of them were last said not to be visible.
    pub not_seen: usize,
    /// Open findings in them.
    pub open: usize,
}

/// How the zones are put together.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum By {
    /// All zones, oldest look first.
    Zones,
    /// By ATA chapter: a zone stands under each chapter that it is filed under.
    Chapters,
    /// Costliest first, each zone once: by the chapter it is first filed under.
    Prepurchase,
}

/// Coverage of one aircraft.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Coverage {
    /// Registration.
    pub registration: String,
    /// zones, chapters or prepurchase.
    pub by: String,
    /// Where the order comes from.
    pub order: String,
    /// The groups.
    pub groups: Vec<Group>,
    /// Zones of the layout.
    pub zones: usize,
    /// Zones that nobody ever saw.
    pub never: usize,
}

struct Saw {
    order: i64,
    seen: Seen,
}

/// Works it out. `who` names authors.
pub fn build(state: &State, layout: &Layout, by: By, who: &dyn Fn(&Digest) -> String) -> Coverage {
    let looks = Looks::new(state);
    let hours: HashMap<Digest, String> = state
        .walkarounds
        .iter()
        .filter_map(|walk| Some((walk.id, walk.hours.clone()?)))
        .collect();
    let mut sighted: HashMap<&str, Saw> = HashMap::new();
    let mut open: HashMap<&str, usize> = HashMap::new();
    for finding in &state.findings {
        if finding.open {
            *open.entry(finding.zone.as_str()).or_default() += 1;
        }
        for sighting in finding.sightings.iter().filter(|s| s.result == "present") {
            let order = sighting.told.order_us;
            let newer = sighted
                .get(finding.zone.as_str())
                .is_none_or(|saw| saw.order < order);
            if newer {
                let seen = Seen {
                    date: sighting.told.seen.date().to_owned(),
                    by: who(&sighting.told.author),
                    result: "findings".into(),
                    how: None,
                    access: None,
                    hours: sighting.hours.clone(),
                    together: 1,
                    fresh: None,
                };
                sighted.insert(finding.zone.as_str(), Saw { order, seen });
            }
        }
    }
    let mut zones: Vec<ZoneCover> = layout
        .zones
        .iter()
        .map(|zone| {
            let open = open.get(zone.code.as_str()).copied().unwrap_or(0);
            let saw = sighted.remove(zone.code.as_str());
            cover(zone, looks.of(&zone.code), saw, open, &hours, who)
        })
        .collect();
    zones.sort_by(|a, b| a.order.cmp(&b.order).then(a.code.cmp(&b.code)));
    let never = zones.iter().filter(|zone| zone.last.is_none()).count();
    let count = zones.len();
    let (word, order, groups) = match by {
        By::Zones => (
            "zones",
            "oldest look first",
            vec![group(None, "every zone".into(), zones)],
        ),
        By::Chapters => ("chapters", "ATA chapters", chapters(&zones)),
        By::Prepurchase => (
            "prepurchase",
            "costliest first (from memory of the trade, not from a document)",
            costliest(zones),
        ),
    };
    Coverage {
        registration: state.registration.clone(),
        by: word.into(),
        order: order.into(),
        groups,
        zones: count,
        never,
    }
}

fn cover(
    zone: &Zone,
    looks: &[&Look],
    sighted: Option<Saw>,
    open: usize,
    hours: &HashMap<Digest, String>,
    who: &dyn Fn(&Digest) -> String,
) -> ZoneCover {
    let looked = looks
        .iter()
        .rev()
        .find(|look| look.result == "nothing_found")
        .map(|look| Saw {
            order: look.told.order_us,
            seen: Seen {
                date: look.told.seen.date().to_owned(),
                by: who(&look.told.author),
                result: look.result.clone(),
                how: look.how.clone(),
                access: look.access.clone(),
                hours: look.walkaround.and_then(|id| hours.get(&id).cloned()),
                together: look.together,
                fresh: look.fresh.clone(),
            },
        });
    let last = match (looked, sighted) {
        (Some(a), Some(b)) => Some(if a.order >= b.order { a } else { b }),
        (a, b) => a.or(b),
    };
    let order = last.as_ref().map_or(i64::MIN, |saw| saw.order);
    let not_seen = looks
        .iter()
        .rev()
        .find(|look| look.result == "not_seen" && look.told.order_us > order)
        .map(|look| NotSeen {
            date: look.told.seen.date().to_owned(),
            by: who(&look.told.author),
            why: look.why.clone().unwrap_or_else(|| "not said why".into()),
        });
    let mut filed: Vec<String> = zone.ata.iter().map(|ata| ata.chapter.clone()).collect();
    filed.dedup();
    ZoneCover {
        code: zone.code.clone(),
        name: zone.name.clone(),
        chapters: filed,
        last: last.map(|saw| saw.seen),
        not_seen,
        open,
        order,
    }
}

fn group(chapter: Option<String>, title: String, zones: Vec<ZoneCover>) -> Group {
    Group {
        chapter,
        title,
        never: zones.iter().filter(|zone| zone.last.is_none()).count(),
        not_seen: zones.iter().filter(|zone| zone.not_seen.is_some()).count(),
        open: zones.iter().map(|zone| zone.open).sum(),
        zones,
    }
}

fn chapters(zones: &[ZoneCover]) -> Vec<Group> {
    let mut numbers: Vec<&String> = zones.iter().flat_map(|zone| &zone.chapters).collect();
    numbers.sort();
    numbers.dedup();
    numbers
        .into_iter()
        .map(|number| {
            let title = CHAPTERS
                .iter()
                .find(|(known, _)| known == number)
                .map_or("", |(_, title)| title);
            let list = zones
                .iter()
                .filter(|zone| zone.chapters.contains(number))
                .cloned()
                .collect();
            group(Some(number.clone()), title.to_owned(), list)
        })
        .collect()
}

fn costliest(zones: Vec<ZoneCover>) -> Vec<Group> {
    let rank = |zone: &ZoneCover| {
        let first = zone.chapters.first().map_or("", String::as_str);
        COSTLIEST
            .iter()
            .position(|(_, chapters)| chapters.contains(&first))
            .unwrap_or(COSTLIEST.len() - 1)
    };
    let mut lists: Vec<Vec<ZoneCover>> = COSTLIEST.iter().map(|_| Vec::new()).collect();
    for zone in zones {
        if let Some(list) = lists.get_mut(rank(&zone)) {
            list.push(zone);
        }
    }
    COSTLIEST
        .iter()
        .zip(lists)
        .filter(|(_, list)| !list.is_empty())
        .map(|((title, _), list)| group(None, (*title).to_owned(), list))
        .collect()
}

impl Coverage {
    /// For a terminal.
    pub fn to_text(&self) -> String {
        let mut out = format!(
            "{}: {} of {} zones were never seen; {}\n",
            self.registration, self.never, self.zones, self.order
        );
        for group in &self.groups {
            let chapter = group
                .chapter
                .as_deref()
                .map(|chapter| format!("ATA {chapter} "))
                .unwrap_or_default();
            out.push_str(&format!(
                "\n{chapter}{}: {} zones, {} never seen, {} open findings\n",
                group.title,
                group.zones.len(),
                group.never,
                group.open
            ));
            for zone in &group.zones {
                out.push_str(&format!(
                    "  {}  {:<32} {}\n",
                    zone.code,
                    zone.name,
                    zone.says()
                ));
            }
        }
        out.push_str("\n\"Not looked at\" is not \"nothing found\".\n");
        out
    }
}

impl ZoneCover {
    /// In one line.
    pub fn says(&self) -> String {
        let mut says = match &self.last {
            None => "nobody has seen it".to_owned(),
            Some(seen) => {
                let mut words = vec![seen.result.replace('_', " ")];
                words.extend(seen.how.clone());
                words.extend(seen.access.clone());
                if seen.together > 1 {
                    words.push(format!("said together with {} others", seen.together - 1));
                }
                if let Some(fresh) = &seen.fresh {
                    words.push(format!("{fresh} the earlier findings were opened"));
                }
                let hours = seen
                    .hours
                    .as_deref()
                    .map(|hours| format!(" {hours} h"))
                    .unwrap_or_default();
                format!("{}{hours} {}: {}", seen.date, seen.by, words.join(", "))
            }
        };
        if let Some(not) = &self.not_seen {
            says.push_str(&format!(
                "; could not be seen on {} ({}): {}",
                not.date, not.by, not.why
            ));
        }
        if self.open > 0 {
            says.push_str(&format!("; open findings: {}", self.open));
        }
        says
    }
}
