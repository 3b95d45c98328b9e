//! Zones with every look: by walkaround, and outside any.

use std::collections::HashMap;

use super::super::state::{Look, State};
use super::shapes::{OutsideLook, ZoneView};
use crate::record::Digest;

/// Present sightings by zone and walkaround, those outside any, and open findings by zone.
pub(super) struct ZoneSeen<'a> {
    present: HashMap<(&'a str, Digest), (i64, String)>,
    outside: HashMap<&'a str, Vec<OutsideLook>>,
    open: HashMap<&'a str, usize>,
}

impl<'a> ZoneSeen<'a> {
    pub(super) fn new(state: &'a State, who: &dyn Fn(&Digest) -> String) -> Self {
        let mut present: HashMap<(&str, Digest), (i64, String)> = HashMap::new();
        let mut outside: HashMap<&str, Vec<OutsideLook>> = HashMap::new();
        let mut open: HashMap<&str, usize> = HashMap::new();
        for finding in &state.findings {
            if finding.open {
                *open.entry(finding.zone.as_str()).or_default() += 1;
            }
            for sighting in finding.sightings.iter().filter(|s| s.result == "present") {
                let order = sighting.told.order_us;
                let date = sighting.told.seen.date().to_owned();
                let Some(walk) = sighting.walkaround else {
                    outside
                        .entry(finding.zone.as_str())
                        .or_default()
                        .push(OutsideLook {
                            date,
                            by: who(&sighting.told.author),
                            result: "findings".into(),
                            says: if sighting.late {
                                "recognised later on older evidence".into()
                            } else {
                                String::new()
                            },
                            order,
                        });
                    continue;
                };
                let now = (order, date);
                let known = present
                    .entry((finding.zone.as_str(), walk))
                    .or_insert_with(|| now.clone());
                if *known < now {
                    *known = now;
                }
            }
        }
        Self {
            present,
            outside,
            open,
        }
    }
}

/// Why, how, access and what else was said with a look.
fn look_words(look: &Look) -> String {
    let mut words: Vec<String> = Vec::new();
    words.extend(look.why.clone());
    words.extend(look.how.clone());
    words.extend(look.access.clone());
    if look.together > 1 {
        words.push(format!("said together with {} others", look.together - 1));
    }
    words.join(", ")
}

pub(super) fn zone_view(
    state: &State,
    seen: &ZoneSeen<'_>,
    all: &[&Look],
    (code, name): (&str, &str),
    who: &dyn Fn(&Digest) -> String,
) -> ZoneView {
    let mut last: Option<(i64, String)> = None;
    let mut said: HashMap<Digest, (String, String)> = HashMap::new();
    let mut outside = seen.outside.get(code).cloned().unwrap_or_default();
    for look in all {
        // A look outside any walkaround is a look all the same (design section 3).
        match look.walkaround {
            Some(walk) => {
                said.insert(walk, (look.result.clone(), look_words(look)));
            }
            None => outside.push(OutsideLook {
                date: look.told.seen.date().to_owned(),
                by: who(&look.told.author),
                result: look.result.clone(),
                says: look_words(look),
                order: look.told.order_us,
            }),
        }
        last = last.max(Some((look.told.order_us, look.told.seen.date().to_owned())));
    }
    outside.sort_by_key(|look| look.order);
    if let Some(newest) = outside.last() {
        last = last.max(Some((newest.order, newest.date.clone())));
    }
    let looks = state
        .walkarounds
        .iter()
        .map(|walkaround| {
            if let Some(found) = seen.present.get(&(code, walkaround.id)) {
                last = last.take().max(Some(found.clone()));
                return (walkaround.id, "findings".to_owned(), String::new());
            }
            let (result, words) = said
                .remove(&walkaround.id)
                .unwrap_or_else(|| ("not_looked_at".to_owned(), String::new()));
            (walkaround.id, result, words)
        })
        .collect();
    ZoneView {
        code: code.to_owned(),
        name: name.to_owned(),
        looks,
        outside,
        last: last.map(|(_, date)| date),
        open: seen.open.get(code).copied().unwrap_or(0),
    }
}
