//! When an entry was written (`at`) and when it was observed (`seen`).

use chrono::{DateTime, FixedOffset, NaiveDate, NaiveDateTime, Offset as _, TimeZone};
use serde::{Deserialize, Serialize};

use crate::error::{Error, ErrorKind, Result};

/// Time of writing: RFC 3339 with a numeric offset, whole seconds, never `Z`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct At(DateTime<FixedOffset>);

impl At {
    /// From a clock; fractions of a second are dropped.
    pub fn from_clock(now: DateTime<FixedOffset>) -> Self {
        let whole = now - chrono::TimeDelta::nanoseconds(i64::from(now.timestamp_subsec_nanos()));
        Self(whole)
    }

    /// The instant.
    pub fn instant(&self) -> DateTime<FixedOffset> {
        self.0
    }
}

fn offset_text(offset: FixedOffset) -> String {
    let seconds = offset.local_minus_utc();
    let sign = if seconds < 0 { '-' } else { '+' };
    let minutes = seconds.abs() / 60;
    format!("{sign}{:02}:{:02}", minutes / 60, minutes % 60)
}

fn parse_offset(text: &str) -> Option<FixedOffset> {
    let bytes = text.as_bytes();
    if bytes.len() != 6 || bytes[3] != b':' {
        return None;
    }
    let sign = match bytes[0] {
        b'+' => 1,
        b'-' => -1,
        _ => return None,
    };
    let two = |a: u8, b: u8| -> Option<i32> {
        if a.is_ascii_digit() && b.is_ascii_digit() {
            Some(i32::from(a - b'0') * 10 + i32::from(b - b'0'))
        } else {
            None
        }
    };
    let (hours, minutes) = (two(bytes[1], bytes[2])?, two(bytes[4], bytes[5])?);
    if minutes > 59 || hours > 23 {
        return None;
    }
    FixedOffset::east_opt(sign * (hours * 3600 + minutes * 60))
}

impl std::fmt::Display for At {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(
            f,
            "{}{}",
            self.0.format("%Y-%m-%dT%H:%M:%S"),
            offset_text(*self.0.offset())
        )
    }
}

impl std::str::FromStr for At {
    type Err = Error;
    fn from_str(text: &str) -> Result<Self> {
        let bad = || {
            Error::new(
                ErrorKind::BadValue,
                format!("\"{text}\" is not a time with its offset"),
            )
            .hint("write it as 2026-05-03T09:10:00+02:00")
        };
        if text.len() != 25 {
            return Err(bad());
        }
        let (local, offset) = text.split_at_checked(19).ok_or_else(bad)?;
        let offset = parse_offset(offset).ok_or_else(bad)?;
        let local = NaiveDateTime::parse_from_str(local, "%Y-%m-%dT%H:%M:%S").map_err(|_| bad())?;
        let at = Self(
            offset
                .from_local_datetime(&local)
                .single()
                .ok_or_else(bad)?,
        );
        if at.to_string() != text {
            return Err(bad());
        }
        Ok(at)
    }
}

impl Serialize for At {
    fn serialize<S: serde::Serializer>(
        &self,
        serializer: S,
    ) -> std::result::Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

impl<'de> Deserialize<'de> for At {
    fn deserialize<D: serde::Deserializer<'de>>(
        deserializer: D,
    ) -> std::result::Result<Self, D::Error> {
        String::deserialize(deserializer)?
            .parse()
            .map_err(serde::de::Error::custom)
    }
}

/// Time of observation: local time as the camera or clock gave it, or a date alone.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Seen {
    /// `2026-05-03T09:10:00`, with a fraction where the source had one, or `2026-05-03`.
    pub time: String,
    /// `+02:00`, or null where the source did not say.
    pub offset: Option<String>,
    /// Where it comes from: `clock`, `exif`, `given`, `file`, `unknown`.
    pub from: String,
}

