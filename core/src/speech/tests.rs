//! Tests over a small invented layout.

use super::place::{Hand, Place};
use super::vocabulary::{KindOfDefect as Condition, StopWords as Standing};
use super::*;

pub(super) fn vocabulary() -> Vocabulary {
    let zone = |code: &str, name: &str, side: Hand, pair: Option<usize>, spoken: &[&str]| Place {
        code: code.into(),
        name: name.into(),
        side,
        pair,
        spoken: spoken.iter().map(|s| (*s).to_owned()).collect(),
        stops: Vec::new(),
    };
    let zones = vec![
        zone(
            "711",
            "left main wheel fairing",
            Hand::Left,
            Some(1),
            &["left main fairing", "left spat"],
        ),
        zone(
            "712",
            "right main wheel fairing",
            Hand::Right,
            Some(0),
            &["right main fairing", "right spat"],
        ),
        zone("510", "left wing", Hand::Left, Some(3), &["left wing"]),
        zone("610", "right wing", Hand::Right, Some(2), &["right wing"]),
        zone("410", "propeller", Hand::None, None, &["propeller"]),
        zone("420", "spinner", Hand::None, None, &["spinner"]),
        zone("551", "left flap", Hand::Left, Some(7), &["left flap"]),
        zone("651", "right flap", Hand::Right, Some(6), &["right flap"]),
        zone(
            "731",
            "left main tire",
            Hand::Left,
            Some(9),
            &["left main tire", "left tire"],
        ),
        zone(
            "732",
            "right main tire",
            Hand::Right,
            Some(8),
            &["right main tire", "right tire"],
        ),
    ];
    let kinds = [
        "crack",
        "fluid_leak",
        "dent",
        "nick",
        "scratch",
        "corrosion",
        "missing",
        "fastener_missing",
    ]
    .iter()
    .map(|n| Condition {
        name: (*n).into(),
        title: (*n).into(),
        spoken: Vec::new(),
        quantities: Vec::new(),
    })
    .collect();
    Vocabulary::from_parts(
        zones,
        Vec::new(),
        vec![Standing {
            key: "nose".into(),
            zones: vec![4, 5],
        }],
        kinds,
        Words::built_in("en").unwrap(),
    )
}

fn said(text: &str) -> Draft {
    hear(
        &vocabulary(),
        &Utterance {
            text: text.into(),
            ..Utterance::default()
        },
    )
    .unwrap()
}

#[test]
fn the_sentence_of_the_issue() {
    let draft = said(
        "Left main fairing, hairline at the lower aft screw, about two and a quarter inches, wasn't there last month",
    );
    assert_eq!(draft.kind, Kind::Finding);
    assert_eq!(draft.items.len(), 1);
    let item = &draft.items[0];
    assert_eq!(item.zone.as_ref().unwrap().code, "711");
    assert_eq!(item.side, "left");
    assert_eq!(item.condition.as_ref().unwrap().name, "crack");
    assert_eq!(item.part.as_ref().unwrap().name, "lower aft screw");
    assert_eq!(item.compare.as_deref(), Some("new"));
    assert_eq!(item.measures.len(), 1);
    assert_eq!(item.measures[0].value, "9/4");
    assert_eq!(item.measures[0].unit.as_deref(), Some("in"));
    assert!(item.measures[0].vague);
    assert!(draft.questions.is_empty());
}

#[test]
fn the_radio_is_nothing() {
    assert_eq!(said("turn the radio down").kind, Kind::Remark);
}

/// Prints drafts of the lines of the file named by `WITNESSMARK_SAY`; for looking at, checks nothing
/// but that none of them panics.
#[test]
fn say() {
    let Ok(path) = std::env::var("WITNESSMARK_SAY") else {
        return;
    };
    let vocabulary = if let Ok(layout) = std::env::var("WITNESSMARK_SAY_LAYOUT") {
        from_layout(&layout)
    } else {
        vocabulary()
    };
    for line in std::fs::read_to_string(path).unwrap().lines() {
        let draft = hear(
            &vocabulary,
            &Utterance {
                text: line.into(),
                ..Utterance::default()
            },
        )
        .unwrap();
        println!("{line}\n   {}", brief(&draft));
    }
}

fn brief(draft: &Draft) -> String {
    let mut out = format!("{:?} {:?}", draft.kind, draft.command);
    for item in &draft.items {
        out += &format!(
            "\n   {:?} zone={:?} side={} part={:?} at={:?} cond={:?} look={:?} basis={:?} cmp={:?} neg={} count={:?} why={:?} or={:?}",
            item.kind,
            item.zone.as_ref().map(|z| &z.name),
            item.side,
            item.part.as_ref().map(|p| &p.name),
            item.at
                .as_ref()
                .map(|a| format!("{} {:?} {:?}", a.value, a.unit, a.feature)),
            item.condition.as_ref().map(|c| &c.name),
            item.look,
            item.basis,
            item.compare,
            item.negated,
            item.count.as_ref().map(|c| &c.value),
            item.why,
            item.or_else,
        );
        for m in &item.measures {
            out += &format!(
                " [{} {}{} {:?}{}{}{} \"{}\"]",
                m.quantity,
                m.value,
                m.to.as_ref().map_or(String::new(), |t| format!("..{t}")),
                m.unit,
                if m.vague { " ~" } else { "" },
                m.was
                    .as_ref()
                    .map_or(String::new(), |t| format!(" was {t}")),
                if m.change { " change" } else { "" },
                m.as_said
            );
        }
    }
    for q in &draft.questions {
        out += &format!("\n   ? {} {:?}", q.about, q.choices);
    }
    if !draft.left_over.is_empty() {
        out += &format!("\n   left: {}", draft.left_over);
    }
    out
}

fn from_layout(name: &str) -> Vocabulary {
    let layout = crate::layout::Layout::built_in(name).unwrap();
    Vocabulary::new(
        layout,
        crate::condition::Conditions::built_in(),
        Words::built_in("en").unwrap(),
    )
}
