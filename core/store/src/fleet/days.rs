//! Days of the calendar as Parquet counts them.

/// Days since 1970-01-01 (proleptic Gregorian), of `YYYY-MM-DD`.
pub fn days(date: &str) -> Option<i32> {
    let mut parts = date.splitn(3, '-').map(|part| part.parse::<i32>().ok());
    let (y, m, d) = (parts.next()??, parts.next()??, parts.next()??);
    if !(1..=12).contains(&m) || !(1..=31).contains(&d) || !(1..=9999).contains(&y) {
        return None;
    }
    // Years from March, so that the day that comes and goes is the last (ordinal date arithmetic).
    let y = if m <= 2 { y - 1 } else { y };
    let era = y.div_euclid(400);
    let of_era = y.rem_euclid(400);
    let of_year = (153 * ((m + 9) % 12) + 2) / 5 + d - 1;
    Some(era * 146_097 + of_era * 365 + of_era / 4 - of_era / 100 + of_year - 719_468)
}

#[cfg(test)]
mod tests {
    use super::*;
    use chrono::NaiveDate;

    /// Against chrono, every day of sixty years.
    #[test]
    fn days_are_those_of_the_calendar() {
        let epoch = NaiveDate::from_ymd_opt(1970, 1, 1).unwrap();
        for n in -3_700..22_000i64 {
            let day = epoch + chrono::Duration::days(n);
            assert_eq!(days(&day.format("%Y-%m-%d").to_string()), Some(n as i32));
        }
        for wrong in [
            "",
            "2025",
            "2025-13-01",
            "2025-00-01",
            "x-y-z",
            "2025-01-32",
        ] {
            assert_eq!(days(wrong), None, "{wrong}");
        }
    }
}
