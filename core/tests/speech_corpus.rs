//! The labelled phrases of `tests/corpus`, scored slot by slot, with the bounds that a
//! draft must keep. Invented phrases, labelled by hand: the labels are the outside of this test.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use std::collections::BTreeMap;

use witnessmark_core::condition::Conditions;
use witnessmark_core::layout::Layout;
use witnessmark_core::quantity::Rational;
use witnessmark_core::speech::{Draft, Item, Kind, Utterance, Vocabulary, Words, hear};

#[derive(Default)]
struct Tally {
    right: usize,
    judged: usize,
}

fn vocabulary(layout: &str) -> Vocabulary {
    // The words as they lie in the repository, so that a changed list is tried without building.
    let file = |name: &str| {
        let path = format!("{}/words/{name}.toml", env!("CARGO_MANIFEST_DIR"));
        std::fs::read_to_string(path).unwrap()
    };
    let words = Words::parse(
        &file("en"),
        &file("en_sayings"),
        &file("en_sounds"),
        &file("en_not_slips"),
    );
    Vocabulary::new(
        Layout::built_in(layout).unwrap(),
        Conditions::built_in(),
        words.unwrap(),
    )
}

/// A labelled phrase.
struct Phrase {
    said: Utterance,
    layout: String,
    label: String,
}

/// A set of phrases; the form is told at the head of the files.
fn corpus(name: &str) -> Vec<Phrase> {
    let path = format!("{}/../tests/corpus/{name}", env!("CARGO_MANIFEST_DIR"));
    let mut layout = "high_wing_strutted_fixed".to_owned();
    let mut stop = None;
    let mut phrases = Vec::new();
    for line in std::fs::read_to_string(path).unwrap().lines() {
        if line.starts_with('#') || line.trim().is_empty() {
            continue;
        }
        if let Some(name) = line.strip_prefix("= layout ") {
            name.clone_into(&mut layout);
            stop = None;
            continue;
        }
        if let Some(key) = line.strip_prefix("= stop ") {
            stop = Some(key.to_owned());
            continue;
        }
        let (text, label) = line.rsplit_once(" | ").unwrap();
        let mut heard = text.split(" // ").map(str::to_owned);
        phrases.push(Phrase {
            said: Utterance {
                text: heard.next().unwrap(),
                alternatives: heard.collect(),
                stop: stop.clone(),
            },
            layout: layout.clone(),
            label: label.trim().to_owned(),
        });
    }
    phrases
}

fn number(text: &str) -> Rational {
    text.parse().unwrap_or_else(|_| panic!("label {text}"))
}

/// `2..3 in ~`, in one spelling.
fn measures(item: &Item) -> Vec<String> {
    item.measures
        .iter()
        .map(|m| {
            let mut out = number(&m.value).to_string();
            if let Some(to) = &m.to {
                out += &format!("..{}", number(to));
            }
            out += &format!(":{}", m.unit.as_deref().unwrap_or("none").replace(' ', "_"));
            if m.vague {
                out += ":~";
            }
            if m.change {
                out += ":+";
            }
            if let Some(was) = &m.was {
                out += &format!(":<{}", number(was));
            }
            out
        })
        .collect()
}

fn wanted(label: &str) -> String {
    let mut parts: Vec<String> = label.split(':').map(str::to_owned).collect();
    let value = parts.remove(0);
    let value = match value.split_once("..") {
        Some((a, b)) => format!("{}..{}", number(a), number(b)),
        None => number(&value).to_string(),
    };
    parts.insert(0, value);
    parts.join(":")
}

struct Score {
    blank: Item,
    slots: BTreeMap<&'static str, Tally>,
    wrong: Vec<String>,
    sure_and_wrong: Vec<String>,
    talk: usize,
    talk_found: usize,
    plain: usize,
    plain_asked: usize,
}

impl Score {
    fn slot(&mut self, text: &str, name: &'static str, wanted: &str, got: &str) {
        let tally = self.slots.entry(name).or_default();
        tally.judged += 1;
        if wanted == got {
            tally.right += 1;
        } else {
            self.wrong
                .push(format!("{text} | {name}: {got:?} instead of {wanted:?}"));
        }
    }

