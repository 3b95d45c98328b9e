//! `demo`: an invented aircraft, three people, five walkarounds in fourteen months. The photographs
//! are drawn; everything else goes through the same calls as anybody's: intake, measuring on the
//! picture, findings, finishing, receiving, history, page.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use clap::Args;
use serde_json::json;
use witnessmark_core::Result;

use crate::output::Output;
use crate::real::Session;

/// `demo`
#[derive(Args)]
pub struct DemoArgs {
    /// Folder to make; must not exist. witnessmark-demo if not given.
    folder: Option<PathBuf>,
}

#[cfg(not(feature = "demo"))]
pub fn run(_: &Session, _: &DemoArgs, _: &Output) -> Result<u8> {
    Err(witnessmark_core::Error::new(
        witnessmark_core::ErrorKind::WrongState,
        "this program was built without its demo",
    )
    .hint("build it with the feature demo"))
}

#[cfg(feature = "demo")]
pub use story::run;

#[cfg(feature = "demo")]
mod story {
    use super::*;

    use std::collections::BTreeMap;

    use witnessmark_core::notebook::{
        KeySource, NewFinding, NewLook, NewSighting, NewWalkaround, Notebook, Place,
    };
    use witnessmark_core::photo::{Options, Progress, ScaleTaps, Shown, on_photo};
    use witnessmark_core::record::kinds::Measure;
    use witnessmark_core::record::{Digest, parse_when};
    use witnessmark_core::world::{Clock, GivenClock, SeededEntropy, SystemFiles, World};
    use witnessmark_core::{Error, ErrorKind};
    use witnessmark_scenes::demo::{DemoPhoto, Walk, shots, walks};

    /// Where each photographed place belongs: key of the story, zone, condition, words.
    const PLACES: [(&str, &str, &str, &str); 7] = [
        ("fairing-crack", "733", "crack", "lower aft screw"),
        ("brake-weep", "731", "fluid_leak", "below the hose fitting"),
        (
            "propeller-nick",
            "410",
            "nick",
            "leading edge, a hand from the tip",
        ),
        ("door-seal", "811", "seal_damaged", "lower edge"),
        (
            "strut-corrosion",
            "111",
            "corrosion",
            "lower edge of the fitting",
        ),
        ("nose-tyre", "755", "tire_damage", "left sidewall"),
        ("elevator-hinge", "342", "play", "outer hinge"),
    ];
    /// People: key of the story, invented name, role.
    const PEOPLE: [(&str, &str, &str); 3] = [
        ("owner", "Marit Solvang", "owner"),
        ("mechanic", "Jonas Tide", "mechanic"),
        ("buyer", "Elke Brandung", "buyer-to-be"),
    ];
    const SEED: u64 = 20_260_509;

    struct Person {
        key: &'static str,
        notebook: Notebook,
        clock: Arc<GivenClock>,
        root: PathBuf,
    }

