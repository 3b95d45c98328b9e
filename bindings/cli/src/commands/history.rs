//! `history`.

use clap::Args;
use witnessmark_core::Result;

use crate::output::Output;
use crate::real::Session;

/// `history`
#[derive(Args)]
pub struct HistoryArgs {
    /// One zone.
    #[arg(long)]
    zone: Option<String>,
    /// One ATA chapter.
    #[arg(long)]
    ata: Option<String>,
    /// One finding.
    #[arg(long)]
    finding: Option<String>,
    /// Only what was seen since a date.
    #[arg(long)]
    since: Option<String>,
}

/// What deteriorated, every finding's story, what nobody looked at.
pub fn history(session: &Session, args: &HistoryArgs, out: &Output) -> Result<u8> {
    let notebook = session.read()?;
    let aircraft = session.the_aircraft(&notebook)?;
    let mut view = notebook.history(&aircraft)?;
    let state = notebook.state(&aircraft)?;
    let layout = notebook.layout_of(&state)?;
    if let Some(zone) = &args.zone {
        let code = notebook.zone_code(&layout, zone)?;
        view.findings.retain(|finding| finding.zone == code);
        view.zones.retain(|zone| zone.code == code);
    }
    if let Some(chapter) = &args.ata {
        let codes: Vec<&str> = layout
            .zones_of_chapter(chapter)
            .map(|zone| zone.code.as_str())
            .collect();
        view.findings
            .retain(|finding| codes.contains(&finding.zone.as_str()));
        view.zones
            .retain(|zone| codes.contains(&zone.code.as_str()));
    }
    if let Some(finding) = &args.finding {
        let id = notebook.finding(&state, finding)?.id;
        view.findings.retain(|finding| finding.id == id);
        view.zones.clear();
    }
    if let Some(since) = &args.since {
        witnessmark_core::record::Seen::given(since)?;
        view.findings.retain(|finding| {
            finding
                .sightings
                .iter()
                .any(|sighting| sighting.date.as_str() >= since.as_str())
        });
        view.walkarounds
            .retain(|walkaround| walkaround.date.as_str() >= since.as_str());
    }
    for odd in notebook.oddity_words() {
        out.note(&odd);
    }
    out.show(&view, || view.to_text())
}
