//! `finding`.

use clap::{Args, Subcommand};
use serde_json::json;
use witnessmark_core::condition::Conditions;
use witnessmark_core::history::compare::unanswered;
use witnessmark_core::notebook::{NewFinding, NewSighting, Notebook, short_name};
use witnessmark_core::record::kinds::Measure;
use witnessmark_core::record::{Digest, Seen};
use witnessmark_core::report::listing::Columns;
use witnessmark_core::{Error, ErrorKind, Result};

use crate::output::Output;
use crate::real::Session;

/// `finding`
#[derive(Subcommand)]
pub enum FindingCommand {
    /// Open a finding.
    Open {
        /// Zone, by code or name; not needed for a system that did not work.
        #[arg(long)]
        zone: Option<String>,
        /// Condition: crack, leak, nick …
        #[arg(long)]
        condition: String,
        /// Your own words for the place.
        #[arg(long)]
        part: Option<String>,
        /// What you are not sure of: "crack or scratch, unsure".
        #[arg(long)]
        unsure: Vec<String>,
        /// Component that it is on: serial, position or first digits.
        #[arg(long)]
        component: Option<String>,
        /// System that did not work: radio, landing light, flap drive …
        #[arg(long)]
        system: Option<String>,
        #[command(flatten)]
        sighting: SightingArgs,
    },
    /// Write that it was seen again, was not found, or could not be checked.
    Sight {
        /// Finding.
        finding: String,
        /// Looked for it, not found.
        #[arg(long)]
        not_found: bool,
        /// Could not check, and why.
        #[arg(long, value_name = "WHY", conflicts_with = "not_found")]
        could_not_check: Option<String>,
        #[command(flatten)]
        sighting: SightingArgs,
    },
    /// Write what was done about it, claimed by whom.
    Treat {
        /// Finding.
        finding: String,
        /// stop-drilled, dressed, tightened, cleaned, adjusted, replaced …
        #[arg(long)]
        how: String,
        /// Who says so.
        #[arg(long)]
        by: Option<String>,
        /// What was taken off or left: "dressed_depth 0.4 mm by depth gauge".
        #[arg(long = "measure")]
        measures: Vec<String>,
    },
    /// Close it.
    Close {
        /// Finding.
        finding: String,
        /// How.
        #[arg(long)]
        how: String,
        /// By whom.
        #[arg(long)]
        by: Option<String>,
        /// Maintenance entry that says so.
        #[arg(long)]
        reference: Option<String>,
    },
    /// Open it again.
    Reopen {
        /// Finding.
        finding: String,
        /// Why.
        #[arg(long)]
        why: Option<String>,
    },
    /// Say that two findings are one.
    Join {
        /// One; without any, pairs of different people's findings that may be one.
        #[arg(requires = "other")]
        finding: Option<String>,
        /// The other.
        other: Option<String>,
    },
    /// Take sightings out into a finding of their own, or dispute a joining.
    Split {
        /// Finding.
        finding: String,
        /// Sightings: first digits of their entries.
        #[arg(required_unless_present = "join")]
        sightings: Vec<String>,
        /// Say that the joining was wrong: the findings stand apart again, and the dispute is shown.
        /// First digits of the joining's entry, or "all" for the only one.
        #[arg(long, value_name = "ENTRY", conflicts_with = "sightings", num_args = 0..=1, default_missing_value = "all")]
        join: Option<String>,
        /// Words for the place of the new one.
        #[arg(long)]
        part: Option<String>,
    },
    /// Write that a signed maintenance entry about it was seen: another thing than "owner says
    /// corrected".
    EntrySeen {
        /// Finding.
        finding: String,
        /// Where it stands: book, page, date.
        #[arg(long)]
        reference: String,
    },
    /// List them, deteriorated first.
    List,
    /// Show one.
    Show {
        /// Finding.
        finding: String,
    },
}

