//! On which day a care task will probably fall due, as a range.

use jiff::civil::{Date, DateTime};
use jiff::tz::TimeZone;
use serde::Serialize;
use shared_types::UtcMillis;

use super::chance::seed_of;
use super::past::{local, past_of, share_of_day};
use super::places::read;
use super::resample::{DRAWS, Goal, Past, Still, futures, prior_weeks};
use super::resampling_params::RESAMPLING_PARAMS;
use super::week::LEAST_WEEKS;
use crate::care::history::History;
use crate::care::schedule::{Due, DueState};
use crate::entries::day_as_text;
use crate::stats::DAY_MS;

/// How often the range is meant to hold the truth.
pub const RANGE: f64 = 0.8;

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
}

/// On which day a task will probably fall due.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct DueForecast {
    /// Before this day it falls due one time in ten.
    #[serde(serialize_with = "day_as_text")]
    pub earliest: Option<Date>,
    /// Half of the futures come before, half after.
    #[serde(serialize_with = "day_as_text")]
    pub middle: Option<Date>,
    /// After this day it falls due one time in ten; none when that is years ahead.
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
    /// Prior weeks mixed in, our assumption.
    pub prior_weeks: usize,
    /// How often the truth is meant to lie from `earliest` to `latest`.
    pub range: f64,
    /// Futures drawn; 0 when nothing had to be drawn.
    pub draws: usize,
    /// The seed of the draws, worked out from the whole weeks.
    pub seed: u64,
}

/// What is known of a machine's past, worked out once for all of its tasks.
#[derive(Clone, Debug)]
pub struct Outlook {
    past: Past,
    now: UtcMillis,
    local_now: Option<DateTime>,
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
            local_now: local(now.0, zone),
            zone: zone.clone(),
            ran_last: ends.chain(by_hand).filter(|end| *end <= now.0).max(),
        }
    }

    /// When a task will probably fall due.
    #[must_use]
    pub fn forecast(&self, due: &Due) -> DueForecast {
        let whole_weeks = self.past.weeks.len();
        let mut forecast = DueForecast {
            earliest: None,
            middle: None,
            latest: None,
            by_calendar: None,
            today: self.local_now.map(DateTime::date),
            no_date_because: None,
            whole_weeks,
            least_whole_weeks: LEAST_WEEKS,
            prior_weeks: prior_weeks(whole_weeks),
            range: RANGE,
            draws: 0,
            seed: 0,
        };
        let is_off = matches!(due.state, DueState::NotNow | DueState::Snoozed);
        if is_off || due.is_due() {
            forecast.no_date_because = Some(if is_off { NoDate::NotNow } else { NoDate::DueNow });
            return forecast;
        }
        let goal = self.goal(due);
        forecast.by_calendar = goal.fixed_days.and_then(|days| self.day_after(days));
        let by_calendar_alone = goal.run_ms.is_none() && goal.sessions.is_none() && goal.still.is_none();
        if by_calendar_alone {
            let day = forecast.by_calendar;
            (forecast.earliest, forecast.middle, forecast.latest) = (day, day, day);
            forecast.no_date_because = day.is_none().then_some(NoDate::TooFar);
        } else if whole_weeks < LEAST_WEEKS {
            forecast.no_date_because = Some(NoDate::TooFewWeeks);
        } else {
            self.draw(&goal, &mut forecast);
        }
        forecast
    }

    fn draw(&self, goal: &Goal, forecast: &mut DueForecast) {
        // From the whole weeks alone: within a week the same lives are lived for all tasks, and a date moves only with its reasons.
        let days = self.past.weeks.iter().flatten();
        let seed = seed_of(days.flat_map(|day| [day.run_ms, u64::from(day.sessions)]));
        let reached = futures(&self.past, goal, &RESAMPLING_PARAMS, DRAWS, seed);
        let day = |days: f64| days.is_finite().then(|| self.day_after(days)).flatten();
        forecast.draws = reached.len();
        forecast.seed = seed;
        if let Some(range) = read(&reached, &self.past.weeks) {
            (forecast.earliest, forecast.middle, forecast.latest) =
                (day(range.low), day(range.middle), day(range.high));
        }
        if forecast.middle.is_none() {
            forecast.no_date_because = Some(NoDate::TooFar);
        }
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
            sessions: limits.sessions.map(|limit| u64::from(limit).saturating_sub(used.sessions)),
            fixed_days: fixed.and_then(|at| self.days_to(at)),
            still: limits
                .idle_days
                .zip(self.days_to(still_since))
                .map(|(limit, since_days)| Still { limit_days: f64::from(limit), since_days }),
        }
    }

    /// A moment in days after the beginning of today, on the maker's clock.
    fn days_to(&self, utc_ms: i64) -> Option<f64> {
        let (today, at) = (self.local_now?.date(), local(utc_ms, &self.zone)?);
        let days = today.until(at.date()).ok()?.get_days();
        Some(f64::from(days) + share_of_day(at.time()))
    }

    fn day_after(&self, days: f64) -> Option<Date> {
        #[expect(clippy::cast_possible_truncation, reason = "held to a span of dates")]
        let whole = days.clamp(0.0, 100_000.0).floor() as i64;
        self.local_now?.date().checked_add(jiff::Span::new().days(whole)).ok()
    }
}

#[cfg(test)]
#[path = "due_date_tests.rs"]
mod tests;
