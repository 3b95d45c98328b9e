//! Help for typing: completions of what is being written.

use super::vocabulary::Vocabulary;

/// Zones and conditions that go on from the last words of `text`, those of the stop first, at most
/// `most`. An empty text gives the stop's zones.
pub fn completions(v: &Vocabulary, text: &str, stop: Option<&str>, most: usize) -> Vec<String> {
    let lower = text.to_lowercase();
    let words: Vec<&str> = lower.split_whitespace().collect();
    let mut out: Vec<(usize, usize, String)> = Vec::new();
    // the longest tail of what was typed that begins something counts
    for tail in (0..=words.len().min(3)).rev() {
        let start = words.len().saturating_sub(tail);
        let prefix = words.get(start..).unwrap_or(&[]).join(" ");
        if prefix.is_empty() && !text.trim().is_empty() {
            continue;
        }
        for zone in &v.places.zones {
            let here = stop.is_some_and(|s| zone.stops.iter().any(|x| x == s));
            if prefix.is_empty() && !here {
                continue;
            }
            if zone.name.to_lowercase().starts_with(&prefix)
                || zone
                    .spoken
                    .iter()
                    .any(|s| s.to_lowercase().starts_with(&prefix))
            {
                out.push((3 - tail, usize::from(!here), zone.name.clone()));
            }
        }
        if prefix.is_empty() {
            continue;
        }
        for kind in &v.kinds {
            if kind.title.to_lowercase().starts_with(&prefix)
                || kind.spoken.iter().any(|s| s.starts_with(&prefix))
            {
                out.push((3 - tail, 2, kind.title.clone()));
            }
        }
    }
    out.sort();
    let mut seen = std::collections::BTreeSet::new();
    out.into_iter()
        .map(|(_, _, text)| text)
        .filter(|text| seen.insert(text.clone()))
        .take(most)
        .collect()
}