impl Seen {
    /// The same moment as the entry's writing.
    pub fn clock(now: DateTime<FixedOffset>) -> Self {
        Self {
            time: now.format("%Y-%m-%dT%H:%M:%S").to_string(),
            offset: Some(offset_text(*now.offset())),
            from: "clock".into(),
        }
    }

    /// A time said by a person: RFC 3339 with offset, local time, or a date alone.
    pub fn given(text: &str) -> Result<Self> {
        if let Ok(at) = text.parse::<At>() {
            let at = at.instant();
            return Ok(Self {
                from: "given".into(),
                ..Self::clock(at)
            });
        }
        let seen = Self {
            time: text.to_owned(),
            offset: None,
            from: "given".into(),
        };
        if seen.local().is_none() {
            return Err(
                Error::new(ErrorKind::BadValue, format!("\"{text}\" is not a time"))
                    .hint("write it as 2026-05-03T09:10:00+02:00 or 2026-05-03"),
            );
        }
        Ok(seen)
    }

    /// Checks the written form.
    pub fn check(&self) -> Result<()> {
        if self.from != "unknown" && self.local().is_none() {
            return Err(Error::new(
                ErrorKind::BadFormat,
                "the time of observation cannot be read",
            ));
        }
        if let Some(offset) = &self.offset
            && parse_offset(offset).is_none()
        {
            return Err(Error::new(
                ErrorKind::BadFormat,
                "the offset of the time of observation cannot be read",
            ));
        }
        Ok(())
    }

    /// Date part, `2026-05-03`; empty if unknown.
    pub fn date(&self) -> &str {
        self.time.get(..10).unwrap_or("")
    }

    fn local(&self) -> Option<NaiveDateTime> {
        if self.time.len() == 10 {
            return NaiveDate::parse_from_str(&self.time, "%Y-%m-%d")
                .ok()?
                .and_hms_opt(0, 0, 0);
        }
        if self.time.len() > 32 {
            return None;
        }
        NaiveDateTime::parse_from_str(&self.time, "%Y-%m-%dT%H:%M:%S%.f").ok()
    }

    /// Microseconds since 1970 in UTC, the first key of every order. A missing offset counts as
    /// that of `at`, an unknown time as `at`, a date alone as 00:00.
    pub fn instant_us(&self, at: &At) -> i64 {
        let Some(local) = self.local() else {
            return at.0.timestamp_micros();
        };
        let offset = self
            .offset
            .as_deref()
            .and_then(parse_offset)
            .unwrap_or_else(|| at.0.offset().fix());
        local.and_utc().timestamp_micros() - i64::from(offset.local_minus_utc()) * 1_000_000
    }
}

/// Reads `--now`: a time with its offset.
pub fn parse_when(text: &str) -> Result<DateTime<FixedOffset>> {
    Ok(text.parse::<At>()?.instant())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn at_has_one_form() {
        assert!("2026-05-03T09:10:00+02:00".parse::<At>().is_ok());
        for text in [
            "2026-05-03T09:10:00Z",
            "2026-05-03T09:10:00",
            "2026-05-03T09:10:00.5+02:00",
            "2026-5-3T09:10:00+02:00x",
            "2026-02-30T09:10:00+02:00",
        ] {
            assert!(text.parse::<At>().is_err(), "{text}");
        }
    }

    #[test]
    fn order_follows_the_instant() {
        let at: At = "2026-05-03T09:10:00+02:00".parse().unwrap();
        let day = Seen::given("2026-05-03").unwrap();
        assert_eq!(
            day.instant_us(&at),
            "2026-05-03T00:00:00+02:00"
                .parse::<At>()
                .unwrap()
                .instant()
                .timestamp_micros()
        );
        let elsewhere = Seen {
            time: "2026-05-03T08:10:00.5".into(),
            offset: Some("+01:00".into()),
            from: "exif".into(),
        };
        assert_eq!(
            elsewhere.instant_us(&at),
            at.instant().timestamp_micros() + 500_000
        );
    }
}
