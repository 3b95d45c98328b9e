//! Aircraft: added, chosen by registration, joined; layouts chosen.

use serde::Serialize;

use super::Notebook;
use super::names::folded;
use crate::error::{Error, ErrorKind, Result};
use crate::evidence::store;
use crate::layout::Layout;
use crate::record::kinds::{AircraftDescribed, AircraftJoined, LayoutChosen, Retracted};
use crate::record::{Body, Digest};

/// One aircraft in a list.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct AircraftRow {
    /// Id.
    pub id: Digest,
    /// Registration.
    pub registration: String,
    /// Type.
    #[serde(rename = "type")]
    pub kind: String,
    /// Serial.
    pub serial: Option<String>,
    /// Layout.
    pub layout: Option<String>,
    /// Walkarounds of all authors.
    pub walkarounds: usize,
    /// Open findings.
    pub open_findings: usize,
}

/// Longest registration accepted, in characters.
const REGISTRATION_LIMIT: usize = 16;

/// Checks a registration: Roman letters, digits, hyphens and spaces. Other alphabets are refused, since
/// ICAO Annex 7 knows Roman marks only (from memory) and a Cyrillic А looks like another aircraft's A.
fn check_registration(text: &str) -> Result<String> {
    let trimmed = text.trim();
    let good = !trimmed.is_empty()
        && trimmed.chars().count() <= REGISTRATION_LIMIT
        && trimmed
            .chars()
            .all(|c| c.is_ascii_alphanumeric() || c == '-' || c == ' ')
        && trimmed.chars().any(|c| c.is_ascii_alphanumeric());
    if good {
        Ok(trimmed.to_owned())
    } else {
        Err(Error::new(
            ErrorKind::BadValue,
            format!("\"{}\" cannot be a registration", text.escape_debug()),
        )
        .at("registration")
        .hint("write it as it is painted: letters, digits and hyphens, at most 16"))
    }
}

impl Notebook {
    /// Adds an aircraft and chooses its layout. A known mark is refused unless `another`.
    pub fn add_aircraft(
        &mut self,
        registration: &str,
        kind: &str,
        serial: Option<&str>,
        layout: &str,
        another: bool,
    ) -> Result<Digest> {
        let registration = check_registration(registration)?;
        let known = self.with_registration(&registration)?;
        if !known.is_empty() && !another {
            return Err(Error::new(
                ErrorKind::AlreadyThere,
                format!("{registration} is here already"),
            )
            .at(&registration)
            .hint(
                "use it, or say that this is a different aircraft under the same mark: --another",
            ));
        }
        let text = self.layout_text(layout)?;
        let aircraft = self.open_first_chain()?;
        let seen = self.now_seen();
        let described = AircraftDescribed {
            registration,
            kind: kind.trim().to_owned(),
            serial: serial.map(|text| text.trim().to_owned()),
        };
        self.append(&aircraft, seen, described.into())?;
        self.write_layout(&aircraft, &text)?;
        Ok(aircraft)
    }

    /// The line that makes an aircraft: its digest is the aircraft's id, and the name of its folder.
    pub(super) fn open_first_chain(&mut self) -> Result<Digest> {
        let opening = self.opening()?;
        let line = self.make_line(&Digest::ZERO, None, self.now_seen(), opening)?;
        let file = format!("{}/{}.jsonl", line.digest.hex(), self.author.hex());
        self.append_line(&file, &line)?;
        Ok(line.digest)
    }

    fn layout_text(&self, name: &str) -> Result<String> {
        Layout::built_in_text(name)
            .map(str::to_owned)
            .ok_or_else(|| {
                let names: Vec<&str> = Layout::all()
                    .iter()
                    .map(|layout| layout.name.as_str())
                    .collect();
                Error::new(ErrorKind::Unknown, format!("there is no layout \"{name}\""))
                    .at("--layout")
                    .hint(format!("built in: {}", names.join(", ")))
            })
    }

    /// Chooses a layout: built in, or the text of a user's own file.
    pub fn choose_layout(&mut self, aircraft: &Digest, name_or_text: &str) -> Result<Digest> {
        let text = if name_or_text.contains('\n') {
            name_or_text.to_owned()
        } else {
            self.layout_text(name_or_text)?
        };
        self.write_layout(aircraft, &text)
    }

    /// The layout file is kept as evidence, so that a later built-in one cannot move old findings.
    fn write_layout(&mut self, aircraft: &Digest, text: &str) -> Result<Digest> {
        let layout = Layout::parse(text)?;
        let incoming = store::receive(
            &self.world,
            &self.root,
            &mut text.as_bytes(),
            8 << 20,
            &layout.name,
        )?;
        store::settle(self.world.files.as_ref(), &self.root, &incoming, "toml")?;
        let body = LayoutChosen {
            name: layout.name,
            file: incoming.digest,
            conditions: None,
            map: std::collections::BTreeMap::new(),
            route: None,
        };
        let seen = self.now_seen();
        self.append(aircraft, seen, body.into())
    }

