//! `meter`, `component`.

use clap::Subcommand;
use serde_json::json;
use witnessmark_core::Result;
use witnessmark_core::history::meters;
use witnessmark_core::notebook::{NewComponent, NewMeter};
use witnessmark_core::record::Seen;
use witnessmark_core::report::listing::Columns;

use crate::output::Output;
use crate::real::Session;

/// `meter`
#[derive(Subcommand)]
pub enum MeterCommand {
    /// Fit a meter, or take over one as it is. One that replaces another continues its total.
    Fit {
        /// Name that people will use: tach.
        name: String,
        /// tachometer, hour meter, total time, landings.
        #[arg(long)]
        kind: String,
        /// What it reads.
        #[arg(long)]
        reading: String,
        /// The total that this stands for; with --replaces, the old meter's if not given.
        #[arg(long)]
        total: Option<String>,
        /// Name of the meter it replaces.
        #[arg(long)]
        replaces: Option<String>,
        /// When, if not now.
        #[arg(long)]
        at: Option<String>,
    },
    /// Read one; "total time" and "landings" need none fitted.
    Read {
        /// Its name.
        name: String,
        /// What it reads.
        reading: String,
        /// When, if not now.
        #[arg(long)]
        at: Option<String>,
    },
    /// Meters and what they last read.
    List,
}

/// `component`
#[derive(Subcommand)]
pub enum ComponentCommand {
    /// Fit a component: engine, propeller, blade, wheel, tire …
    Fit {
        /// Kind.
        component: String,
        /// Zone, by code or name.
        #[arg(long)]
        zone: String,
        /// Maker's serial or stamp.
        #[arg(long)]
        serial: Option<String>,
        /// Which of several: "blade 1".
        #[arg(long)]
        position: Option<String>,
        /// How the position is counted where no stamp tells.
        #[arg(long)]
        convention: Option<String>,
        /// The component that leaves; open findings on it leave with it.
        #[arg(long)]
        replaces: Option<String>,
        /// Hours it had run before.
        #[arg(long)]
        run_before: Option<String>,
        /// Airframe total time.
        #[arg(long)]
        hours: Option<String>,
        /// When, if not now.
        #[arg(long)]
        at: Option<String>,
    },
    /// Remove one; open findings on it leave with it.
    Remove {
        /// Serial, position or first digits of its entry.
        component: String,
        /// Airframe total time.
        #[arg(long)]
        hours: Option<String>,
        /// Why.
        #[arg(long)]
        why: Option<String>,
        /// When, if not now.
        #[arg(long)]
        at: Option<String>,
    },
    /// What is fitted, and what was.
    List,
}

/// Columns of `meter list`.
const METERS: Columns = Columns {
    at: "/meters",
    within: None,
    columns: &[
        ("name", "/name"),
        ("kind", "/kind"),
        ("counts on", "/axis"),
        ("offset", "/offset"),
        ("fitted", "/fitted"),
        ("replaced", "/replaced"),
    ],
};

/// Columns of `component list`.
const COMPONENTS: Columns = Columns {
    at: "/components",
    within: None,
    columns: &[
        ("kind", "/kind"),
        ("serial", "/serial"),
        ("zone", "/zone"),
        ("position", "/position"),
        ("fitted", "/fitted"),
        ("fitted hours", "/fitted_hours"),
        ("removed", "/removed"),
        ("removed hours", "/removed_hours"),
        ("component", "/component"),
    ],
};

/// Runs `meter`.
pub fn meter(session: &Session, command: MeterCommand, out: &Output) -> Result<u8> {
    match command {
        MeterCommand::Fit {
            name,
            kind,
            reading,
            total,
            replaces,
            at,
        } => {
            let at = at.as_deref().map(Seen::given).transpose()?;
            let mut notebook = session.open()?;
            let aircraft = session.the_aircraft(&notebook)?;
            let line = notebook.fit_meter(
                &aircraft,
                &NewMeter {
                    name,
                    meter: kind,
                    reading,
                    total,
                    replaces,
                    at,
                },
            )?;
            let state = notebook.state(&aircraft)?;
            notebook.close()?;
            let meter = state.meters.iter().find(|meter| meter.id == line);
            let total = state
                .meter_readings
                .iter()
                .find(|read| read.told.line == line)
                .map(|read| read.total.clone());
            let record = json!({"entry": line, "axis": meter.map(|meter| &meter.axis), "offset": meter.map(|meter| &meter.offset), "total": total});
            out.show(&record, || match meter {
                Some(meter) => format!(
                    "{} is fitted; it counts on from {} ({}).",
                    meter.name,
                    total.clone().unwrap_or_default(),
                    meter.axis
                ),
                None => "Written.".into(),
            })
        }
        MeterCommand::Read { name, reading, at } => {
            let at = at.as_deref().map(Seen::given).transpose()?;
            let mut notebook = session.open()?;
            let aircraft = session.the_aircraft(&notebook)?;
            let (line, axis, total) = notebook.read_meter(&aircraft, &name, &reading, at)?;
            notebook.close()?;
            out.show(
                &json!({"entry": line, "axis": axis, "total": total}),
                || format!("Written: {axis} {total}."),
            )
        }
        MeterCommand::List => {
            let notebook = session.read()?;
            let aircraft = session.the_aircraft(&notebook)?;
            let state = notebook.state(&aircraft)?;
            let last = meters::totals(&state.meter_readings);
            let totals: Vec<_> = last
                .iter()
                .map(|read| json!({"axis": read.axis, "total": read.total, "date": read.told.seen.date()}))
                .collect();
            let meters: Vec<_> = state
                .meters
                .iter()
                .map(|meter| json!({"meter": meter.id, "name": meter.name, "kind": meter.meter, "axis": meter.axis, "offset": meter.offset, "fitted": meter.told.seen.date(), "replaced": meter.replaced_by.is_some()}))
                .collect();
            let backwards: Vec<_> = state
                .meter_readings
                .iter()
                .filter(|read| read.backwards)
                .map(|read| json!({"axis": read.axis, "total": read.total, "date": read.told.seen.date()}))
                .collect();
            out.list(
                &json!({"meters": meters, "totals": totals, "backwards": backwards}),
                &METERS,
                || {
                    let mut text = String::new();
                    for meter in &state.meters {
                        let gone = if meter.replaced_by.is_some() {
                            ", replaced"
                        } else {
                            ""
                        };
                        text.push_str(&format!(
                            "{:<14} {:<12} counts on {}, offset {}{gone}\n",
                            meter.name,
                            meter.meter.replace('_', " "),
                            meter.axis,
                            meter.offset
                        ));
                    }
                    for read in &last {
                        text.push_str(&format!(
                            "{}: {} on {}\n",
                            read.axis,
                            read.total,
                            read.told.seen.date()
                        ));
                    }
                    let who = |author: &_| notebook.shown_author(&state, author);
                    for said in meters::backwards_words(&state.meter_readings, &who) {
                        text.push_str(&format!("hint: {said}\n"));
                    }
                    if text.is_empty() {
                        text.push_str("No meter was fitted or read.\n");
                    }
                    text
                },
            )
        }
    }
}