    fn phrase(&mut self, text: &str, label: &str, draft: &Draft) {
        let mut sides = label.split(" ;; ");
        let first = sides.next().unwrap();
        let (kind, rest) = first.split_once(' ').unwrap_or((first, ""));
        let got = match draft.kind {
            Kind::Finding => "F",
            Kind::Look => "L",
            Kind::Command => "C",
            Kind::Remark => "R",
        };
        if kind == "R" {
            self.talk += 1;
            self.talk_found += usize::from(draft.kind == Kind::Finding);
        }
        if kind == "?" && rest.is_empty() {
            return;
        }
        if kind != "?" {
            self.slot(text, "kind", kind, got);
        }
        if kind == "C" {
            self.slot(
                text,
                "command",
                rest,
                draft.command.as_deref().unwrap_or(""),
            );
            return;
        }
        if kind == "R" {
            return;
        }
        let mut asked: Vec<&str> = draft.questions.iter().map(|q| q.about.as_str()).collect();
        asked.dedup();
        let mut ask: Vec<String> = Vec::new();
        let mut ask_open = false;
        let mut items: Vec<String> = vec![rest.to_owned()];
        items.extend(sides.map(|s| {
            s.trim_start_matches("L ")
                .trim_start_matches("F ")
                .to_owned()
        }));
        self.slot(
            text,
            "items",
            &items.len().to_string(),
            &draft.items.len().to_string(),
        );
        for (index, label) in items.iter().enumerate() {
            let blank = self.blank.clone();
            let item = draft.items.get(index).unwrap_or(&blank);
            let mut want: BTreeMap<&str, String> = BTreeMap::new();
            let mut sizes: Vec<String> = Vec::new();
            let mut sizes_open = false;
            for word in label.split_whitespace() {
                match word.split_once('=') {
                    Some(("m", "?")) => sizes_open = true,
                    Some(("m", size)) => sizes.push(wanted(size)),
                    Some(("q", "?")) => ask_open = true,
                    Some(("q", about)) => ask.push(about.to_owned()),
                    Some((key, value)) => {
                        want.insert(key, value.to_owned());
                    }
                    None if word == "neg" => {
                        want.insert("neg", "true".into());
                    }
                    None => self.slot(
                        text,
                        "command",
                        word,
                        draft.command.as_deref().unwrap_or(""),
                    ),
                }
            }
            let get = |key: &str| want.get(key).cloned().unwrap_or_default();
            let judged = |key: &str| get(key) != "?";
            if judged("z") {
                let code = item.zone.as_ref().map_or("", |z| z.code.as_str());
                self.slot(text, "zone", &get("z"), code);
            }
            if judged("s") {
                let side = if get("s").is_empty() {
                    "none".to_owned()
                } else {
                    get("s")
                };
                self.slot(text, "side", &side, &item.side);
            }
            if judged("c") {
                let name = item.condition.as_ref().map_or("", |c| c.name.as_str());
                self.slot(text, "condition", &get("c"), name);
            }
            if want.contains_key("p") && judged("p") {
                let part = item
                    .part
                    .as_ref()
                    .map_or(String::new(), |p| p.name.replace(' ', "_"));
                self.slot(text, "part", &get("p"), &part);
            }
            let at = item.at.as_ref().map_or(String::new(), |a| {
                format!("{}:{}", a.value, a.unit.as_deref().unwrap_or("none"))
            });
            if judged("at") {
                self.slot(text, "at", &get("at"), &at);
            }
            if judged("look") {
                self.slot(
                    text,
                    "look",
                    &get("look"),
                    item.look.as_deref().unwrap_or(""),
                );
            }
            if judged("cmp") {
                self.slot(
                    text,
                    "compare",
                    &get("cmp"),
                    item.compare.as_deref().unwrap_or(""),
                );
            }
            if judged("b") {
                let basis = item.basis.as_deref().filter(|b| *b != "seen").unwrap_or("");
                self.slot(text, "basis", &get("b"), basis);
            }
            if judged("neg") {
                let negated = if item.negated { "true" } else { "" };
                self.slot(text, "negated", &get("neg"), negated);
            }
            if !sizes_open {
                let got = measures(item);
                self.slot(text, "measures", &sizes.join(" "), &got.join(" "));
                let known: Vec<&String> = got.iter().filter(|m| !m.contains(":none")).collect();
                let asks_number = asked.contains(&"number") || asked.contains(&"unit");
                if known.iter().any(|m| !sizes.contains(m)) && !asks_number {
                    self.sure_and_wrong.push(format!("{text}: {got:?}"));
                }
            }
        }
        if !ask_open {
            ask.sort();
            let mut got: Vec<String> = asked.iter().map(|a| (*a).to_owned()).collect();
            got.sort();
            got.dedup();
            if ask.is_empty() && !label.contains("m=?") {
                self.plain += 1;
                self.plain_asked += usize::from(!got.is_empty());
            }
            if !label.contains("m=?") {
                self.slot(text, "questions", &ask.join(" "), &got.join(" "));
            }
        }
    }
}

