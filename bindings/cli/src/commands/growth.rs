//! `growth`: the statistics alone, for a series from paper records. Needs no notebook.

use std::path::PathBuf;

use clap::{Args, ValueEnum};
use witnessmark_core::history::growth::{Ask, growth};
use witnessmark_core::history::series::{Axis, MOST_BYTES};
use witnessmark_core::history::significance::WorseWhen;
use witnessmark_core::report::listing::Columns;
use witnessmark_core::{Error, ErrorKind, Result};

use crate::output::Output;
use crate::real::Session;

/// `growth`
#[derive(Args)]
pub struct GrowthArgs {
    /// Table with columns date,hours,landings,value,unit,u,method,place; cells may be empty.
    file: PathBuf,
    /// Your own limit, with its unit; without one there is no window.
    #[arg(long, value_name = "AMOUNT", allow_hyphen_values = true)]
    limit: Option<String>,
    /// What to count against; the best supported one if not given.
    #[arg(long, value_enum)]
    against: Option<Against>,
    /// Which way is worse.
    #[arg(long, value_enum, default_value_t = Worse::Larger)]
    worse_when: Worse,
}

#[derive(Clone, Copy, ValueEnum)]
enum Against {
    /// Days of the calendar.
    Days,
    /// Hours of the meter.
    Hours,
    /// Landings.
    Landings,
}

#[derive(Clone, Copy, ValueEnum)]
enum Worse {
    /// Cracks, stains, play.
    Larger,
    /// Tread, pressure, tension.
    Smaller,
}

/// Columns of `growth`: each step between readings that follow one another.
const STEPS: Columns = Columns {
    at: "/steps",
    within: None,
    columns: &[
        ("from", "/from"),
        ("to", "/to"),
        ("change", "/change"),
        ("difference", "/difference"),
        ("U", "/U"),
        ("could hide", "/could_hide"),
        ("why", "/why"),
    ],
};

/// Runs it.
pub fn run(session: &Session, args: &GrowthArgs, out: &Output) -> Result<u8> {
    let table = session
        .world()?
        .files
        .read(&args.file, MOST_BYTES as u64)
        .map_err(|error| {
            if error.kind() == std::io::ErrorKind::FileTooLarge {
                Error::new(
                    ErrorKind::TooLarge,
                    format!("a table holds at most {MOST_BYTES} bytes"),
                )
                .at(args.file.display())
                .hint("keep one finding to a file")
            } else {
                Error::io(&error, args.file.display())
            }
        })?;
    let ask = Ask {
        limit: args.limit.clone(),
        against: args.against.map(|against| match against {
            Against::Days => Axis::Days,
            Against::Hours => Axis::Hours,
            Against::Landings => Axis::Landings,
        }),
        worse_when: match args.worse_when {
            Worse::Larger => WorseWhen::Larger,
            Worse::Smaller => WorseWhen::Smaller,
        },
    };
    let shown = growth(&table, &ask).map_err(|error| {
        // The limit came from the call, everything else from the file.
        if error.place == "limit" {
            return error.at("--limit");
        }
        let place = if error.place.is_empty() {
            args.file.display().to_string()
        } else {
            format!("{}, {}", args.file.display(), error.place)
        };
        error.at(place)
    })?;
    out.list(&shown, &STEPS, || shown.to_text())
}
