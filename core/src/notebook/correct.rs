//! Corrections: amending an entry, removing a file's bytes, moving a walkaround to another aircraft.
//! Nothing is overwritten: each is a new line that points at the old one.

use std::collections::BTreeSet;

use serde::Serialize;
use serde_json::{Map, Value};

use super::Notebook;
use crate::error::{Error, ErrorKind, Result};
use crate::evidence::store;
use crate::history::force::in_force;
use crate::record::kinds::{Amended, Removed, Restated, Retracted, cites};
use crate::record::{Body, Digest};

/// What came of removing a file.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Taken {
    /// SHA-256 of the file.
    pub file: Digest,
    /// The line that says so; none where an author's removal was only carried out here.
    pub entry: Option<Digest>,
    /// True if the bytes are gone; false where another capture still needs them.
    pub deleted: bool,
}

/// What came of moving a walkaround.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Moved {
    /// The walkaround's id in the right chain.
    pub walkaround: Digest,
    /// Entries said again there.
    pub restated: usize,
    /// Entries that stayed behind, taken back: they are about findings of the other aircraft.
    pub left_behind: usize,
}

impl Notebook {
    /// Gives an entry of one's own another body: `changes` are members with their new values (null
    /// takes one out). Its kind and the digests in it stay.
    ///
    /// # Errors
    /// `Refused` for another author's entry and for what cannot be amended; `BadValue` for members
    /// that the kind does not have or values that it cannot hold.
    pub fn amend(&mut self, entry: &Digest, changes: &Map<String, Value>) -> Result<Digest> {
        let row = self.own_row(entry)?;
        let kind = row.body.kind().to_owned();
        let fixed = matches!(
            row.body,
            Body::ChainOpened(_)
                | Body::WalkaroundFinished(_)
                | Body::Amended(_)
                | Body::Retracted(_)
                | Body::Restated(_)
                | Body::AuthorLinked(_)
                | Body::Vouched(_)
                | Body::TimestampReceived(_)
                | Body::Removed(_)
        );
        if fixed {
            return Err(
                Error::new(ErrorKind::Refused, format!("\"{kind}\" cannot be amended"))
                    .at(entry.short())
                    .hint("amend the original entry; or take back with undo and write it anew"),
            );
        }
        let original = row.body.to_value()?;
        let facts = in_force(self.index.chain_lines(&row.aircraft, &self.author)?);
        let Some(fact) = facts.into_iter().find(|fact| fact.row.digest == *entry) else {
            return Err(Error::new(
                ErrorKind::WrongState,
                "this entry was taken back; it does not hold any more",
            )
            .at(entry.short())
            .hint("write it anew"));
        };
        let mut value = fact.row.body.to_value()?;
        if let Some(members) = value.as_object_mut() {
            for (key, new) in changes {
                if new.is_null() {
                    members.remove(key);
                } else {
                    members.insert(key.clone(), new.clone());
                }
            }
        }
        let bad = |what: String| {
            Error::new(ErrorKind::BadValue, what)
                .at(entry.short())
                .hint(format!("what can be changed: {}", names(&original)))
        };
        let (body, more) = Body::from_value(&kind, value).map_err(|error| bad(error.what))?;
        let value = body.to_value()?;
        if more {
            return Err(bad(format!(
                "\"{kind}\" has no such member, or not with such a value"
            )));
        }
        if cites(&value) != cites(&original) {
            return Err(bad(
                "the digests in an entry cannot be amended: they say what it is about".into(),
            ));
        }
        let seen = self.now_seen();
        let amended = Amended {
            entry: *entry,
            body: value,
        };
        self.append(&row.aircraft, seen, amended.into())
    }

    fn own_row(&self, entry: &Digest) -> Result<crate::index::Row> {
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
        Ok(row)
    }

