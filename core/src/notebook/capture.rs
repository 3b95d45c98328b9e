//! Captures: photos, voice, papers, notes; placing them.

use std::io::Read;
use std::path::Path;

use serde::Serialize;

use super::Notebook;
use crate::error::{Error, ErrorKind, Result};
use crate::evidence::{self, Complete, store};
use crate::record::kinds::{
    Meant, PaperTaken, PhotoTaken, Placed, SoundKept, TranscriptAdded, VoiceTaken, Written,
};
use crate::record::slip::Slip;
use crate::record::{Body, Digest, Seen};
use crate::speech::audio;

/// Where a capture belongs, as far as it is known.
#[derive(Debug, Clone, Default)]
pub struct Place {
    /// Aircraft; none keeps it loose until one is known.
    pub aircraft: Option<Digest>,
    /// Zone code.
    pub zone: Option<String>,
    /// Stop key.
    pub stop: Option<String>,
    /// Finding.
    pub finding: Option<Digest>,
    /// Overall view of the layout that it is.
    pub view: Option<String>,
    /// taken (in the app) or imported.
    pub taken: bool,
}

/// What a capture came to.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Captured {
    /// The entry.
    pub entry: Digest,
    /// SHA-256 of the file.
    pub file: Option<Digest>,
    /// Media type by content.
    pub media: String,
    /// When it was made, as far as the file says.
    pub seen: Seen,
    /// The file has its end; absent where it cannot be told.
    pub complete: Option<bool>,
    /// The same bytes were here before.
    pub known: bool,
    /// Oddities, stable codes.
    pub hints: Vec<String>,
    /// The same in words.
    pub notes: Vec<String>,
    /// Zone it was placed on.
    pub zone: Option<String>,
}

enum As {
    Photo,
    Voice,
    Paper(Option<String>),
}

/// Longest recording whose sound is measured when it is taken in, in bytes; longer ones are kept as they are.
const SOUND_LOOKED_AT: u64 = 64 << 20;

/// More samples at full scale than this share is worth saying (common practice, no source).
const CLIPPED: f64 = 0.001;

/// A root mean square below this share of full scale is worth saying: -60 dB (common practice, no source).
const QUIET: f64 = 0.001;

/// What was measured, in the whole numbers that the record holds.
fn kept(sound: &audio::Sound) -> SoundKept {
    let millionths = |share: Option<f64>| share.map(|s| (s.clamp(0.0, 1.0) * 1e6).round() as u32);
    SoundKept {
        container: sound.container.name().to_owned(),
        milliseconds: sound.milliseconds,
        rate: sound.rate,
        whole: sound.cut.then_some(sound.whole),
        peak: millionths(sound.peak),
        level: millionths(sound.level),
        clipped: millionths(sound.clipped),
    }
}

impl Notebook {
    /// Takes in a photo.
    pub fn take_photo(&mut self, path: &Path, place: &Place) -> Result<Captured> {
        self.take_path(path, place, &As::Photo)
    }

    /// Takes in a recording.
    pub fn take_voice(&mut self, path: &Path, place: &Place) -> Result<Captured> {
        self.take_path(path, place, &As::Voice)
    }

    /// Takes in a log page, data plate, meter face or list.
    pub fn take_paper(
        &mut self,
        path: &Path,
        kind: Option<&str>,
        place: &Place,
    ) -> Result<Captured> {
        self.take_path(path, place, &As::Paper(kind.map(str::to_owned)))
    }

    fn take_path(&mut self, path: &Path, place: &Place, what: &As) -> Result<Captured> {
        let mut file = self
            .world
            .files
            .open(path)
            .map_err(|error| Error::io(&error, path.display()))?;
        let name = path
            .file_name()
            .map(|name| name.to_string_lossy().into_owned())
            .unwrap_or_default();
        self.take(&mut file, &name, place, what)
    }

    /// Takes in a photo from a stream (a phone's content provider).
    pub fn take_photo_stream(
        &mut self,
        source: &mut dyn Read,
        name: &str,
        place: &Place,
    ) -> Result<Captured> {
        self.take(source, name, place, &As::Photo)
    }

    /// Takes in a paper from a stream.
    pub fn take_paper_stream(
        &mut self,
        source: &mut dyn Read,
        name: &str,
        kind: Option<&str>,
        place: &Place,
    ) -> Result<Captured> {
        self.take(source, name, place, &As::Paper(kind.map(str::to_owned)))
    }

    /// Takes in a recording from a stream.
    pub fn take_voice_stream(
        &mut self,
        source: &mut dyn Read,
        name: &str,
        place: &Place,
    ) -> Result<Captured> {
        self.take(source, name, place, &As::Voice)
    }

