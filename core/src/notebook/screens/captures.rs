//! Captures in words, what is unplaced, drafts.

use super::records::*;
use super::start::choice;
use super::{counted, sentence};
use crate::error::{Error, ErrorKind, Result};
use crate::history::state::{Capture, fold};
use crate::layout::Layout;
use crate::notebook::{Captured, Kept, Notebook};
use crate::record::Digest;
use crate::speech::{self, Draft, Kind, Utterance, Vocabulary, Words};

/// What a capture came to, in words.
pub(super) fn captured_view(captured: &Captured) -> CapturedView {
    let kind = match captured.media.split('/').next() {
        Some("image") => "Photo",
        Some("audio") => "Recording",
        Some("text") => "Note",
        _ => "File",
    };
    let mut notices: Vec<String> = Vec::new();
    if captured.complete == Some(false) {
        notices.push(
            "The file is cut short: it was kept as it came; take it again if you can.".into(),
        );
    }
    if captured.known {
        notices.push("The same file was here before.".into());
    }
    notices.extend(captured.notes.iter().map(|note| sentence(note)));
    CapturedView {
        entry: captured.entry.hex(),
        file: captured.file.map(|file| file.hex()),
        media: captured.media.clone(),
        known: captured.known,
        complete: captured.complete,
        zone: captured.zone.clone(),
        says: match &captured.zone {
            Some(zone) => format!("{kind} saved, zone {zone}."),
            None => format!("{kind} saved, not placed yet."),
        },
        notices,
    }
}

impl From<&Captured> for CapturedView {
    fn from(captured: &Captured) -> Self {
        captured_view(captured)
    }
}

impl Notebook {
    pub(super) fn capture_line(&self, capture: &Capture, layout: Option<&Layout>) -> CaptureLine {
        let stop = capture
            .stop
            .as_deref()
            .and_then(|key| layout.and_then(|layout| layout.stop(key)));
        let place = stop
            .map(|stop| format!(" at {}", stop.name))
            .unwrap_or_default();
        let name = capture
            .name
            .as_deref()
            .map(|name| format!(", {name}"))
            .unwrap_or_default();
        let time = if capture.told.seen.time.is_empty() {
            format!("time not known, written {}", capture.told.at)
        } else {
            capture.told.seen.time.replace('T', " ")
        };
        CaptureLine {
            entry: capture.told.line.hex(),
            kind: capture.kind.clone(),
            says: format!("{} {time}{place}{name}", capture.kind),
            text: capture.text.clone(),
            path: capture
                .file
                .and_then(|file| self.original(&file).ok()?)
                .map(|path| path.display().to_string()),
            orientation: capture.orientation,
            loose: false,
            near: match (stop, layout) {
                (Some(stop), Some(layout)) => stop
                    .zones
                    .iter()
                    .filter_map(|code| layout.zone(code))
                    .map(|zone| choice(&zone.code, &zone.name))
                    .collect(),
                _ => Vec::new(),
            },
        }
    }

    /// What waits for a place: captures of the aircraft, and loose ones that have no aircraft yet.
    ///
    /// # Errors
    /// Those of the index.
    pub fn unplaced_view(&self, aircraft: &Digest) -> Result<UnplacedView> {
        let state = self.state(aircraft)?;
        let layout = self.layout_of(&state)?;
        let mut captures: Vec<CaptureLine> = state
            .unplaced()
            .map(|capture| self.capture_line(capture, Some(&layout)))
            .collect();
        for capture in self.loose()? {
            captures.push(CaptureLine {
                loose: true,
                ..self.capture_line(&capture, Some(&layout))
            });
        }
        Ok(UnplacedView {
            says: if captures.is_empty() {
                "Everything has its place.".into()
            } else {
                format!("{} without a place", counted(captures.len(), "capture"))
            },
            captures,
        })
    }

    /// Captures without an aircraft that were not restated in an aircraft's chain.
    fn loose(&self) -> Result<Vec<Capture>> {
        let rows = self.index.aircraft_lines(&Digest::ZERO)?;
        let state = fold(&crate::history::force::in_force(rows));
        let mut out = Vec::new();
        for capture in state.captures {
            if !capture.removed && self.index.citing(&capture.told.line, "source")?.is_empty() {
                out.push(capture);
            }
        }
        Ok(out)
    }

