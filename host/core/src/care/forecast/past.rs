//! A machine's running by whole local weeks, Monday first.

use jiff::tz::TimeZone;
use shared_types::UtcMillis;

use super::resample::Past;
use super::week::{Day, Week};
use crate::care::history::History;
use crate::care::local_clock::{LocalClock, LocalMoment};
use crate::care::run_pieces::RunPiece;
use crate::stats::DAY_MS;

/// Weeks further back than this are not looked at: two years.
const MOST_WEEKS: usize = 104;
/// A burst whose date is known no better than this is in none of the weeks. Milliseconds; three days.
const DATED_WITHIN_MS: i64 = 3 * DAY_MS.cast_signed();

/// Sorts a machine's running into local weeks. A burst belongs to the day on which it starts. The first whole week is the first
/// one that begins on or after the day of the first running; a date known to within three days counts as its middle, and what is
/// dated worse, or is not recorded, is in none of the weeks.
#[must_use]
pub fn past_of(history: &History, now: UtcMillis, zone: &TimeZone) -> Past {
    let mut clock = LocalClock::of(zone);
    let Some(now) = clock.read(now.0) else { return Past::default() };
    let mut weeks = Weeks::before(now);
    let dated = |piece: &RunPiece| {
        let (earliest, latest) = (piece.earliest?, piece.latest?);
        let is_dated = latest.0.saturating_sub(earliest.0) <= DATED_WITHIN_MS;
        is_dated.then(|| earliest.0.midpoint(latest.0))
    };
    for piece in history.pieces.iter().filter(|piece| piece.is_recorded) {
        if let Some(at) = dated(piece).and_then(|at| clock.read(at)) {
            weeks.add(at, piece.run.0, 0);
        }
    }
    for at in history.sessions.iter().filter_map(dated) {
        if let Some(at) = clock.read(at) {
            weeks.add(at, 0, 1);
        }
    }
    for (at, run) in &history.by_hand {
        if let Some(at) = clock.read(at.0) {
            weeks.add(at, run.0, 0);
        }
    }
    weeks.past()
}

/// Weeks counted back from this one, so that a long history loses its beginning and not its end.
struct Weeks {
    now: LocalMoment,
    first_day: Option<i64>,
    /// This week first.
    back: Vec<Week>,
    /// Of each, what ran on today's day of the week after this time of day.
    rests: Vec<Day>,
}

impl Weeks {
    fn before(now: LocalMoment) -> Self {
        let (back, rests) = (vec![Week::default(); MOST_WEEKS + 1], vec![Day::default(); MOST_WEEKS + 1]);
        Self { now, first_day: None, back, rests }
    }

    /// Adds what happened up to now.
    fn add(&mut self, at: LocalMoment, run_ms: u64, sessions: u32) {
        if at > self.now {
            return;
        }
        self.first_day = Some(self.first_day.map_or(at.day, |first| first.min(at.day)));
        let back = whole((self.now.monday() - at.monday()) / 7);
        let add = |day: &mut Day| {
            day.run_ms = day.run_ms.saturating_add(run_ms);
            day.sessions = day.sessions.saturating_add(sessions);
        };
        let day = self.back.get_mut(back).and_then(|week| week.get_mut(whole(at.weekday())));
        day.into_iter().for_each(add);
        if at.weekday() == self.now.weekday() && at.time_ms > self.now.time_ms {
            self.rests.get_mut(back).into_iter().for_each(add);
        }
    }

    fn past(self) -> Past {
        let weekday = whole(self.now.weekday());
        let Self { now, first_day, mut back, mut rests } = self;
        // The Monday on or after the day of the first running.
        let first_monday =
            first_day.map_or(now.day, |day| day + (7 - LocalMoment { day, time_ms: 0 }.weekday()) % 7);
        let count = whole((now.monday() - first_monday) / 7).min(MOST_WEEKS);
        let this_week = back.first().copied().unwrap_or_default();
        let whole_weeks = 1..count + 1;
        let weeks = back.drain(whole_weeks.clone()).rev().collect();
        let rests = rests.drain(whole_weeks).rev().collect();
        Past { weeks, rests, this_week, weekday, today_over: now.share_of_day() }
    }
}

/// A number of days or weeks; 0 for one below.
fn whole(number: i64) -> usize {
    usize::try_from(number).unwrap_or(0)
}

#[cfg(test)]
#[path = "past_tests.rs"]
mod tests;
