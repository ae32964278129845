//! Dates as the maker writes them, in the maker's zone: `2026-03-04`, `2026-03-04 18:30`, `today`, `yesterday`.

use jiff::Timestamp;
use jiff::civil::{Date, DateTime};
use jiff::tz::TimeZone;
use shared_types::UtcMillis;
use thiserror::Error;

use super::ports::Clock;

/// A day, or a moment of it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Given {
    /// A day without a time.
    Day(Date),
    /// A moment.
    Moment(UtcMillis),
}

/// Why a date cannot be used.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum DateError {
    /// Not a date.
    #[error("\"{0}\" is not a date that this program can read")]
    NotADate(String),
    /// It has not come yet.
    #[error("{0} has not come yet")]
    Future(String),
    /// Before there were electric tufting machines to log, or beyond what a calendar can name.
    #[error("{0} is too long ago")]
    TooLongAgo(String),
}

/// The first year in which work can have been done that somebody still enters.
const FIRST_YEAR: i16 = 1950;

/// Reads a date; it must not lie in the future.
///
/// # Errors
/// When it is no date, has not come yet, or lies before 1950.
pub fn parse(text: &str, clock: &impl Clock) -> Result<Given, DateError> {
    let zone = clock.zone();
    let now = clock.now();
    let text = text.trim();
    let not_a_date = || DateError::NotADate(text.to_owned());
    let today = local(now, &zone).map_or_else(|| Err(not_a_date()), |moment| Ok(moment.date()))?;
    if let Some(day) = named_day(text, today).or_else(|| Date::strptime("%Y-%m-%d", text).ok()) {
        if day > today {
            return Err(DateError::Future(text.to_owned()));
        }
        if day.year() < FIRST_YEAR {
            return Err(DateError::TooLongAgo(text.to_owned()));
        }
        return Ok(Given::Day(day));
    }
    let moment = DateTime::strptime("%Y-%m-%d %H:%M", text)
        .or_else(|_| DateTime::strptime("%Y-%m-%dT%H:%M", text))
        .map_err(|_| not_a_date())?;
    let zoned = moment.to_zoned_datetime(zone).map_err(|_| not_a_date())?;
    let at = UtcMillis(zoned.timestamp().as_millisecond());
    if at > now {
        return Err(DateError::Future(text.to_owned()));
    }
    if moment.date().year() < FIRST_YEAR {
        return Err(DateError::TooLongAgo(text.to_owned()));
    }
    Ok(Given::Moment(at))
}

fn named_day(text: &str, today: Date) -> Option<Date> {
    match text.to_lowercase().as_str() {
        "today" => Some(today),
        "yesterday" => today.yesterday().ok(),
        _ => None,
    }
}

fn local(at: UtcMillis, zone: &TimeZone) -> Option<DateTime> {
    let moment = Timestamp::from_millisecond(at.0).ok()?;
    Some(moment.to_zoned_datetime(zone.clone()).datetime())
}

impl Given {
    /// The moment, or the first of the day.
    #[must_use]
    pub fn start(self, clock: &impl Clock) -> UtcMillis {
        self.at(clock, |day| day.at(0, 0, 0, 0))
    }

    /// The moment, or noon of the day; now, if noon has not come yet.
    #[must_use]
    pub fn middle(self, clock: &impl Clock) -> UtcMillis {
        self.at(clock, |day| day.at(12, 0, 0, 0))
    }

    /// The moment, or the last of the day; now, if that has not come yet.
    #[must_use]
    pub fn end(self, clock: &impl Clock) -> UtcMillis {
        self.at(clock, |day| day.at(23, 59, 59, 999_000_000))
    }

    fn at(self, clock: &impl Clock, of_day: impl Fn(Date) -> DateTime) -> UtcMillis {
        let now = clock.now();
        match self {
            Self::Moment(at) => at,
            Self::Day(day) => of_day(day)
                .to_zoned_datetime(clock.zone())
                .map_or(now, |zoned| UtcMillis(zoned.timestamp().as_millisecond()).min(now)),
        }
    }
}

#[cfg(test)]
pub mod tests {
    #![allow(clippy::unwrap_used, reason = "a test may stop at the first surprise")]
    use super::*;
    use jiff::civil::date;
    use jiff::tz::offset;

    /// A clock that stands still, two hours east of Greenwich.
    #[derive(Clone, Copy, Debug)]
    pub struct Stopped(pub UtcMillis);

    impl Clock for Stopped {
        fn now(&self) -> UtcMillis {
            self.0
        }
        fn zone(&self) -> TimeZone {
            TimeZone::fixed(offset(2))
        }
    }

    /// 2026-03-04T16:00:00Z, that is 18:00 by the maker's clock: 20,516 days after 1970, and 16 hours.
    pub const NOW: UtcMillis = UtcMillis(20_516 * 86_400_000 + 16 * 3_600_000);
    const CLOCK: Stopped = Stopped(NOW);

    #[test]
    fn a_day_and_a_moment_are_read_in_the_makers_zone() {
        assert_eq!(parse("2026-03-04", &CLOCK), Ok(Given::Day(date(2026, 3, 4))));
        assert_eq!(parse(" Yesterday ", &CLOCK), Ok(Given::Day(date(2026, 3, 3))));
        // 17:30 two hours east is 15:30 UTC, half an hour before now.
        assert_eq!(parse("2026-03-04 17:30", &CLOCK), Ok(Given::Moment(UtcMillis(NOW.0 - 1_800_000))));
        assert_eq!(parse("2026-03-04T18:00", &CLOCK), Ok(Given::Moment(NOW)));
    }

    #[test]
    fn what_has_not_come_yet_is_refused() {
        assert_eq!(parse("2026-03-05", &CLOCK), Err(DateError::Future("2026-03-05".to_owned())));
        assert_eq!(parse("2026-03-04 18:01", &CLOCK), Err(DateError::Future("2026-03-04 18:01".to_owned())));
    }

    #[test]
    fn what_is_no_date_is_refused() {
        for text in ["", "soon", "2026-02-30", "04/03/2026", "2026-3", "2026-03-04 25:00", "2026-03-04 12"] {
            assert_eq!(parse(text, &CLOCK), Err(DateError::NotADate(text.to_owned())), "{text}");
        }
        assert_eq!(parse("1066-10-14", &CLOCK), Err(DateError::TooLongAgo("1066-10-14".to_owned())));
    }

    #[test]
    fn a_day_begins_at_local_midnight_and_its_end_is_never_in_the_future() {
        let today = Given::Day(date(2026, 3, 4));
        assert_eq!(today.start(&CLOCK), UtcMillis(NOW.0 - 18 * 3_600_000));
        assert_eq!(today.middle(&CLOCK), UtcMillis(NOW.0 - 6 * 3_600_000));
        assert_eq!(today.end(&CLOCK), NOW);
        let before = Given::Day(date(2026, 3, 3));
        assert_eq!(before.end(&CLOCK), UtcMillis(NOW.0 - 18 * 3_600_000 - 1));
    }
}
