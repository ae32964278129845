//! A machine's running by whole local weeks, Monday first.

use jiff::Timestamp;
use jiff::civil::{Date, DateTime, Time};
use jiff::tz::TimeZone;
use shared_types::UtcMillis;

use super::resample::Past;
use super::week::{Day, WEEK, Week};
use crate::care::history::{History, RunPiece};
use crate::stats::number;

/// Weeks further back than this are not looked at: two years.
const MOST_WEEKS: usize = 104;
/// A burst whose date is known no better than this is in none of the weeks. Milliseconds; three days.
const DATED_WITHIN_MS: i64 = 3 * 86_400_000;

/// Something that happened, on the maker's clock.
struct Happened {
    at: DateTime,
    run_ms: u64,
    sessions: u32,
}

/// Sorts a machine's running into local weeks. A burst belongs to the day on which it starts. The first whole week is the first
/// one that begins on or after the day of the first running; a date known to within three days counts as its middle, and what is
/// dated worse, or is not recorded, is in none of the weeks.
#[must_use]
pub fn past_of(history: &History, now: UtcMillis, zone: &TimeZone) -> Past {
    let Some(now) = local(now.0, zone) else { return Past::default() };
    let today = now.date();
    let weekday = usize::try_from(today.weekday().to_monday_zero_offset()).unwrap_or(0);
    let mut past = Past { weekday, today_over: share_of_day(now.time()), ..Past::default() };
    let happened = happened(history, now, zone);
    let Some(first) = happened.iter().map(|one| one.at.date()).min() else { return past };
    let (this_monday, first_monday) = (monday_from(today, false), monday_from(first, true));
    let whole = days_between(first_monday, this_monday).map_or(0, |days| days / WEEK).min(MOST_WEEKS);
    past.weeks = vec![Week::default(); whole];
    past.rests = vec![Day::default(); whole];
    for one in &happened {
        // Counted back from this week, so that a long history loses its beginning and not its end.
        let Some(days) = days_between(monday_from(one.at.date(), false), this_monday) else { continue };
        let back = days / WEEK;
        let day = usize::try_from(one.at.date().weekday().to_monday_zero_offset()).unwrap_or(0);
        let place = whole.checked_sub(back);
        let week = match place {
            _ if back == 0 => Some(&mut past.this_week),
            Some(place) => past.weeks.get_mut(place),
            None => None,
        };
        if let Some(day) = week.and_then(|week| week.get_mut(day)) {
            one.add_to(day);
        }
        if day == weekday
            && one.at.time() > now.time()
            && let Some(rest) = place.and_then(|place| past.rests.get_mut(place))
        {
            one.add_to(rest);
        }
    }
    past
}

impl Happened {
    fn add_to(&self, day: &mut Day) {
        day.run_ms = day.run_ms.saturating_add(self.run_ms);
        day.sessions = day.sessions.saturating_add(self.sessions);
    }
}

/// Bursts, sessions and hours by hand that have a date, up to now.
fn happened(history: &History, now: DateTime, zone: &TimeZone) -> Vec<Happened> {
    let dated = |piece: &RunPiece| {
        let (earliest, latest) = (piece.earliest?, piece.latest?);
        let middle = earliest.0.midpoint(latest.0);
        (latest.0.saturating_sub(earliest.0) <= DATED_WITHIN_MS).then(|| local(middle, zone)).flatten()
    };
    let pieces = history.pieces.iter().filter(|piece| piece.is_recorded);
    let bursts =
        pieces.filter_map(|piece| dated(piece).map(|at| Happened { at, run_ms: piece.run.0, sessions: 0 }));
    let sessions = history
        .sessions
        .iter()
        .filter_map(|first| dated(first).map(|at| Happened { at, run_ms: 0, sessions: 1 }));
    let by_hand = history
        .by_hand
        .iter()
        .filter_map(|(at, run)| local(at.0, zone).map(|at| Happened { at, run_ms: run.0, sessions: 0 }));
    bursts.chain(sessions).chain(by_hand).filter(|one| one.at <= now).collect()
}

/// The Monday of a day's week; or, `on_or_after`, the next one where the day is none itself.
fn monday_from(day: Date, on_or_after: bool) -> Date {
    let back = i64::from(day.weekday().to_monday_zero_offset());
    let ahead = if on_or_after && back > 0 { 7 - back } else { -back };
    day.saturating_add(jiff::Span::new().days(ahead))
}

/// Whole days from one to the other; none when the other is before.
fn days_between(one: Date, other: Date) -> Option<usize> {
    usize::try_from(one.until(other).ok()?.get_days()).ok()
}

/// A moment on the maker's clock.
pub(super) fn local(utc_ms: i64, zone: &TimeZone) -> Option<DateTime> {
    let moment = Timestamp::from_millisecond(utc_ms).ok()?;
    Some(moment.to_zoned_datetime(zone.clone()).datetime())
}

/// The share of a day that is over at a time.
pub(super) fn share_of_day(time: Time) -> f64 {
    let seconds = (i64::from(time.hour()) * 60 + i64::from(time.minute())) * 60 + i64::from(time.second());
    number(u64::try_from(seconds).unwrap_or(0)) / 86_400.0
}

#[cfg(test)]
#[path = "past_tests.rs"]
mod tests;