    fn take(
        &mut self,
        source: &mut dyn Read,
        name: &str,
        place: &Place,
        what: &As,
    ) -> Result<Captured> {
        if self.signer.is_none() {
            return Err(Error::new(
                ErrorKind::WrongState,
                "this notebook is open for reading only",
            )
            .at(self.root.display()));
        }
        let limit = if matches!(what, As::Voice) {
            store::VOICE_LIMIT
        } else {
            store::PHOTO_LIMIT
        };
        let incoming = store::receive(&self.world, &self.root, source, limit, name)?;
        let files = self.world.files.clone();
        let here = |error: std::io::Error| Error::io(&error, incoming.path.display());
        let examined = {
            let mut file = files.open(&incoming.path).map_err(here)?;
            evidence::examine(file.as_mut(), incoming.bytes, name)?
        };
        let sound = if matches!(what, As::Voice) && incoming.bytes <= SOUND_LOOKED_AT {
            let mut bytes = Vec::new();
            let mut file = files.open(&incoming.path).map_err(here)?;
            file.read_to_end(&mut bytes).map_err(here)?;
            audio::look(&bytes)
        } else {
            None
        };
        let known = store::find(files.as_ref(), &self.root, &incoming.digest)?.is_some();
        store::settle(
            files.as_ref(),
            &self.root,
            &incoming,
            examined.media.extension(),
        )?;
        let mut hints: Vec<String> = examined
            .hints
            .iter()
            .map(|hint| hint.code.clone())
            .collect();
        let mut notes: Vec<String> = examined
            .hints
            .iter()
            .map(|hint| hint.says.clone())
            .collect();
        if matches!(what, As::Photo) && !examined.media.is_picture() {
            hints.push("not_a_picture".into());
            notes.push("this is no picture that can be shown; it is kept all the same".into());
        }
        let complete = match examined.complete {
            Complete::Yes => Some(true),
            Complete::No(_) => Some(false),
            Complete::NotChecked => sound.as_ref().map(|sound| !sound.cut),
        };
        if sound.as_ref().is_some_and(|sound| sound.cut) {
            hints.push("sound_cut".into());
            notes.push("the recording ends inside a frame: it is whole up to there".into());
        }
        if sound
            .as_ref()
            .and_then(|s| s.clipped)
            .is_some_and(|c| c > CLIPPED)
        {
            hints.push("sound_clipped".into());
            notes.push("the recording is too loud in places: words may be lost".into());
        }
        if sound
            .as_ref()
            .and_then(|s| s.level)
            .is_some_and(|l| l < QUIET)
        {
            hints.push("sound_quiet".into());
            notes.push("the recording is very quiet".into());
        }
        let seen = match (&examined.seen, what) {
            (Some(seen), _) => Seen {
                time: seen.time.clone(),
                offset: seen.offset.clone(),
                from: "exif".into(),
            },
            (None, _) if place.taken => self.now_seen(),
            (None, _) => Seen {
                time: String::new(),
                offset: None,
                from: "unknown".into(),
            },
        };
        let aircraft = place.aircraft.unwrap_or(Digest::ZERO);
        let walkaround = self.current_walkaround(&aircraft)?;
        let name = Some(name.to_owned()).filter(|name| !name.is_empty());
        let media = examined.media.mime().to_owned();
        let picture = examined.picture.as_deref().and_then(|hex| hex.parse().ok());
        let body: Body = match what {
            As::Photo => {
                let position = match &examined.gps {
                    Some(gps) => Some(super::keep_slip(
                        &self.world,
                        &self.root,
                        &Slip::position(
                            self.world.entropy.as_ref(),
                            &format!("{:.6}", gps.lat),
                            &format!("{:.6}", gps.lon),
                        )?,
                    )?),
                    None => None,
                };
                let camera = examined
                    .camera
                    .as_ref()
                    .map(|camera| {
                        format!("{} {}", camera.make, camera.model)
                            .trim()
                            .to_owned()
                    })
                    .filter(|text| !text.is_empty());
                let size = (examined.width > 0 && examined.height > 0)
                    .then_some((u64::from(examined.width), u64::from(examined.height)));
                PhotoTaken {
                    file: incoming.digest,
                    bytes: incoming.bytes,
                    media: media.clone(),
                    name,
                    orientation: examined.orientation,
                    size,
                    picture,
                    complete,
                    route: if place.taken { "taken" } else { "imported" }.into(),
                    camera,
                    position,
                    hints: hints.clone(),
                    walkaround,
                    stop: place.stop.clone(),
                }
                .into()
            }
            As::Voice => VoiceTaken {
                file: incoming.digest,
                bytes: incoming.bytes,
                media: media.clone(),
                name,
                walkaround,
                stop: place.stop.clone(),
                sound: sound.as_ref().map(kept),
            }
            .into(),
            As::Paper(kind) => PaperTaken {
                file: incoming.digest,
                bytes: incoming.bytes,
                media: media.clone(),
                name,
                paper: kind.clone(),
                picture,
                orientation: examined.orientation,
                complete,
                walkaround,
            }
            .into(),
        };
        let entry = self.append(&aircraft, seen.clone(), body)?;
        let zone = self.place_if_known(&aircraft, &entry, place)?;
        Ok(Captured {
            entry,
            file: Some(incoming.digest),
            media,
            seen,
            complete,
            known,
            hints,
            notes,
            zone,
        })
    }

