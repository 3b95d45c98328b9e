//! `witnessmark` in a terminal: every call goes to the core; nothing is decided here.

mod commands;
mod output;
mod real;

use std::path::PathBuf;

use clap::{Parser, Subcommand};

use commands::{
    aircraft, capture, correct, demo, event, finding, growth, hear, history, lay, layout, measure,
    meter, notebook, pack, proof, report, say, sheet, walk,
};
#[cfg(feature = "store")]
use commands::{fleet, store};
use output::{Output, Shape};

/// The memory of an airframe's condition: what was seen, where, when, by whom, and whether it has grown.
#[derive(Parser)]
#[command(name = "witnessmark", version, about, propagate_version = true)]
struct Cli {
    /// The notebook's folder; the nearest one upward if not given.
    #[arg(short = 'C', global = true, value_name = "DIR")]
    dir: Option<PathBuf>,
    /// Print one JSON object.
    #[arg(long, global = true)]
    json: bool,
    /// Print the list as CSV; for calls that list things.
    #[arg(long, global = true, conflicts_with_all = ["json", "md"])]
    csv: bool,
    /// Print the list as a Markdown table; for calls that list things.
    #[arg(long, global = true, conflicts_with = "json")]
    md: bool,
    /// A clock given by hand, 2026-05-03T09:10:00+02:00; said wherever its entries appear.
    #[arg(long, global = true, value_name = "TIME")]
    now: Option<String>,
    /// Repeatable randomness, for tests and the demo.
    #[arg(long, global = true, value_name = "N")]
    seed: Option<u64>,
    /// Which aircraft, where there are several.
    #[arg(
        long = "aircraft",
        short = 'a',
        global = true,
        value_name = "REGISTRATION"
    )]
    aircraft: Option<String>,
    #[command(subcommand)]
    command: Command,
}

#[derive(Subcommand)]
enum Command {
    /// Make an invented aircraft's notebooks, its history and its page.
    Demo(demo::DemoArgs),
    /// Make a notebook.
    Init(notebook::InitArgs),
    /// Aircraft: add, list, show, join.
    #[command(subcommand)]
    Aircraft(aircraft::AircraftCommand),
    /// Layouts: list, show, check, choose.
    #[command(subcommand)]
    Layout(layout::LayoutCommand),
    /// Clocks and counters: fit, read, list.
    #[command(subcommand)]
    Meter(meter::MeterCommand),
    /// Parts with a life of their own: fit, remove, list.
    #[command(subcommand)]
    Component(meter::ComponentCommand),
    /// Something that happened: hard landing, hail …; says where to look.
    Event(event::EventArgs),
    /// Write that you have read the open findings before a flight.
    ReadBeforeFlight,
    /// Walkarounds: start, status, stop, finish.
    #[command(subcommand)]
    Walkaround(walk::WalkaroundCommand),
    /// Say that zones showed nothing, or could not be seen.
    Look(walk::LookArgs),
    /// Write a value that is no defect: oil found, oil added, pressure …
    Reading(walk::ReadingArgs),
    /// Take in photos.
    Photo(capture::FilesArgs),
    /// Take in a recording.
    Voice(capture::VoiceArgs),
    /// Take in papers: log pages, data plates, meters.
    Paper(capture::PaperArgs),
    /// Write a note.
    Note(capture::NoteArgs),
    /// Hang evidence on a zone or a finding.
    Place(capture::PlaceArgs),
    /// Findings: open, sight, treat, close, reopen, join, split, list, show.
    #[command(subcommand)]
    Finding(finding::FindingCommand),
    /// Write that somebody was told of a finding.
    Told(say::ToldArgs),
    /// Write that a finding was deferred.
    Defer(say::DeferArgs),
    /// Set your own concern for a finding.
    Concern(say::ConcernArgs),
    /// Set a limit from a manual.
    Limit(say::LimitArgs),
    /// Say when to look again.
    Again(say::AgainArgs),
    /// Give an entry of yours another body; the first form stays.
    Amend(correct::AmendArgs),
    /// Take a file's bytes away: a bystander's recording.
    Remove(correct::RemoveArgs),
    /// Move a walkaround to the aircraft it was of.
    Move(correct::MoveArgs),
    /// Link two keys of one person: a new phone.
    #[command(subcommand)]
    Link(notebook::LinkCommand),
    /// Take back your last entry.
    Undo,
    /// What a series from paper records shows: changes, trend, and a window until your own limit.
    Growth(growth::GrowthArgs),
    /// Lengths, cracks and stains on a photo, by a card, the scale sheet or a ruler.
    #[command(subcommand)]
    Measure(measure::MeasureCommand),
    /// The printed scale: A4 or Letter, with a bar to check the printer by.
    ScaleSheet(sheet::SheetArgs),
    /// Lay an older photo on a newer one of the same place.
    Lay(lay::LayArgs),
    /// Words to a draft: findings, looks, sizes, questions; `--keep` writes it down.
    Hear(hear::HearArgs),
    /// The vocabulary for recognisers: phrases, a grammar, pronunciations.
    Words(hear::WordsArgs),
    /// What deteriorated, every finding's story, what nobody looked at.
    History(history::HistoryArgs),
    /// The page: one file that opens anywhere.
    Report(report::ReportArgs),
    /// Make a pack to hand over.
    Pack(pack::PackArgs),
    /// Take in a pack, or another person's notebook.
    Receive(pack::ReceiveArgs),
    /// Meet others in a shared folder: take what is new, leave what they do not have.
    Exchange(pack::ExchangeArgs),
    /// An object store as a meeting place: add, probe, policy.
    #[cfg(feature = "store")]
    #[command(subcommand)]
    Store(store::StoreCommand),
    /// Many aircraft: table, status.
    #[cfg(feature = "store")]
    #[command(subcommand)]
    Fleet(fleet::FleetCommand),
    /// Copy the notebook, without its key.
    Backup(pack::BackupArgs),
    /// Check that nothing was altered, taken out or put in: a notebook or a pack.
    Verify(proof::VerifyArgs),
    /// Record the last line of every other author's chain.
    Vouch,
    /// Proof codes of what is finished; that one entry stands under a finish.
    Proof(proof::ProofArgs),
    /// Time stamps of an outside authority (RFC 3161).
    #[command(subcommand)]
    Timestamp(proof::TimestampCommand),
    /// The index beside the record.
    #[command(subcommand)]
    Index(notebook::IndexCommand),
    /// Completions for a shell.
    Completions {
        /// bash, zsh, fish …
        shell: clap_complete::Shell,
    },
}

