//! Dates as the maker types them, in the maker's zone. Capital letters and the number of blanks do not matter.
//!
//! | | understood |
//! |---|---|
//! | day | `today`, `yesterday`, `friday`, `fri`, `2 days ago`, `a week ago`, `28.9.2026`, `28.9.`, `28.9`, `26 Nov`, `26 November 2026`, `Nov 26`, `2026-03-04`, `28/9/2026` |
//! | time | `18:30`, `18.30`, `18h`, `18h30`, `2pm`, `2:30 pm`, `9:30:15` |
//! | moment | `now`, `3 hours ago`, `40 minutes ago`, `1h30 ago`, a day and a time behind it, a time alone (of today), `2026-03-04T18:30+02:00` |
//!
//! A day without a year is the last such day that has come, today included. A weekday is the last one before today: on a
//! Friday, `friday` is a week ago, and this day is `today`. Numbers with points are day, month and year.
//!
//! Two numbers with a point between them are a time where the second has two digits, 00 to 59, and the first is 0 to 23; they
//! are a day where the second is a month and the first a day of it. `18.30` is a time and `28.9` a day; `10.10` may be either
//! and is refused, with both. So is what may mean several days (`3/4/2026`), and a year of two digits.
//!
//! Everything that is entered has happened: what lies in the future is refused. A time that the clocks skipped, and one that
//! they showed twice, is refused too, with the two moments that may be meant and how each is written; a guess would put hours
//! on the wrong rug. A whole day is never in doubt: it begins with its first moment and ends with its last, whatever the
//! clocks do.

mod days;
mod error;
mod times;

use jiff::civil::{Date, DateTime, Time};
use jiff::tz::{AmbiguousOffset, TimeZone};
use jiff::{Span, Timestamp};
use shared_types::UtcMillis;

pub use error::DateError;

use super::lasting;
use crate::app::ports::Clock;
use days::{DayRead, FIRST_YEAR};

/// A day, or a moment of it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Given {
    /// A day without a time.
    Day(Date),
    /// A moment.
    Moment(UtcMillis),
}

/// A moment of which something is told; now if none was said.
///
/// # Errors
/// When it lies in the future: only what has happened can be written down.
pub fn happened(at: Option<UtcMillis>, now: UtcMillis) -> Result<UtcMillis, DateError> {
    let at = at.unwrap_or(now);
    if at > now { Err(DateError::InTheFuture) } else { Ok(at) }
}

/// Reads a date; it must not lie in the future.
///
/// # Errors
/// When it is no date, has not come yet, or lies before 1950.
pub fn parse(text: &str, clock: &impl Clock) -> Result<Given, DateError> {
    let (now, zone) = (clock.now(), clock.zone());
    let text = text.trim();
    let today = local(now, &zone).map(DateTime::date);
    let not_a_date = || DateError::NotADate(text.to_owned());
    let given = read(text, now, today.ok_or_else(not_a_date)?, &zone).ok_or_else(not_a_date)??;
    let day = match given {
        Given::Day(day) => Some(day),
        Given::Moment(at) => local(at, &zone).map(DateTime::date),
    };
    let is_future = match given {
        Given::Day(day) => Some(day) > today,
        Given::Moment(at) => at > now,
    };
    if is_future {
        Err(DateError::Future(text.to_owned()))
    } else if day.is_none_or(|day| day.year() < FIRST_YEAR) {
        Err(DateError::TooLongAgo(text.to_owned()))
    } else {
        Ok(given)
    }
}

/// Reads a date that may be left out.
///
/// # Errors
/// As [`parse`].
pub fn given(text: Option<&str>, clock: &impl Clock) -> Result<Option<Given>, DateError> {
    text.map(|text| parse(text, clock)).transpose()
}

/// Reads a moment that may be left out; a day without a time is its noon, or now if noon has not come yet.
///
/// # Errors
/// As [`parse`].
pub fn moment(text: Option<&str>, clock: &impl Clock) -> Result<Option<UtcMillis>, DateError> {
    Ok(given(text, clock)?.map(|given| given.middle(clock)))
}

/// Reads a whole day that may be left out.
///
/// # Errors
/// As [`parse`], and when a time is given too.
pub fn day(text: Option<&str>, clock: &impl Clock) -> Result<Option<Date>, DateError> {
    match (given(text, clock)?, text) {
        (None, _) => Ok(None),
        (Some(Given::Day(day)), _) => Ok(Some(day)),
        (Some(Given::Moment(_)), text) => Err(DateError::NotADay(text.unwrap_or_default().to_owned())),
    }
}