/// What a sighting carries.
#[derive(Args)]
pub struct SightingArgs {
    /// "length 2 1/4 in by ruler"; "depth 0.3 mm +-0.1 by gauge".
    #[arg(long = "measure")]
    measures: Vec<String>,
    /// What was asked around the measure: minutes_since_wiped=30, layer=paint, cleaned=yes …
    #[arg(long, value_name = "KEY=VALUE")]
    with: Vec<String>,
    /// A published scale that may class it; refused where its terms are not met.
    #[arg(long)]
    scale: Option<String>,
    /// Step of the condition: dry stain, seep, drip …
    #[arg(long)]
    step: Option<String>,
    /// seen, felt, measured, told, read.
    #[arg(long)]
    basis: Option<String>,
    /// Evidence entries that show it.
    #[arg(long)]
    evidence: Vec<String>,
    /// Your own words.
    #[arg(long)]
    text: Option<String>,
    /// When it was seen, if not now: recognised later on older evidence.
    #[arg(long)]
    seen: Option<String>,
}

fn sighting(notebook: &Notebook, condition: &str, args: &SightingArgs) -> Result<NewSighting> {
    let mut evidence = Vec::new();
    for text in &args.evidence {
        evidence.push(
            notebook
                .entry(
                    text,
                    &[
                        "photo taken",
                        "voice taken",
                        "paper taken",
                        "written",
                        "restated",
                    ],
                )?
                .digest,
        );
    }
    let measures = args
        .measures
        .iter()
        .map(|text| Measure::typed(condition, text))
        .collect::<Result<Vec<_>>>()?;
    let mut context = std::collections::BTreeMap::new();
    for text in &args.with {
        let (key, value) = text.split_once('=').ok_or_else(|| {
            Error::new(ErrorKind::BadValue, format!("\"{text}\" is no key=value"))
                .at("--with")
                .hint("write it as minutes_since_wiped=30")
        })?;
        context.insert(key.trim().to_owned(), value.trim().to_owned());
    }
    let mut measures: Vec<Measure> = measures;
    if measures.is_empty() && !context.is_empty() {
        measures.push(Measure::answer_only("answers"));
    }
    for measure in &mut measures {
        measure.context.clone_from(&context);
    }
    if let Some(scale) = &args.scale {
        let Some(first) = measures.first_mut() else {
            return Err(Error::new(ErrorKind::BadValue, "there is nothing to class")
                .at("--scale")
                .hint("give the size with --measure, and what was asked around it with --with"));
        };
        *first = first.clone().classed(condition, scale)?;
    }
    if let Some(step) = &args.step
        && let Some(known) = Conditions::built_in().get(condition)
        && !known.steps.is_empty()
        && known.step_rank(&step.replace([' ', '-'], "_")).is_none()
    {
        let names: Vec<&str> = known.steps.iter().map(|step| step.name.as_str()).collect();
        return Err(Error::new(
            ErrorKind::BadValue,
            format!("\"{step}\" is no step of {condition}"),
        )
        .at("--step")
        .hint(format!("one of: {}", names.join(", "))));
    }
    Ok(NewSighting {
        basis: args
            .basis
            .clone()
            .or_else(|| (!args.measures.is_empty()).then(|| "measured".to_owned())),
        step: args.step.as_ref().map(|step| step.replace([' ', '-'], "_")),
        measures,
        evidence,
        text: args.text.clone(),
        seen: args.seen.as_deref().map(Seen::given).transpose()?,
        late: args.seen.is_some(),
        ..NewSighting::default()
    })
}

/// Questions without whose answers these sizes are compared with no other: as JSON, and in words.
fn open_questions(condition: &str, measures: &[Measure]) -> (serde_json::Value, String) {
    let asks = Conditions::built_in()
        .get(condition)
        .map(|condition| unanswered(condition, measures))
        .unwrap_or_default();
    let rows: Vec<_> = asks
        .iter()
        .map(|ask| json!({"about": ask.key, "asked": ask.asked, "choices": ask.choices}))
        .collect();
    let words = asks
        .iter()
        .map(|ask| {
            format!(
                "\n{} Without that the size is compared with no other: --with {}=…",
                ask.asked, ask.key
            )
        })
        .collect();
    (json!(rows), words)
}

fn with(
    session: &Session,
    finding: &str,
    out: &Output,
    done: &str,
    act: impl FnOnce(&mut Notebook, &Digest, &Digest) -> Result<Digest>,
) -> Result<u8> {
    let mut notebook = session.open()?;
    let aircraft = session.the_aircraft(&notebook)?;
    let id = notebook.finding(&notebook.state(&aircraft)?, finding)?.id;
    let line = act(&mut notebook, &aircraft, &id)?;
    notebook.close()?;
    out.show(&json!({"entry": line}), || done.to_owned())
}

