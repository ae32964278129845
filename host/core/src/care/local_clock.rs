//! The maker's clock for very many moments: its offset is looked up once for each stretch between two changes of the clock.

use jiff::Timestamp;
use jiff::tz::TimeZone;

use crate::stats::{self, number};

/// Milliseconds in a day of civil time.
const DAY_MS: i64 = stats::DAY_MS.cast_signed();
/// 1970-01-01 was a Thursday; Monday is 0.
const FIRST_WEEKDAY: i64 = 3;

/// A moment on the maker's clock.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct LocalMoment {
    /// Days since 1970-01-01.
    pub day: i64,
    /// Milliseconds since midnight, as the clock shows them.
    pub time_ms: i64,
}

impl LocalMoment {
    /// The day of the week; Monday is 0.
    pub const fn weekday(self) -> i64 {
        (self.day + FIRST_WEEKDAY).rem_euclid(7)
    }

    /// The Monday of its week, in days since 1970-01-01.
    pub const fn monday(self) -> i64 {
        self.day - self.weekday()
    }

    /// The share of its day that is over, to the second.
    pub fn share_of_day(self) -> f64 {
        number(u64::try_from(self.time_ms / 1_000).unwrap_or(0)) / 86_400.0
    }
}

/// Reads the maker's clock.
#[derive(Debug)]
pub struct LocalClock<'a> {
    zone: &'a TimeZone,
    /// The offset holds from here on, in milliseconds, ...
    from_ms: i64,
    /// ... and before this.
    until_ms: i64,
    offset_ms: i64,
}

impl<'a> LocalClock<'a> {
    pub const fn of(zone: &'a TimeZone) -> Self {
        Self { zone, from_ms: 0, until_ms: 0, offset_ms: 0 }
    }

    /// A moment in milliseconds since the Unix epoch; none where dates end.
    pub fn read(&mut self, utc_ms: i64) -> Option<LocalMoment> {
        if !(self.from_ms..self.until_ms).contains(&utc_ms) {
            let at = Timestamp::from_millisecond(utc_ms).ok()?;
            let next = self.zone.following(at).next().map_or(Timestamp::MAX, |next| next.timestamp());
            self.from_ms = utc_ms;
            self.until_ms = next.as_millisecond();
            self.offset_ms = i64::from(self.zone.to_offset(at).seconds()) * 1_000;
        }
        let local_ms = utc_ms + self.offset_ms;
        Some(LocalMoment { day: local_ms.div_euclid(DAY_MS), time_ms: local_ms.rem_euclid(DAY_MS) })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;

    #[test]
    fn moments_in_any_order_are_those_of_the_calendar() {
        // Put forward on 29 March 2026 and back on 25 October (Directive 2000/84/EC).
        let zone = TimeZone::posix("CET-1CEST,M3.5.0,M10.5.0/3").unwrap();
        let first = date(2025, 12, 30).at(0, 0, 0, 0).to_zoned_datetime(zone.clone()).unwrap().timestamp();
        let steps = (0..24 * 800).chain((0..24 * 400).rev());
        let mut clock = LocalClock::of(&zone);
        for step in steps {
            let at = first.as_millisecond() + step * 3_600_000 - 1;
            let moment = clock.read(at).unwrap();
            let calendar =
                Timestamp::from_millisecond(at).unwrap().to_zoned_datetime(zone.clone()).datetime();
            let day = calendar.date().since(date(1970, 1, 1)).unwrap().get_days();
            assert_eq!(
                (moment.day, moment.weekday()),
                (i64::from(day), i64::from(calendar.weekday().to_monday_zero_offset()))
            );
            let time = calendar.time();
            let seconds =
                (i64::from(time.hour()) * 60 + i64::from(time.minute())) * 60 + i64::from(time.second());
            assert_eq!(moment.time_ms, seconds * 1_000 + i64::from(time.millisecond()));
        }
        assert_eq!(clock.read(i64::MAX), None);
    }

    #[test]
    fn the_very_millisecond_of_a_change_has_the_new_offset() {
        let zone = TimeZone::posix("CET-1CEST,M3.5.0,M10.5.0/3").unwrap();
        // 29 March 2026, 01:00 UTC: 02:00 becomes 03:00.
        let change = date(2026, 3, 29)
            .at(1, 0, 0, 0)
            .to_zoned_datetime(TimeZone::UTC)
            .unwrap()
            .timestamp()
            .as_millisecond();
        let mut clock = LocalClock::of(&zone);
        let hours = [change - 1, change, change - 1].map(|at| clock.read(at).unwrap().time_ms / 3_600_000);
        assert_eq!(hours, [1, 3, 1]);
    }
}
