//! Words and figures as people read them.

use super::ask::Units;
use crate::history::meters;
use crate::history::significance::Change;
use crate::history::view::{change_words, measure_text};
use crate::quantity::{Rational, Unit, show_as};
use crate::record::kinds::Measure;

const MONTHS: [&str; 12] = [
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
];

/// A date that cannot be misread: `9 May 2026`. What is no date comes back as it is; a file that does
/// not say when it was made has none.
pub fn day(iso: &str) -> String {
    if iso.is_empty() {
        return "date not known".to_owned();
    }
    let parts: Vec<&str> = iso.get(..10).unwrap_or(iso).split('-').collect();
    if let [year, month, day] = parts.as_slice()
        && let (Ok(_), Ok(month), Ok(day)) = (
            year.parse::<u16>(),
            month.parse::<usize>(),
            day.parse::<u8>(),
        )
        && let Some(name) = MONTHS.get(month.wrapping_sub(1))
    {
        return format!("{day} {name} {year}");
    }
    iso.to_owned()
}

/// The same with the month cut to three letters, for narrow columns.
pub fn short_day(iso: &str) -> String {
    let long = day(iso);
    let parts: Vec<&str> = long.split(' ').collect();
    match parts.as_slice() {
        [day, month, year] if MONTHS.contains(month) => {
            format!("{day} {} {year}", month.get(..3).unwrap_or(month))
        }
        _ => long,
    }
}

/// `1 zone`, `3 zones`.
pub fn count(number: usize, one: &str) -> String {
    if number == 1 {
        format!("1 {one}")
    } else {
        format!("{number} {one}s")
    }
}

/// A stored word as people read it: `not_found` is `not found`.
pub fn plain(word: &str) -> String {
    word.replace('_', " ")
}

/// A list in a sentence: `a, b and c`.
pub fn listed(items: &[String]) -> String {
    match items {
        [] => String::new(),
        [one] => one.clone(),
        [most @ .., last] => format!("{} and {last}", most.join(", ")),
    }
}

/// First letter in capitals.
pub fn sentence(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| {
        first.to_uppercase().collect::<String>() + letters.as_str()
    })
}

/// What a look said.
pub fn look(result: &str) -> &'static str {
    match result {
        "findings" => "findings",
        "nothing_found" => "looked, nothing found",
        "not_seen" => "could not be seen",
        _ => "not looked at",
    }
}

/// What a concern asks for, in the words of the one who set it.
pub fn concern(word: &str) -> &'static str {
    match word {
        "aware" => "be aware",
        "watch" => "watch",
        "ask" => "ask a mechanic",
        "before_flight" => "before flight",
        _ => "not said",
    }
}

/// The unit that a reader chose for what was measured in another.
pub(super) fn other_unit(unit: Unit, units: Units) -> Option<Unit> {
    let pairs = [
        ("mm", "in"),
        ("mm2", "in2"),
        ("cm", "in"),
        ("kPa", "psi"),
        ("bar", "psi"),
        ("l", "qt"),
    ];
    let named = |word: &str| word.parse::<Unit>().ok();
    pairs.iter().find_map(|(metric, inch)| match units {
        Units::AsMeasured => None,
        Units::Metric => (named(inch) == Some(unit)).then(|| named(metric)).flatten(),
        Units::Inch => (named(metric) == Some(unit)).then(|| named(inch)).flatten(),
    })
}

/// A measure with its uncertainty and method; where the reader chose other units, theirs first and
/// what was measured behind it.
pub fn measure(measure: &Measure, units: Units) -> String {
    let as_measured = measure_text(measure);
    let number = |text: &str| text.parse::<Rational>().ok();
    let converted = measure.unit.parse::<Unit>().ok().and_then(|unit| {
        let to = other_unit(unit, units)?;
        let u = measure.u.as_deref().and_then(number);
        show_as(&number(&measure.value)?, u.as_ref(), unit, to).ok()
    });
    match converted {
        Some(shown) => format!(
            "{} {}, measured as {}",
            plain(&measure.quantity),
            shown.text,
            as_measured.trim_start_matches(&format!("{} ", plain(&measure.quantity)))
        ),
        None => as_measured,
    }
}

/// Hours with the meter that they are of, where that is not airframe total time: `812.3 h on tach`.
pub fn hours(hours: &str, meter: Option<&str>) -> String {
    match meter {
        Some(meter) if meter != meters::shown(meters::TOTAL_TIME) => {
            format!("{hours} h on {meter}")
        }
        _ => format!("{hours} h"),
    }
}