impl Command {
    /// Whether its result is a list, which `--csv` and `--md` can show.
    fn lists(&self) -> bool {
        match self {
            Self::Aircraft(command) => matches!(command, aircraft::AircraftCommand::List),
            Self::Layout(command) => matches!(
                command,
                layout::LayoutCommand::List | layout::LayoutCommand::Show { .. }
            ),
            Self::Meter(command) => matches!(command, meter::MeterCommand::List),
            Self::Component(command) => matches!(command, meter::ComponentCommand::List),
            Self::Walkaround(command) => matches!(command, walk::WalkaroundCommand::Status),
            Self::Finding(command) => matches!(
                command,
                finding::FindingCommand::List
                    | finding::FindingCommand::Show { .. }
                    | finding::FindingCommand::Join { finding: None, .. }
            ),
            Self::History(_) | Self::Growth(_) | Self::Verify(_) | Self::Receive(_) => true,
            Self::Proof(args) => args.lists(),
            #[cfg(feature = "store")]
            Self::Fleet(command) => matches!(command, fleet::FleetCommand::Status { .. }),
            _ => false,
        }
    }
}

/// A call that makes no sense: in words, or with `--json` as the object that every refusal is.
fn not_understood(error: &clap::Error) -> std::process::ExitCode {
    if !error.use_stderr() || !std::env::args().any(|word| word == "--json") {
        error.exit();
    }
    let text = error.to_string();
    let what = text.lines().next().unwrap_or_default();
    let refusal = serde_json::json!({"error": {
        "code": "usage",
        "what": what.strip_prefix("error: ").unwrap_or(what),
        "where": "the call",
        "do": "witnessmark help says what each command takes",
    }});
    eprintln!("{refusal}");
    std::process::ExitCode::from(2)
}