    /// Takes a file's bytes away (a bystander's recording): digest, reason and author stay. Of
    /// another author's file only when that author removed it: then it is deleted here as well.
    ///
    /// # Errors
    /// `Refused` for another author's file, and while an event holds the evidence; `BadValue`
    /// without a reason.
    pub fn remove_evidence(&mut self, entry: &Digest, why: &str) -> Result<Taken> {
        self.the_signer()?;
        let row = self.index.line(entry)?.ok_or_else(|| {
            Error::new(ErrorKind::Unknown, "there is no such entry").at(entry.short())
        })?;
        let file = file_of(&row.body).ok_or_else(|| {
            Error::new(
                ErrorKind::BadValue,
                format!("\"{}\" has no file", row.body.kind()),
            )
            .at(entry.short())
            .hint("name a photo, a recording or a paper")
        })?;
        let removed_there = self
            .index
            .citing(&file, "file")?
            .iter()
            .any(|line| matches!(line.body, Body::Removed(_)) && line.author == row.author);
        if row.author != self.author && !removed_there {
            return Err(
                Error::new(ErrorKind::Refused, "this file is another author's")
                    .at(entry.short())
                    .hint("ask its author to remove it; deletion is offered here then"),
            );
        }
        if let Some(event) = self.holding(&row.aircraft)? {
            return Err(Error::new(
                ErrorKind::Refused,
                "an event holds the evidence: nothing may be removed until the hold is lifted",
            )
            .at(event.short())
            .hint("keep everything as it is; after an accident, wreckage and records must be preserved (49 CFR 830.10 and local rules)"));
        }
        let mut line = None;
        if !removed_there {
            if why.trim().is_empty() {
                return Err(
                    Error::new(ErrorKind::BadValue, "a removal needs its reason")
                        .at("--why")
                        .hint("say why: a bystander is heard"),
                );
            }
            let seen = self.now_seen();
            let body = Removed {
                file,
                why: why.trim().to_owned(),
            };
            line = Some(self.append(&row.aircraft, seen, body.into())?);
        }
        let needed = self
            .index
            .citing(&file, "file")?
            .iter()
            .any(|other| file_of(&other.body).is_some() && other.digest != *entry);
        let mut deleted = false;
        if !needed {
            let files = self.world.files.as_ref();
            let copy = crate::pack::receive::copy_of(&self.world, &self.root, &file)?;
            let original = store::find(files, &self.root, &file)?;
            for path in original.into_iter().chain(copy) {
                files
                    .remove(&path)
                    .map_err(|error| Error::io(&error, path.display()))?;
                if let Some(folder) = path.parent() {
                    files
                        .sync_dir(folder)
                        .map_err(|error| Error::io(&error, folder.display()))?;
                }
            }
            self.forget_previews(&file)?;
            deleted = true;
        }
        Ok(Taken {
            file,
            entry: line,
            deleted,
        })
    }

    /// Previews are derived, but they show what was removed.
    fn forget_previews(&self, file: &Digest) -> Result<()> {
        let files = self.world.files.as_ref();
        let mut waiting = vec![self.root.join("previews")];
        while let Some(folder) = waiting.pop() {
            if !files.has(&folder)? {
                continue;
            }
            let io = |error: std::io::Error| Error::io(&error, folder.display());
            for entry in files.list(&folder).map_err(io)? {
                let path = folder.join(&entry.name);
                if entry.is_dir {
                    waiting.push(path);
                } else if entry.name.contains(&file.hex()) {
                    files.remove(&path).map_err(io)?;
                }
            }
        }
        Ok(())
    }

    /// The event that forbids removing anything of this aircraft, if there is one.
    fn holding(&self, aircraft: &Digest) -> Result<Option<Digest>> {
        let mut rows = self.index.aircraft_lines(aircraft)?;
        for other in self.joined(aircraft)? {
            rows.extend(self.index.aircraft_lines(&other)?);
        }
        let facts = in_force(rows);
        let lifted: BTreeSet<Digest> = facts
            .iter()
            .filter_map(|fact| match &fact.row.body {
                Body::HoldLifted(lifted) => Some(lifted.event),
                _ => None,
            })
            .collect();
        Ok(facts
            .iter()
            .find(|fact| {
                matches!(&fact.row.body, Body::Event(event) if event.hold)
                    && !lifted.contains(&fact.row.digest)
            })
            .map(|fact| fact.row.digest))
    }

