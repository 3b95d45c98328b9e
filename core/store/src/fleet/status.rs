//! The desk view of whoever keeps several aircraft: worst first.

use serde::Serialize;
use std::collections::BTreeMap;
use witnessmark_core::Result;
use witnessmark_core::notebook::Notebook;

/// Gravest first, as a person sets them.
const CONCERNS: [&str; 4] = ["before-flight", "ask", "watch", "aware"];

/// One aircraft.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct AircraftStatus {
    /// Registration.
    pub registration: String,
    /// Type.
    #[serde(rename = "type")]
    pub kind: String,
    /// Date, purpose and author of the last walkaround.
    pub last_walkaround: Option<String>,
    /// Open findings by concern; `none` for those without one.
    pub open: BTreeMap<String, usize>,
    /// What is to be looked at again: where, and when as it was said.
    pub look_again: Vec<String>,
    /// Open findings that became worse, worst first: where, what, by how much.
    pub deteriorated: Vec<String>,
    /// Zones that nobody has ever looked at.
    pub never_looked_at: usize,
}

/// All of them.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct FleetStatus {
    /// Worst first: gravest concern, then how many became worse, then registration.
    pub aircraft: Vec<AircraftStatus>,
    /// What this is and is not.
    pub says: &'static str,
}

/// Looks over every aircraft of a notebook.
///
/// # Errors
/// Those of the notebook.
pub fn status(notebook: &Notebook) -> Result<FleetStatus> {
    let mut aircraft = Vec::new();
    for row in notebook.aircraft_list()? {
        let history = notebook.history(&row.id)?;
        let state = notebook.state(&row.id)?;
        let mut open: BTreeMap<String, usize> = BTreeMap::new();
        for finding in history.findings.iter().filter(|finding| finding.open) {
            let concern = finding.concern.clone().unwrap_or_else(|| "none".to_owned());
            *open.entry(concern).or_default() += 1;
        }
        let mut look_again: Vec<String> = state
            .again
            .iter()
            .map(|(zone, when)| format!("{zone}: {when}"))
            .collect();
        for finding in history.findings.iter().filter(|finding| finding.open) {
            let said = state
                .findings
                .iter()
                .find(|known| known.id == finding.id)
                .and_then(|known| known.again.clone());
            if let Some(when) = said {
                look_again.push(format!("{} {}: {when}", finding.zone_name, finding.title));
            }
        }
        aircraft.push(AircraftStatus {
            registration: history.registration.clone(),
            kind: history.kind.clone(),
            last_walkaround: history
                .walkarounds
                .last()
                .map(|walk| format!("{} {} by {}", walk.date, walk.purpose, walk.by)),
            open,
            look_again,
            deteriorated: history
                .findings
                .iter()
                .filter(|finding| finding.open && finding.change == "worse")
                .map(|finding| format!("{} {}: {}", finding.zone_name, finding.title, finding.says))
                .collect(),
            never_looked_at: history
                .zones
                .iter()
                .filter(|zone| zone.last.is_none())
                .count(),
        });
    }
    aircraft.sort_by_key(|one| {
        let gravest = CONCERNS
            .iter()
            .position(|concern| one.open.contains_key(*concern))
            .unwrap_or(CONCERNS.len());
        (
            gravest,
            std::cmp::Reverse(one.deteriorated.len()),
            one.registration.clone(),
        )
    });
    Ok(FleetStatus {
        aircraft,
        says: "This shows what people recorded. It is not a maintenance record, release or approval: what is open is for the aircraft's own manual and licensed people.",
    })
}

impl FleetStatus {
    /// For a terminal.
    pub fn to_text(&self) -> String {
        let mut out = String::new();
        for one in &self.aircraft {
            out.push_str(&format!("{}  {}\n", one.registration, one.kind));
            let last = one
                .last_walkaround
                .as_deref()
                .unwrap_or("nobody has walked round it");
            out.push_str(&format!("  last walkaround: {last}\n"));
            let open: Vec<String> = CONCERNS
                .iter()
                .copied()
                .chain(["none"])
                .filter_map(|concern| {
                    let count = one.open.get(concern)?;
                    let word = match concern {
                        "none" => "without a concern set",
                        "before-flight" => "before flight",
                        other => other,
                    };
                    Some(format!("{count} {word}"))
                })
                .collect();
            out.push_str(&format!(
                "  open findings: {}\n",
                if open.is_empty() {
                    "none recorded".to_owned()
                } else {
                    open.join(", ")
                }
            ));
            for line in &one.deteriorated {
                out.push_str(&format!("  worse: {line}\n"));
            }
            for line in &one.look_again {
                out.push_str(&format!("  look again: {line}\n"));
            }
            if one.never_looked_at > 0 {
                out.push_str(&format!(
                    "  never looked at: {} zones\n",
                    one.never_looked_at
                ));
            }
        }
        out.push('\n');
        out.push_str(self.says);
        out.push('\n');
        out
    }
}