fn main() -> std::process::ExitCode {
    let cli = match Cli::try_parse() {
        Ok(cli) => cli,
        Err(error) => return not_understood(&error),
    };
    let out = Output {
        shape: match (cli.json, cli.csv, cli.md) {
            (true, _, _) => Shape::Json,
            (_, true, _) => Shape::Csv,
            (_, _, true) => Shape::Markdown,
            _ => Shape::Text,
        },
    };
    // Before anything is written: a call that gives no list has no table either.
    if !cli.command.lists()
        && let Err(error) = out.no_list()
    {
        return std::process::ExitCode::from(out.error(&error));
    }
    let session = real::Session {
        dir: cli.dir,
        now: cli.now,
        seed: cli.seed,
        aircraft: cli.aircraft,
    };
    let done = match cli.command {
        Command::Demo(args) => demo::run(&session, &args, &out),
        Command::Init(args) => notebook::init(&session, &args, &out),
        Command::Aircraft(command) => aircraft::run(&session, command, &out),
        Command::Layout(command) => layout::run(&session, command, &out),
        Command::Meter(command) => meter::meter(&session, command, &out),
        Command::Component(command) => meter::component(&session, command, &out),
        Command::Event(args) => event::event(&session, &args, &out),
        Command::ReadBeforeFlight => event::read_before_flight(&session, &out),
        Command::Walkaround(command) => walk::run(&session, command, &out),
        Command::Look(args) => walk::look(&session, args, &out),
        Command::Reading(args) => walk::reading(&session, args, &out),
        Command::Photo(args) => capture::photo(&session, &args, &out),
        Command::Voice(args) => capture::voice(&session, &args, &out),
        Command::Paper(args) => capture::paper(&session, &args, &out),
        Command::Note(args) => capture::note(&session, &args, &out),
        Command::Place(args) => capture::place(&session, &args, &out),
        Command::Finding(command) => finding::run(&session, command, &out),
        Command::Told(args) => say::told(&session, &args, &out),
        Command::Defer(args) => say::defer(&session, &args, &out),
        Command::Concern(args) => say::concern(&session, &args, &out),
        Command::Limit(args) => say::limit(&session, &args, &out),
        Command::Again(args) => say::again(&session, &args, &out),
        Command::Amend(args) => correct::amend(&session, &args, &out),
        Command::Remove(args) => correct::remove(&session, &args, &out),
        Command::Move(args) => correct::move_walkaround(&session, &args, &out),
        Command::Link(command) => notebook::link(&session, &command, &out),
        Command::Undo => say::undo(&session, &out),
        Command::Growth(args) => growth::run(&session, &args, &out),
        Command::Measure(command) => measure::run(&session, &command, &out),
        Command::ScaleSheet(args) => sheet::run(&session, &args, &out),
        Command::Lay(args) => lay::run(&session, &args, &out),
        Command::Hear(args) => hear::run(&session, &args, &out),
        Command::Words(args) => hear::words(&session, &args, &out),
        Command::History(args) => history::history(&session, &args, &out),
        Command::Report(args) => report::report(&session, &args, &out),
        Command::Pack(args) => pack::pack(&session, &args, &out),
        Command::Receive(args) => pack::receive(&session, &args, &out),
        Command::Exchange(args) => pack::exchange(&session, &args, &out),
        #[cfg(feature = "store")]
        Command::Store(command) => store::run(&session, &command, &out),
        #[cfg(feature = "store")]
        Command::Fleet(command) => fleet::run(&session, &command, &out),
        Command::Backup(args) => pack::backup(&session, &args, &out),
        Command::Verify(args) => proof::verify(&session, &args, &out),
        Command::Vouch => proof::vouch(&session, &out),
        Command::Proof(args) => proof::proof(&session, &args, &out),
        Command::Timestamp(command) => proof::timestamp(&session, &command, &out),
        Command::Index(command) => notebook::index(&session, &command, &out),
        Command::Completions { shell } => {
            clap_complete::generate(
                shell,
                &mut <Cli as clap::CommandFactory>::command(),
                "witnessmark",
                &mut std::io::stdout(),
            );
            Ok(0)
        }
    };
    match done {
        Ok(status) => std::process::ExitCode::from(status),
        Err(error) => std::process::ExitCode::from(out.error(&error)),
    }
}
