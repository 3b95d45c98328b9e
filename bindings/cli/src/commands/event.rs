//! `event`, `read-before-flight`.

use clap::Args;
use serde_json::json;
use witnessmark_core::notebook::screens;
use witnessmark_core::record::Seen;
use witnessmark_core::{Error, ErrorKind, Result};

use crate::output::Output;
use crate::real::Session;

/// `event`
#[derive(Args)]
pub struct EventArgs {
    /// hard landing, propeller strike, hail …; without one, all kinds are listed.
    kind: Option<String>,
    /// Your own words.
    #[arg(long)]
    text: Option<String>,
    /// Zones concerned, where only some are: those that were painted.
    #[arg(long = "zone")]
    zones: Vec<String>,
    /// When it happened, if not now.
    #[arg(long)]
    at: Option<String>,
    /// Only show where to look; write nothing.
    #[arg(long)]
    list: bool,
    /// End the hold of an event: first digits of its entry. Needs --why.
    #[arg(long, value_name = "ENTRY", requires = "why", conflicts_with = "kind")]
    lift_hold: Option<String>,
    /// Why evidence may be removed again, and who released it.
    #[arg(long)]
    why: Option<String>,
}

/// Writes an event and says where to look.
pub fn event(session: &Session, args: &EventArgs, out: &Output) -> Result<u8> {
    if let (Some(entry), Some(why)) = (&args.lift_hold, &args.why) {
        let mut notebook = session.open()?;
        let aircraft = session.the_aircraft(&notebook)?;
        let event = notebook.entry(entry, &["event"])?.digest;
        let line = notebook.lift_hold(&aircraft, &event, why)?;
        notebook.close()?;
        return out.show(&json!({"entry": line}), || "Written.".into());
    }
    let Some(kind) = &args.kind else {
        let list = screens::event_list();
        let rows: Vec<_> = list
            .iter()
            .map(|event| json!({"key": event.key, "title": event.title, "words": event.words}))
            .collect();
        return out.show(&json!({"events": rows}), || {
            list.iter()
                .map(|event| format!("{:<18} {}", event.key, event.words))
                .collect::<Vec<_>>()
                .join("\n")
        });
    };
    let at = args.at.as_deref().map(Seen::given).transpose()?;
    let (entry, view) = if args.list {
        let notebook = session.read()?;
        let aircraft = session.the_aircraft(&notebook)?;
        (None, notebook.event_view(&aircraft, kind)?)
    } else {
        let mut notebook = session.open()?;
        let aircraft = session.the_aircraft(&notebook)?;
        let line =
            notebook.write_event_of(&aircraft, kind, args.text.as_deref(), &args.zones, at)?;
        let view = notebook.event_view(&aircraft, kind)?;
        notebook.close()?;
        (Some(line), view)
    };
    if view.places.is_empty() {
        return Err(Error::new(
            ErrorKind::Unknown,
            "the layout of this aircraft has no zone of the event's list",
        )
        .hint("witnessmark layout choose"));
    }
    let places: Vec<_> = view
        .places
        .iter()
        .map(|place| {
            let look_for: Vec<_> = place
                .look_for
                .iter()
                .map(|look| json!({"text": look.text, "source": look.source}))
                .collect();
            json!({"zone": place.zone, "name": place.name, "look_for": look_for})
        })
        .collect();
    let record = json!({"entry": entry, "event": view.key, "title": view.title, "cannot_clear": view.cannot_clear,
        "asks": view.asks, "cautions": view.cautions, "hold": view.hold, "source": view.source, "places": places});
    out.show(&record, || {
        let mut text = format!("{}\n{}\n", view.title, view.cannot_clear);
        for ask in &view.asks {
            text.push_str(&format!("  ask: {ask}\n"));
        }
        for caution in &view.cautions {
            text.push_str(&format!("  caution: {caution}\n"));
        }
        text.push_str(&format!("Where to look ({}):\n", view.source));
        for place in &view.places {
            text.push_str(&format!("  {}  {}\n", place.zone, place.name));
            for look in &place.look_for {
                text.push_str(&format!("       {} ({})\n", look.text, look.source));
            }
        }
        if let Some(entry) = entry {
            text.push_str(&format!(
                "Written as {}. witnessmark walkaround start --purpose \"after event\" --event {}\n",
                entry.short(),
                entry.short()
            ));
            if view.hold {
                text.push_str("Evidence of it is not removed until the hold is lifted (49 CFR 830.10 and the rules of the place): --lift-hold.\n");
            }
        }
        text
    })
}

/// The open findings, and that they were read.
pub fn read_before_flight(session: &Session, out: &Output) -> Result<u8> {
    let mut notebook = session.open()?;
    let aircraft = session.the_aircraft(&notebook)?;
    let mut view = notebook.history(&aircraft)?;
    view.findings.retain(|finding| finding.open);
    let line = notebook.read_before_flight(&aircraft)?;
    notebook.close()?;
    let findings: Vec<&str> = view
        .findings
        .iter()
        .map(|finding| finding.short.as_str())
        .collect();
    out.show(&json!({"entry": line, "findings": findings}), || {
        let mut text = String::new();
        for finding in &view.findings {
            text.push_str(&format!(
                "{}  {}: {}; {}\n",
                finding.short,
                finding.zone_name,
                finding.title.to_lowercase(),
                finding.says
            ));
        }
        text.push_str("Written: read before flight. Whether the aircraft may fly is the pilot's and a licensed mechanic's to settle.\n");
        text
    })
}
