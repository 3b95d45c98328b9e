//! `walkaround`, `look`, `reading`.

use std::collections::BTreeMap;

use clap::{Args, Subcommand};
use serde_json::json;
use witnessmark_core::notebook::{NewLook, NewWalkaround, short_name};
use witnessmark_core::record::Seen;
use witnessmark_core::report::listing::Columns;
use witnessmark_core::{Error, ErrorKind, Result};

use crate::output::Output;
use crate::real::Session;

/// `walkaround`
#[derive(Subcommand)]
pub enum WalkaroundCommand {
    /// Start one.
    Start {
        /// preflight, postflight, routine, before maintenance, prepurchase, handing over, after event.
        #[arg(long)]
        purpose: Option<String>,
        /// Airframe total time in hours; H@METER for what a fitted meter reads.
        #[arg(long)]
        hours: Option<String>,
        /// Landings.
        #[arg(long)]
        landings: Option<String>,
        /// When it was, for earlier paper logs.
        #[arg(long)]
        at: Option<String>,
        /// The event that it follows: first digits of its entry.
        #[arg(long)]
        event: Option<String>,
    },
    /// What is left to look at, and what is unplaced.
    Status,
    /// One stop: what to look for, and how many findings were there before.
    Stop {
        /// Its key or name.
        stop: String,
        /// Show what the earlier findings are: look first.
        #[arg(long)]
        open: bool,
    },
    /// Finish it.
    Finish,
}

/// Columns of `walkaround status`: what is left to look at.
const LEFT: Columns = Columns {
    at: "/left",
    within: None,
    columns: &[("zone", "/code"), ("name", "/name")],
};

/// Runs it.
pub fn run(session: &Session, command: WalkaroundCommand, out: &Output) -> Result<u8> {
    match command {
        WalkaroundCommand::Start {
            purpose,
            hours,
            landings,
            at,
            event,
        } => {
            let at = at.as_deref().map(Seen::given).transpose()?;
            let mut notebook = session.open()?;
            let aircraft = session.the_aircraft(&notebook)?;
            let event = event
                .map(|text| notebook.entry(&text, &["event"]).map(|row| row.digest))
                .transpose()?;
            let id = notebook.start_walkaround(
                &aircraft,
                &NewWalkaround {
                    purpose,
                    hours,
                    landings,
                    at,
                    event,
                },
            )?;
            notebook.close()?;
            out.show(&json!({"walkaround": id}), || {
                format!(
                    "Walkaround {} is open. witnessmark walkaround status says what is left.",
                    id.short()
                )
            })
        }
        WalkaroundCommand::Status => {
            let notebook = session.read()?;
            let aircraft = session.the_aircraft(&notebook)?;
            let status = notebook.walkaround_status(&aircraft)?;
            out.list(&status, &LEFT, || {
                let mut text = format!(
                    "{} of {} zones are left to look at:\n",
                    status.left.len(),
                    status.zones
                );
                for zone in &status.left {
                    text.push_str(&format!("  {}  {}\n", zone.code, zone.name));
                }
                for capture in &status.unplaced {
                    text.push_str(&format!(
                        "unplaced: {} {} {}\n",
                        capture.entry.short(),
                        capture.kind,
                        capture.name.as_deref().unwrap_or("")
                    ));
                }
                text
            })
        }
        WalkaroundCommand::Stop { stop, open } => {
            let notebook = session.read()?;
            let aircraft = session.the_aircraft(&notebook)?;
            let (name, ids) = notebook.earlier_at_stop(&aircraft, &stop)?;
            let state = notebook.state(&aircraft)?;
            let layout = notebook.layout_of(&state)?;
            let known = layout.find_stop(&stop)?;
            let findings: Vec<_> = if open {
                let view = notebook.history(&aircraft)?;
                view.findings
                    .into_iter()
                    .filter(|finding| ids.contains(&finding.id))
                    .collect()
            } else {
                Vec::new()
            };
            let record = json!({
                "stop": known.key, "name": name, "zones": known.zones, "look_for": known.look_for,
                "cautions": known.cautions, "earlier_findings": ids.len(),
                "findings": if open { json!(findings) } else { json!(null) },
            });
            out.show(&record, || {
                let mut text = format!("{name}\n");
                for look in &known.look_for {
                    text.push_str(&format!("  look for: {} ({})\n", look.text, look.source));
                }
                for caution in &known.cautions {
                    text.push_str(&format!("  caution: {caution}\n"));
                }
                text.push_str(&match (ids.len(), open) {
                    (0, _) => "no finding here from before\n".to_owned(),
                    (n, false) => format!("findings here from before: {n}. Look first; then say --open, and say of your look --fresh before\n"),
                    (n, true) => format!("findings here from before: {n}\n"),
                });
                for finding in &findings {
                    text.push_str(&format!(
                        "  {}  {}: {}; {}\n",
                        finding.short,
                        finding.zone_name,
                        finding.title.to_lowercase(),
                        finding.says
                    ));
                }
                text
            })
        }
        WalkaroundCommand::Finish => {
            let mut notebook = session.open()?;
            let aircraft = session.the_aircraft(&notebook)?;
            let line = notebook.finish_walkaround(&aircraft)?;
            notebook.close()?;
            let code = witnessmark_core::record::proof::code::ProofCode::of(&line.0).to_string();
            out.show(&json!({"entry": line, "proof_code": code}), || {
                format!("Finished. Proof code {code}\nWritten down elsewhere, it shows that the record up to here was not changed since; it does not show that a picture is true.")
            })
        }
    }
}

