//! The content as a text short enough for a message.

use super::content::Content;
use super::words::{count, day, sentence};

/// Findings that are named; the rest is counted.
const NAMED: usize = 8;

/// At most about thirty short lines, whatever the history holds.
pub fn write(content: &Content) -> String {
    let mut out = format!("{} {}", content.registration, content.kind);
    if let Some(hours) = &content.total_time {
        out.push_str(&format!(", total time {hours} h"));
    }
    for meter in &content.meters {
        out.push_str(&format!(", {} {} h", meter.meter, meter.total));
    }
    if let Some(at) = &content.recorded_up_to {
        out.push_str(&format!(", recorded up to {}", day(at)));
    }
    out.push('\n');
    if content.newer {
        out.push_str("Written by a newer version; this may be incomplete.\n");
    }
    if let Some(walk) = content.walkarounds.last() {
        out.push_str(&format!(
            "Last walkaround {} by {}: looked at {} of {}.\n",
            day(&walk.date),
            walk.by,
            walk.looked,
            count(content.zones.len(), "zone")
        ));
    }
    let open: Vec<_> = content.open().collect();
    if open.is_empty() {
        out.push_str("No open finding is recorded; that does not mean that nothing is wrong.\n");
    }
    for item in open.iter().take(NAMED) {
        let number = item.number.map(|n| n.to_string()).unwrap_or_default();
        out.push_str(&format!(
            "{number}. {}: {}\n",
            shortened(&item.name(), 90),
            shortened(&item.says, 110)
        ));
    }
    if open.len() > NAMED {
        out.push_str(&format!("and {} more open.\n", open.len() - NAMED));
    }
    if let Cut::Finding(found) = cut(content) {
        for sight in found.sightings.iter().rev().take(6).rev() {
            out.push_str(&format!(
                "{}, {}: {}\n",
                day(&sight.date),
                sight.by,
                shortened(
                    &format!(
                        "{} {}",
                        sight.result.replace('_', " ").replace("present", ""),
                        sight.says
                    ),
                    140
                )
                .trim_start()
            ));
        }
    }
    let never = content.never().len();
    if never > 0 {
        out.push_str(&format!(
            "Nobody has looked at {}; that is not \"nothing found\".\n",
            count(never, "zone")
        ));
    }
    if let Some(code) = content.last_code() {
        out.push_str(&format!("Proof {}\n", code.code));
    }
    out.push_str(&sentence("no maintenance record, release or approval; the aircraft's manual and a licensed mechanic decide.\n"));
    out
}

enum Cut<'a> {
    Finding(&'a super::content::Item),
    Other,
}

fn cut(content: &Content) -> Cut<'_> {
    match (content.cut, content.findings.first()) {
        ("finding", Some(found)) => Cut::Finding(found),
        _ => Cut::Other,
    }
}

fn shortened(text: &str, most: usize) -> String {
    if text.chars().count() <= most {
        return text.to_owned();
    }
    let cut: String = text.chars().take(most.saturating_sub(1)).collect();
    format!("{cut}…")
}
