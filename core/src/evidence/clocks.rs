//! The camera's clock against the satellites' and against itself.

use chrono::{Duration, NaiveDateTime};

use super::exif::{Facts, Stamp};
use super::hint::Hint;

/// A difference up to this is a position fix that is a little old, not a clock that is wrong.
const USUAL_SECONDS: i64 = 60;
/// Offsets from UTC run from −12:00 to +14:00 in quarters of an hour.
const EARLIEST: i64 = -12 * 3600;
const LATEST: i64 = 14 * 3600;
const QUARTER: i64 = 900;
const DAY: i64 = 86_400;

/// Compares the times that a photograph carries.
pub(crate) fn compare(facts: &Facts) -> Vec<Hint> {
    let mut hints = Vec::new();
    if let (Some(taken), Some(gps)) = (&facts.original, facts.gps_time) {
        against_satellites(taken, gps, &mut hints);
    }
    if let (Some(taken), Some(changed)) = (&facts.original, &facts.modified)
        && taken.at - changed.at > Duration::days(1)
    {
        hints.push(Hint::new(
            "modified_before_taken",
            format!(
                "it says it was taken {} but last changed {}: one of the two clocks was wrong",
                taken.at.date(),
                changed.at.date()
            ),
        ));
    }
    hints
}

fn against_satellites(taken: &Stamp, gps: NaiveDateTime, hints: &mut Vec<Hint>) {
    let ahead = (taken.at - gps).num_seconds();
    // What is left when the offset is taken off: how far the camera's clock is ahead.
    let mut off = match taken.offset_seconds() {
        Some(offset) => ahead - offset,
        None => residue(ahead),
    };
    let impossible = match taken.offset_seconds() {
        Some(_) => (off.abs() - DAY).abs() <= USUAL_SECONDS,
        None => !(EARLIEST - QUARTER / 2..=LATEST + QUARTER / 2).contains(&ahead),
    };
    if impossible {
        let shifted = if ahead < 0 || off < -DAY / 2 {
            DAY
        } else {
            -DAY
        };
        let again = match taken.offset_seconds() {
            Some(offset) => ahead + shifted - offset,
            None if (EARLIEST..=LATEST).contains(&(ahead + shifted)) => residue(ahead + shifted),
            None => {
                hints.push(Hint::new(
                    "clock_off",
                    format!(
                        "the camera's clock and the satellites' differ by {} hours",
                        ahead / 3600
                    ),
                ));
                return;
            }
        };
        hints.push(Hint::new(
            "gps_day_differs",
            if shifted > 0 {
                "the satellites' date is one day ahead of the camera's; the time of day agrees"
            } else {
                "the satellites' date is one day behind the camera's; the time of day agrees"
            },
        ));
        off = again;
    }
    if off.abs() > USUAL_SECONDS {
        hints.push(Hint::new(
            "clock_off",
            format!(
                "the camera's clock is {} s {} the satellites'{}",
                off.abs(),
                if off > 0 { "ahead of" } else { "behind" },
                if taken.offset.is_some() {
                    ""
                } else {
                    " (its offset taken as the nearest quarter of an hour)"
                }
            ),
        ));
    }
}

/// What a difference is off the nearest quarter of an hour.
fn residue(seconds: i64) -> i64 {
    (seconds + QUARTER / 2).rem_euclid(QUARTER) - QUARTER / 2
}
