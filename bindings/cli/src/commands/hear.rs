//! `hear` and `words`: what was said, as a draft; the vocabulary for recognisers.

use std::io::BufRead;

use clap::{Args, ValueEnum};
use witnessmark_core::condition::Conditions;
use witnessmark_core::layout::Layout;
use witnessmark_core::speech::{
    Draft, Utterance, Vocabulary, Words, answer, grammar, hear, phrases, pronunciations, read_back,
};
use witnessmark_core::{Error, ErrorKind, Result};

use crate::output::Output;
use crate::real::Session;

/// The layout when neither a notebook nor `--layout` names one.
const DEFAULT_LAYOUT: &str = "high_wing_strutted_fixed";

/// Longest line of standard input, in bytes.
const LONGEST_LINE: u64 = 4 * 1024 * 1024;

/// `hear`
#[derive(Args)]
pub struct HearArgs {
    /// What was said or typed; without it, JSON lines from standard input.
    text: Option<String>,
    /// Stop where the person stands.
    #[arg(long)]
    stop: Option<String>,
    /// Built-in layout; that of the notebook's aircraft if not given.
    #[arg(long)]
    layout: Option<String>,
    /// Another transcript of the same sound; may be repeated.
    #[arg(long = "alternative", value_name = "TEXT")]
    alternatives: Vec<String>,
    /// Answer to the first open question; repeated for the next ones.
    #[arg(long = "answer", value_name = "TEXT")]
    answers: Vec<String>,
    /// Write it down; refused while a question is open.
    #[arg(long, requires = "text")]
    keep: bool,
}

/// `words`
#[derive(Args)]
pub struct WordsArgs {
    /// What to print.
    #[arg(long, value_enum, default_value_t = Form::List)]
    form: Form,
    /// Stop where the person stands: its zones come first.
    #[arg(long)]
    stop: Option<String>,
    /// Built-in layout; that of the notebook's aircraft if not given.
    #[arg(long)]
    layout: Option<String>,
    /// Most phrases of a list.
    #[arg(long, default_value_t = 500)]
    most: usize,
}

#[derive(Clone, Copy, ValueEnum)]
enum Form {
    /// Phrases, the likeliest first.
    List,
    /// A JSGF grammar.
    Grammar,
    /// Words that the common pronouncing dictionary lacks, with their phones.
    Pronunciations,
}

fn vocabulary(session: &Session, layout: Option<&str>) -> Result<Vocabulary> {
    let words = Words::built_in("en")?;
    let unknown = |name: &str| {
        let names: Vec<&str> = Layout::all().iter().map(|l| l.name.as_str()).collect();
        Error::new(ErrorKind::Unknown, format!("there is no layout \"{name}\""))
            .at("--layout")
            .hint(format!("one of: {}", names.join(", ")))
    };
    let name = match layout {
        Some(name) => name,
        None => {
            if let Some(chosen) = of_notebook(session) {
                return Ok(Vocabulary::new(&chosen, Conditions::built_in(), words));
            }
            DEFAULT_LAYOUT
        }
    };
    let layout = Layout::built_in(name).ok_or_else(|| unknown(name))?;
    Ok(Vocabulary::new(layout, Conditions::built_in(), words))
}

/// The layout of the notebook's aircraft, if there is a notebook with one.
fn of_notebook(session: &Session) -> Option<Layout> {
    let notebook = session.read().ok()?;
    let aircraft = session.the_aircraft(&notebook).ok()?;
    let state = notebook.state(&aircraft).ok()?;
    notebook.layout_of(&state).ok()
}

/// Runs `hear`.
pub fn run(session: &Session, args: &HearArgs, out: &Output) -> Result<u8> {
    let vocabulary = vocabulary(session, args.layout.as_deref())?;
    let Some(text) = &args.text else {
        return lines(&vocabulary, args, out);
    };
    let utterance = Utterance {
        text: text.clone(),
        alternatives: args.alternatives.clone(),
        stop: args.stop.clone(),
    };
    let mut draft = hear(&vocabulary, &utterance)?;
    for reply in &args.answers {
        draft = answer(&vocabulary, &draft, 0, reply)?;
    }
    if !args.keep {
        return show(&vocabulary, &draft, out);
    }
    if !draft.questions.is_empty() {
        show(&vocabulary, &draft, out)?;
    }
    let mut notebook = session.open()?;
    let aircraft = session.the_aircraft(&notebook)?;
    let kept = notebook.keep_draft(&aircraft, &draft, args.stop.as_deref())?;
    notebook.close()?;
    out.show(&serde_json::json!({"draft": draft, "kept": kept}), || {
        format!("Written down. {}", read_back(&vocabulary, &draft))
    })
}

fn show(vocabulary: &Vocabulary, draft: &Draft, out: &Output) -> Result<u8> {
    out.show(draft, || read_back(vocabulary, draft))
}

/// One draft a line for JSON lines of standard input.
fn lines(vocabulary: &Vocabulary, args: &HearArgs, out: &Output) -> Result<u8> {
    let mut input = std::io::stdin().lock();
    let mut number = 0usize;
    loop {
        let mut line = Vec::new();
        let mut limited = std::io::Read::take(&mut input, LONGEST_LINE + 1);
        let read = limited
            .read_until(b'\n', &mut line)
            .map_err(|error| Error::io(&error, "standard input"))?;
        if read == 0 {
            return Ok(0);
        }
        number += 1;
        let place = format!("line {number}");
        if read as u64 > LONGEST_LINE {
            return Err(
                Error::new(ErrorKind::TooLarge, "the line is longer than 4 MiB")
                    .at(place)
                    .hint("hand it over in pieces"),
            );
        }
        if line.iter().all(u8::is_ascii_whitespace) {
            continue;
        }
        let mut utterance: Utterance = serde_json::from_slice(&line).map_err(|error| {
            Error::new(ErrorKind::BadFormat, error.to_string())
                .at(&place)
                .hint("write {\"text\":\"…\",\"alternatives\":[…],\"stop\":\"…\"} on one line")
        })?;
        if utterance.stop.is_none() {
            utterance.stop = args.stop.clone();
        }
        let draft = hear(vocabulary, &utterance).map_err(|error| error.at(&place))?;
        show(vocabulary, &draft, out)?;
    }
}

/// Runs `words`.
pub fn words(session: &Session, args: &WordsArgs, out: &Output) -> Result<u8> {
    let vocabulary = vocabulary(session, args.layout.as_deref())?;
    let stop = args.stop.as_deref();
    match args.form {
        Form::List => {
            let list = phrases(&vocabulary, stop, args.most);
            out.show(&serde_json::json!({"phrases": list}), || list.join("\n"))
        }
        Form::Grammar => {
            let text = grammar(&vocabulary, stop);
            out.show(&serde_json::json!({"grammar": text}), || text.clone())
        }
        Form::Pronunciations => {
            let text = pronunciations(&vocabulary);
            out.show(&serde_json::json!({"pronunciations": text}), || {
                text.clone()
            })
        }
    }
}
