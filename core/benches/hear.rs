//! How long a saying takes to understand, as a ratio to tokenising the same sayings with the `regex`
//! crate, and how that grows with the length of a text. Run: `cargo bench --bench hear`.

#![allow(clippy::unwrap_used, clippy::print_stdout)]

use std::hint::black_box;
use std::time::Instant;

use witnessmark_core::condition::Conditions;
use witnessmark_core::layout::Layout;
use witnessmark_core::speech::{Utterance, Vocabulary, Words, hear};

fn corpus() -> Vec<String> {
    let mut out = Vec::new();
    for name in ["speech.txt", "speech_second.txt"] {
        let path = format!("{}/../tests/corpus/{name}", env!("CARGO_MANIFEST_DIR"));
        let text = std::fs::read_to_string(path).unwrap();
        out.extend(
            text.lines()
                .filter(|l| !l.starts_with(['#', '=']) && !l.trim().is_empty())
                .filter_map(|l| l.split(" | ").next()?.split(" // ").next())
                .map(str::to_owned),
        );
    }
    out
}

/// The shortest of several runs, in seconds.
fn best(mut run: impl FnMut()) -> f64 {
    (0..7)
        .map(|_| {
            let from = Instant::now();
            run();
            from.elapsed().as_secs_f64()
        })
        .fold(f64::INFINITY, f64::min)
}

fn main() {
    let v = Vocabulary::new(
        Layout::built_in("high_wing_strutted_fixed").unwrap(),
        Conditions::built_in(),
        Words::built_in("en").unwrap(),
    );
    let phrases = corpus();
    let say = |text: &str| Utterance {
        text: text.to_owned(),
        ..Utterance::default()
    };
    let token = regex::Regex::new(r"[\p{L}']+|\d+(?:[./]\d+)*|[^\s\w]").unwrap();
    let tokenised = best(|| {
        for _ in 0..10 {
            for text in &phrases {
                let tokens: Vec<&str> = token.find_iter(text).map(|m| m.as_str()).collect();
                black_box(tokens);
            }
        }
    }) / 10.0;
    let heard = best(|| {
        for text in &phrases {
            black_box(hear(&v, &say(text)).unwrap());
        }
    });
    println!(
        "{} phrases: {:.1} us each",
        phrases.len(),
        heard * 1e6 / phrases.len() as f64
    );
    println!(
        "ratio to tokenising with regex: {:.1} (bound 20)",
        heard / tokenised
    );
    let base = "left flap has a crack two and a quarter inches long at the third screw. ";
    let mut last = 0.0;
    for times in [1usize, 10, 100, 1000] {
        let text = say(&base.repeat(times));
        let seconds = best(|| {
            black_box(hear(&v, &text).unwrap());
        });
        println!(
            "{times:5} sentences: {:.2} us a sentence, {:.2} times the last",
            seconds * 1e6 / times as f64,
            if last == 0.0 {
                1.0
            } else {
                seconds / times as f64 / last
            }
        );
        last = seconds / times as f64;
    }
    let refused = hear(&v, &say(&"a".repeat(1 << 20))).is_err();
    println!("1 MB of text refused: {refused}");
}