    /// Makes the notebooks, the history and the page.
    pub fn run(session: &Session, args: &DemoArgs, out: &Output) -> Result<u8> {
        let base = args
            .folder
            .clone()
            .unwrap_or_else(|| PathBuf::from("witnessmark-demo"));
        if base.exists() {
            return Err(
                Error::new(ErrorKind::AlreadyThere, "this folder exists already")
                    .at(base.display())
                    .hint("name another, or remove it"),
            );
        }
        let photos = base.join("photos");
        std::fs::create_dir_all(&photos).map_err(|error| Error::io(&error, photos.display()))?;
        let seed = session.seed.unwrap_or(SEED);
        let mut people = Vec::new();
        let first = walks()
            .first()
            .ok_or_else(|| Error::new(ErrorKind::Unknown, "the story is empty"))?;
        for (at, (key, name, role)) in PEOPLE.into_iter().enumerate() {
            let clock = Arc::new(GivenClock::new(stamp(
                &format!("{} {}:00", first.date, first.start),
                first.offset,
            )?));
            let world = World {
                clock: clock.clone(),
                entropy: Arc::new(SeededEntropy::new(seed + at as u64)),
                files: Arc::new(SystemFiles),
            };
            let root = base.join(key);
            people.push(Person {
                key,
                notebook: Notebook::init(&root, world, name, role, KeySource::File)?,
                clock,
                root,
            });
        }
        let mut aircraft = None;
        let mut findings: BTreeMap<&'static str, Digest> = BTreeMap::new();
        for (number, walk) in walks().iter().enumerate() {
            let at = people
                .iter()
                .position(|person| person.key == walk.who)
                .unwrap_or(0);
            let others: Vec<PathBuf> = people
                .iter()
                .filter(|person| person.key != walk.who)
                .map(|person| person.root.clone())
                .collect();
            let Some(person) = people.get_mut(at) else {
                continue;
            };
            person.clock.set(stamp(
                &format!("{} {}:00", walk.date, walk.start),
                walk.offset,
            )?);
            for other in &others {
                person.notebook.receive_folder(other)?;
            }
            let id = match aircraft {
                Some(id) => id,
                None => {
                    let id = person.notebook.add_aircraft(
                        "N0WM",
                        "high-wing four-seater (invented)",
                        Some("WM-0007"),
                        "high_wing_strutted_fixed",
                        false,
                    )?;
                    aircraft = Some(id);
                    id
                }
            };
            walk_round(person, &id, number, walk, &photos, &mut findings, out)?;
        }
        let Some(id) = aircraft else { return Ok(1) };
        let buyer = people.pop();
        let mechanic = people.pop();
        let Some(mut owner) = people.pop() else {
            return Ok(1);
        };
        for other in [mechanic, buyer].into_iter().flatten() {
            let root = other.root.clone();
            other.notebook.close()?;
            owner.notebook.receive_folder(&root)?;
        }
        let view = owner.notebook.history(&id)?;
        let page = witnessmark_core::report::build(
            &owner.notebook,
            &id,
            &witnessmark_core::report::Ask::default(),
        )?;
        let file = base.join("N0WM.html");
        std::fs::write(&file, page).map_err(|error| Error::io(&error, file.display()))?;
        let root = owner.root.clone();
        owner.notebook.close()?;
        out.show(&json!({"notebook": root, "page": file, "photos": photos, "history": view}), || {
            format!("{}\nNotebooks: {}\nPage:      {}\nEverything here is invented; the photographs are drawn.\n", view.to_text(), base.display(), file.display())
        })
    }

    fn stamp(text: &str, offset: &str) -> Result<chrono::DateTime<chrono::FixedOffset>> {
        // EXIF writes the date with colons.
        let (date, time) = text.split_once(' ').unwrap_or((text, "00:00:00"));
        parse_when(&format!("{}T{time}{offset}", date.replace(':', "-")))
    }

