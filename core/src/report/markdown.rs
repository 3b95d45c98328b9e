//! The content as CommonMark with tables (GFM), for a ticket, a forum or a text file.

use std::fmt::Write as _;

use super::content::Content;
use super::words::{concern, day, hours as hours_words, look, sentence, short_day};

/// The whole content as Markdown.
pub fn write(content: &Content) -> String {
    let mut out = format!(
        "# {} {}\n\n",
        safe(&content.registration),
        safe(&content.kind)
    );
    let serial = content.serial.as_deref().unwrap_or("not given");
    let meters: String = content
        .meters
        .iter()
        .map(|meter| format!("; {} {} h", meter.meter, meter.total))
        .collect();
    let hours = content
        .total_time
        .as_deref()
        .map_or_else(|| "not recorded".to_owned(), |hours| format!("{hours} h"));
    line(
        &mut out,
        &format!(
            "Serial {}; airframe total time {}{}",
            safe(serial),
            safe(&hours),
            safe(&meters)
        ),
    );
    if let Some(at) = &content.recorded_up_to {
        line(&mut out, &format!("Recorded up to {}", day(at)));
    }
    if !content.only.is_empty() {
        line(
            &mut out,
            &format!("Only {}", safe(&content.only.join(", "))),
        );
    }
    for notice in &content.notices {
        let _ = writeln!(out, "> {notice}\n>");
    }
    out.push('\n');
    if content.newer {
        line(
            &mut out,
            "Written by a newer version; this view may be incomplete.",
        );
    }
    out.push_str("## Open, what deteriorated first\n\n");
    if content.open().next().is_none() {
        line(
            &mut out,
            "No open finding is recorded. That does not mean that nothing is wrong.",
        );
    } else {
        let rows = content.open().map(|item| {
            vec![
                item.number.map(|n| n.to_string()).unwrap_or_default(),
                item.short.clone(),
                item.name(),
                sentence(&item.says),
                item.size_now.clone().unwrap_or_default(),
                format!("{}, {}", short_day(&item.earliest.date), item.earliest.by),
                item.concern
                    .as_deref()
                    .map_or("not said", concern)
                    .to_owned(),
            ]
        });
        table(
            &mut out,
            &[
                "No.",
                "Code",
                "Place and condition",
                "Change",
                "Now",
                "Since",
                "Concern",
            ],
            rows,
        );
    }
    out.push_str("## Each finding\n\n");
    for item in &content.findings {
        let state = if item.open { "" } else { " (closed)" };
        let _ = writeln!(
            out,
            "### {} {}{state}\n",
            safe(&item.short),
            safe(&item.name())
        );
        line(&mut out, &safe(&sentence(&item.says)));
        for (name, text) in [
            ("In the words of who opened it", item.text.clone()),
            ("Began", item.began.clone()),
            (
                "Covered by paint",
                item.covered.as_ref().map(|covered| {
                    format!("since {} ({}), not gone", day(&covered.date), covered.by)
                }),
            ),
            ("Came back", item.returned.clone()),
            ("Dressed off", item.dressed.clone()),
            (
                "Trend",
                (!item.trends.is_empty()).then(|| item.trends.join("; ")),
            ),
            (
                "Not asked, though nothing was found in its zone",
                (!item.not_asked.is_empty()).then(|| {
                    item.not_asked
                        .iter()
                        .map(|look| format!("{} by {}", day(&look.date), look.by))
                        .collect::<Vec<_>>()
                        .join(", ")
                }),
            ),
            ("Limit set by a person", item.limit.clone()),
            ("Look again", item.again.clone()),
            (
                "Not known",
                (!item.unsure.is_empty()).then(|| item.unsure.join(", ").replace('_', " ")),
            ),
            ("Window", item.window.clone()),
            ("Closed", item.closed.clone()),
            ("Proof code", item.code.clone()),
        ] {
            if let Some(text) = text {
                line(&mut out, &format!("{name}: {}", safe(&text)));
            }
        }
        let rows = item.sightings.iter().map(|sight| {
            let result = if sight.result == "present" {
                String::new()
            } else {
                format!("{} ", sight.result.replace('_', " "))
            };
            vec![
                short_day(&sight.date),
                sight
                    .hours
                    .as_deref()
                    .map(|hours| hours_words(hours, sight.meter.as_deref()))
                    .unwrap_or_default(),
                sight.by.clone(),
                format!(
                    "{result}{}{}",
                    sight.says,
                    sight
                        .recognised
                        .as_ref()
                        .map(|later| format!(
                            " (recognised later, on {} by {})",
                            short_day(&later.date),
                            later.by
                        ))
                        .unwrap_or_default()
                ),
                sight.before.clone().unwrap_or_default(),
                sight.first.clone().unwrap_or_default(),
            ]
        });
        table(
            &mut out,
            &[
                "Date",
                "Hours",
                "By",
                "Seen",
                "Against the one before",
                "Against the first",
            ],
            rows,
        );
        for step in &item.steps {
            let shown = step
                .shown_by
                .as_ref()
                .map(|by| format!(" (shown by {by})"))
                .unwrap_or_default();
            let _ = writeln!(
                out,
                "- {}, {}: {}{}",
                day(&step.date),
                safe(&step.by),
                safe(&step.says),
                safe(&shown)
            );
        }
        for photo in &item.photos {
            if let Some(file) = &photo.file {
                let _ = writeln!(
                    out,
                    "- photo of {}, {}, SHA-256 `{file}`",
                    day(&photo.date),
                    safe(&photo.by)
                );
            }
        }
        out.push('\n');
    }
    out.push_str(
        "## Zones and their last look\n\nNot looked at is not the same as nothing found.\n\n",
    );
    let rows = content.zones.iter().map(|zone| {
        let (said, when) = zone.last_look(&content.walkarounds).map_or_else(
            || ("not looked at".to_owned(), String::new()),
            |(result, says, date, by)| {
                let why = if says.is_empty() {
                    String::new()
                } else {
                    format!(": {says}")
                };
                (
                    format!("{}{why}", look(result)),
                    format!("{}, {by}", short_day(date)),
                )
            },
        );
        vec![format!("{} {}", zone.code, zone.name), said, when]
    });
    table(&mut out, &["Zone", "Last look", "When, by whom"], rows);
    if !content.agreement.is_empty() {
        out.push_str("## Papers, and whether they agree\n\n");
        let rows = content.agreement.iter().map(|row| {
            vec![
                row.about.clone(),
                row.result.replace('_', " "),
                row.says.clone().unwrap_or_default(),
                row.by.by.clone(),
            ]
        });
        table(
            &mut out,
            &["About", "Result", "What the paper says", "Compared by"],
            rows,
        );
    }
    if !content.readings.is_empty() {
        out.push_str("## Readings\n\n");
        let rows = content.readings.iter().map(|row| {
            vec![
                short_day(&row.date),
                row.by.clone(),
                row.reading.clone(),
                row.says.clone(),
            ]
        });
        table(&mut out, &["Date", "By", "Reading", "Value"], rows);
    }
    out.push_str("## Proof codes\n\n");
    let rows = content
        .proof
        .codes
        .iter()
        .map(|code| vec![short_day(&code.date), code.by.clone(), code.code.clone()]);
    table(&mut out, &["Walkaround", "By", "Code"], rows);
    out
}

fn line(out: &mut String, text: &str) {
    let end = if text.ends_with(['.', '!', '?']) {
        ""
    } else {
        "."
    };
    let _ = writeln!(out, "{text}{end}\n");
}

pub(super) fn table(out: &mut String, heads: &[&str], rows: impl Iterator<Item = Vec<String>>) {
    let _ = writeln!(out, "| {} |", heads.join(" | "));
    let _ = writeln!(out, "|{}", " --- |".repeat(heads.len()));
    for row in rows {
        let cells: Vec<String> = row.iter().map(|cell| safe(cell)).collect();
        let _ = writeln!(out, "| {} |", cells.join(" | "));
    }
    out.push('\n');
}

/// Text stays text: every ASCII punctuation mark may be escaped (CommonMark 0.31, 2.4). Dots, commas
/// and what cannot begin anything inside a line stay readable.
fn safe(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '\\' | '`' | '*' | '_' | '[' | ']' | '<' | '>' | '#' | '|' | '!' | '~' | '&' => {
                out.push('\\');
                out.push(c);
            }
            c if c.is_control() => out.push(' '),
            c => out.push(c),
        }
    }
    out
}
