//! Dates as the maker writes them, in the maker's zone. These are understood: `2026-03-04`, `2026-03-04 18:30`, `today`,
//! `yesterday`, `today 9:30`, `yesterday 18:30`, `now`, seconds behind a time, a `T` instead of the blank, and a moment with
//! its own UTC offset such as `2026-03-04T18:30+02:00`.
//!
//! Everything that is entered has happened: what lies in the future is refused. A time that the clocks skipped, and one that
//! they showed twice, is refused too, with the two moments that may be meant and how each is written; a guess would put hours
//! on the wrong rug. A whole day is never in doubt: it begins with its first moment and ends with its last, whatever the
//! clocks do.

use jiff::civil::{Date, DateTime, Time};
use jiff::tz::{AmbiguousOffset, TimeZone};
use jiff::{Span, Timestamp};
use miette::Diagnostic;
use shared_types::UtcMillis;
use thiserror::Error;

use crate::app::ports::Clock;

/// A day, or a moment of it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Given {
    /// A day without a time.
    Day(Date),
    /// A moment.
    Moment(UtcMillis),
}

const CHECK_THE_CLOCK: &str =
    "Only what has happened can be written down; check the date, and this computer's clock.";

/// Why a date cannot be used.
#[derive(Clone, Debug, PartialEq, Eq, Error, Diagnostic)]
pub enum DateError {
    /// Not a date.
    #[error("\"{0}\" is not a date that this program can read")]
    #[diagnostic(
        code(date::unclear),
        help("Write it as 2026-03-04, \"2026-03-04 18:30\", today, yesterday, \"yesterday 9:30\" or now.")
    )]
    NotADate(String),
    /// It has not come yet.
    #[error("{0} has not come yet")]
    #[diagnostic(code(date::future), help("{CHECK_THE_CLOCK}"))]
    Future(String),
    /// A moment that is still to come.
    #[error("that lies in the future")]
    #[diagnostic(code(date::future), help("{CHECK_THE_CLOCK}"))]
    InTheFuture,
    /// Before there were electric tufting machines to log.
    #[error("{0} is too long ago")]
    #[diagnostic(code(date::past), help("Check the year."))]
    TooLongAgo(String),
    /// The clocks were put forward over it.
    #[error("{typed} did not exist: the clocks were put forward over it")]
    #[diagnostic(code(date::skipped), help("Before the change it may have been {}, after it {}: write one of them.", either[0], either[1]))]
    Skipped {
        /// What was typed.
        typed: String,
        /// The moments that it may stand for, with their UTC offsets.
        either: [String; 2],
    },
    /// The clocks were put back, and showed it twice.
    #[error("{typed} came twice: the clocks were put back then")]
    #[diagnostic(code(date::twice), help("Write which one is meant: the first was {}, the second {}.", either[0], either[1]))]
    Twice {
        /// What was typed.
        typed: String,
        /// The two moments, with their UTC offsets.
        either: [String; 2],
    },
    /// A moment where a whole day is wanted.
    #[error("{0} is a moment, and a whole day is wanted here")]
    #[diagnostic(code(date::day), help("Write it as 2026-03-04, today or yesterday."))]
    NotADay(String),
}

/// A moment of which something is told; now if none was said.
///
/// # Errors
/// When it lies in the future: only what has happened can be written down.
pub fn happened(at: Option<UtcMillis>, now: UtcMillis) -> Result<UtcMillis, DateError> {
    let at = at.unwrap_or(now);
    if at > now { Err(DateError::InTheFuture) } else { Ok(at) }
}

/// The first year in which work can have been done that somebody still enters.
const FIRST_YEAR: i16 = 1950;

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
    if text.eq_ignore_ascii_case("now") {
        return Some(Ok(Given::Moment(now)));
    }
    if let Ok(moment) = text.parse::<Timestamp>() {
        return Some(Ok(Given::Moment(UtcMillis(moment.as_millisecond()))));
    }
    if let Some(day) = day_named(text, today) {
        return Some(Ok(Given::Day(day)));
    }
    let (day, time) = text.split_once(' ').or_else(|| text.split_once(['T', 't']))?;
    let local = day_named(day, today)?.to_datetime(time_of_day(time)?);
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

fn day_named(text: &str, today: Date) -> Option<Date> {
    if text.eq_ignore_ascii_case("today") {
        Some(today)
    } else if text.eq_ignore_ascii_case("yesterday") {
        today.yesterday().ok()
    } else {
        Date::strptime("%Y-%m-%d", text).ok()
    }
}