    #[allow(clippy::too_many_arguments)]
    fn walk_round(
        person: &mut Person,
        aircraft: &Digest,
        number: usize,
        walk: &Walk,
        folder: &Path,
        findings: &mut BTreeMap<&'static str, Digest>,
        out: &Output,
    ) -> Result<()> {
        let hours = format!("{}.{}", walk.tenths / 10, walk.tenths % 10);
        let new = NewWalkaround {
            purpose: Some(walk.purpose.into()),
            hours: Some(hours),
            ..NewWalkaround::default()
        };
        person.notebook.start_walkaround(aircraft, &new)?;
        let mut seen_zones: Vec<&str> = Vec::new();
        for shot in shots().iter().filter(|shot| shot.walk == number) {
            let photo = shot.draw();
            let file = folder.join(&photo.shot.file_name);
            std::fs::write(&file, &photo.jpeg)
                .map_err(|error| Error::io(&error, file.display()))?;
            person.clock.set(stamp(&shot.taken, walk.offset)?);
            let Some((key, zone, condition, part)) =
                PLACES.into_iter().find(|(key, ..)| *key == shot.key)
            else {
                general(person, aircraft, &photo, &file)?;
                continue;
            };
            let place = Place {
                aircraft: Some(*aircraft),
                zone: Some(zone.into()),
                ..Place::default()
            };
            let captured = person.notebook.take_photo(&file, &place)?;
            let measure = on_picture(&photo, captured.entry).unwrap_or_else(|error| {
                out.note(&format!("{}: not measured: {error}", shot.file_name));
                None
            });
            let sighting = NewSighting {
                basis: Some(
                    if measure.is_some() {
                        "measured"
                    } else {
                        "seen"
                    }
                    .into(),
                ),
                step: step(key, number),
                measures: measure.into_iter().chain(typed(key, number)).collect(),
                evidence: vec![captured.entry],
                text: Some(shot.about.into()),
                ..NewSighting::default()
            };
            if key == "propeller-nick" && number == 1 {
                if let Some(id) = findings.get(key) {
                    person.notebook.treat(
                        aircraft,
                        id,
                        "dressed",
                        Some("Jonas Tide"),
                        Vec::new(),
                    )?;
                    person
                        .notebook
                        .place(aircraft, &captured.entry, Some(zone), Some(id), None)?;
                    person.notebook.close_finding(
                        aircraft,
                        id,
                        "dressed and blended",
                        Some("Jonas Tide"),
                        Some("propeller log, invented entry 12"),
                        Some(captured.entry),
                    )?;
                }
            } else if key == "propeller-nick" && number == 4 {
                person.notebook.place(
                    aircraft,
                    &captured.entry,
                    Some(zone),
                    findings.get(key),
                    None,
                )?;
            } else if let Some(id) = findings.get(key) {
                person.notebook.sight(aircraft, id, &sighting)?;
            } else {
                let new = NewFinding {
                    zone: zone.into(),
                    condition: condition.into(),
                    part: Some(part.into()),
                    ..NewFinding::default()
                };
                let id = person.notebook.open_finding(aircraft, &new, &sighting)?;
                findings.insert(key, id);
                let concern = if key == "fairing-crack" || key == "brake-weep" {
                    "ask"
                } else {
                    "watch"
                };
                person.notebook.concern(aircraft, &id, concern)?;
            }
            seen_zones.push(zone);
        }
        looks(person, aircraft, number, &seen_zones)?;
        person.notebook.finish_walkaround(aircraft)?;
        Ok(())
    }

    /// Overall views and papers.
    fn general(
        person: &mut Person,
        aircraft: &Digest,
        photo: &DemoPhoto,
        file: &Path,
    ) -> Result<()> {
        let place = Place {
            aircraft: Some(*aircraft),
            ..Place::default()
        };
        let paper = match photo.shot.key {
            "data-plate" => Some("data_plate"),
            "log-page" => Some("log_page"),
            "hour-meter" => Some("meter"),
            _ => None,
        };
        match paper {
            Some(kind) => person.notebook.take_paper(file, Some(kind), &place)?,
            None => {
                let layout = person
                    .notebook
                    .layout_of(&person.notebook.state(aircraft)?)?;
                let wanted = if photo.shot.key.contains("left-front") {
                    "left_front"
                } else {
                    "right_rear"
                };
                let view = layout
                    .views
                    .iter()
                    .find(|view| view.key.starts_with(wanted))
                    .map(|view| view.key.clone());
                person.notebook.take_photo(file, &Place { view, ..place })?
            }
        };
        Ok(())
    }

