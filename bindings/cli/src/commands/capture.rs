//! `photo`, `voice`, `paper`, `note`, `place`.

use std::io::{BufRead, IsTerminal};
use std::path::PathBuf;

use clap::Args;
use serde_json::json;
use witnessmark_core::notebook::{Captured, Notebook, Place, Settled};
use witnessmark_core::record::Digest;
use witnessmark_core::{Error, ErrorClass, ErrorKind, Result};

use crate::output::Output;
use crate::real::Session;

const EVIDENCE: [&str; 5] = [
    "photo taken",
    "voice taken",
    "paper taken",
    "written",
    "restated",
];

/// Where a capture belongs.
#[derive(Args)]
pub struct Where {
    /// Zone, by code or name.
    #[arg(long, conflicts_with = "stop")]
    zone: Option<String>,
    /// Stop.
    #[arg(long)]
    stop: Option<String>,
    /// Finding.
    #[arg(long)]
    finding: Option<String>,
    /// Overall view of the layout that it is.
    #[arg(long)]
    view: Option<String>,
}

impl Where {
    fn resolve(&self, session: &Session, notebook: &Notebook) -> Result<Place> {
        let placed = self.zone.is_some()
            || self.stop.is_some()
            || self.finding.is_some()
            || self.view.is_some();
        let aircraft = match session.the_aircraft(notebook) {
            Ok(id) => Some(id),
            // Nothing stands between seeing and keeping: without an aircraft it is kept loose.
            // A failure of the machine is no such case: it must not land among the loose unseen.
            Err(error)
                if !placed
                    && session.aircraft.is_none()
                    && error.kind.class() == ErrorClass::Input =>
            {
                None
            }
            Err(error) => return Err(error),
        };
        let mut place = Place {
            aircraft,
            stop: self.stop.clone(),
            view: self.view.clone(),
            ..Place::default()
        };
        let Some(id) = aircraft else { return Ok(place) };
        let state = notebook.state(&id)?;
        if placed {
            let layout = notebook.layout_of(&state)?;
            if let Some(stop) = &self.stop
                && layout.stop(stop).is_none()
            {
                let names: Vec<&str> = layout.stops.iter().map(|stop| stop.key.as_str()).collect();
                return Err(
                    Error::new(ErrorKind::Unknown, format!("there is no stop \"{stop}\""))
                        .at(&layout.name)
                        .hint(format!("stops: {}", names.join(", "))),
                );
            }
            if let Some(zone) = &self.zone {
                place.zone = Some(notebook.zone_code(&layout, zone)?);
            }
            if let Some(view) = &self.view
                && layout.view(view).is_none()
            {
                let names: Vec<&str> = layout.views.iter().map(|view| view.key.as_str()).collect();
                return Err(Error::new(
                    ErrorKind::Unknown,
                    format!("there is no overall view \"{view}\""),
                )
                .at(&layout.name)
                .hint(format!("views: {}", names.join(", "))));
            }
        }
        if let Some(finding) = &self.finding {
            let finding = notebook.finding(&state, finding)?;
            place.finding = Some(finding.id);
            place.zone.get_or_insert_with(|| finding.zone.clone());
        }
        Ok(place)
    }
}

/// `photo`
#[derive(Args)]
pub struct FilesArgs {
    /// Files; - reads a list from standard input.
    #[arg(required = true)]
    files: Vec<PathBuf>,
    #[command(flatten)]
    place: Where,
}

/// `voice`
#[derive(Args)]
pub struct VoiceArgs {
    /// Recording.
    file: PathBuf,
    /// Its words: a transcript, kept beside earlier ones.
    #[arg(long)]
    text: Option<String>,
    /// What made the transcript; "typed" if not given.
    #[arg(long, requires = "text", default_value = "typed")]
    engine: String,
    /// Version of that engine.
    #[arg(long, requires = "text")]
    engine_version: Option<String>,
    /// Language of the words, as en or en-GB.
    #[arg(long, requires = "text")]
    language: Option<String>,
    #[command(flatten)]
    place: Where,
}

/// `paper`
#[derive(Args)]
pub struct PaperArgs {
    /// Files.
    #[arg(required = true)]
    files: Vec<PathBuf>,
    /// log_page, data_plate, registration, meter, list.
    #[arg(long)]
    kind: Option<String>,
    /// The file is a filled work sheet that settles a finding: F=how, or "F=how; by NAME; reference
    /// WHERE". Once for each finding; each closing cites the picture.
    #[arg(long, value_name = "F=HOW")]
    settles: Vec<String>,
}

/// `note`
#[derive(Args)]
pub struct NoteArgs {
    /// The words.
    text: String,
    #[command(flatten)]
    place: Where,
}

/// `place`
#[derive(Args)]
pub struct PlaceArgs {
    /// The entry: its first digits.
    evidence: String,
    #[command(flatten)]
    place: Where,
}

fn listed(files: &[PathBuf]) -> Result<Vec<PathBuf>> {
    let mut out = Vec::new();
    for file in files {
        if file.as_os_str() == "-" {
            for line in std::io::stdin().lock().lines() {
                let line = line.map_err(|error| Error::io(&error, "standard input"))?;
                if !line.trim().is_empty() {
                    out.push(PathBuf::from(line));
                }
            }
        } else {
            out.push(file.clone());
        }
    }
    Ok(out)
}

fn shown(captured: &Captured) -> String {
    let place = captured
        .zone
        .as_deref()
        .map_or("unplaced".to_owned(), |zone| format!("zone {zone}"));
    let mut text = format!("{}  {}  {place}", captured.entry.short(), captured.media);
    if captured.known {
        text.push_str("  (the same file was here before)");
    }
    if captured.complete == Some(false) {
        text.push_str("  kept, but the file is cut short: take the picture again if you can");
    }
    for note in &captured.notes {
        text.push_str(&format!("  note: {note}"));
    }
    text
}

