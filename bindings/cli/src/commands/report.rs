//! `report`: the page, the sheet, and the same content as text, tables and JSON.

use std::path::PathBuf;

use clap::Args;
use witnessmark_core::notebook::Notebook;
use witnessmark_core::record::Digest;
use witnessmark_core::report::{self, Against, Ask, Cut, Form, Units};
use witnessmark_core::world::Access;
use witnessmark_core::{Error, ErrorKind, Result};

use crate::output::Output;
use crate::real::Session;

/// `report`
#[derive(Args)]
pub struct ReportArgs {
    /// The file to write; - prints it.
    #[arg(long)]
    out: PathBuf,
    /// How much: whole, finding F, review, baseline, sheet, handing-over.
    #[arg(long, num_args = 1..=2, value_names = ["CUT", "FINDING"], default_values_t = vec!["whole".to_owned()])]
    cut: Vec<String>,
    /// html, md, csv, json or text; by the ending of --out if not given.
    #[arg(long)]
    form: Option<String>,
    /// What growth is drawn against: hours, landings or days.
    #[arg(long)]
    against: Option<String>,
    /// In whose units: measured, mm or in. What was measured stays beside it.
    #[arg(long)]
    units: Option<String>,
    /// The review's work list by ATA chapter instead of by zone.
    #[arg(long)]
    by_chapter: bool,
    /// Only this zone.
    #[arg(long)]
    zone: Option<String>,
    /// Only this ATA chapter.
    #[arg(long)]
    ata: Option<String>,
    /// Only findings seen since a date.
    #[arg(long)]
    since: Option<String>,
    /// Growth windows until your own limits; never on the sheet.
    #[arg(long)]
    windows: bool,
}

/// A cut by its words.
pub fn cut_of(notebook: &Notebook, aircraft: &Digest, words: &[String]) -> Result<Cut> {
    let word = words.first().map_or("whole", String::as_str);
    Ok(match (word, words.get(1)) {
        ("whole", None) => Cut::Whole,
        ("finding", Some(finding)) => {
            let state = notebook.state(aircraft)?;
            Cut::Finding(notebook.finding(&state, finding)?.id)
        }
        ("review", None) => Cut::Review,
        ("baseline", None) => Cut::Baseline,
        ("sheet", None) => Cut::Sheet,
        ("handing-over" | "handing_over", None) => Cut::HandingOver,
        _ => {
            return Err(Error::new(
                ErrorKind::BadValue,
                format!("\"{}\" is no cut", words.join(" ")),
            )
            .at("--cut")
            .hint("whole, finding F, review, baseline, sheet or handing-over"));
        }
    })
}

/// Writes the report.
pub fn report(session: &Session, args: &ReportArgs, out: &Output) -> Result<u8> {
    let notebook = session.read()?;
    let aircraft = session.the_aircraft(&notebook)?;
    let ask = Ask {
        cut: cut_of(&notebook, &aircraft, &args.cut)?,
        form: match &args.form {
            Some(word) => Form::named(word)?,
            None => Form::of_file(&args.out),
        },
        against: match args.against.as_deref() {
            None => None,
            Some("hours") => Some(Against::Hours),
            Some("landings") => Some(Against::Landings),
            Some("days") => Some(Against::Days),
            Some(other) => {
                return Err(Error::new(
                    ErrorKind::BadValue,
                    format!("growth cannot be drawn against \"{other}\""),
                )
                .at("--against")
                .hint("hours, landings or days"));
            }
        },
        units: args
            .units
            .as_deref()
            .map_or(Ok(Units::AsMeasured), Units::named)?,
        by_chapter: args.by_chapter,
        zone: args.zone.clone(),
        chapter: args.ata.clone(),
        since: args.since.clone(),
        windows: args.windows && args.cut.first().is_none_or(|cut| cut != "sheet"),
        originals: None,
    };
    let text = report::build(&notebook, &aircraft, &ask)?;
    if args.out.as_os_str() == "-" {
        return out.show(&serde_json::json!({"report": text}), || text.clone());
    }
    let files = session.world()?.files;
    files
        .replace(&args.out, text.as_bytes(), Access::Usual)
        .map_err(|error| Error::io(&error, args.out.display()))?;
    out.show(
        &serde_json::json!({"file": args.out.display().to_string(), "bytes": text.len()}),
        || format!("Wrote {}", args.out.display()),
    )
}