/// A draft's item with nothing in it, for a phrase that gave fewer items than its label.
fn blank() -> Item {
    let v = vocabulary("high_wing_strutted_fixed");
    let said = Utterance {
        text: "nothing found".into(),
        ..Utterance::default()
    };
    let mut item = hear(&v, &said).unwrap().items[0].clone();
    item.look = None;
    item
}

/// Scores a set and prints the share of each slot; what was wrong only of a set that is tuned on: whoever
/// reads the lines of the others soon tunes on them too.
fn scored(name: &str, tuned_on: bool) -> Score {
    let corpus = corpus(name);
    let mut vocabularies: BTreeMap<String, Vocabulary> = BTreeMap::new();
    let mut score = Score {
        blank: blank(),
        slots: BTreeMap::new(),
        wrong: Vec::new(),
        sure_and_wrong: Vec::new(),
        talk: 0,
        talk_found: 0,
        plain: 0,
        plain_asked: 0,
    };
    for phrase in &corpus {
        let v = vocabularies
            .entry(phrase.layout.clone())
            .or_insert_with(|| vocabulary(&phrase.layout));
        let draft = hear(v, &phrase.said).unwrap();
        score.phrase(&phrase.said.text, &phrase.label, &draft);
    }
    for line in score.wrong.iter().filter(|_| tuned_on) {
        println!("   {line}");
    }
    println!("{name}: {} phrases", corpus.len());
    for (slot, tally) in &score.slots {
        println!(
            "{slot:10} {:4} of {:4}  {:.1} %",
            tally.right,
            tally.judged,
            100.0 * tally.right as f64 / tally.judged as f64
        );
    }
    println!(
        "remarks that became findings: {} of {}",
        score.talk_found, score.talk
    );
    println!(
        "asked where not needed: {} of {}",
        score.plain_asked, score.plain
    );
    println!("wrong and certain: {}", score.sure_and_wrong.len());
    for line in score.sure_and_wrong.iter().filter(|_| tuned_on) {
        println!("   {line}");
    }
    score
}

fn held_to_the_bounds(name: &str) {
    let score = scored(name, true);
    for (slot, tally) in &score.slots {
        let share = tally.right as f64 / tally.judged as f64;
        let bound = if *slot == "measures" { 0.98 } else { 0.95 };
        assert!(share >= bound, "{slot}: {share:.3}");
    }
    assert!(score.sure_and_wrong.is_empty());
    assert!(score.talk_found * 50 <= score.talk);
    assert!(score.plain_asked * 20 <= score.plain);
}

#[test]
fn every_slot_of_the_first_set_is_right_often_enough() {
    assert!(corpus("speech.txt").len() >= 300);
    held_to_the_bounds("speech.txt");
}

#[test]
fn every_slot_of_the_second_set_is_right_often_enough() {
    held_to_the_bounds("speech_second.txt");
}

#[test]
fn every_slot_of_the_third_set_is_right_often_enough() {
    assert!(corpus("speech_third.txt").len() >= 250);
    held_to_the_bounds("speech_third.txt");
}

#[test]
fn every_slot_of_the_fourth_set_is_right_often_enough() {
    assert!(corpus("speech_fourth.txt").len() >= 200);
    held_to_the_bounds("speech_fourth.txt");
}

/// Phrases that the rules were never changed for: printed, so that everybody sees the honest figure, and
/// held to what they reached, so that it does not get worse unseen.
fn kept_apart(name: &str, slot_least: f64, measures_least: f64, sure_and_wrong: usize) {
    let score = scored(name, false);
    assert!(score.talk > 10 && score.plain > 40);
    for (slot, tally) in score.slots.iter().filter(|(_, t)| t.judged >= 20) {
        let share = tally.right as f64 / tally.judged as f64;
        let least = if *slot == "measures" {
            measures_least
        } else {
            slot_least
        };
        assert!(share >= least, "{slot}: {share:.3}");
    }
    assert!(score.sure_and_wrong.len() <= sure_and_wrong);
    assert!(score.talk_found * 5 <= score.talk);
    assert!(score.plain_asked * 10 <= score.plain);
}

#[test]
fn the_first_set_kept_apart_is_printed_and_bounded() {
    kept_apart("speech_holdout.txt", 0.9, 0.95, 0);
}

#[test]
fn the_second_set_kept_apart_is_printed_and_bounded() {
    kept_apart("speech_holdout_second.txt", 0.94, 0.98, 0);
}

#[test]
fn the_third_set_kept_apart_is_printed_and_bounded() {
    assert!(corpus("speech_holdout_third.txt").len() >= 150);
    kept_apart("speech_holdout_third.txt", 0.83, 0.95, 2);
}