/// Runs `component`.
pub fn component(session: &Session, command: ComponentCommand, out: &Output) -> Result<u8> {
    match command {
        ComponentCommand::Fit {
            component,
            zone,
            serial,
            position,
            convention,
            replaces,
            run_before,
            hours,
            at,
        } => {
            let at = at.as_deref().map(Seen::given).transpose()?;
            let mut notebook = session.open()?;
            let aircraft = session.the_aircraft(&notebook)?;
            let new = NewComponent {
                component,
                serial,
                zone,
                position,
                convention,
                replaces,
                run_before,
                hours,
                at,
            };
            let line = notebook.fit_component(&aircraft, &new)?;
            let state = notebook.state(&aircraft)?;
            let left = state
                .components
                .iter()
                .find(|part| part.id == line)
                .and_then(|part| part.replaces)
                .map_or(0, |old| state.left_with(&old));
            notebook.close()?;
            out.show(&json!({"component": line, "findings_left": left}), || {
                let mut text = format!("Fitted ({}).", line.short());
                if left > 0 {
                    text.push_str(&format!(
                        " Open findings that left with the old one: {left}. What is seen on this one is new."
                    ));
                }
                text
            })
        }
        ComponentCommand::Remove {
            component,
            hours,
            why,
            at,
        } => {
            let at = at.as_deref().map(Seen::given).transpose()?;
            let mut notebook = session.open()?;
            let aircraft = session.the_aircraft(&notebook)?;
            let part = notebook
                .the_component(&notebook.state(&aircraft)?, &component)?
                .id;
            let line = notebook.remove_component(
                &aircraft,
                &component,
                hours.as_deref(),
                why.as_deref(),
                at,
            )?;
            let left = notebook.state(&aircraft)?.left_with(&part);
            notebook.close()?;
            out.show(&json!({"entry": line, "findings_left": left}), || {
                format!("Removed; open findings that left with it: {left}.")
            })
        }
        ComponentCommand::List => {
            let notebook = session.read()?;
            let aircraft = session.the_aircraft(&notebook)?;
            let state = notebook.state(&aircraft)?;
            let rows: Vec<_> = state
                .components
                .iter()
                .map(|part| {
                    json!({"component": part.id, "kind": part.component, "serial": part.serial, "zone": part.zone,
                        "position": part.position, "convention": part.convention, "run_before": part.run_before,
                        "fitted": part.told.seen.date(), "fitted_hours": part.fitted, "replaces": part.replaces,
                        "removed": part.removed.as_ref().map(|(told, _)| told.seen.date().to_owned()),
                        "removed_hours": part.removed.as_ref().and_then(|(_, hours)| hours.clone())})
                })
                .collect();
            out.list(&json!({"components": rows}), &COMPONENTS, || {
                let rows: Vec<String> = state
                    .components
                    .iter()
                    .map(|part| {
                        let place = part
                            .position
                            .as_deref()
                            .map(|position| format!(", {position}"))
                            .unwrap_or_default();
                        let removed = part
                            .removed
                            .as_ref()
                            .map(|(told, _)| format!(", removed {}", told.seen.date()))
                            .unwrap_or_default();
                        format!(
                            "{}  {:<12} {:<14} zone {}{place}, fitted {}{removed}",
                            part.id.short(),
                            part.component.replace('_', " "),
                            part.serial.as_deref().unwrap_or("no serial"),
                            part.zone,
                            part.told.seen.date()
                        )
                    })
                    .collect();
                if rows.is_empty() {
                    "No component was written down.".into()
                } else {
                    rows.join("\n")
                }
            })
        }
    }
}