/// `9:30`, `09:30` or `09:30:15`. Minutes of one digit are refused: 9:3 may have been meant as 9:30.
fn time_of_day(text: &str) -> Option<Time> {
    let mut parts = text.trim().split(':');
    let (hour, minute) = (parts.next()?, parts.next()?);
    let second = parts.next().unwrap_or("00");
    // A sign before a number is read as part of it otherwise.
    let are_digits = [hour, minute, second]
        .iter()
        .all(|part| part.len() <= 2 && part.bytes().all(|letter| letter.is_ascii_digit()));
    if parts.next().is_some() || !are_digits || minute.len() != 2 || second.len() != 2 {
        return None;
    }
    Time::new(hour.parse().ok()?, minute.parse().ok()?, second.parse().ok()?, 0).ok()
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
mod tests {
    use super::*;
    use jiff::civil::date;
    use jiff::tz::offset;
    use rstest::rstest;

    /// A clock that stands still.
    #[derive(Clone, Debug)]
    struct Stopped(UtcMillis, TimeZone);

    impl Clock for Stopped {
        fn now(&self) -> UtcMillis {
            self.0
        }
        fn zone(&self) -> TimeZone {
            self.1.clone()
        }
    }

    /// 2026-03-04T16:00:00Z, that is 18:00 by the maker's clock: 20,516 days after 1970, and 16 hours.
    const NOW: i64 = 20_516 * 86_400_000 + 16 * 3_600_000;
    const MINUTE: i64 = 60_000;

    /// UTC offset of two hours.
    fn clock() -> Stopped {
        Stopped(UtcMillis(NOW), TimeZone::fixed(offset(2)))
    }

    #[rstest]
    #[case::a_day("2026-03-04", date(2026, 3, 4))]
    #[case::with_blanks_and_capitals(" Yesterday ", date(2026, 3, 3))]
    #[case::this_day("today", date(2026, 3, 4))]
    fn a_day_is_read_in_the_makers_zone(#[case] text: &str, #[case] expected: Date) {
        assert_eq!(parse(text, &clock()), Ok(Given::Day(expected)));
        assert_eq!(day(Some(text), &clock()), Ok(Some(expected)));
    }

    #[rstest]
    #[case::now("now", 0)]
    #[case::with_a_blank("2026-03-04 17:30", -30)]
    #[case::with_a_letter("2026-03-04T18:00", 0)]
    #[case::an_hour_of_one_digit("2026-03-04 9:30", -8 * 60 - 30)]
    #[case::with_seconds("2026-03-04 17:59:00", -1)]
    #[case::today("today 7:30", -10 * 60 - 30)]
    #[case::yesterday("Yesterday 18:00", -24 * 60)]
    #[case::with_its_own_offset("2026-03-04T16:00+01:00", -60)]
    #[case::in_greenwich("2026-03-04T15:00Z", -60)]
    fn a_moment_is_read_in_the_makers_zone(#[case] text: &str, #[case] minutes: i64) {
        let expected = UtcMillis(NOW + minutes * MINUTE);
        assert_eq!(parse(text, &clock()), Ok(Given::Moment(expected)));
        assert_eq!(moment(Some(text), &clock()), Ok(Some(expected)));
        assert_eq!(day(Some(text), &clock()), Err(DateError::NotADay(text.to_owned())));
    }

    #[rstest]
    #[case("2026-03-05")]
    #[case("2026-03-04 18:01")]
    #[case("today 18:01")]
    #[case("2026-03-04T18:01+02:00")]
    fn what_has_not_come_yet_is_refused(#[case] text: &str) {
        assert_eq!(parse(text, &clock()), Err(DateError::Future(text.to_owned())));
    }

    #[test]
    fn what_is_no_date_is_refused() {
        for text in [
            "",
            "soon",
            "2026-02-30",
            "04/03/2026",
            "2026-3",
            "2026-03-04 25:00",
            "2026-03-04 12",
            "today 9",
            "today 25:00",
            "2026-02-30 10:00",
            "today 9:30:15:20",
            "yesterday 9:30+02:00",
            "today +9:30",
            "today 9:+30",
            "today 9:30:+5",
            "today 9:3",
            "today 009:30",
        ] {
            assert_eq!(parse(text, &clock()), Err(DateError::NotADate(text.to_owned())), "{text}");
        }
        for text in ["1066-10-14", "1949-12-31 10:00"] {
            assert_eq!(parse(text, &clock()), Err(DateError::TooLongAgo(text.to_owned())), "{text}");
        }
    }

    #[test]
    fn what_is_left_out_stays_out() {
        assert_eq!(given(None, &clock()), Ok(None));
        assert_eq!(moment(None, &clock()), Ok(None));
        assert_eq!(day(None, &clock()), Ok(None));
    }

    #[test]
    fn a_day_begins_at_local_midnight_and_its_end_is_never_in_the_future() {
        let clock = clock();
        let today = Given::Day(date(2026, 3, 4));
        assert_eq!(today.start(&clock), UtcMillis(NOW - 18 * 60 * MINUTE));
        assert_eq!(today.middle(&clock), UtcMillis(NOW - 6 * 60 * MINUTE));
        assert_eq!(today.end(&clock), UtcMillis(NOW));
        let before = Given::Day(date(2026, 3, 3));
        assert_eq!(before.end(&clock), UtcMillis(NOW - 18 * 60 * MINUTE - 1));
    }

    fn in_zone(zone: TimeZone) -> Stopped {
        let now = "2027-01-01T00:00Z".parse::<Timestamp>().unwrap();
        Stopped(UtcMillis(now.as_millisecond()), zone)
    }

    fn utc(text: &str) -> UtcMillis {
        UtcMillis(text.parse::<Timestamp>().unwrap().as_millisecond())
    }

    #[test]
    fn where_the_clocks_change_a_skipped_time_and_a_double_one_are_asked_about() {
        // Central Europe (Directive 2000/84/EC): forward at 01:00 UTC on 29 March 2026, back at 01:00 UTC on 25 October 2026.
        let clock = in_zone(TimeZone::posix("CET-1CEST,M3.5.0,M10.5.0/3").unwrap());
        for (text, moment) in [
            ("2026-03-29 01:59", "2026-03-29T00:59Z"),
            ("2026-03-29 03:00", "2026-03-29T01:00Z"),
            ("2026-10-25 01:59", "2026-10-24T23:59Z"),
            ("2026-10-25 03:00", "2026-10-25T02:00Z"),
        ] {
            assert_eq!(parse(text, &clock), Ok(Given::Moment(utc(moment))), "{text}");
        }
        let either = |one: &str, other: &str| [one.to_owned(), other.to_owned()];
        let typed = "2026-03-29 02:30".to_owned();
        assert_eq!(
            parse(&typed, &clock),
            Err(DateError::Skipped {
                typed: typed.clone(),
                either: either("2026-03-29T01:30+01:00", "2026-03-29T03:30+02:00")
            })
        );
        let typed = "2026-10-25 02:30:15".to_owned();
        let twice = either("2026-10-25T02:30:15+02:00", "2026-10-25T02:30:15+01:00");
        assert_eq!(
            parse(&typed, &clock),
            Err(DateError::Twice { typed: typed.clone(), either: twice.clone() })
        );
        // What is proposed is read, and as the moment that it says.
        let [first, second] = twice.map(|moment| parse(&moment, &clock));
        assert_eq!(first, Ok(Given::Moment(utc("2026-10-25T00:30:15Z"))));
        assert_eq!(second, Ok(Given::Moment(utc("2026-10-25T01:30:15Z"))));
    }

    #[test]
    fn a_day_on_which_midnight_comes_twice_or_not_at_all_is_whole() {
        // The tz database: America/Sao_Paulo went back from 24:00 to 23:00 on 17 February 2018 (02:00 UTC on the 18th), and
        // forward from 00:00 to 01:00 on 4 November 2018 (03:00 UTC); Pacific/Apia had no 30 December 2011.
        let clock = in_zone(TimeZone::get("America/Sao_Paulo").unwrap());
        let day = Given::Day(date(2018, 2, 17));
        assert_eq!(day.start(&clock), utc("2018-02-17T02:00:00Z"));
        assert_eq!(day.end(&clock), utc("2018-02-18T02:59:59.999Z"), "25 hours");
        let day = Given::Day(date(2018, 11, 4));
        assert_eq!(day.start(&clock), utc("2018-11-04T03:00:00Z"), "its first moment is one o'clock");
        assert_eq!(day.end(&clock), utc("2018-11-05T01:59:59.999Z"), "23 hours");
        assert!(matches!(parse("2018-11-04 00:15", &clock), Err(DateError::Skipped { .. })));
        let clock = in_zone(TimeZone::get("Pacific/Apia").unwrap());
        let skipped = parse("2011-12-30 09:00", &clock);
        let either = ["2011-12-29T09:00-10:00".to_owned(), "2011-12-31T09:00+14:00".to_owned()];
        assert_eq!(skipped, Err(DateError::Skipped { typed: "2011-12-30 09:00".to_owned(), either }));
    }

    #[test]
    fn what_has_not_come_yet_is_not_asked_about() {
        let clock = in_zone(TimeZone::posix("CET-1CEST,M3.5.0,M10.5.0/3").unwrap());
        let typed = "2027-10-31 02:30";
        assert_eq!(parse(typed, &clock), Err(DateError::Future(typed.to_owned())));
    }
}
