//! `pack`, `receive`, `exchange`, `backup`: handing over and taking in.

use std::io::{IsTerminal, Write};
use std::path::PathBuf;

use clap::Args;
use serde::Serialize;
use serde_json::json;
use witnessmark_core::notebook::{Joinable, Notebook, Withhold};
use witnessmark_core::pack::cut::Cut;
use witnessmark_core::pack::exchange::{InFolder, Step};
use witnessmark_core::pack::receive::Outcome;
use witnessmark_core::pack::verify::Report;
use witnessmark_core::record::Digest;
use witnessmark_core::report;
use witnessmark_core::{Error, ErrorKind, Result};

use crate::output::Output;
use crate::real::Session;

/// `pack`
#[derive(Args)]
pub struct PackArgs {
    /// How much: finding F, review, baseline, handing-over.
    #[arg(long, num_args = 1..=2, value_names = ["CUT", "FINDING"], default_values_t = vec!["review".to_owned()])]
    cut: Vec<String>,
    /// Where to; a name that ends in .zip makes a zip.
    #[arg(long)]
    out: PathBuf,
    /// What to leave out: location, people.
    #[arg(long, value_delimiter = ',')]
    withhold: Vec<String>,
}

/// Makes a pack.
pub fn pack(session: &Session, args: &PackArgs, out: &Output) -> Result<u8> {
    let notebook = session.open()?;
    let aircraft = session.the_aircraft(&notebook)?;
    let mut withhold = Withhold::default();
    for what in &args.withhold {
        match what.as_str() {
            "people" => withhold.people = true,
            "location" => withhold.location = true,
            other => {
                return Err(Error::new(
                    ErrorKind::BadValue,
                    format!("\"{other}\" cannot be left out"),
                )
                .at("--withhold")
                .hint("location, people, or both with a comma between"));
            }
        }
    }
    let word = args.cut.first().map_or("review", String::as_str);
    let cut = match (word, args.cut.get(1)) {
        ("finding", Some(finding)) => {
            let state = notebook.state(&aircraft)?;
            let ids = notebook
                .finding(&state, finding)?
                .ids
                .iter()
                .copied()
                .collect();
            Cut::Finding(ids)
        }
        ("review", None) => Cut::Whole("review"),
        ("baseline", None) => Cut::Whole("baseline"),
        ("handing-over" | "handing_over", None) => Cut::Whole("handing over"),
        _ => {
            return Err(Error::new(
                ErrorKind::BadValue,
                format!("\"{}\" is no cut", args.cut.join(" ")),
            )
            .at("--cut")
            .hint("finding F, review, baseline or handing-over"));
        }
    };
    let ask = report::Ask {
        cut: super::report::cut_of(&notebook, &aircraft, &args.cut)?,
        originals: Some("../evidence".into()),
        ..report::Ask::default()
    };
    let packed = notebook.pack(
        &aircraft,
        cut,
        withhold,
        &args.out,
        &|notebook, aircraft| report::build(notebook, aircraft, &ask),
    )?;
    notebook.close()?;
    out.show(&packed, || {
        let mut text = format!(
            "Packed {} entries and {} files into {}.\nAnybody can check it: witnessmark verify {}, any BagIt tool, or sha256sum -c manifest-sha256.txt in it.",
            packed.lines, packed.files, packed.out, packed.out
        );
        if packed.withheld > 0 {
            text.push_str(&format!("\n{} files and slips were left out, as asked; notes and recordings are never changed, only left out whole.", packed.withheld));
        }
        if packed.copies_proven > 0 {
            text.push_str(&format!("\n{} copies without a position still prove the picture that was recorded (not its colour profile).", packed.copies_proven));
        }
        if packed.copies_on_word > 0 {
            text.push_str(&format!("\n{} copies without a position go on your word: for PNG and WebP nothing proves that they show what was recorded.", packed.copies_on_word));
        }
        if packed.uncovered > 0 {
            text.push_str(&format!("\n{} entries are under no finish yet: finish the walkaround, then pack again, so that their place is proven.", packed.uncovered));
        }
        text
    })
}

/// `receive`
#[derive(Args)]
pub struct ReceiveArgs {
    /// A pack (folder or zip), or another notebook's folder.
    from: PathBuf,
    /// Say what would be taken in, and take in nothing.
    #[arg(long)]
    dry_run: bool,
}

/// Takes in a pack or another notebook.
pub fn receive(session: &Session, args: &ReceiveArgs, out: &Output) -> Result<u8> {
    let mut notebook = session.open()?;
    let outcome = match notebook.receive(&args.from, args.dry_run) {
        Ok(outcome) => outcome,
        Err(error) if is_about_the_pack(&error) => {
            let refused = refused_by(&error);
            out.list(&refused, &super::proof::ROWS, || refused.report.to_text())?;
            return Err(error);
        }
        Err(error) => return Err(error),
    };
    let offers = if args.dry_run || outcome.refused || outcome.lines == 0 {
        Vec::new()
    } else {
        offers(&notebook)?
    };
    notebook.close()?;
    show(&outcome, offers, out)
}

/// What came in, and findings of different people that may be one.
#[derive(Serialize)]
struct WithOffers<'a, T> {
    #[serde(flatten)]
    what: &'a T,
    may_be_one: Vec<Joinable>,
}

fn offers(notebook: &Notebook) -> Result<Vec<Joinable>> {
    let mut all = Vec::new();
    for row in notebook.aircraft_list()? {
        all.extend(notebook.joinable(&row.id)?);
    }
    Ok(all)
}

