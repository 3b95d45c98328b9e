//! `told`, `defer`, `concern`, `limit`, `again`, `undo`.

use clap::Args;
use serde_json::json;
use witnessmark_core::notebook::Notebook;
use witnessmark_core::record::Digest;
use witnessmark_core::{Error, ErrorKind, Result};

use crate::output::Output;
use crate::real::Session;

/// `told`
#[derive(Args)]
pub struct ToldArgs {
    /// Finding.
    finding: String,
    /// Who was told.
    who: String,
}

/// `defer`
#[derive(Args)]
pub struct DeferArgs {
    /// Finding.
    finding: String,
    /// By whom.
    #[arg(long)]
    by: String,
    /// On what basis.
    #[arg(long)]
    on: String,
    /// Until when.
    #[arg(long)]
    until: String,
}

/// `concern`
#[derive(Args)]
pub struct ConcernArgs {
    /// Finding.
    finding: String,
    /// aware, watch, ask, before-flight.
    concern: String,
}

/// `limit`
#[derive(Args)]
pub struct LimitArgs {
    /// Finding.
    finding: String,
    /// Value with unit: "1.6 in".
    value: String,
    /// Manual and paragraph.
    #[arg(long)]
    source: String,
    /// Quantity.
    #[arg(long, default_value = "length")]
    quantity: String,
}

/// `again`
#[derive(Args)]
pub struct AgainArgs {
    /// Finding or zone.
    what: String,
    /// Hours ("3150 h", "3150 h@tach", or "25 h" for 25 hours more), a date, or "next flight".
    #[arg(long, allow_hyphen_values = true)]
    at: String,
}

fn on_finding(
    session: &Session,
    finding: &str,
    out: &Output,
    done: &str,
    act: impl FnOnce(&mut Notebook, &Digest, &Digest) -> Result<Digest>,
) -> Result<u8> {
    let mut notebook = session.open()?;
    let aircraft = session.the_aircraft(&notebook)?;
    let state = notebook.state(&aircraft)?;
    let id = notebook.finding(&state, finding)?.id;
    let line = act(&mut notebook, &aircraft, &id)?;
    notebook.close()?;
    out.show(&json!({"entry": line}), || done.to_owned())
}

/// Somebody was told.
pub fn told(session: &Session, args: &ToldArgs, out: &Output) -> Result<u8> {
    on_finding(
        session,
        &args.finding,
        out,
        "Written.",
        |notebook, aircraft, id| notebook.told(aircraft, id, &args.who),
    )
}

/// Deferred.
pub fn defer(session: &Session, args: &DeferArgs, out: &Output) -> Result<u8> {
    let caution = "Written. Whether it may be deferred is settled by the rules of the place, not here (in the US 14 CFR 91.213(d): inoperative instruments and equipment only, never structural damage).";
    on_finding(
        session,
        &args.finding,
        out,
        caution,
        |notebook, aircraft, id| notebook.defer(aircraft, id, &args.by, &args.on, &args.until),
    )
}

/// A concern.
pub fn concern(session: &Session, args: &ConcernArgs, out: &Output) -> Result<u8> {
    on_finding(
        session,
        &args.finding,
        out,
        "Written.",
        |notebook, aircraft, id| notebook.concern(aircraft, id, &args.concern),
    )
}

/// A limit.
pub fn limit(session: &Session, args: &LimitArgs, out: &Output) -> Result<u8> {
    let (value, unit) = args.value.rsplit_once(' ').ok_or_else(|| {
        Error::new(
            ErrorKind::BadValue,
            format!("\"{}\" has no unit", args.value),
        )
        .at("limit")
        .hint("write it as \"1.6 in\"")
    })?;
    let mut notebook = session.open()?;
    let aircraft = session.the_aircraft(&notebook)?;
    let id = notebook
        .finding(&notebook.state(&aircraft)?, &args.finding)?
        .id;
    let line = notebook.limit(&aircraft, &id, &args.quantity, value, unit, &args.source)?;
    let past = notebook.past_limit(&aircraft, &id, &args.quantity, value, unit)?;
    notebook.close()?;
    out.show(&json!({"entry": line, "past": past}), || {
        if past {
            "Written, as that document's limit. The last size seen has reached it already: show it to a licensed mechanic or inspector.".into()
        } else {
            "Written, as that document's limit.".to_owned()
        }
    })
}

/// Look again.
pub fn again(session: &Session, args: &AgainArgs, out: &Output) -> Result<u8> {
    let mut notebook = session.open()?;
    let aircraft = session.the_aircraft(&notebook)?;
    let state = notebook.state(&aircraft)?;
    let line = match notebook.finding(&state, &args.what) {
        Ok(finding) => {
            let id = finding.id;
            notebook.look_again(&aircraft, Some(&id), None, &args.at)?
        }
        Err(_) => {
            let zone = notebook.zone_code(&notebook.layout_of(&state)?, &args.what)?;
            notebook.look_again(&aircraft, None, Some(&zone), &args.at)?
        }
    };
    let when = notebook.again_words(&line)?;
    notebook.close()?;
    out.show(&json!({"entry": line, "at": when}), || {
        format!("Written: look again {when}.")
    })
}

/// Takes back the last entry.
pub fn undo(session: &Session, out: &Output) -> Result<u8> {
    let mut notebook = session.open()?;
    let aircraft = session.the_aircraft(&notebook)?;
    let (line, kind) = notebook.undo(&aircraft)?;
    notebook.close()?;
    out.show(&json!({"entry": line, "kind": kind}), || {
        format!(
            "Taken back: {kind} ({}). It stays in the record, marked as taken back.",
            line.short()
        )
    })
}
