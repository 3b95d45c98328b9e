//! `amend`, `remove`, `move`: corrections, each a new entry that points at the old one.

use clap::Args;
use serde_json::{Map, Value, json};
use witnessmark_core::{Error, ErrorKind, Result};

use crate::output::Output;
use crate::real::Session;

/// `amend`
#[derive(Args)]
pub struct AmendArgs {
    /// The entry, by its first digits.
    entry: String,
    /// A member and its new value: text="on the left", late=true; nothing after the sign takes it out.
    #[arg(long = "set", value_name = "MEMBER=VALUE", required = true)]
    set: Vec<String>,
}

/// Gives an entry of one's own another body.
pub fn amend(session: &Session, args: &AmendArgs, out: &Output) -> Result<u8> {
    let mut changes = Map::new();
    for change in &args.set {
        let (member, value) = change.split_once('=').ok_or_else(|| {
            Error::new(ErrorKind::BadValue, format!("\"{change}\" has no = in it"))
                .at("--set")
                .hint("write it as --set text=\"on the left\"")
        })?;
        changes.insert(member.trim().to_owned(), value_of(value));
    }
    let mut notebook = session.open()?;
    let entry = notebook.entry(&args.entry, &[])?;
    let amended = match notebook.amend(&entry.digest, &changes) {
        // A text that looks like a number or a list is a text where the member is one.
        Err(error) if error.kind == ErrorKind::BadValue => {
            let texts = args
                .set
                .iter()
                .filter_map(|change| change.split_once('='))
                .map(|(member, value)| (member.trim().to_owned(), Value::from(value)))
                .collect();
            notebook.amend(&entry.digest, &texts).map_err(|_| error)?
        }
        other => other?,
    };
    notebook.close()?;
    out.show(
        &json!({"amended": entry.digest, "entry": amended, "kind": entry.body.kind()}),
        || {
            format!(
                "Amended \"{}\" {}. The first form stays in the record.",
                entry.body.kind(),
                entry.digest.short()
            )
        },
    )
}

fn value_of(text: &str) -> Value {
    if text.is_empty() {
        return Value::Null;
    }
    serde_json::from_str(text).unwrap_or_else(|_| Value::from(text))
}

/// `remove`
#[derive(Args)]
pub struct RemoveArgs {
    /// The photo, recording or paper, by its entry's first digits.
    evidence: String,
    /// Why: a bystander is heard. Not needed for what its author removed already.
    #[arg(long, default_value = "")]
    why: String,
}

/// Takes a file's bytes away; digest, reason and author stay.
pub fn remove(session: &Session, args: &RemoveArgs, out: &Output) -> Result<u8> {
    let mut notebook = session.open()?;
    let entry = notebook.entry(
        &args.evidence,
        &["photo taken", "voice taken", "paper taken", "restated"],
    )?;
    let taken = notebook.remove_evidence(&entry.digest, &args.why)?;
    notebook.close()?;
    out.show(&taken, || {
        if taken.deleted {
            "Removed: the bytes are gone from this notebook; that they were here, and why they went, stays. Copies and packs that others have are not reached.".to_owned()
        } else {
            "Written down as removed. The bytes stay, since another capture is of the same file.".to_owned()
        }
    })
}

/// `move`
#[derive(Args)]
pub struct MoveArgs {
    /// The walkaround, by its first digits; the right aircraft is named with --aircraft.
    walkaround: String,
}

/// Moves a walkaround to the aircraft it was of.
pub fn move_walkaround(session: &Session, args: &MoveArgs, out: &Output) -> Result<u8> {
    if session.aircraft.is_none() {
        return Err(Error::new(
            ErrorKind::BadValue,
            "it is not said which aircraft is the right one",
        )
        .at("--aircraft")
        .hint("witnessmark move WALKAROUND --aircraft REGISTRATION"));
    }
    let mut notebook = session.open()?;
    let to = session.the_aircraft(&notebook)?;
    let entry = notebook.entry(&args.walkaround, &["walkaround started", "restated"])?;
    let moved = notebook.move_walkaround(&entry.digest, &to)?;
    notebook.close()?;
    out.show(&moved, || {
        let mut text = format!(
            "Moved: {} entries were said again for the right aircraft and taken back where they were. The walkaround is {} there; finish it anew.",
            moved.restated,
            moved.walkaround.short()
        );
        if moved.left_behind > 0 {
            text.push_str(&format!(" {} entries about findings of the other aircraft were taken back only.", moved.left_behind));
        }
        text
    })
}
