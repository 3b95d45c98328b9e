//! The vocabulary for recognisers: phrases ranked for a stop, a grammar, a pronouncing dictionary.

use std::collections::BTreeSet;
use std::fmt::Write as _;

use super::vocabulary::Vocabulary;
use super::words::Cue;

/// Spoken names of a zone with its side.
fn zone_phrases(v: &Vocabulary, zone: usize) -> Vec<String> {
    let Some(place) = v.places.zones.get(zone) else {
        return Vec::new();
    };
    let side = place.side.word();
    place
        .spoken
        .iter()
        .chain([&place.name])
        .map(|said| {
            if side == "none" || said.contains(side) {
                said.clone()
            } else {
                format!("{side} {said}")
            }
        })
        .collect()
}

/// Biasing phrases for a platform recogniser, the likeliest at `stop` first, at most `most`: zones of
/// the stop, conditions, units, commands, parts, then every other zone.
pub fn phrases(v: &Vocabulary, stop: Option<&str>, most: usize) -> Vec<String> {
    let mut out: Vec<String> = Vec::new();
    let mut seen = BTreeSet::new();
    let mut add = |text: String| {
        let plain = text.to_lowercase();
        if plain.chars().any(char::is_alphabetic) && seen.insert(plain.clone()) {
            out.push(plain);
        }
    };
    let here: Vec<usize> = v
        .stops
        .iter()
        .find(|s| Some(s.key.as_str()) == stop)
        .map(|s| s.zones.clone())
        .unwrap_or_default();
    for zone in &here {
        zone_phrases(v, *zone).into_iter().for_each(&mut add);
    }
    for kind in &v.kinds {
        kind.spoken.iter().take(3).cloned().for_each(&mut add);
    }
    for unit in &v.words.units {
        unit.read.iter().cloned().for_each(&mut add);
    }
    for (cue, said) in &v.words.cues {
        if cue.command().is_some() {
            said.iter().take(3).cloned().for_each(&mut add);
        }
    }
    for said in v.words.cues.get(&Cue::Part).into_iter().flatten() {
        add(said.clone());
    }
    for zone in 0..v.places.zones.len() {
        zone_phrases(v, zone).into_iter().for_each(&mut add);
    }
    for kind in &v.kinds {
        kind.spoken.iter().skip(3).cloned().for_each(&mut add);
    }
    out.truncate(most);
    out
}

/// Letters only: what a grammar may hold.
fn speakable(text: &str) -> Option<String> {
    let plain: String = text
        .to_lowercase()
        .chars()
        .map(|c| if c == '-' { ' ' } else { c })
        .collect();
    let fits = plain
        .chars()
        .all(|c| c.is_ascii_lowercase() || matches!(c, ' ' | '\''));
    let words: Vec<&str> = plain.split_whitespace().collect();
    (fits && !words.is_empty()).then(|| words.join(" "))
}

fn rule(out: &mut String, name: &str, words: impl Iterator<Item = String>) {
    let all: BTreeSet<String> = words.filter_map(|w| speakable(&w)).collect();
    let list: Vec<String> = all.into_iter().collect();
    let _ = writeln!(out, "<{name}> = {};", list.join(" | "));
}

/// A grammar in JSGF (JSpeech Grammar Format, W3C note of 5 June 2000) of the plain ways of saying a
/// finding, a look or a command; for a listener that is bound to it.
pub fn grammar(v: &Vocabulary, stop: Option<&str>) -> String {
    let mut out = String::from(
        "#JSGF V1.0;\ngrammar witnessmark;\npublic <saying> = <command> | <look> | <finding>;\n",
    );
    out.push_str("<look> = <place> <fine> | <notseen> [<place>];\n");
    out.push_str(
        "<finding> = <place> <condition> [<size>] | <condition> [<joined> <place>] [<size>];\n",
    );
    out.push_str(
        "<size> = [about] <number> <unit> [<dimension>];\n<joined> = in the | on the | at the;\n",
    );
    let zones: Vec<usize> = match v.stops.iter().find(|s| Some(s.key.as_str()) == stop) {
        Some(found) => found.zones.clone(),
        None => (0..v.places.zones.len()).collect(),
    };
    rule(
        &mut out,
        "place",
        zones.iter().flat_map(|z| zone_phrases(v, *z)),
    );
    rule(
        &mut out,
        "condition",
        v.kinds.iter().flat_map(|k| k.spoken.iter().cloned()),
    );
    // sizes only: "three millilitres deep" is what a listener makes of millimetres when it may
    let length = ["length", "area"];
    rule(
        &mut out,
        "unit",
        v.words
            .units
            .iter()
            .filter(|u| length.contains(&u.of.as_str()) && u.most > 0)
            .flat_map(|u| u.read.iter().cloned()),
    );
    let said = |cue: Cue, most: usize| {
        v.words
            .cues
            .get(&cue)
            .into_iter()
            .flatten()
            .take(most)
            .cloned()
            .collect::<Vec<_>>()
    };
    rule(
        &mut out,
        "dimension",
        [Cue::Length, Cue::Width, Cue::Depth, Cue::Diameter]
            .into_iter()
            .flat_map(|c| said(c, 1)),
    );
    rule(&mut out, "fine", said(Cue::NothingFound, 40).into_iter());
    rule(&mut out, "notseen", said(Cue::NotSeen, 30).into_iter());
    rule(
        &mut out,
        "command",
        v.words
            .cues
            .iter()
            .filter(|(c, _)| c.command().is_some())
            .flat_map(|(_, w)| w.iter().take(6).cloned()),
    );
    let n = &v.words.numbers;
    let and = n.and.first().cloned().unwrap_or_default();
    let article = n.article.first().cloned().unwrap_or_default();
    rule(
        &mut out,
        "digit",
        n.cardinals
            .iter()
            // a size is never nought, and "nil" swallows the beginning of "millimetres"
            .filter(|(_, c)| (1..20).contains(*c))
            .map(|(w, _)| w.clone()),
    );
    rule(
        &mut out,
        "tens",
        n.cardinals
            .iter()
            .filter(|(_, c)| **c >= 20)
            .map(|(w, _)| w.clone()),
    );
    let shop = |w: &&String, b: i64| {
        n.shop_denominators.contains(&b) && matches!(b, 2..=4 | 8 | 10 | 16) && !w.contains('\'')
    };
    rule(
        &mut out,
        "bottom",
        n.ordinals
            .iter()
            .filter(|(w, b)| shop(w, **b))
            .map(|(w, _)| w.clone()),
    );
    let _ = writeln!(
        out,
        "<bottoms> = <bottom> | thirty second | thirty seconds | sixty fourth | sixty fourths;"
    );
    let _ = writeln!(out, "<whole> = <digit> | <tens> [<digit>];");
    let _ = writeln!(out, "<fraction> = ({article} | <digit>) <bottoms>;");
    let _ = writeln!(
        out,
        "<number> = <whole> | <fraction> | <whole> {and} <fraction>;"
    );
    out
}

/// Words with their phones (CMU phone set) for a PocketSphinx dictionary: the trade words that the
/// common dictionary lacks, one line a pronunciation, further ones as `word(2)`.
pub fn pronunciations(v: &Vocabulary) -> String {
    let mut out = String::new();
    for (word, ways) in &v.words.pronunciations {
        for (index, phones) in ways.iter().enumerate() {
            let name = if index == 0 {
                word.clone()
            } else {
                format!("{word}({})", index + 1)
            };
            let _ = writeln!(out, "{name} {phones}");
        }
    }
    out
}
