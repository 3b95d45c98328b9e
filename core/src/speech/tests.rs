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
        parts: Vec::new(),
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

fn with(text: &str, alternatives: &[&str]) -> Draft {
    let utterance = Utterance {
        text: text.into(),
        alternatives: alternatives.iter().map(|s| (*s).to_owned()).collect(),
        stop: None,
    };
    hear(&vocabulary(), &utterance).unwrap()
}

fn about(draft: &Draft) -> Vec<&str> {
    draft.questions.iter().map(|q| q.about.as_str()).collect()
}

#[test]
fn another_number_in_an_alternative_is_asked_and_the_answer_settles_it() {
    let v = vocabulary();
    let draft = with(
        "crack in the spinner fifteen millimetres long",
        &["crack in the spinner fifty millimeters long"],
    );
    assert_eq!(about(&draft), ["number"]);
    assert_eq!(draft.questions[0].choices, ["15 mm", "50 mm"]);
    let settled = answer(&v, &draft, 0, "fifteen").unwrap();
    assert!(settled.questions.is_empty());
    assert_eq!(settled.items[0].measures[0].value, "15");
    assert_eq!(settled.items[0].measures[0].unit.as_deref(), Some("mm"));
    let settled = answer(&v, &draft, 0, "50 mm").unwrap();
    assert_eq!(settled.items[0].measures[0].value, "50");
    assert!(answer(&v, &draft, 0, "purple").is_err());
    assert!(answer(&v, &draft, 7, "fifteen").is_err());
}

#[test]
fn alternatives_that_agree_ask_nothing() {
    let draft = with(
        "crack in the spinner two inches long",
        &[
            "Crack in the spinner, two inches long.",
            "crack in the spinner 2 inches long",
        ],
    );
    assert!(draft.questions.is_empty());
    assert!(draft.items[0].condition.as_ref().unwrap().sure > 0.98);
    let many: Vec<String> = (0..1000)
        .map(|n| format!("crack in the spinner {n} inches long"))
        .collect();
    let many: Vec<&str> = many.iter().map(String::as_str).collect();
    assert_eq!(
        about(&with("crack in the spinner two inches long", &many)),
        ["number"]
    );
}

#[test]
fn opposite_and_other_conditions_are_asked() {
    assert_eq!(
        about(&with(
            "no cracks in the spinner",
            &["new cracks in the spinner"]
        )),
        ["negation"]
    );
    assert_eq!(
        about(&with("nick in the spinner", &["crack in the spinner"])),
        ["condition"]
    );
    assert_eq!(
        about(&with(
            "crack in the left flap",
            &["crack in the right flap"]
        )),
        ["side"]
    );
}

#[test]
fn a_side_that_was_not_said_is_asked_and_names_the_zone() {
    let v = vocabulary();
    let draft = said("main fairing cracked");
    assert_eq!(about(&draft), ["side"]);
    assert!(draft.items[0].zone.is_none());
    let settled = answer(&v, &draft, 0, "the right one").unwrap();
    assert_eq!(settled.items[0].zone.as_ref().unwrap().code, "712");
    assert_eq!(settled.items[0].side, "right");
    assert!(settled.items[0].part.is_none());
}

#[test]
fn a_unit_is_answered_in_words() {
    let v = vocabulary();
    let draft = said("nick in the prop two mil deep");
    assert_eq!(draft.questions[0].choices, ["thou", "mm"]);
    for (words, unit) in [
        ("thou", "thou"),
        ("millimetres", "mm"),
        ("thousandths of an inch", "thou"),
    ] {
        let settled = answer(&v, &draft, 0, words).unwrap();
        assert_eq!(settled.items[0].measures[0].unit.as_deref(), Some(unit));
    }
}

#[test]
fn reads_back_so_that_it_cannot_be_misheard() {
    let v = vocabulary();
    let text = read_back(
        &v,
        &said("left main fairing crack two and a quarter inches long"),
    );
    assert!(
        text.contains("two and one quarter inches, nine quarters"),
        "{text}"
    );
    let text = read_back(
        &v,
        &said("dent in the left flap fifteen millimetres across"),
    );
    assert!(text.contains("fifteen millimetres, one five"), "{text}");
    let text = read_back(
        &v,
        &said("crack in the spinner two thirty-seconds of an inch long"),
    );
    assert!(text.contains("two thirty-seconds inch"), "{text}");
    let text = read_back(&v, &said("crack in the spinner 0.03 inches deep"));
    assert!(text.contains("zero point zero three"), "{text}");
}

