//! `layout`.

use std::path::PathBuf;

use clap::Subcommand;
use serde_json::json;
use witnessmark_core::layout::{CODES_NOTE, Layout, ROUTE_NOTE, Route, Turn, check_toml};
use witnessmark_core::report::listing::Columns;
use witnessmark_core::{Error, ErrorKind, Result};

use crate::output::Output;
use crate::real::Session;

/// Largest layout file read, in bytes.
const LAYOUT_LIMIT: u64 = 4 << 20;

/// `layout`
#[derive(Subcommand)]
pub enum LayoutCommand {
    /// The layouts built in.
    List,
    /// Zones and stops of one.
    Show {
        /// Name.
        name: String,
    },
    /// The stops in the order in which they are walked: as published, turned for a door on the other
    /// side, from another stop, or in your own order. The type's own manual comes first.
    Route {
        /// Name.
        name: String,
        /// The other way round.
        #[arg(long)]
        turned: bool,
        /// Stop to start at.
        #[arg(long, value_name = "STOP")]
        from: Option<String>,
        /// Your own order of stops, as the type's manual has it; what is left out comes last.
        #[arg(long, value_delimiter = ',', value_name = "STOP,STOP…", conflicts_with_all = ["turned", "from"])]
        order: Vec<String>,
    },
    /// The zone at a point of a drawing: inches, x and y as the layout's file draws them.
    ZoneAt {
        /// Name.
        name: String,
        /// The point: "X,Y".
        #[arg(allow_hyphen_values = true)]
        point: String,
        /// Which drawing: plan, below, left_side, right_side, cabin.
        #[arg(long, default_value = "plan")]
        view: String,
    },
    /// Every mistake in a file of your own.
    Check {
        /// TOML file.
        file: PathBuf,
    },
    /// Use a layout for the aircraft from now on.
    Choose {
        /// Name of a built-in one, or a file.
        name: String,
    },
}

/// Columns of `layout list`.
const LAYOUTS: Columns = Columns {
    at: "/layouts",
    within: None,
    columns: &[("name", "/name"), ("title", "/title")],
};

/// Columns of `layout show`.
const ZONES: Columns = Columns {
    at: "/zones",
    within: None,
    columns: &[("code", "/code"), ("name", "/name"), ("side", "/side")],
};

/// Runs it.
pub fn run(session: &Session, command: LayoutCommand, out: &Output) -> Result<u8> {
    match command {
        LayoutCommand::List => {
            let layouts: Vec<_> = Layout::all()
                .iter()
                .map(|layout| json!({"name": layout.name, "title": layout.title}))
                .collect();
            out.list(&json!({"layouts": layouts}), &LAYOUTS, || {
                Layout::all()
                    .iter()
                    .map(|layout| format!("{:<28} {}", layout.name, layout.title))
                    .collect::<Vec<_>>()
                    .join("\n")
            })
        }
        LayoutCommand::Show { name } => {
            let layout = built_in(&name)?;
            let zones: Vec<_> = layout
                .zones
                .iter()
                .map(|zone| json!({"code": zone.code, "name": zone.name, "side": zone.side.word()}))
                .collect();
            out.list(
                &json!({"name": layout.name, "zones": zones, "stops": layout.stops}),
                &ZONES,
                || {
                    let mut text = format!(
                        "{}\n{CODES_NOTE}\n{ROUTE_NOTE} {}\n{}\n",
                        layout.title,
                        layout.route_source,
                        layout.jasc_edition.as_deref().unwrap_or_default()
                    );
                    for stop in &layout.stops {
                        text.push_str(&format!("\n{}\n", stop.name));
                        for code in &stop.zones {
                            if let Some(zone) = layout.zone(code) {
                                text.push_str(&format!("  {}  {}\n", zone.code, zone.name));
                            }
                        }
                        for look in &stop.look_for {
                            text.push_str(&format!(
                                "    look for: {} ({})\n",
                                look.text, look.source
                            ));
                        }
                        for caution in &stop.cautions {
                            text.push_str(&format!("    caution: {caution}\n"));
                        }
                    }
                    text
                },
            )
        }
        LayoutCommand::Route {
            name,
            turned,
            from,
            order,
        } => {
            let layout = built_in(&name)?;
            let route = Route {
                turn: if turned {
                    Turn::Clockwise
                } else {
                    Turn::CounterClockwise
                },
                start: from,
                order,
            };
            let stops = layout.route(&route)?;
            let rows: Vec<_> = stops
                .iter()
                .map(|stop| json!({"key": stop.key, "name": stop.name, "zones": stop.zones}))
                .collect();
            out.show(
                &json!({"name": layout.name, "route": route, "stops": rows, "source": layout.route_source, "note": ROUTE_NOTE}),
                || {
                    let mut text = format!("{ROUTE_NOTE} {}\n", layout.route_source);
                    for (at, stop) in stops.iter().enumerate() {
                        text.push_str(&format!("{:>3}  {:<24} {}\n", at + 1, stop.key, stop.name));
                    }
                    text
                },
            )
        }
        LayoutCommand::ZoneAt { name, point, view } => {
            let layout = built_in(&name)?;
            let hit = layout.zone_hit(&view, &point)?;
            out.show(
                &json!({"name": layout.name, "view": view, "zone": hit.map(|zone| json!({"code": zone.code, "name": zone.name, "side": zone.side.word()}))}),
                || {
                    hit.map_or_else(
                        || "No zone is drawn there.".to_owned(),
                        |zone| format!("{}  {}", zone.code, zone.name),
                    )
                },
            )
        }
        LayoutCommand::Check { file } => {
            let text = read_text(session, &file)?;
            let check = check_toml(&text);
            let status = u8::from(!check.usable) * 2;
            out.show(&check, || check.to_text())?;
            Ok(status)
        }
        LayoutCommand::Choose { name } => {
            let text = if Layout::built_in(&name).is_some() {
                name.clone()
            } else {
                read_text(session, &PathBuf::from(&name))?
            };
            let mut notebook = session.open()?;
            let aircraft = session.the_aircraft(&notebook)?;
            let line = notebook.choose_layout(&aircraft, &text)?;
            notebook.close()?;
            out.show(&json!({"entry": line}), || {
                "Chosen; what was placed before keeps the layout it was placed with.".into()
            })
        }
    }
}

fn built_in(name: &str) -> Result<&'static Layout> {
    Layout::built_in(name).ok_or_else(|| {
        Error::new(ErrorKind::Unknown, format!("there is no layout \"{name}\""))
            .hint("witnessmark layout list names them")
    })
}

fn read_text(session: &Session, file: &std::path::Path) -> Result<String> {
    let bytes = session
        .world()?
        .files
        .read(file, LAYOUT_LIMIT)
        .map_err(|error| {
            if error.kind() == std::io::ErrorKind::FileTooLarge {
                Error::new(ErrorKind::TooLarge, "a layout file holds at most 4 MB")
                    .at(file.display())
            } else {
                Error::io(&error, file.display())
            }
        })?;
    String::from_utf8(bytes).map_err(|_| {
        Error::new(ErrorKind::BadFormat, "not a text file")
            .at(file.display())
            .hint("a layout is TOML text in UTF-8")
    })
}