    /// Writes a note.
    pub fn write_note(&mut self, text: &str, place: &Place) -> Result<Captured> {
        if text.trim().is_empty() {
            return Err(
                Error::new(ErrorKind::BadValue, "the note is empty").hint("write what you saw")
            );
        }
        let aircraft = place.aircraft.unwrap_or(Digest::ZERO);
        let walkaround = self.current_walkaround(&aircraft)?;
        let seen = self.now_seen();
        let entry = self.append(
            &aircraft,
            seen.clone(),
            Written {
                text: text.to_owned(),
                walkaround,
                stop: place.stop.clone(),
            }
            .into(),
        )?;
        let zone = self.place_if_known(&aircraft, &entry, place)?;
        Ok(Captured {
            entry,
            file: None,
            media: "text/plain".into(),
            seen,
            complete: None,
            known: false,
            hints: Vec::new(),
            notes: Vec::new(),
            zone,
        })
    }

    /// Adds the words of a recording; never replaces earlier ones.
    pub fn add_transcript(
        &mut self,
        voice: &Digest,
        text: &str,
        engine: &str,
        version: Option<&str>,
        language: Option<&str>,
    ) -> Result<Digest> {
        let row = self.index.line(voice)?.ok_or_else(|| {
            Error::new(ErrorKind::Unknown, "there is no such recording").at(voice.short())
        })?;
        let body = TranscriptAdded {
            voice: *voice,
            text: text.to_owned(),
            engine: engine.to_owned(),
            version: version.map(str::to_owned),
            language: language.map(str::to_owned),
        };
        let seen = self.now_seen();
        self.append(&row.aircraft, seen, body.into())
    }

    fn place_if_known(
        &mut self,
        aircraft: &Digest,
        entry: &Digest,
        place: &Place,
    ) -> Result<Option<String>> {
        if place.zone.is_none() && place.finding.is_none() && place.view.is_none() {
            return Ok(None);
        }
        self.place(
            aircraft,
            entry,
            place.zone.as_deref(),
            place.finding.as_ref(),
            place.view.as_deref(),
        )?;
        Ok(place.zone.clone())
    }

    /// Hangs evidence on a zone or a finding. Loose captures are restated in the aircraft's chain.
    pub fn place(
        &mut self,
        aircraft: &Digest,
        what: &Digest,
        zone: Option<&str>,
        finding: Option<&Digest>,
        view: Option<&str>,
    ) -> Result<Digest> {
        let row = self.index.line(what)?.ok_or_else(|| {
            Error::new(ErrorKind::Unknown, "there is no such entry").at(what.short())
        })?;
        if !matches!(
            row.body,
            Body::PhotoTaken(_)
                | Body::VoiceTaken(_)
                | Body::PaperTaken(_)
                | Body::Written(_)
                | Body::Restated(_)
        ) {
            return Err(Error::new(
                ErrorKind::BadValue,
                format!("\"{}\" is no evidence", row.body.kind()),
            )
            .at(what.short())
            .hint("place a photo, a recording, a paper or a note"));
        }
        let mut target = *what;
        if row.aircraft == Digest::ZERO && *aircraft != Digest::ZERO {
            let already = self
                .index
                .citing(what, "source")?
                .into_iter()
                .find(|restated| restated.aircraft == *aircraft);
            target = match already {
                Some(restated) => restated.digest,
                None => {
                    let body = crate::record::kinds::Restated {
                        source: *what,
                        kind: row.body.kind().to_owned(),
                        seen: row.seen.clone(),
                        body: row.body.to_value()?,
                    };
                    self.append(aircraft, row.seen.clone(), body.into())?
                }
            };
        }
        let body = Placed {
            what: target,
            zone: zone.map(str::to_owned),
            finding: finding.copied(),
            meant: view.map(|view| Meant {
                view: view.to_owned(),
            }),
            part: None,
        };
        let seen = self.now_seen();
        self.append(aircraft, seen, body.into())
    }

    pub(crate) fn current_walkaround(&self, aircraft: &Digest) -> Result<Option<Digest>> {
        if *aircraft == Digest::ZERO {
            return Ok(None);
        }
        // As the state would say it, from the few lines that bear on it: captures must not slow down
        // with the size of the notebook.
        let rows = self.index.open_walkaround_lines(aircraft, &self.author)?;
        let facts = crate::history::force::in_force(rows);
        let finished: Vec<Digest> = facts
            .iter()
            .filter_map(|fact| match &fact.row.body {
                Body::WalkaroundFinished(body) => Some(body.walkaround),
                _ => None,
            })
            .collect();
        Ok(facts
            .iter()
            .rfind(|fact| {
                matches!(fact.row.body, Body::WalkaroundStarted(_))
                    && fact.row.author == self.author
                    && !finished.contains(&fact.row.digest)
            })
            .map(|fact| fact.row.digest))
    }
}