    /// Aircraft under a registration, joined ones once.
    pub fn with_registration(&self, registration: &str) -> Result<Vec<Digest>> {
        let wanted = folded(registration);
        Ok(self
            .aircraft_list()?
            .into_iter()
            .filter(|row| folded(&row.registration) == wanted)
            .map(|row| row.id)
            .collect())
    }

    /// The aircraft a person means: by registration or id, or the only one there is.
    pub fn the_aircraft(&self, text: Option<&str>) -> Result<Digest> {
        let list = self.aircraft_list()?;
        let fits: Vec<&AircraftRow> = match text {
            Some(text) => {
                let wanted = folded(text);
                list.iter()
                    .filter(|row| {
                        folded(&row.registration) == wanted
                            || (wanted.len() >= 5 && row.id.hex().starts_with(&wanted))
                    })
                    .collect()
            }
            None => list.iter().collect(),
        };
        let known = || {
            if list.is_empty() {
                "add one: witnessmark aircraft add REGISTRATION --type T --layout NAME".to_owned()
            } else {
                let marks: Vec<&str> = list.iter().map(|row| row.registration.as_str()).collect();
                format!("here are: {}", marks.join(", "))
            }
        };
        match fits.as_slice() {
            [row] => Ok(row.id),
            [] => {
                let what = text.map_or_else(
                    || "there is no aircraft yet".to_owned(),
                    |text| format!("there is no aircraft \"{text}\""),
                );
                Err(Error::new(ErrorKind::Unknown, what).hint(known()))
            }
            several => {
                let marks: Vec<String> = several
                    .iter()
                    .map(|row| format!("{} ({})", row.registration, row.id.short()))
                    .collect();
                Err(
                    Error::new(ErrorKind::Ambiguous, "there are several aircraft")
                        .hint(format!("say which (--aircraft): {}", marks.join(", "))),
                )
            }
        }
    }

    /// Every aircraft, those joined as one.
    pub fn aircraft_list(&self) -> Result<Vec<AircraftRow>> {
        let mut rows = Vec::new();
        let mut done: Vec<Digest> = Vec::new();
        for id in self.index.aircraft_ids()? {
            if done.contains(&id) {
                continue;
            }
            done.push(id);
            done.extend(self.joined(&id)?);
            let state = self.state(&id)?;
            rows.push(AircraftRow {
                id,
                registration: state.registration,
                kind: state.kind,
                serial: state.serial,
                layout: state.layout,
                walkarounds: state.walkarounds.len(),
                open_findings: state.findings.iter().filter(|finding| finding.open).count(),
            });
        }
        rows.sort_by(|a, b| a.registration.cmp(&b.registration).then(a.id.cmp(&b.id)));
        Ok(rows)
    }

    /// Says that two descriptions are one aircraft.
    pub fn join_aircraft(&mut self, aircraft: &Digest, other: &Digest) -> Result<Digest> {
        if aircraft == other {
            return Err(Error::new(
                ErrorKind::BadValue,
                "an aircraft cannot be joined with itself",
            )
            .at(aircraft.short())
            .hint("name two that differ"));
        }
        let seen = self.now_seen();
        self.append(aircraft, seen, AircraftJoined { other: *other }.into())
    }

    /// An entry of this author no longer holds.
    pub fn retract(&mut self, entry: &Digest, why: Option<&str>) -> Result<Digest> {
        let row = self.index.line(entry)?.ok_or_else(|| {
            Error::new(ErrorKind::Unknown, "there is no such entry").at(entry.short())
        })?;
        if row.author != self.author {
            return Err(
                Error::new(ErrorKind::Refused, "this entry is another author's")
                    .at(entry.short())
                    .hint("write what you saw as an entry of your own; theirs stays"),
            );
        }
        if matches!(row.body, Body::ChainOpened(_) | Body::WalkaroundFinished(_)) {
            return Err(Error::new(
                ErrorKind::Refused,
                format!("\"{}\" cannot be taken back", row.body.kind()),
            )
            .at(entry.short()));
        }
        let seen = self.now_seen();
        self.append(
            &row.aircraft,
            seen,
            Retracted {
                entry: *entry,
                why: why.map(str::to_owned),
            }
            .into(),
        )
    }

    /// Takes back this author's last entry about an aircraft that still holds.
    pub fn undo(&mut self, aircraft: &Digest) -> Result<(Digest, String)> {
        let rows = self.index.chain_lines(aircraft, &self.author)?;
        let facts = crate::history::force::in_force(rows);
        let last = facts
            .iter()
            .filter(|fact| {
                !matches!(
                    fact.row.body,
                    Body::ChainOpened(_) | Body::WalkaroundFinished(_)
                )
            })
            .max_by_key(|fact| fact.row.seq);
        let Some(last) = last else {
            return Err(
                Error::new(ErrorKind::WrongState, "there is nothing to take back")
                    .at(aircraft.short()),
            );
        };
        let (digest, kind) = (last.row.digest, last.row.body.kind().to_owned());
        self.retract(&digest, Some("undo"))?;
        Ok((digest, kind))
    }
}