    /// The vocabulary of an aircraft's layout. Costly: keep it while the layout's file
    /// ([`layout_key`](Self::layout_key)) stays the same.
    ///
    /// # Errors
    /// `Unknown` where the layout is not here.
    pub fn vocabulary(&self, aircraft: &Digest) -> Result<Vocabulary> {
        let state = self.state(aircraft)?;
        let layout = self.layout_of(&state)?;
        Ok(Vocabulary::new(
            &layout,
            crate::condition::Conditions::built_in(),
            Words::built_in("en")?,
        ))
    }

    /// What the vocabulary of an aircraft depends on.
    ///
    /// # Errors
    /// Those of the index.
    pub fn layout_key(&self, aircraft: &Digest) -> Result<Option<Digest>> {
        let facts =
            crate::history::force::in_force(self.index.kind_lines(aircraft, "layout chosen")?);
        Ok(facts.iter().rev().find_map(|fact| match &fact.row.body {
            crate::record::Body::LayoutChosen(chosen) => Some(chosen.file),
            _ => None,
        }))
    }
}

/// A draft as it is shown.
///
/// # Errors
/// `BadFormat` where it cannot be written as JSON.
pub fn draft_view(vocabulary: &Vocabulary, draft: &Draft) -> Result<DraftView> {
    let text = serde_json::to_string(draft)
        .map_err(|error| Error::new(ErrorKind::BadFormat, error.to_string()))?;
    let lines = draft
        .items
        .iter()
        .map(|item| {
            let alone = Draft {
                items: vec![item.clone()],
                questions: Vec::new(),
                command: None,
                left_over: String::new(),
                ..draft.clone()
            };
            speech::read_back(vocabulary, &alone)
        })
        .collect();
    Ok(DraftView {
        draft: text,
        kind: match draft.kind {
            Kind::Finding => "finding",
            Kind::Look => "look",
            Kind::Command => "command",
            Kind::Remark => "remark",
        }
        .into(),
        read_back: speech::read_back(vocabulary, draft),
        lines,
        questions: draft
            .questions
            .iter()
            .map(|question| QuestionLine {
                about: question.about.clone(),
                asked: question.asked.clone(),
                choices: question.choices.clone(),
            })
            .collect(),
        command: draft.command.clone(),
        left_over: draft.left_over.clone(),
        may_keep: draft.questions.is_empty() && draft.kind != Kind::Command,
    })
}

/// Hears a text and shows the draft.
///
/// # Errors
/// As [`speech::hear`].
pub fn heard(vocabulary: &Vocabulary, utterance: &Utterance) -> Result<DraftView> {
    draft_view(vocabulary, &speech::hear(vocabulary, utterance)?)
}

/// Reads back the opaque draft that a view carried.
///
/// # Errors
/// `BadFormat` where it is not one.
pub fn draft_of(text: &str) -> Result<Draft> {
    serde_json::from_str(text).map_err(|_| {
        Error::new(ErrorKind::BadFormat, "this is no draft")
            .at("draft")
            .hint("hand back the draft as it came")
    })
}

impl From<&Kept> for KeptView {
    fn from(kept: &Kept) -> Self {
        let hex = |list: &[Digest]| list.iter().map(Digest::hex).collect::<Vec<String>>();
        let mut words = Vec::new();
        for (list, one) in [
            (&kept.opened, "new finding"),
            (&kept.sighted, "finding seen again"),
            (&kept.looks, "look"),
            (&kept.readings, "reading"),
            (&kept.notes, "note"),
        ] {
            match list.len() {
                0 => {}
                1 => words.push(format!("1 {one}")),
                n if one == "finding seen again" => words.push(format!("{n} findings seen again")),
                n => words.push(format!("{n} {one}s")),
            }
        }
        Self {
            opened: hex(&kept.opened),
            sighted: hex(&kept.sighted),
            looks: hex(&kept.looks),
            readings: hex(&kept.readings),
            notes: hex(&kept.notes),
            says: format!("Saved: {}.", words.join(", ")),
        }
    }
}