fn offered(offers: &[Joinable]) -> String {
    offers
        .iter()
        .map(|offer| format!("{}\n", offer.says))
        .collect()
}

fn is_about_the_pack(error: &Error) -> bool {
    matches!(
        error.kind,
        ErrorKind::Refused | ErrorKind::BadFormat | ErrorKind::TooLarge | ErrorKind::Newer
    )
}

/// What must not even be read is a row as well.
pub fn refused_by(error: &Error) -> Outcome {
    let mut report = Report::default();
    report
        .rows
        .push(witnessmark_core::pack::verify::Row::of(error));
    Outcome {
        report,
        refused: true,
        ..Outcome::default()
    }
}

fn new_key_words(key: &Digest) -> String {
    format!(
        "Another device writes with this notebook's old key. From now on this notebook writes under a key of its own, which begins {}; both are linked.",
        key.hex().get(..8).unwrap_or_default()
    )
}

fn show(outcome: &Outcome, offers: Vec<Joinable>, out: &Output) -> Result<u8> {
    let shown = WithOffers {
        what: outcome,
        may_be_one: offers,
    };
    out.list(&shown, &super::proof::ROWS, || {
        let mut text = outcome.report.to_text();
        if outcome.refused {
            text.push_str("Refused: nothing was taken in.\n");
        } else {
            text.push_str(&format!(
                "{} {} new entries, {} new files, {} new slips; {} entries were here already.\n",
                if outcome.dry_run {
                    "Would receive"
                } else {
                    "Received"
                },
                outcome.lines,
                outcome.new_files,
                outcome.slips,
                outcome.known
            ));
        }
        if let Some(key) = outcome.new_key {
            text.push_str(&new_key_words(&key));
            text.push('\n');
        }
        text.push_str(&offered(&shown.may_be_one));
        text
    })?;
    Ok(if outcome.refused {
        2
    } else {
        u8::from(outcome.report.failed())
    })
}

/// How far an exchange has got, on a terminal only.
pub fn progress() -> impl FnMut(Step) {
    let shown = std::io::stderr().is_terminal();
    move |step: Step| {
        if shown {
            let end = if step.done == step.of { "\n" } else { "" };
            // What cannot be shown is no failure of the exchange.
            let _ = write!(std::io::stderr(), "\r{}\x1b[K{end}", step.words());
        }
    }
}

/// `exchange`
#[derive(Args)]
pub struct ExchangeArgs {
    /// A folder that everybody concerned can read and write, or s3://BUCKET/PREFIX.
    place: String,
    /// Say what would move, and move nothing.
    #[arg(long)]
    dry_run: bool,
    /// In a store, look for every original of yours and leave again what was deleted there (a folder
    /// is always looked through in full).
    #[arg(long)]
    thorough: bool,
}

/// Meets others in a shared place.
pub fn exchange(session: &Session, args: &ExchangeArgs, out: &Output) -> Result<u8> {
    let met = if args.place.starts_with("s3://") {
        in_store(session, &args.place, args.dry_run, args.thorough)?
    } else {
        let mut notebook = session.open()?;
        let world = notebook.world().clone();
        let mut place = InFolder::new(&world, std::path::Path::new(&args.place))?;
        let met = notebook.exchange_watched(&mut place, args.dry_run, &mut progress())?;
        notebook.close()?;
        met
    };
    let offers = if args.dry_run || met.outcome.lines == 0 {
        Vec::new()
    } else {
        offers(&session.read()?)?
    };
    let shown = WithOffers {
        what: &met,
        may_be_one: offers,
    };
    out.show(&shown, || {
        let mut text = String::new();
        for row in &met.outcome.report.rows {
            text.push_str(&format!("{}: {} ({})\n", row.file, row.what, row.code));
        }
        let (took, left) = if met.outcome.dry_run {
            ("Would take in", "would leave")
        } else {
            ("Took in", "left")
        };
        text.push_str(&format!(
            "{took} {} new entries and {} originals; {left} {} files for the others.",
            met.outcome.lines, met.outcome.new_files, met.put
        ));
        if let Some(key) = met.outcome.new_key {
            text.push('\n');
            text.push_str(&new_key_words(&key));
        }
        if !shown.may_be_one.is_empty() {
            text.push('\n');
            text.push_str(&offered(&shown.may_be_one));
        }
        text
    })?;
    Ok(if met.outcome.refused {
        2
    } else {
        u8::from(met.outcome.report.failed())
    })
}

#[cfg(feature = "store")]
use super::store::exchange as in_store;

#[cfg(not(feature = "store"))]
fn in_store(
    _: &Session,
    place: &str,
    _: bool,
    _: bool,
) -> Result<witnessmark_core::pack::exchange::Met> {
    Err(Error::new(
        ErrorKind::BadValue,
        "this program was built without object stores",
    )
    .at(place)
    .hint("use a shared folder, or build with the feature `store`"))
}

/// `backup`
#[derive(Args)]
pub struct BackupArgs {
    /// The folder to make; it must not exist.
    folder: PathBuf,
}

/// Copies the notebook without its key.
pub fn backup(session: &Session, args: &BackupArgs, out: &Output) -> Result<u8> {
    let notebook = session.read()?;
    let files = notebook.backup(&args.folder)?;
    out.show(&json!({"backup": args.folder.display().to_string(), "files": files}), || {
        format!(
            "Copied {files} files to {}.\nYour key is not in it. To restore: copy that folder to where it shall live, then run there: witnessmark init --author NAME --role ROLE. It goes on under a new key; with --old-key FILE the two are linked.",
            args.folder.display()
        )
    })
}