    /// A crack followed between two taps, or a stain outlined from one, measured by the card.
    fn on_picture(photo: &DemoPhoto, entry: Digest) -> Result<Option<Measure>> {
        let Some(card) = photo.taps.card else {
            return Ok(None);
        };
        if photo.shot.key == "elevator-hinge" || photo.shot.key == "propeller-nick" {
            return Ok(None);
        }
        let rgb = image::load_from_memory(&photo.jpeg)
            .map_err(|error| Error::new(ErrorKind::BadFormat, error.to_string()))?
            .to_rgb8();
        let shown = if let Some(middle) = photo.taps.middle {
            Shown::Stain(middle)
        } else if photo.taps.ends.len() < 2 {
            return Ok(None);
        } else if photo.truth.cracks.is_empty() {
            // No crack to follow: two taps and the straight line between them.
            Shown::Path(photo.taps.ends.clone())
        } else {
            // Followed between two taps; how unsure the following was goes into the measure.
            Shown::Crack(photo.taps.ends.clone())
        };
        let (_, measured) = on_photo(
            &rgb,
            &shown,
            Some(&ScaleTaps::Card(card)),
            &Options::default(),
            &Progress::default(),
        )?;
        measured
            .map(|measured| Measure::on_photo(&measured, Some(entry)))
            .transpose()
    }

    /// What people type rather than measure on a picture.
    fn typed(key: &str, number: usize) -> Option<Measure> {
        let text = match (key, number) {
            ("elevator-hinge", 1) => "free_play 0.2 mm +-0.1 by gauge",
            ("elevator-hinge", 4) => "free_play 0.9 mm +-0.1 by gauge",
            ("propeller-nick", 0) => "depth 0.6 mm +-0.1 by gauge",
            _ => return None,
        };
        Measure::typed("play", text).ok()
    }

    fn step(key: &str, number: usize) -> Option<String> {
        let word = match (key, number) {
            ("brake-weep", 1) => "dry_stain",
            ("brake-weep", _) => "seep",
            ("door-seal", _) => "torn",
            ("nose-tyre", _) => "checks",
            _ => return None,
        };
        Some(word.into())
    }

    /// Zones that were looked at without a finding; some could not be seen, some nobody looked at.
    fn looks(person: &mut Person, aircraft: &Digest, number: usize, seen: &[&str]) -> Result<()> {
        let usual = [
            "210", "510", "520", "530", "550", "560", "580", "610", "620", "650", "660", "680",
            "726", "728", "722", "410", "320", "341", "342", "811",
        ];
        let summer = [
            "281", "282", "283", "284", "590", "331", "332", "310", "540", "640", "425",
        ];
        let thorough = [
            "120", "240", "250", "430", "440", "450", "732", "740", "745", "750", "231", "232",
        ];
        let mut zones: Vec<String> = usual.iter().map(|zone| (*zone).to_owned()).collect();
        if number != 3 {
            zones.extend(summer.iter().map(|zone| (*zone).to_owned()));
        }
        if number == 1 || number == 4 {
            zones.extend(thorough.iter().map(|zone| (*zone).to_owned()));
        }
        zones.retain(|zone| !seen.contains(&zone.as_str()));
        for group in zones.chunks(7) {
            person.notebook.look(
                aircraft,
                &NewLook {
                    zones: group.to_vec(),
                    how: Some("close".into()),
                    ..NewLook::default()
                },
            )?;
        }
        let hidden: &[(&str, &str)] = match number {
            0 => &[("440", "cowl on"), ("450", "cowl on")],
            3 => &[("535", "snow on the wing"), ("635", "snow on the wing")],
            4 => &[
                ("721", "wheel fairing on"),
                ("255", "owner had no key for the box"),
            ],
            _ => &[],
        };
        for (zone, why) in hidden {
            person.notebook.look(
                aircraft,
                &NewLook {
                    zones: vec![(*zone).to_owned()],
                    not_seen: Some((*why).to_owned()),
                    ..NewLook::default()
                },
            )?;
        }
        if number.is_multiple_of(2) {
            person.notebook.read_value(
                aircraft,
                "oil found",
                &format!("{}/2", 13 - number),
                Some("qt"),
                None,
                Some("430"),
                BTreeMap::new(),
            )?;
            person.notebook.read_value(
                aircraft,
                "oil added",
                "1",
                Some("qt"),
                None,
                Some("430"),
                BTreeMap::new(),
            )?;
        }
        // The same hour as the last photo is good enough for a look.
        let now = person.clock.now();
        person.clock.set(now + chrono::TimeDelta::minutes(4));
        Ok(())
    }
}
