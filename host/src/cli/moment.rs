//! `--when`: a moment as the maker types it, in the maker's own zone.

use jiff::civil::{Date, DateTime, Time};
use jiff::tz::TimeZone;
use jiff::{Timestamp, ToSpan};
use shared_types::UtcMillis;

use super::Failure;

/// Reads `now`, `today 14:00`, `yesterday 9:30`, `2026-05-12 14:00`, `2026-05-12` (noon of that day) or a moment with its own
/// offset from UTC.
///
/// # Errors
/// When it is none of these; says which forms there are.
pub fn moment(words: &str, now: UtcMillis, zone: &TimeZone) -> Result<UtcMillis, Failure> {
    read(words.trim(), now, zone).ok_or_else(|| {
        Failure::bad_input(
            "when",
            format!("\"{words}\" is no moment that can be read"),
            "Write \"2026-05-12 14:00\", \"2026-05-12\", \"today 14:00\", \"yesterday 9:30\" or \"now\".",
        )
    })
}

fn read(words: &str, now: UtcMillis, zone: &TimeZone) -> Option<UtcMillis> {
    if words.eq_ignore_ascii_case("now") {
        return Some(now);
    }
    if let Ok(moment) = words.parse::<Timestamp>() {
        return Some(UtcMillis(moment.as_millisecond()));
    }
    let today = Timestamp::from_millisecond(now.0).ok()?.to_zoned_datetime(zone.clone()).date();
    let civil = match words.split_once(' ') {
        Some((day, time)) if day.eq_ignore_ascii_case("today") => today.to_datetime(clock(time)?),
        Some((day, time)) if day.eq_ignore_ascii_case("yesterday") => {
            today.checked_sub(1.day()).ok()?.to_datetime(clock(time)?)
        }
        Some((day, time)) => day.parse::<Date>().ok()?.to_datetime(clock(time)?),
        None => match words.parse::<Date>() {
            Ok(day) if !words.contains(['T', 't']) => day.at(12, 0, 0, 0),
            _ => words.parse::<DateTime>().ok()?,
        },
    };
    let moment = civil.to_zoned_datetime(zone.clone()).ok()?.timestamp();
    Some(UtcMillis(moment.as_millisecond()))
}

/// `9:30`, `14:00` or `14:00:30`.
fn clock(words: &str) -> Option<Time> {
    let mut parts = words.trim().split(':').map(str::parse::<i8>);
    let hour = parts.next()?.ok()?;
    let minute = parts.next()?.ok()?;
    let second = parts.next().transpose().ok()?.unwrap_or(0);
    if parts.next().is_some() {
        return None;
    }
    Time::new(hour, minute, second, 0).ok()
}

#[cfg(test)]
mod tests {
    use super::read;
    use jiff::tz::TimeZone;
    use rstest::rstest;
    use shared_types::UtcMillis;

    /// 2026-03-02T08:00:00Z: 20,514 days and eight hours after 1970-01-01.
    const NOW: i64 = 20_514 * 86_400_000 + 8 * 3_600_000;

    #[rstest]
    #[case::now("now", Some(NOW))]
    #[case::today("today 7:30", Some(NOW - 5_400_000))]
    #[case::yesterday("yesterday 9:00", Some(NOW - 24 * 3_600_000))]
    #[case::with_a_space("2026-03-02 9:00", Some(NOW))]
    #[case::with_a_letter("2026-03-02T09:00", Some(NOW))]
    #[case::with_its_own_offset("2026-03-02T10:00+02:00", Some(NOW))]
    #[case::a_day_is_its_noon("2026-03-02", Some(NOW + 3 * 3_600_000))]
    #[case::nonsense("soon", None)]
    #[case::no_such_hour("today 25:00", None)]
    #[case::no_such_day("2026-02-30 10:00", None)]
    fn a_moment_is_read_in_the_makers_zone(#[case] words: &str, #[case] expected: Option<i64>) {
        // One hour east of UTC: nine o'clock there is eight in UTC.
        let zone = TimeZone::fixed(jiff::tz::offset(1));
        assert_eq!(read(words, UtcMillis(NOW), &zone), expected.map(UtcMillis));
    }
}