#[test]
fn hostile_texts_end_in_a_draft_or_a_refusal() {
    let v = vocabulary();
    for text in [
        "",
        " ",
        "🛩️🛩️",
        "\u{202e}kcarc",
        "كسر في الجناح",
        "....",
        "''\"\"--//",
        "1/0 inch crack",
        "crack 99999999999999999999999 inches",
        "½½½½",
        "no no no no",
        "left right left right",
        "and and and",
        "\u{0}\u{1}crack",
        "two two two two two two two two two inches crack",
    ] {
        let draft = hear(
            &v,
            &Utterance {
                text: text.into(),
                ..Utterance::default()
            },
        )
        .unwrap();
        let _ = read_back(&v, &draft);
    }
    let word = "a".repeat(64 * 1024);
    assert_eq!(said(&word).kind, Kind::Remark);
    let large = "crack ".repeat(200_000);
    let refused = hear(
        &v,
        &Utterance {
            text: large,
            ..Utterance::default()
        },
    );
    assert_eq!(refused.unwrap_err().kind, crate::ErrorKind::TooLarge);
}

proptest::proptest! {
    #[test]
    fn any_text_is_heard_and_positions_stay_inside_it(text in ".{0,80}", words in proptest::collection::vec(proptest::sample::select(vec!["left", "right", "no", "crack", "spinner", "two", "a", "quarter", "inches", "to", "30", "seconds", ",", "flap", "and", "or", "not", "hinge", "of", "aft", "1/4", "was", "sorry", "both", "point", "grown", "from", "another"]), 0..24)) {
        let v = shared();
        for text in [text, words.join(" ")] {
            let draft = hear(v, &Utterance { text: text.clone(), alternatives: vec![text.to_uppercase()], stop: None }).unwrap();
            let end = text.chars().count();
            let inside = |s: Span| s[0] <= s[1] && s[1] <= end;
            for item in &draft.items {
                proptest::prop_assert!(item.zone.iter().all(|z| inside(z.from)));
                proptest::prop_assert!(item.condition.iter().all(|z| inside(z.from)));
                proptest::prop_assert!(item.part.iter().all(|z| inside(z.from)));
                proptest::prop_assert!(item.measures.iter().all(|z| inside(z.from)));
            }
            for index in 0..draft.questions.len() {
                let _ = answer(v, &draft, index, "left two inches");
            }
            let _ = read_back(v, &draft);
        }
    }
}

fn shared() -> &'static Vocabulary {
    static ONE: std::sync::OnceLock<Vocabulary> = std::sync::OnceLock::new();
    ONE.get_or_init(vocabulary)
}

#[test]
fn vocabulary_for_recognisers() {
    let v = vocabulary();
    let list = phrases(&v, Some("nose"), 40);
    assert_eq!(list.len(), 40);
    assert_eq!(list[0], "propeller");
    let grammar = grammar(&v, None);
    assert!(grammar.starts_with("#JSGF V1.0;"));
    // every rule that is used is defined
    for part in grammar.split('<').skip(1) {
        let name = part.split('>').next().unwrap();
        assert!(grammar.contains(&format!("<{name}> =")), "{name}");
    }
    assert!(pronunciations(&v).contains("fairing F EH R IH NG\n"));
    assert_eq!(
        completions(&v, "crack on the left fl", None, 3)[0],
        "left flap"
    );
}

#[test]
fn two_listeners() {
    let one = said("crack in the left flap two inches long");
    let same = agree(&one, &said("left flap crack, 2 inches"));
    assert!(same.whole, "{same:?}");
    let other = agree(&one, &said("crack in the left flap three inches long"));
    assert!(!other.whole);
    assert_eq!(other.differ, ["measures"]);
}

#[test]
fn odd_utterances_are_asked_or_taken_as_they_are() {
    // further than any aeroplane: asked
    assert_eq!(
        about(&said("crack of nine miles in the left flap")),
        ["number"]
    );
    // two sides at once: asked, and no side is shown as known
    let both = said("crack in the left right flap");
    assert_eq!(about(&both), ["side"]);
    assert!(both.items[0].zone.is_none());
    // the same text with and without punctuation is one transcript
    let plain = "crack in the left flap two inches long";
    let marked = with(
        plain,
        &[
            "Crack in the left flap; two inches long!",
            "CRACK IN THE LEFT FLAP, TWO INCHES LONG",
        ],
    );
    assert_eq!(marked.questions, said(plain).questions);
    assert_eq!(marked.items[0].measures, said(plain).items[0].measures);
    for text in ["", "\u{1f6e9}\u{fe0f}", "\u{5e9}\u{5dc}\u{5d5}\u{5dd}"] {
        let draft = said(text);
        assert_eq!(draft.kind, Kind::Remark, "{text:?}");
        assert!(draft.items.is_empty());
    }
}

#[test]
fn half_of_a_volume_and_one_left_out_are_exact() {
    let value = |text: &str| {
        let draft = said(text);
        (
            draft.items[0].measures[0].value.clone(),
            draft.items[0].measures[0].unit.clone(),
        )
    };
    assert_eq!(
        value("put in half a quart"),
        ("1/2".into(), Some("US qt".into()))
    );
    assert_eq!(
        value("crack in the spinner, inch and a half"),
        ("3/2".into(), Some("in".into()))
    );
}