/// Columns of `finding list`.
pub(super) const FINDINGS: Columns = Columns {
    at: "/findings",
    within: None,
    columns: &[
        ("finding", "/short"),
        ("open", "/open"),
        ("zone", "/zone"),
        ("zone name", "/zone_name"),
        ("condition", "/title"),
        ("part", "/part"),
        ("change", "/change"),
        ("says", "/says"),
        ("concern", "/concern"),
        ("first seen", "/first/0"),
        ("look again", "/again"),
        ("id", "/id"),
    ],
};

/// Columns of `finding join` without findings.
const OFFERS: Columns = Columns {
    at: "/may_be_one",
    within: None,
    columns: &[
        ("one", "/short"),
        ("other", "/other_short"),
        ("says", "/says"),
    ],
};

/// Columns of `finding show`.
const SIGHTINGS: Columns = Columns {
    at: "/finding/sightings",
    within: None,
    columns: &[
        ("date", "/date"),
        ("by", "/by"),
        ("hours", "/hours"),
        ("result", "/result"),
        ("value", "/value"),
        ("u", "/u"),
        ("unit", "/unit"),
        ("says", "/says"),
        ("before", "/before/change"),
        ("first", "/first/change"),
        ("line", "/line"),
    ],
};

/// Runs it.
pub fn run(session: &Session, command: FindingCommand, out: &Output) -> Result<u8> {
    match command {
        FindingCommand::Open {
            zone,
            condition,
            part,
            unsure,
            component,
            system,
            sighting: args,
        } => {
            let mut notebook = session.open()?;
            let aircraft = session.the_aircraft(&notebook)?;
            let key = Conditions::built_in().find(&condition)?.name.clone();
            let first = sighting(&notebook, &key, &args)?;
            let questions = open_questions(&key, &first.measures);
            let component = match &component {
                Some(text) => {
                    let state = notebook.state(&aircraft)?;
                    Some(notebook.the_component(&state, text)?.id)
                }
                None => None,
            };
            let new = NewFinding {
                zone: zone.unwrap_or_default(),
                condition: key,
                part,
                unsure,
                text: args.text.clone(),
                component,
                system,
            };
            let id = notebook.open_finding(&aircraft, &new, &first)?;
            let state = notebook.state(&aircraft)?;
            let zone = state
                .findings
                .iter()
                .find(|finding| finding.id == id)
                .map(|finding| finding.zone.clone())
                .unwrap_or_default();
            notebook.close()?;
            let short = short_name(&zone, &id);
            out.show(
                &json!({"finding": id, "short": short, "questions": questions.0}),
                || format!("Finding {short} is open.{}", questions.1),
            )
        }
        FindingCommand::Sight {
            finding,
            not_found,
            could_not_check,
            sighting: args,
        } => {
            let mut notebook = session.open()?;
            let aircraft = session.the_aircraft(&notebook)?;
            let state = notebook.state(&aircraft)?;
            let known = notebook.finding(&state, &finding)?;
            let (id, condition) = (known.id, known.condition.clone());
            let mut new = sighting(&notebook, &condition, &args)?;
            if not_found {
                new.result = Some("not_found".into());
            }
            if let Some(why) = could_not_check {
                new.result = Some("could_not_check".into());
                new.why = Some(why);
            }
            let questions = open_questions(&condition, &new.measures);
            let line = notebook.sight(&aircraft, &id, &new)?;
            notebook.close()?;
            out.show(&json!({"entry": line, "questions": questions.0}), || {
                format!("Written.{}", questions.1)
            })
        }
        FindingCommand::Treat {
            finding,
            how,
            by,
            measures,
        } => {
            let done = "Written as claimed. It stays open, and measures from now on are a series of their own.";
            with(session, &finding, out, done, |notebook, aircraft, id| {
                let state = notebook.state(aircraft)?;
                let condition = state
                    .findings
                    .iter()
                    .find(|known| known.id == *id)
                    .map(|known| known.condition.clone())
                    .unwrap_or_default();
                let measures = measures
                    .iter()
                    .map(|text| Measure::typed(&condition, text))
                    .collect::<Result<Vec<_>>>()?;
                notebook.treat(aircraft, id, &how, by.as_deref(), measures)
            })
        }
        FindingCommand::Close {
            finding,
            how,
            by,
            reference,
        } => {
            let done =
                "Closed. This is no maintenance entry and no approval for return to service.";
            with(session, &finding, out, done, |notebook, aircraft, id| {
                notebook.close_finding(
                    aircraft,
                    id,
                    &how,
                    by.as_deref(),
                    reference.as_deref(),
                    None,
                )
            })
        }
        FindingCommand::Reopen { finding, why } => with(
            session,
            &finding,
            out,
            "Open again.",
            |notebook, aircraft, id| notebook.reopen(aircraft, id, why.as_deref()),
        ),
        FindingCommand::Join { finding, other } => {
            let (Some(finding), Some(other)) = (finding, other) else {
                let notebook = session.read()?;
                let offers = notebook.joinable(&session.the_aircraft(&notebook)?)?;
                return out.list(&json!({"may_be_one": offers}), &OFFERS, || {
                    let lines: Vec<&str> = offers.iter().map(|offer| offer.says.as_str()).collect();
                    if lines.is_empty() {
                        "No two findings of different people lie at one place.".into()
                    } else {
                        lines.join("\n")
                    }
                });
            };
            let mut notebook = session.open()?;
            let aircraft = session.the_aircraft(&notebook)?;
            let state = notebook.state(&aircraft)?;
            let (one, two) = (
                notebook.finding(&state, &finding)?.id,
                notebook.finding(&state, &other)?.id,
            );
            let line = notebook.join_findings(&aircraft, &one, &two)?;
            notebook.close()?;
            out.show(&json!({"entry": line}), || {
                "They are shown as one from now on; witnessmark undo takes it back.".into()
            })
        }
        FindingCommand::Split {
            finding,
            sightings,
            join,
            part,
        } => {
            let mut notebook = session.open()?;
            let aircraft = session.the_aircraft(&notebook)?;
            let id = notebook.finding(&notebook.state(&aircraft)?, &finding)?.id;
            if let Some(join) = join {
                let join = match join.as_str() {
                    "all" => None,
                    text => Some(notebook.entry(text, &["finding joined"])?.digest),
                };
                let line = notebook.dispute_join(&aircraft, &id, join.as_ref())?;
                notebook.close()?;
                return out.show(&json!({"entry": line}), || {
                    "Written: the joining is disputed. They are shown apart again, with the dispute."
                        .into()
                });
            }
            let lines = sightings
                .iter()
                .map(|text| Ok(notebook.entry(text, &["finding sighted"])?.digest))
                .collect::<Result<Vec<_>>>()?;
            let line = notebook.split(&aircraft, &id, lines, part.as_deref())?;
            notebook.close()?;
            out.show(&json!({"finding": line}), || {
                format!("The new finding is {}.", line.short())
            })
        }
        FindingCommand::EntrySeen { finding, reference } => with(
            session,
            &finding,
            out,
            "Written: a signed entry was seen. Closing is another entry.",
            |notebook, aircraft, id| notebook.maintenance_entry(aircraft, id, &reference, None),
        ),
        FindingCommand::List => {
            let notebook = session.read()?;
            let aircraft = session.the_aircraft(&notebook)?;
            let view = notebook.history(&aircraft)?;
            out.list(&json!({"findings": view.findings}), &FINDINGS, || {
                let rows: Vec<String> = view
                    .findings
                    .iter()
                    .map(|finding| {
                        let state = if finding.open { "open" } else { "closed" };
                        format!(
                            "{:<10} {:<6} {}: {}; {}",
                            finding.short,
                            state,
                            finding.zone_name,
                            finding.title.to_lowercase(),
                            finding.says
                        )
                    })
                    .collect();
                if rows.is_empty() {
                    "No findings.".into()
                } else {
                    rows.join("\n")
                }
            })
        }
        FindingCommand::Show { finding } => {
            let notebook = session.read()?;
            let aircraft = session.the_aircraft(&notebook)?;
            let id = notebook.finding(&notebook.state(&aircraft)?, &finding)?.id;
            let mut view = notebook.history(&aircraft)?;
            view.findings.retain(|finding| finding.id == id);
            view.zones.clear();
            view.walkarounds.clear();
            out.list(
                &json!({"finding": view.findings.first()}),
                &SIGHTINGS,
                || view.to_text(),
            )
        }
    }
}
