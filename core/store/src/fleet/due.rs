//! When something is to be looked at again, set beside where the aircraft and the calendar are.

use serde::Serialize;
use witnessmark_core::report::words::{day, plain};

/// How near it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum When {
    /// The day or the hours are past.
    Past,
    /// Before the next flight, today, or at these very hours.
    Now,
    /// Still to come.
    Later,
    /// It was said in words that only a person can weigh.
    AsSaid,
}

/// A look that somebody asked for.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Due {
    /// How near.
    pub when: When,
    /// Zone or finding, in words.
    pub place: String,
    /// As it was said, with the airframe's hours at which that is.
    pub at: String,
}

impl Due {
    /// Weighs what was said: a date, hours, or the next flight. `today` is `YYYY-MM-DD`, `hours` the last
    /// that were read, `then` those at which it was said. `1250 h` said at 1230 h is the airframe's total;
    /// `25 h` said at 1230 h are hours from then. Where it is not known when it was said, hours that the
    /// airframe has already may be either, and only a person can weigh them.
    pub fn new(
        place: String,
        at: &str,
        today: &str,
        hours: Option<f64>,
        then: Option<f64>,
    ) -> Self {
        let said = at.trim();
        let flight = plain(said).to_ascii_lowercase();
        let date = said
            .get(..10)
            .filter(|date| super::days::days(date).is_some());
        let number = said
            .strip_suffix('h')
            .and_then(|number| number.trim().parse::<f64>().ok())
            .filter(|number| number.is_finite());
        let total = match (number, then, hours) {
            (Some(number), Some(then), _) if number < then => Some(then + number),
            (Some(number), None, Some(hours)) if number <= hours => None,
            (number, ..) => number,
        };
        let when = if flight == "next flight" || flight == "before next flight" {
            When::Now
        } else if let Some(date) = date {
            match date.cmp(today) {
                std::cmp::Ordering::Less => When::Past,
                std::cmp::Ordering::Equal => When::Now,
                std::cmp::Ordering::Greater => When::Later,
            }
        } else if let (Some(total), Some(hours)) = (total, hours) {
            if hours > total {
                When::Past
            } else if hours < total {
                When::Later
            } else {
                When::Now
            }
        } else {
            When::AsSaid
        };
        let mut at = day(&plain(said));
        if let Some(total) = total.filter(|total| number.is_some_and(|number| number != *total)) {
            at = format!("{at}, at {} h", (total * 10.0).round() / 10.0);
        }
        Self { when, place, at }
    }

    /// For a line of text.
    pub fn words(&self) -> String {
        let near = match self.when {
            When::Past => " (past)",
            When::Now => " (now)",
            When::Later | When::AsSaid => "",
        };
        format!("{}: {}{near}", self.place, self.at)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn dates_hours_and_flights_are_weighed_and_words_are_left_to_people() {
        let due = |at: &str, hours, then| Due::new("x".to_owned(), at, "2026-05-03", hours, then);
        let when = |at: &str, hours| due(at, hours, Some(1200.0)).when;
        assert_eq!(when("2026-05-02", None), When::Past);
        assert_eq!(when("2026-05-03", None), When::Now);
        assert_eq!(when("2026-06-01", None), When::Later);
        assert_eq!(when("next_flight", None), When::Now);
        assert_eq!(when("1250 h", Some(1250.1)), When::Past);
        assert_eq!(when("1250h", Some(1250.0)), When::Now);
        assert_eq!(when("1250 h", Some(1249.9)), When::Later);
        // Without hours that were read nothing can be said.
        assert_eq!(when("1250 h", None), When::AsSaid);
        assert_eq!(when("after the wash", Some(1.0)), When::AsSaid);
        assert_eq!(when("2026-13-40", None), When::AsSaid);
        // Fewer hours than the airframe had are hours from then.
        assert_eq!(when("25 h", Some(1210.0)), When::Later);
        assert_eq!(when("25 h", Some(1225.0)), When::Now);
        assert_eq!(when("25 h", Some(1225.1)), When::Past);
        assert_eq!(
            due("25 h", Some(1210.0), Some(1200.5)).at,
            "25 h, at 1225.5 h"
        );
        assert_eq!(due("1250 h", Some(1210.0), Some(1200.5)).at, "1250 h");
        // A new aircraft: 25 h at 10 h are its total as far as anybody can tell.
        assert_eq!(due("25 h", Some(12.0), Some(10.0)).when, When::Later);
        // Nobody knows when it was said: only what is still to come either way is told.
        assert_eq!(due("25 h", Some(1210.0), None).when, When::AsSaid);
        assert_eq!(due("1250 h", Some(1210.0), None).when, When::Later);
    }
}
