//! Two listeners for `tests/outside/listeners.py`: JSON lines `{"one":"…","other":"…"}` in, one line each out
//! with both drafts and what the core says of their agreement.

use std::io::BufRead;

use witnessmark_core::condition::Conditions;
use witnessmark_core::layout::Layout;
use witnessmark_core::speech::{Utterance, Vocabulary, Words, agree, hear};

#[derive(serde::Deserialize)]
struct Pair {
    one: String,
    other: String,
}

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let vocabulary = Vocabulary::new(
        Layout::built_in("high_wing_strutted_fixed").ok_or("no such layout")?,
        Conditions::built_in(),
        Words::built_in("en")?,
    );
    for line in std::io::stdin().lock().lines() {
        let pair: Pair = serde_json::from_str(&line?)?;
        let draft = |text: &str| {
            hear(
                &vocabulary,
                &Utterance {
                    text: text.to_owned(),
                    ..Utterance::default()
                },
            )
        };
        let (one, other) = (draft(&pair.one)?, draft(&pair.other)?);
        let agreement = agree(&one, &other);
        println!(
            "{}",
            serde_json::json!({"one": one, "other": other, "agreement": agreement})
        );
    }
    Ok(())
}