/// The value alone, for a column: `54 mm ± 1 mm`.
pub fn size(measure: &Measure, units: Units) -> String {
    let number = |text: &str| text.parse::<Rational>().ok();
    let (Ok(unit), Some(value)) = (measure.unit.parse::<Unit>(), number(&measure.value)) else {
        return format!("{} {}", measure.value, measure.unit);
    };
    let u = measure.u.as_deref().and_then(number);
    let own = crate::quantity::show_said(&value, u.as_ref(), unit, measure.as_said.as_deref()).text;
    match other_unit(unit, units).and_then(|to| show_as(&value, u.as_ref(), unit, to).ok()) {
        Some(shown) => format!("{} ({own})", shown.text),
        None => own,
    }
}

/// A figure as typed with its unit, as people read it: `13/2` quarts are `6.5 qt`.
pub fn figure(number: &str, unit: &str) -> String {
    match (number.parse::<Rational>(), unit.parse::<Unit>()) {
        (Ok(value), Ok(unit)) => crate::quantity::show(&value, None, unit).text,
        (Ok(value), Err(_)) => {
            let shown = value.to_decimal().unwrap_or_else(|| number.to_owned());
            format!("{shown} {unit}").trim_end().to_owned()
        }
        _ => format!("{number} {unit}").trim_end().to_owned(),
    }
}

/// The same text with each figure kept on one line with its unit.
pub fn tight(text: &str) -> String {
    const UNITS: [&str; 12] = [
        "mm", "mm²", "cm", "in", "in²", "h", "qt", "psi", "kPa", "bar", "l", "°",
    ];
    let mut out = String::with_capacity(text.len());
    let mut before = "";
    for (at, word) in text.split(' ').enumerate() {
        if at > 0 {
            let bare = word.trim_end_matches([',', ';', '.', ')', ':']);
            let figure = before.ends_with(|c: char| c.is_ascii_digit());
            let fraction = bare.split_once('/').is_some_and(|(top, bottom)| {
                let digits =
                    |text: &str| !text.is_empty() && text.bytes().all(|b| b.is_ascii_digit());
                digits(top) && digits(bottom)
            });
            let tied = (figure && (fraction || UNITS.contains(&bare))) || before == "±";
            out.push(if tied { '\u{a0}' } else { ' ' });
        }
        out.push_str(word);
        before = word;
    }
    out
}

/// A change in words, in the reader's units with what was measured behind it.
pub fn change(change: &Change, unit: &str, units: Units) -> String {
    let own = change_words(change, unit);
    let Some((to, factor)) = unit.parse::<Unit>().ok().and_then(|from| {
        let to = other_unit(from, units)?;
        let one = from.convert_difference(&Rational::whole(1), to).ok()?;
        Some((to, one.to_f64()))
    }) else {
        return own;
    };
    if change.difference.is_none() {
        return own;
    }
    let scaled = Change {
        difference: change.difference.map(|value| value * factor),
        big_u: change.big_u.map(|value| value * factor),
        could_hide: change.could_hide.map(|value| value * factor),
        ..change.clone()
    };
    format!("{} (measured: {own})", change_words(&scaled, to.symbol()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn dates_name_their_month() {
        assert_eq!(day("2026-05-09"), "9 May 2026");
        assert_eq!(day("2026-05-09T10:00:00"), "9 May 2026");
        assert_eq!(short_day("2025-09-30"), "30 Sep 2025");
        assert_eq!(day("2026-13-40"), "2026-13-40");
        assert_eq!(short_day(""), "date not known");
        assert_eq!(day("ümlaut-é"), "ümlaut-é");
    }

    /// 1 in = 25.4 mm exactly (international yard and pound agreement, 1959; NIST SP 811 B.8).
    #[test]
    fn the_readers_units_stand_first_and_the_measured_ones_stay() {
        let taken = Measure::typed("crack", "length 2 in +-0.01 by ruler").unwrap();
        let text = measure(&taken, Units::Metric);
        assert!(text.starts_with("length 50.8"), "{text}");
        assert!(text.contains("2.00 in"), "{text}");
        assert_eq!(measure(&taken, Units::AsMeasured), measure_text(&taken));
        assert_eq!(measure(&taken, Units::Inch), measure_text(&taken));
    }

    #[test]
    fn figures_stay_with_their_units_and_read_as_decimals() {
        assert_eq!(
            tight("worse by 9 mm ± 0.7 mm over 52.1 h, in all"),
            "worse by 9\u{a0}mm ±\u{a0}0.7\u{a0}mm over 52.1\u{a0}h, in all"
        );
        assert_eq!(tight(" in the bar"), " in the bar");
        assert_eq!(figure("13/2", "qt"), "6.5 US qt");
        assert_eq!(figure("1/3", "puffs"), "1/3 puffs");
        assert_eq!(figure("good", ""), "good");
    }

    #[test]
    fn lists_read_as_sentences() {
        let items: Vec<String> = ["a", "b", "c"].map(str::to_owned).to_vec();
        assert_eq!(listed(&items), "a, b and c");
        assert_eq!(count(1, "zone"), "1 zone");
        assert_eq!(sentence("worse by 2 mm"), "Worse by 2 mm");
    }
}