/// `look`
#[derive(Args)]
pub struct LookArgs {
    /// Zones, by code or name.
    #[arg(required_unless_present = "stop")]
    zones: Vec<String>,
    /// A whole stop of the route: its zones are said together.
    #[arg(long)]
    stop: Option<String>,
    /// Looked, nothing found.
    #[arg(
        long,
        conflicts_with = "not_seen",
        required_unless_present = "not_seen"
    )]
    nothing_found: bool,
    /// Could not be seen, and why.
    #[arg(long, value_name = "WHY")]
    not_seen: Option<String>,
    /// glance, close, touched, mirror, light.
    #[arg(long)]
    how: Option<String>,
    /// panel, cowl, spat, cover, dirty, wet, dark.
    #[arg(long)]
    access: Option<String>,
    /// Answer for an open finding: F=not-found, F=present, F=could-not-check.
    #[arg(long = "answer", value_name = "F=ANSWER")]
    answers: Vec<String>,
    /// The condition that was looked for and not found.
    #[arg(long)]
    condition: Option<String>,
    /// Fresh eyes: looked before or after the earlier findings were opened.
    #[arg(long, value_name = "before|after")]
    fresh: Option<String>,
}

/// Writes a look.
pub fn look(session: &Session, args: LookArgs, out: &Output) -> Result<u8> {
    let mut notebook = session.open()?;
    let aircraft = session.the_aircraft(&notebook)?;
    let state = notebook.state(&aircraft)?;
    let mut answers = Vec::new();
    for text in &args.answers {
        let (finding, answer) = text.split_once('=').ok_or_else(|| {
            Error::new(ErrorKind::BadValue, format!("\"{text}\" is no answer"))
                .at("--answer")
                .hint("write F=not-found")
        })?;
        answers.push((notebook.finding(&state, finding)?.id, answer.to_owned()));
    }
    let new = NewLook {
        zones: args.zones,
        not_seen: args.not_seen,
        how: args.how,
        access: args.access,
        condition: args
            .condition
            .as_deref()
            .map(|text| {
                witnessmark_core::condition::Conditions::built_in()
                    .find(text)
                    .map(|condition| condition.name.clone())
            })
            .transpose()?,
        answers,
        stop: args.stop,
        fresh: args.fresh,
    };
    let (line, unasked) = notebook.look(&aircraft, &new)?;
    let names: Vec<String> = state
        .findings
        .iter()
        .filter(|finding| unasked.contains(&finding.id))
        .map(|finding| short_name(&finding.zone, &finding.id))
        .collect();
    notebook.close()?;
    out.show(&json!({"entry": line, "not_asked": names}), || {
        if names.is_empty() {
            "Written.".into()
        } else {
            format!("Written. Open findings here were not asked about: {}\nSay what you saw of each: --answer {}=not-found, or witnessmark finding sight.", names.join(", "), names.first().cloned().unwrap_or_default())
        }
    })
}

/// `reading`
#[derive(Args)]
pub struct ReadingArgs {
    /// oil found, oil added, pressure, extension, sample …
    kind: String,
    /// Number with its unit ("6.5 qt"), or a word.
    value: String,
    /// Standard uncertainty in the same unit.
    #[arg(long)]
    u: Option<String>,
    /// Zone.
    #[arg(long)]
    zone: Option<String>,
    /// Temperature, load …: key=value.
    #[arg(long, value_name = "KEY=VALUE")]
    with: Vec<String>,
}

/// Writes a reading.
pub fn reading(session: &Session, args: ReadingArgs, out: &Output) -> Result<u8> {
    let mut notebook = session.open()?;
    let aircraft = session.the_aircraft(&notebook)?;
    let state = notebook.state(&aircraft)?;
    let zone = match &args.zone {
        Some(zone) => Some(notebook.zone_code(&notebook.layout_of(&state)?, zone)?),
        None => None,
    };
    let (value, unit) = match args.value.rsplit_once(' ') {
        Some((value, unit))
            if value
                .parse::<witnessmark_core::quantity::Rational>()
                .is_ok() =>
        {
            (value.to_owned(), Some(unit.to_owned()))
        }
        _ => (args.value.clone(), None),
    };
    let mut context = BTreeMap::new();
    for text in &args.with {
        let (key, value) = text.split_once('=').ok_or_else(|| {
            Error::new(ErrorKind::BadValue, format!("\"{text}\" is no key=value")).at("--with")
        })?;
        context.insert(key.to_owned(), value.to_owned());
    }
    let line = notebook.read_value(
        &aircraft,
        &args.kind,
        &value,
        unit.as_deref(),
        args.u.as_deref(),
        zone.as_deref(),
        context,
    )?;
    notebook.close()?;
    out.show(&json!({"entry": line}), || "Written.".into())
}
