//! `fleet`: questions over many aircraft.

use std::path::Path;

use clap::Subcommand;
use witnessmark_core::report::listing::Columns;
use witnessmark_core::{Error, Result};
use witnessmark_store::fleet::{self, Table};
use witnessmark_store::{Address, Bucket};

use crate::output::Output;
use crate::real::Session;

/// `fleet`
#[derive(Subcommand)]
pub enum FleetCommand {
    /// Write one row a sighting and one a look as Parquet, for any engine to ask.
    Table {
        /// A folder, or s3://BUCKET/PREFIX. What is there of an earlier table is replaced.
        #[arg(long)]
        out: String,
    },
    /// Every aircraft, worst first.
    Status {
        /// Write it as a page in the report's style.
        #[arg(long, value_name = "FILE")]
        page: Option<std::path::PathBuf>,
    },
}

/// Columns of `fleet status`.
const STATUS: Columns = Columns {
    at: "/aircraft",
    within: None,
    columns: &[
        ("registration", "/registration"),
        ("type", "/type"),
        ("last walkaround", "/last_walkaround/date"),
        ("purpose", "/last_walkaround/purpose"),
        ("by", "/last_walkaround/by"),
        ("hours", "/hours"),
        ("before flight", "/open/before_flight"),
        ("ask", "/open/ask"),
        ("watch", "/open/watch"),
        ("aware", "/open/aware"),
        ("never looked at", "/never_looked_at"),
    ],
};

/// Runs it.
pub fn run(session: &Session, command: &FleetCommand, out: &Output) -> Result<u8> {
    let notebook = session.read()?;
    match command {
        FleetCommand::Table { out: to } => {
            let (sightings, looks) = fleet::gather(&notebook)?;
            let mut table = Table::default();
            table.sightings(sightings)?;
            table.looks(looks)?;
            let written = if to.starts_with("s3://") {
                let address = Address::parse(to, &|name| std::env::var(name).ok())?;
                fleet::to_bucket(table, &mut Bucket::open(address)?)?
            } else {
                fleet::to_folder(table, Path::new(to))?
            };
            out.show(&written, || {
                format!(
                    "Wrote {} sightings and {} looks as {} Parquet files to {to}.",
                    written.sightings, written.looks, written.files
                )
            })
        }
        FleetCommand::Status { page } => {
            let status = fleet::status(&notebook)?;
            if let Some(file) = page {
                std::fs::write(file, status.to_page())
                    .map_err(|error| Error::io(&error, file.display()))?;
            }
            out.list(&status, &STATUS, || status.to_text())
        }
    }
}
