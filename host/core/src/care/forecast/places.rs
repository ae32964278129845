//! Where the range is read among the drawn futures.
//!
//! Drawn weeks know what was, and too little of what a maker has not shown yet: a season that has not ended, a first holiday.
//! So the ends of the range are not read at places 0.1 and 0.9 of the draws, but where made-up makers with the same signs missed
//! one time in ten (logistic regression of the places at which the truth came, Wilks 2009). The places depend on how far ahead a
//! day lies and on the whole weeks alone, not on what is waited for; so more hours left are never used up sooner.

use super::place_row::{row, score};
use super::place_weights::{EARLY, LATE};
use super::resample::{HORIZON_WEEKS, rank};
use super::signs::Signs;
use super::week::{WEEK, Week, float};
use crate::stats::{log_odds, logistic};

/// The share of futures outside of one end of the range is never smaller or larger than these.
pub const SHARES: (f64, f64) = (0.005, 0.3);

/// A range of moments, in days after the beginning of today.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Moments {
    /// One time in ten it comes before.
    pub low: f64,
    /// Half of the futures come before.
    pub middle: f64,
    /// One time in ten it comes after; infinite when that is further away than is looked.
    pub high: f64,
}

/// Reads the range off drawn moments in order; none without any.
#[must_use]
pub fn read(reached: &[f64], weeks: &[Week]) -> Option<Moments> {
    let signs = Signs::of(weeks);
    let (early, late) = (EARLY.weights(), LATE.weights());
    let middle = reached.get(rank(reached.len(), 0.5)).copied()?;
    Some(Moments {
        low: first(reached, |day| share(score(&early, &row(&signs, day)))),
        middle,
        high: first(reached, |day| 1.0 - share(score(&late, &row(&signs, day)))),
    })
}

/// The first moment by which as large a share of the futures is there as its day asks for.
fn first(reached: &[f64], asked: impl Fn(f64) -> f64) -> f64 {
    let days = (0..HORIZON_WEEKS * WEEK).map(float);
    let mut crossed = days.filter_map(|day| {
        let at = reached.get(rank(reached.len(), asked(day))).copied()?;
        (at < day + 1.0).then_some(at.max(day))
    });
    let last = reached.last().copied().unwrap_or(f64::INFINITY);
    crossed.next().unwrap_or(last)
}

/// The share of futures outside of one end of the range.
#[must_use]
pub fn share(score: f64) -> f64 {
    let (least, most) = (log_odds(SHARES.0), log_odds(SHARES.1));
    logistic(least + (most - least) * logistic(score))
}

/// The score of a share that lies within [`SHARES`].
#[must_use]
pub fn score_of(share: f64) -> f64 {
    let (least, most) = (log_odds(SHARES.0), log_odds(SHARES.1));
    log_odds((log_odds(share) - least) / (most - least))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::care::forecast::resample::{DRAWS, Goal, Past, futures};
    use crate::care::forecast::resampling_params::RESAMPLING_PARAMS;
    use crate::care::forecast::week::Day;
    use proptest::prelude::*;

    fn weeks_of(days: &[f64]) -> Vec<Week> {
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "some hours")]
        let day = |hours: &f64| Day { run_ms: (hours * 3_600_000.0) as u64, sessions: 1 };
        let days: Vec<Day> = days.iter().map(day).collect();
        days.chunks_exact(WEEK).filter_map(|week| week.try_into().ok()).collect()
    }

    #[test]
    fn the_first_day_with_enough_futures_is_read_and_not_before_it_begins() {
        let reached: Vec<f64> = (0..11_u32).map(f64::from).collect();
        // Three tenths of eleven futures: the fourth of them.
        assert!((first(&reached, |_| 0.3) - 3.0).abs() < 1e-12);
        // Half until the fifth day, then a fifth: the fifth day begins with more than that.
        assert!((first(&reached, |day| if day < 4.0 { 0.5 } else { 0.2 }) - 4.0).abs() < 1e-12);
        // What lies beyond all days that are looked at is the last of the futures.
        assert!(first(&[1.0, f64::INFINITY], |_| 0.9).is_infinite());
        assert!((first(&[4_000.0], |_| 0.1) - 4_000.0).abs() < 1e-12);
    }

    #[test]
    fn without_a_future_there_is_no_range() {
        assert_eq!(read(&[], &[]), None);
    }

    #[test]
    fn a_share_comes_back_from_its_score_and_any_score_keeps_within_the_shares() {
        assert!((share(score_of(0.1)) - 0.1).abs() < 1e-12);
        // Half way between the log odds of 0.005 and 0.3: -3.07030, of 0.04435 (by hand).
        assert!((share(0.0) - 0.044_349).abs() < 1e-5, "{}", share(0.0));
        assert!((share(-900.0) - SHARES.0).abs() < 1e-12 && (share(900.0) - SHARES.1).abs() < 1e-12);
    }

    proptest! {
        #[test]
        fn more_hours_left_are_never_used_up_sooner_and_the_nearer_limit_decides(
            days in proptest::collection::vec(0.0_f64..4.0, 28..140), weekday in 0_usize..7,
            left in 0.1_f64..30.0, more in 0.0_f64..10.0, fixed in 0.0_f64..40.0
        ) {
            let weeks = weeks_of(&days);
            let rests = weeks.iter().map(|week| week[weekday]).collect();
            let past = Past { rests, weekday, weeks, ..Past::default() };
            let range = |hours: f64, fixed_days| {
                #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "some hours")]
                let goal = Goal { run_ms: Some((hours * 3_600_000.0) as u64), fixed_days, ..Goal::default() };
                read(&futures(&past, &goal, &RESAMPLING_PARAMS, DRAWS / 5, 5), &past.weeks).unwrap()
            };
            let (sooner, later) = (range(left, None), range(left + more, None));
            prop_assert!(sooner.low <= later.low && sooner.middle <= later.middle && sooner.high <= later.high);
            prop_assert!(sooner.low <= sooner.middle && sooner.middle <= sooner.high);
            let limited = range(left, Some(fixed));
            let nearer = |free: f64| free.min(fixed);
            prop_assert_eq!(limited.low, nearer(sooner.low));
            prop_assert_eq!(limited.middle, nearer(sooner.middle));
            prop_assert_eq!(limited.high, nearer(sooner.high));
        }
    }
}