/// None where it is no date at all.
fn read(text: &str, now: UtcMillis, today: Date, zone: &TimeZone) -> Option<Result<Given, DateError>> {
    let plain = text.split_whitespace().collect::<Vec<_>>().join(" ").to_ascii_lowercase();
    if plain == "now" {
        return Some(Ok(Given::Moment(now)));
    }
    if let Ok(moment) = text.parse::<Timestamp>() {
        return Some(Ok(Given::Moment(UtcMillis(moment.as_millisecond()))));
    }
    if let Some(moment) = ago(&plain, now) {
        return Some(Ok(Given::Moment(moment)));
    }
    let on = |day: Date, time: Time| on_clock(text, day.to_datetime(time), now, zone);
    match (days::read(&plain, today), times::read(&plain)) {
        (Some(DayRead::Day(day)), Some(time)) => {
            let (typed, time) = (text.to_owned(), time.strftime("%-H:%M").to_string());
            Some(Err(DateError::TimeOrDay { typed, time, day }))
        }
        (Some(day), _) => Some(day.sure(text).map(Given::Day)),
        (None, Some(time)) => Some(on(today, time)?.and_then(|given| match given {
            Given::Moment(at) if at > now => Err(DateError::LaterToday(text.to_owned())),
            come => Ok(come),
        })),
        (None, None) => {
            let (day, time) = day_and_time(&plain, today)?;
            match day.sure(text) {
                Ok(day) => on(day, time),
                Err(unclear) => Some(Err(unclear)),
            }
        }
    }
}

/// A day and the time behind it.
fn day_and_time(plain: &str, today: Date) -> Option<(DayRead, Time)> {
    let parted = |at: usize, width: usize| {
        let (day, time) = (plain.get(..at)?, plain.get(at + width..)?);
        Some((days::read(day.trim_end_matches(','), today)?, times::read(time)?))
    };
    // A "t" stands between day and time where the day is written in numbers; "oct" and "today" have one too.
    let letter = plain.find('t').filter(|at| plain.get(..*at).is_some_and(days::is_in_numbers));
    let blanks = plain.match_indices(' ').map(|(at, _)| at);
    blanks.chain(letter).find_map(|at| parted(at, 1))
}

/// `3 hours ago`, `an hour ago`, `1h30 ago`: so much before now, whatever the clocks did meanwhile.
fn ago(plain: &str, now: UtcMillis) -> Option<UtcMillis> {
    let length = plain.strip_suffix("ago")?.trim_end();
    let length = match length.split_once(' ') {
        Some(("a" | "an", unit)) => format!("1 {unit}"),
        _ => length.to_owned(),
    };
    // A bare number leaves open of what.
    let ms = lasting::ms(&length).filter(|_| length.contains(char::is_alphabetic))?;
    Some(UtcMillis(now.0.checked_sub(i64::try_from(ms).ok()?)?))
}

/// The moment at which the maker's clock showed this.
fn on_clock(
    text: &str,
    local: DateTime,
    now: UtcMillis,
    zone: &TimeZone,
) -> Option<Result<Given, DateError>> {
    let moments = zone.to_ambiguous_timestamp(local);
    let (earlier, later) = (moments.earlier().ok()?, moments.later().ok()?);
    let earlier_ms = earlier.as_millisecond();
    if !moments.is_ambiguous() || earlier_ms > now.0 {
        return Some(Ok(Given::Moment(UtcMillis(earlier_ms))));
    }
    let typed = text.to_owned();
    let either = [earlier, later].map(|moment| with_offset(moment, zone));
    Some(Err(match moments.offset() {
        AmbiguousOffset::Gap { .. } => DateError::Skipped { typed, either },
        _ => DateError::Twice { typed, either },
    }))
}

/// A moment on the maker's clock as it is typed, with its UTC offset: `2026-10-25T02:30+02:00`.
fn with_offset(moment: Timestamp, zone: &TimeZone) -> String {
    let local = moment.to_zoned_datetime(zone.clone());
    let form = if local.second() == 0 { "%Y-%m-%dT%H:%M%:z" } else { "%Y-%m-%dT%H:%M:%S%:z" };
    local.strftime(form).to_string()
}

fn local(at: UtcMillis, zone: &TimeZone) -> Option<DateTime> {
    let moment = Timestamp::from_millisecond(at.0).ok()?;
    Some(moment.to_zoned_datetime(zone.clone()).datetime())
}

impl Given {
    /// The moment, or the first of the day.
    #[must_use]
    pub fn start(self, clock: &impl Clock) -> UtcMillis {
        self.at(clock, |day| Some(day.at(0, 0, 0, 0).to_zoned_datetime(clock.zone()).ok()?.timestamp()))
    }

    /// The moment, or noon of the day; now, if noon has not come yet.
    #[must_use]
    pub fn middle(self, clock: &impl Clock) -> UtcMillis {
        self.at(clock, |day| Some(day.at(12, 0, 0, 0).to_zoned_datetime(clock.zone()).ok()?.timestamp()))
    }

    /// The moment, or the last of the day; now, if that has not come yet.
    #[must_use]
    pub fn end(self, clock: &impl Clock) -> UtcMillis {
        self.at(clock, |day| {
            let next = day.tomorrow().ok()?.at(0, 0, 0, 0).to_zoned_datetime(clock.zone()).ok()?.timestamp();
            next.checked_sub(Span::new().milliseconds(1)).ok()
        })
    }

    fn at(self, clock: &impl Clock, of_day: impl Fn(Date) -> Option<Timestamp>) -> UtcMillis {
        let now = clock.now();
        match self {
            Self::Moment(at) => at,
            Self::Day(day) => of_day(day).map_or(now, |at| UtcMillis(at.as_millisecond()).min(now)),
        }
    }
}

#[cfg(test)]
mod calendar_tests;
#[cfg(test)]
#[path = "dates_tests.rs"]
mod tests;
