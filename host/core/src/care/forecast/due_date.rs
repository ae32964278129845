//! On which day a care task will probably fall due, as a range.

use jiff::Timestamp;
use jiff::civil::Date;
use jiff::tz::TimeZone;
use serde::Serialize;
use sha2::{Digest as _, Sha256};
use shared_types::UtcMillis;

use super::goal::{Goal, Still};
use super::past::past_of;
use super::prediction_interval::{PLACES, PredictionInterval};
use super::resample::{DRAWS, Past, futures, prior_weeks};
use super::resampling_params::RESAMPLING_PARAMS;
use super::week::{LEAST_WEEKS, Week};
use crate::care::history::History;
use crate::care::local_clock::{LocalClock, LocalMoment};
use crate::care::schedule::{Due, DueState};
use crate::entries::day_as_text;
use crate::stats::DAY_MS;

/// How often the range is meant to hold the truth: about one time in twelve it comes before, and as often after.
pub const RANGE: f64 = 0.83;

/// Why there is no date.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum NoDate {
    /// It is due already.
    DueNow,
    /// It does not apply, every limit is off, or it is put off.
    NotNow,
    /// The history has too few whole weeks; only what is left is known.
    TooFewWeeks,
    /// In more than half of all futures it does not fall due for years.
    TooFar,
    /// It is end-of-day care: it comes with every day worked, and on no date.
    EndOfDay,
}

/// On which day a task will probably fall due.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct DueForecast {
    /// Before this day it falls due about one time in twelve; of hard cases more often.
    #[serde(serialize_with = "day_as_text")]
    pub earliest: Option<Date>,
    /// Half of the futures come before, half after.
    #[serde(serialize_with = "day_as_text")]
    pub middle: Option<Date>,
    /// After this day it falls due about one time in twelve; none when that is years ahead.
    #[serde(serialize_with = "day_as_text")]
    pub latest: Option<Date>,
    /// The day on which the limit by calendar alone would make it due, run time or not.
    #[serde(serialize_with = "day_as_text")]
    pub by_calendar: Option<Date>,
    /// Today, from which words such as "tomorrow" count.
    #[serde(serialize_with = "day_as_text")]
    pub today: Option<Date>,
    /// Why there is no date.
    pub no_date_because: Option<NoDate>,
    /// Whole weeks of the maker's own in it.
    pub whole_weeks: usize,
    /// Whole weeks without which there is no date.
    pub least_whole_weeks: usize,
    /// Prior weeks mixed in, our assumption; above 0 the history is short and the dates are rough.
    pub prior_weeks: usize,
    /// How often the truth is meant to lie from `earliest` to `latest`.
    pub range: f64,
    /// Futures drawn; 0 when nothing had to be drawn.
    pub draws: usize,
    /// The seed of the draws, worked out from the whole weeks.
    pub seed: u64,
}

impl DueForecast {
    /// Whether there is a date that rests on a short history, filled up with prior weeks.
    #[must_use]
    pub const fn is_rough(&self) -> bool {
        self.no_date_because.is_none() && self.draws > 0 && self.prior_weeks > 0
    }
}

/// What is known of a machine's past, worked out once for all of its tasks.
#[derive(Clone, Debug)]
pub struct Outlook {
    past: Past,
    now: UtcMillis,
    local_now: Option<LocalMoment>,
    today: Option<Date>,
    zone: TimeZone,
    ran_last: Option<i64>,
}

impl Outlook {
    /// Looks back over a machine's running.
    #[must_use]
    pub fn of(history: &History, now: UtcMillis, zone: &TimeZone) -> Self {
        let ends = history.pieces.iter().filter(|piece| piece.is_recorded).filter_map(|piece| {
            let run = i64::try_from(piece.run.0).unwrap_or(i64::MAX);
            piece.latest.map(|latest| latest.0.saturating_add(run))
        });
        let by_hand = history.by_hand.iter().map(|(at, _)| at.0);
        Self {
            past: past_of(history, now, zone),
            now,
            local_now: LocalClock::of(zone).read(now.0),
            today: Timestamp::from_millisecond(now.0).ok().map(|now| zone.to_datetime(now).date()),
            zone: zone.clone(),
            ran_last: ends.chain(by_hand).filter(|end| *end <= now.0).max(),
        }
    }

    /// When each of the machine's tasks will probably fall due.
    #[must_use]
    pub fn forecasts(&self, dues: &[Due]) -> Vec<DueForecast> {
        let goals: Vec<Option<Goal>> = dues.iter().map(|due| self.goal_to_draw(due)).collect();
        let to_draw: Vec<Goal> = goals.iter().copied().flatten().collect();
        // From the whole weeks alone: within a week the same lives are lived for all tasks, and a date moves only with its reasons.
        let seed = seed_of(&self.past.weeks);
        let mut drawn = futures(&self.past, &to_draw, &RESAMPLING_PARAMS, DRAWS, seed).into_iter();
        let forecasts = dues.iter().zip(goals).map(|(due, goal)| match goal {
            Some(goal) => self.drawn(&goal, seed, &drawn.next().unwrap_or_default()),
            None => self.without_draws(due),
        });
        forecasts.collect()
    }

