//! A history for a terminal.

use super::super::meters;
use super::shapes::{HistoryView, SightingView};
use super::words::trend_words;

impl HistoryView {
    /// For a terminal.
    pub fn to_text(&self) -> String {
        let mut out = format!("{}  {}\n", self.registration, self.kind);
        if self.newer {
            out.push_str("Written by a newer version; this view may be incomplete.\n");
        }
        for walkaround in &self.walkarounds {
            let hours = walkaround
                .hours
                .as_deref()
                .map(|hours| hours_on(hours, walkaround.meter.as_deref()))
                .unwrap_or_default();
            let clock = if walkaround.given_clock {
                "  (clock given by hand)"
            } else {
                ""
            };
            let open = if walkaround.finished {
                ""
            } else {
                "  (not finished)"
            };
            out.push_str(&format!(
                "  {}  {:<10}  {:<18}  {}{open}{clock}\n",
                walkaround.date, hours, walkaround.purpose, walkaround.by
            ));
        }
        for (title, open) in [
            ("\nOpen, deteriorated first\n", true),
            ("\nClosed\n", false),
        ] {
            if !self.findings.iter().any(|finding| finding.open == open) {
                continue;
            }
            out.push_str(title);
            for finding in self.findings.iter().filter(|finding| finding.open == open) {
                let part = finding
                    .part
                    .as_deref()
                    .map(|part| format!(", {part}"))
                    .unwrap_or_default();
                let concern = finding
                    .concern
                    .as_deref()
                    .map(|concern| format!("  [{}]", concern.replace('_', " ")))
                    .unwrap_or_default();
                out.push_str(&format!(
                    "  {}  {}: {}{part}{concern}\n",
                    finding.short,
                    finding.zone_name,
                    finding.title.to_lowercase()
                ));
                let closed = finding
                    .closed_how
                    .as_deref()
                    .map(|how| format!("; closed: {how}"))
                    .unwrap_or_default();
                out.push_str(&format!("             {}{closed}\n", finding.says));
                for sighting in &finding.sightings {
                    let hours = sighting
                        .hours
                        .as_deref()
                        .map(|hours| format!(" {}", hours_on(hours, sighting.meter.as_deref())))
                        .unwrap_or_default();
                    let result = if sighting.result == "present" {
                        String::new()
                    } else {
                        format!("{} ", sighting.result.replace('_', " "))
                    };
                    let late = sighting
                        .recognised
                        .as_ref()
                        .map(|(on, by)| format!(" (recognised later, on {on} by {by})"))
                        .unwrap_or_default();
                    out.push_str(&format!(
                        "             {}{hours}  {}: {result}{}{late}\n",
                        sighting.date, sighting.by, sighting.says
                    ));
                    if let Some(line) = step_line(sighting) {
                        out.push_str(&format!("               {line}\n"));
                    }
                }
                let trends: Vec<String> = finding
                    .series
                    .iter()
                    .filter_map(|series| trend_words(series.trend.as_ref()?))
                    .collect();
                for line in [
                    finding.started.as_ref().map(|started| started.says.clone()),
                    finding.returned.clone(),
                    finding.dressed.clone(),
                    finding.covered.as_ref().map(|(date, by)| {
                        format!("covered by new paint since {date} ({by}), not gone")
                    }),
                    finding.limit_reached.then(|| {
                        "the limit set by a person is reached: show it to a licensed mechanic or inspector"
                            .to_owned()
                    }),
                    finding
                        .again
                        .as_ref()
                        .map(|again| format!("look again {again}")),
                    (!finding.not_asked.is_empty()).then(|| {
                        let looks: Vec<String> = finding
                            .not_asked
                            .iter()
                            .map(|(date, by)| format!("{date} {by}"))
                            .collect();
                        format!(
                            "not asked when nothing was found there: {}",
                            looks.join(", ")
                        )
                    }),
                ]
                .into_iter()
                .flatten()
                .chain(trends)
                {
                    out.push_str(&format!("             {line}\n"));
                }
                for (date, by, words) in &finding.steps {
                    out.push_str(&format!("             {date}  {by}: {words}\n"));
                }
            }
        }
        for line in &self.backwards {
            out.push_str(&format!("\nhint: {line}\n"));
        }
        let outside: Vec<String> = self
            .zones
            .iter()
            .flat_map(|zone| zone.outside.iter().map(move |look| (zone, look)))
            .map(|(zone, look)| {
                let says = if look.says.is_empty() {
                    String::new()
                } else {
                    format!(" ({})", look.says)
                };
                format!(
                    "  {}  {} {}: {}, {}{says}\n",
                    look.date,
                    zone.code,
                    zone.name,
                    look.result.replace('_', " "),
                    look.by
                )
            })
            .collect();
        if !outside.is_empty() {
            out.push_str("\nLooked at outside any walkaround\n");
            out.extend(outside);
        }
        let never: Vec<String> = self
            .zones
            .iter()
            .filter(|zone| zone.last.is_none())
            .map(|zone| format!("{} {}", zone.code, zone.name))
            .collect();
        if !never.is_empty() {
            out.push_str(&format!(
                "\nNobody has looked at ({}):\n  {}\n",
                never.len(),
                never.join("; ")
            ));
        }
        if self.unplaced > 0 {
            out.push_str(&format!("\n{} captures are unplaced.\n", self.unplaced));
        }
        out.push_str("\n\"Not looked at\" is not \"nothing found\". This is not a maintenance record, release or approval:\nshow what is open to a licensed mechanic or inspector; the aircraft's own manual comes first.\n");
        out
    }
}

fn hours_on(hours: &str, meter: Option<&str>) -> String {
    match meter {
        Some(meter) if meter != meters::shown(meters::TOTAL_TIME) => {
            format!("{hours} h on {meter}")
        }
        _ => format!("{hours} h"),
    }
}

/// Steps that changed against the one before: what went up and down again stays in sight.
fn step_line(sighting: &SightingView) -> Option<String> {
    let step = sighting
        .step_before
        .as_ref()
        .filter(|step| step.change != "same")?;
    let direction = if step.change == "worse" { "up" } else { "down" };
    Some(format!(
        "{direction} from {} to {}",
        step.from.replace('_', " "),
        step.to.replace('_', " ")
    ))
}