fn each(
    session: &Session,
    files: &[PathBuf],
    out: &Output,
    mut take: impl FnMut(&mut Notebook, &PathBuf) -> Result<Captured>,
) -> Result<u8> {
    let mut notebook = session.open()?;
    let files = listed(files)?;
    let mut done = Vec::new();
    let mut failed = None;
    for (at, file) in files.iter().enumerate() {
        match take(&mut notebook, file) {
            Ok(captured) => done.push(captured),
            Err(error) if files.len() == 1 => failed = Some(error),
            Err(error) => {
                out.note(&error.to_string());
                failed = Some(error);
            }
        }
        if files.len() > 3 && std::io::stderr().is_terminal() {
            out.note(&format!("{} of {}", at + 1, files.len()));
        }
    }
    // Everything is kept by now; what each photo looks like is said after, so that a decode never
    // stands between a photo and its being kept.
    for captured in &mut done {
        if !captured.media.starts_with("image/") {
            continue;
        }
        match notebook.advice(&captured.entry) {
            Ok(advice) => {
                for one in advice {
                    captured.hints.push(one.code);
                    captured.notes.push(one.says);
                }
            }
            Err(error) if error.kind == ErrorKind::BadValue => {}
            Err(error) => out.note(&format!("{error} (the photo is kept)")),
        }
    }
    notebook.close()?;
    if !done.is_empty() {
        out.show(&json!({"captured": done}), || {
            done.iter().map(shown).collect::<Vec<_>>().join("\n")
        })?;
    }
    match failed {
        Some(error) if files.len() == 1 => Err(error),
        Some(_) => Ok(2),
        None => Ok(0),
    }
}

/// Takes in photos.
pub fn photo(session: &Session, args: &FilesArgs, out: &Output) -> Result<u8> {
    let place = args.place.resolve(session, &session.read()?)?;
    each(session, &args.files, out, |notebook, file| {
        notebook.take_photo(file, &place)
    })
}

/// Takes in a recording.
pub fn voice(session: &Session, args: &VoiceArgs, out: &Output) -> Result<u8> {
    let place = args.place.resolve(session, &session.read()?)?;
    each(
        session,
        std::slice::from_ref(&args.file),
        out,
        |notebook, file| {
            let captured = notebook.take_voice(file, &place)?;
            if let Some(text) = &args.text {
                notebook.add_transcript(
                    &captured.entry,
                    text,
                    &args.engine,
                    args.engine_version.as_deref(),
                    args.language.as_deref(),
                )?;
            }
            Ok(captured)
        },
    )
}

/// Takes in papers.
pub fn paper(session: &Session, args: &PaperArgs, out: &Output) -> Result<u8> {
    let aircraft = session.the_aircraft(&session.read()?)?;
    if !args.settles.is_empty() {
        return filled_sheet(session, &aircraft, args, out);
    }
    let place = Place {
        aircraft: Some(aircraft),
        ..Place::default()
    };
    each(session, &args.files, out, |notebook, file| {
        notebook.take_paper(file, args.kind.as_deref(), &place)
    })
}

/// Takes in a filled work sheet and closes what it settles.
fn filled_sheet(
    session: &Session,
    aircraft: &Digest,
    args: &PaperArgs,
    out: &Output,
) -> Result<u8> {
    let [file] = args.files.as_slice() else {
        return Err(Error::new(
            ErrorKind::BadValue,
            "one picture at a time settles findings",
        )
        .at("--settles")
        .hint("take in the other papers by themselves"));
    };
    let settles = args
        .settles
        .iter()
        .map(|text| Settled::parse(text))
        .collect::<Result<Vec<_>>>()?;
    let mut notebook = session.open()?;
    let (taken, closed) = notebook.settle_by_sheet(aircraft, file, &settles)?;
    notebook.close()?;
    out.show(&json!({"captured": [taken], "closed": closed}), || {
        format!(
            "{}\nSettles {} findings; each cites the picture. It is what a person wrote, not a maintenance entry.",
            shown(&taken),
            closed.len()
        )
    })
}

/// Writes a note.
pub fn note(session: &Session, args: &NoteArgs, out: &Output) -> Result<u8> {
    let mut notebook = session.open()?;
    let place = args.place.resolve(session, &notebook)?;
    let captured = notebook.write_note(&args.text, &place)?;
    notebook.close()?;
    out.show(&json!({"captured": [captured]}), || shown(&captured))
}

/// Hangs evidence on a zone or a finding.
pub fn place(session: &Session, args: &PlaceArgs, out: &Output) -> Result<u8> {
    let mut notebook = session.open()?;
    let what: Digest = notebook.entry(&args.evidence, &EVIDENCE)?.digest;
    let place = args.place.resolve(session, &notebook)?;
    let Some(aircraft) = place.aircraft else {
        return Err(Error::new(ErrorKind::BadValue, "where does it belong?")
            .hint("give --zone or --finding"));
    };
    if place.zone.is_none() && place.finding.is_none() && place.view.is_none() {
        return Err(Error::new(ErrorKind::BadValue, "where does it belong?")
            .at(what.short())
            .hint("give --zone or --finding"));
    }
    let line = notebook.place(
        &aircraft,
        &what,
        place.zone.as_deref(),
        place.finding.as_ref(),
        place.view.as_deref(),
    )?;
    notebook.close()?;
    out.show(&json!({"entry": line, "zone": place.zone}), || {
        format!("Placed on zone {}.", place.zone.as_deref().unwrap_or(""))
    })
}