    /// Moves a walkaround of one's own, with what hangs on it, to the right aircraft: everything is
    /// said again there with its own time, and taken back here without a word about where it went.
    /// A finish stays behind as a line; finish the walkaround anew there.
    ///
    /// # Errors
    /// `Refused` for another author's walkaround, `BadValue` for what is none or for the same
    /// aircraft.
    pub fn move_walkaround(&mut self, walkaround: &Digest, to: &Digest) -> Result<Moved> {
        let row = self.own_row(walkaround)?;
        if !matches!(row.body, Body::WalkaroundStarted(_)) || row.aircraft == *to {
            return Err(Error::new(
                ErrorKind::BadValue,
                if row.aircraft == *to {
                    "this walkaround is of that aircraft already"
                } else {
                    "this entry starts no walkaround"
                },
            )
            .at(walkaround.short())
            .hint("move the open walkaround to the other aircraft: witnessmark walkaround status, --aircraft"));
        }
        let from = row.aircraft;
        let facts = in_force(self.index.chain_lines(&from, &self.author)?);
        let mut moving: BTreeSet<Digest> = BTreeSet::from([*walkaround]);
        loop {
            let before = moving.len();
            for fact in &facts {
                let cited = cites(&fact.row.body.to_value()?);
                let hangs = cited.iter().any(|(_, digest)| moving.contains(digest));
                // A finding that was opened on this walkaround goes with its sightings.
                let opened_here = matches!(fact.row.body, Body::FindingOpened(_))
                    && fact.row.seq > row.seq
                    && facts.iter().any(|other| {
                        matches!(&other.row.body, Body::Sighted(sighted)
                            if sighted.finding == fact.row.digest && sighted.walkaround == Some(*walkaround))
                    });
                if hangs || opened_here {
                    moving.insert(fact.row.digest);
                }
            }
            if moving.len() == before {
                break;
            }
        }
        let mut in_order: Vec<_> = facts
            .into_iter()
            .filter(|fact| moving.contains(&fact.row.digest))
            .filter(|fact| !matches!(fact.row.body, Body::WalkaroundFinished(_)))
            .collect();
        in_order.sort_by_key(|fact| fact.row.seq);
        let mut moved = Moved {
            walkaround: *walkaround,
            restated: 0,
            left_behind: 0,
        };
        for fact in &in_order {
            let finding = match &fact.row.body {
                Body::Sighted(body) => Some(body.finding),
                Body::Treated(body) => Some(body.finding),
                _ => None,
            };
            if finding.is_some_and(|finding| !moving.contains(&finding)) {
                moved.left_behind += 1;
                continue;
            }
            let already = self
                .index
                .citing(&fact.row.digest, "source")?
                .into_iter()
                .find(|line| line.aircraft == *to);
            let digest = match already {
                Some(line) => line.digest,
                None => {
                    let restated = Restated {
                        source: fact.row.digest,
                        kind: fact.row.body.kind().to_owned(),
                        seen: fact.row.seen.clone(),
                        body: fact.row.body.to_value()?,
                    };
                    self.append(to, fact.row.seen.clone(), restated.into())?
                }
            };
            moved.restated += 1;
            if fact.row.digest == *walkaround {
                moved.walkaround = digest;
            }
        }
        // Taken back last and from the end: a crash on the way leaves everything in both places,
        // and moving again goes on where it stopped.
        for fact in in_order.iter().rev() {
            let seen = self.now_seen();
            let body = Retracted {
                entry: fact.row.digest,
                why: Some("belongs to another aircraft".into()),
            };
            self.append(&from, seen, body.into())?;
        }
        Ok(moved)
    }
}

/// The file of a capture.
fn file_of(body: &Body) -> Option<Digest> {
    match body {
        Body::PhotoTaken(body) => Some(body.file),
        Body::VoiceTaken(body) => Some(body.file),
        Body::PaperTaken(body) => Some(body.file),
        Body::Restated(body) => Body::from_value(&body.kind, body.body.clone())
            .ok()
            .and_then(|(inner, _)| match inner {
                Body::Restated(_) => None,
                inner => file_of(&inner),
            }),
        _ => None,
    }
}

fn names(body: &Value) -> String {
    body.as_object()
        .map(|members| members.keys().cloned().collect::<Vec<_>>().join(", "))
        .unwrap_or_default()
}

#[cfg(test)]
mod tests;
