//! `history`.

use clap::{Args, ValueEnum};
use serde_json::json;
use witnessmark_core::Result;
use witnessmark_core::history::coverage::By;
use witnessmark_core::history::finding_growth;
use witnessmark_core::report::listing::Columns;

use crate::output::Output;
use crate::real::Session;

/// `history`
#[derive(Args)]
pub struct HistoryArgs {
    /// One zone.
    #[arg(long)]
    zone: Option<String>,
    /// One ATA chapter.
    #[arg(long)]
    ata: Option<String>,
    /// One finding.
    #[arg(long)]
    finding: Option<String>,
    /// Only what was seen since a date.
    #[arg(long)]
    since: Option<String>,
    /// With --finding: the window until your own limit.
    #[arg(long, requires = "finding")]
    window: bool,
    /// What was looked at when, how and by whom: by zones (oldest first), ATA chapters (before an
    /// annual), or prepurchase (costliest first).
    #[arg(long, value_enum, conflicts_with_all = ["zone", "ata", "finding", "since", "readings"])]
    coverage: Option<CoverageBy>,
    /// Readings that are no defect, with what is usual for this one.
    #[arg(long, conflicts_with_all = ["zone", "ata", "finding", "since"])]
    readings: bool,
}

#[derive(Clone, Copy, ValueEnum)]
enum CoverageBy {
    /// Every zone, oldest look first.
    Zones,
    /// By ATA chapter.
    Chapters,
    /// Costliest first.
    Prepurchase,
}

/// Columns of `history --coverage`.
const COVERAGE: Columns = Columns {
    at: "/groups",
    within: Some("/zones"),
    columns: &[
        ("chapter", "^/chapter"),
        ("group", "^/title"),
        ("zone", "/code"),
        ("zone name", "/name"),
        ("last looked at", "/last/date"),
        ("by", "/last/by"),
        ("result", "/last/result"),
        ("how", "/last/how"),
        ("access", "/last/access"),
        ("could not be seen", "/not_seen/date"),
        ("why", "/not_seen/why"),
        ("open findings", "/open"),
    ],
};

/// Columns of `history --readings`.
const READINGS: Columns = Columns {
    at: "/series",
    within: Some("/points"),
    columns: &[
        ("reading", "^/reading"),
        ("zone", "^/zone"),
        ("date", "/date"),
        ("by", "/by"),
        ("hours", "/hours"),
        ("meter", "/meter"),
        ("value", "/value"),
        ("unit", "/unit"),
        ("entry", "/entry"),
    ],
};

/// What deteriorated, every finding's story, what nobody looked at.
pub fn history(session: &Session, args: &HistoryArgs, out: &Output) -> Result<u8> {
    let notebook = session.read()?;
    let aircraft = session.the_aircraft(&notebook)?;
    if let Some(by) = args.coverage {
        let by = match by {
            CoverageBy::Zones => By::Zones,
            CoverageBy::Chapters => By::Chapters,
            CoverageBy::Prepurchase => By::Prepurchase,
        };
        let coverage = notebook.coverage(&aircraft, by)?;
        return out.list(&coverage, &COVERAGE, || coverage.to_text());
    }
    if args.readings {
        let readings = notebook.readings(&aircraft)?;
        return out.list(&readings, &READINGS, || readings.to_text());
    }
    let since = args
        .since
        .as_deref()
        .map(|text| {
            witnessmark_core::record::Seen::given(text).map_err(|error| error.at("--since"))
        })
        .transpose()?;
    let mut view = match &args.zone {
        Some(zone) => notebook.zone_history(&aircraft, zone)?,
        None => notebook.history(&aircraft)?,
    };
    let state = notebook.state(&aircraft)?;
    let layout = notebook.layout_of(&state)?;
    if let Some(chapter) = &args.ata {
        view.keep_chapter(&layout, chapter)?;
    }
    let mut window = None;
    if let Some(text) = &args.finding {
        let finding = notebook.finding(&state, text)?;
        view.keep_finding(&finding.id);
        if args.window {
            window = Some(finding_growth::window(finding, &layout));
        }
    }
    if let Some(since) = &since {
        view.keep_since(since);
    }
    for odd in notebook.oddity_words() {
        out.note(&odd);
    }
    match window {
        None => out.list(&view, &super::finding::FINDINGS, || view.to_text()),
        Some(window) => {
            let (given, because) = match window {
                Ok(window) => (Some(window), None),
                Err(why) => (None, Some(why)),
            };
            let mut record = json!(view);
            if let Some(members) = record.as_object_mut() {
                members.insert("window".into(), json!(given));
                members.insert("no_window_because".into(), json!(because));
            }
            out.list(&record, &super::finding::FINDINGS, || {
                let mut text = view.to_text();
                match (&given, &because) {
                    (Some(window), _) => text.push_str(&window.to_text()),
                    (None, Some(why)) => text.push_str(&format!("No window: {why}.\n")),
                    (None, None) => {}
                }
                text
            })
        }
    }
}