    /// What is waited for, where only draws can tell when it comes.
    fn goal_to_draw(&self, due: &Due) -> Option<Goal> {
        let can_come = !is_off(due)
            && !due.is_due()
            && due.state != DueState::EndOfDay
            && self.past.weeks.len() >= LEAST_WEEKS;
        can_come.then(|| self.goal(due)).filter(|goal| !goal.is_by_calendar_alone())
    }

    fn drawn(&self, goal: &Goal, seed: u64, reached: &[f64]) -> DueForecast {
        let day = |days: f64| days.is_finite().then(|| self.day_after(days)).flatten();
        let read = PredictionInterval::of(reached, PLACES);
        let middle = read.and_then(|read| day(read.middle));
        DueForecast {
            earliest: read.and_then(|read| day(read.low)),
            middle,
            latest: read.and_then(|read| day(read.high)),
            by_calendar: self.by_calendar(goal),
            no_date_because: middle.is_none().then_some(NoDate::TooFar),
            draws: reached.len(),
            seed,
            ..self.without_date()
        }
    }

    fn without_draws(&self, due: &Due) -> DueForecast {
        let forecast = self.without_date();
        let because = match due.state {
            _ if is_off(due) => Some(NoDate::NotNow),
            DueState::EndOfDay => Some(NoDate::EndOfDay),
            _ if due.is_due() => Some(NoDate::DueNow),
            _ => None,
        };
        if because.is_some() {
            return DueForecast { no_date_because: because, ..forecast };
        }
        let goal = self.goal(due);
        let by_calendar = self.by_calendar(&goal);
        if !goal.is_by_calendar_alone() {
            return DueForecast { by_calendar, no_date_because: Some(NoDate::TooFewWeeks), ..forecast };
        }
        DueForecast {
            earliest: by_calendar,
            middle: by_calendar,
            latest: by_calendar,
            by_calendar,
            no_date_because: by_calendar.is_none().then_some(NoDate::TooFar),
            ..forecast
        }
    }

    fn without_date(&self) -> DueForecast {
        let whole_weeks = self.past.weeks.len();
        DueForecast {
            earliest: None,
            middle: None,
            latest: None,
            by_calendar: None,
            today: self.today,
            no_date_because: None,
            whole_weeks,
            least_whole_weeks: LEAST_WEEKS,
            prior_weeks: prior_weeks(whole_weeks),
            range: RANGE,
            draws: 0,
            seed: 0,
        }
    }

    fn by_calendar(&self, goal: &Goal) -> Option<Date> {
        goal.fixed_days.and_then(|days| self.day_after(days))
    }

    /// What is left of each limit.
    fn goal(&self, due: &Due) -> Goal {
        let (limits, used) = (due.planned.limits, due.used);
        let left_ms = |days: u32, used: u64| {
            let left = (u64::from(days) * DAY_MS).saturating_sub(used);
            i64::try_from(left).unwrap_or(i64::MAX)
        };
        let fixed = limits.days.map(|days| self.now.0.saturating_add(left_ms(days, used.time_ms)));
        let done = due.planned.last.moment.when.earliest().map(|at| at.0);
        let still_since = self.ran_last.max(done).unwrap_or(self.now.0);
        Goal {
            run_ms: due.remaining_run_ms().map(|left| u64::try_from(left).unwrap_or(0)),
            // What every session asks for has no date by sessions: it is end-of-day care.
            sessions: limits
                .sessions
                .filter(|limit| *limit > 1)
                .map(|limit| u64::from(limit).saturating_sub(used.sessions)),
            fixed_days: fixed.and_then(|at| self.days_to(at)),
            still: limits
                .idle_days
                .zip(self.days_to(still_since))
                .map(|(limit, since_days)| Still { limit_days: f64::from(limit), since_days }),
        }
    }

    /// A moment in days after the beginning of today, on the maker's clock.
    fn days_to(&self, utc_ms: i64) -> Option<f64> {
        let (today, at) = (self.local_now?.day, LocalClock::of(&self.zone).read(utc_ms)?);
        let days = i32::try_from(at.day - today).ok()?;
        Some(f64::from(days) + at.share_of_day())
    }

    fn day_after(&self, days: f64) -> Option<Date> {
        #[expect(clippy::cast_possible_truncation, reason = "held to a span of dates")]
        let whole = days.clamp(0.0, 100_000.0).floor() as i64;
        self.today?.checked_add(jiff::Span::new().days(whole)).ok()
    }
}

const fn is_off(due: &Due) -> bool {
    matches!(due.state, DueState::NotNow | DueState::Snoozed)
}

/// The first eight bytes of the SHA-256 digest of what ran on each day; any other day gives another seed.
fn seed_of(weeks: &[Week]) -> u64 {
    let mut hash = Sha256::new();
    for day in weeks.iter().flatten() {
        hash.update(day.run_ms.to_le_bytes());
        hash.update(day.sessions.to_le_bytes());
    }
    let digest: [u8; 32] = hash.finalize().into();
    digest.first_chunk().map_or(0, |first| u64::from_le_bytes(*first))
}

#[cfg(test)]
#[path = "due_date_tests.rs"]
mod tests;
