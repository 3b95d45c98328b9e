//! `aircraft`.

use clap::Subcommand;
use serde_json::json;
use witnessmark_core::Result;
use witnessmark_core::report::listing::Columns;

use crate::output::Output;
use crate::real::Session;

/// `aircraft`
#[derive(Subcommand)]
pub enum AircraftCommand {
    /// Add an aircraft.
    Add {
        /// Registration as painted.
        registration: String,
        /// Type in plain words.
        #[arg(long = "type")]
        kind: String,
        /// Maker's serial.
        #[arg(long)]
        serial: Option<String>,
        /// Layout: witnessmark layout list.
        #[arg(long)]
        layout: String,
        /// A different aircraft under a mark that is here already.
        #[arg(long)]
        another: bool,
    },
    /// List them.
    List,
    /// Show one.
    Show {
        /// Registration.
        registration: Option<String>,
    },
    /// Say that two descriptions are one aircraft.
    Join {
        /// One.
        one: String,
        /// The other.
        other: String,
    },
}

/// Columns of `aircraft list`.
const AIRCRAFT: Columns = Columns {
    at: "/aircraft",
    within: None,
    columns: &[
        ("registration", "/registration"),
        ("type", "/type"),
        ("serial", "/serial"),
        ("layout", "/layout"),
        ("walkarounds", "/walkarounds"),
        ("open findings", "/open_findings"),
        ("aircraft", "/id"),
    ],
};

/// Runs it.
pub fn run(session: &Session, command: AircraftCommand, out: &Output) -> Result<u8> {
    match command {
        AircraftCommand::Add {
            registration,
            kind,
            serial,
            layout,
            another,
        } => {
            let mut notebook = session.open()?;
            let id =
                notebook.add_aircraft(&registration, &kind, serial.as_deref(), &layout, another)?;
            notebook.close()?;
            out.show(
                &json!({"aircraft": id, "registration": registration}),
                || format!("{registration} is in the notebook ({}).", id.short()),
            )
        }
        AircraftCommand::List => {
            let notebook = session.read()?;
            let list = notebook.aircraft_list()?;
            out.list(&json!({"aircraft": list}), &AIRCRAFT, || {
                if list.is_empty() {
                    return "No aircraft yet: witnessmark aircraft add REGISTRATION --type T --layout NAME".into();
                }
                let rows: Vec<String> = list
                    .iter()
                    .map(|row| format!("{:<10} {:<28} walkarounds {:<4} open findings {}", row.registration, row.kind, row.walkarounds, row.open_findings))
                    .collect();
                rows.join("\n")
            })
        }
        AircraftCommand::Show { registration } => {
            let notebook = session.read()?;
            let id =
                notebook.the_aircraft(registration.as_deref().or(session.aircraft.as_deref()))?;
            let state = notebook.state(&id)?;
            let record = json!({"aircraft": id, "registration": state.registration, "type": state.kind, "serial": state.serial, "layout": state.layout,
                "walkarounds": state.walkarounds.len(), "findings": state.findings.len()});
            out.show(&record, || {
                format!(
                    "{}  {}  serial {}\nlayout {}\n{} walkarounds, {} findings",
                    state.registration,
                    state.kind,
                    state.serial.as_deref().unwrap_or("not given"),
                    state.layout.as_deref().unwrap_or("not chosen"),
                    state.walkarounds.len(),
                    state.findings.len()
                )
            })
        }
        AircraftCommand::Join { one, other } => {
            let mut notebook = session.open()?;
            let (one, other) = (
                notebook.the_aircraft(Some(&one))?,
                notebook.the_aircraft(Some(&other))?,
            );
            let line = notebook.join_aircraft(&one, &other)?;
            notebook.close()?;
            out.show(&json!({"entry": line}), || {
                "They are shown as one aircraft from now on; witnessmark undo takes it back.".into()
            })
        }
    }
}
