//! The range that is told: quantiles of the drawn moments.
//!
//! Drawn weeks know what was, and too little of what a maker has not shown yet: a season that has not ended, a first holiday. So
//! the truth lies outside of a range more often than the draws do, and the ends are read further out than at the misses that
//! are meant. The places are the same for every maker, every history and every goal; so more hours left are never used up sooner,
//! and a limit by calendar needs no rule of its own.

use super::resample::rank;

/// The shares of the draws before the two ends of a range.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Places {
    /// Before the early end.
    pub early: f64,
    /// Before the late end.
    pub late: f64,
}

/// The places in use. Our assumption, no source: the roundest ones at which made-up makers missed each side less than one time in
/// twelve, with something to spare for makers of other habits (`host/core/STATISTICS/care.md`). With 500 draws the share before
/// an end has a standard error of 0.01.
pub const PLACES: Places = Places { early: 0.05, late: 0.95 };

/// A range of moments, in days after the beginning of today.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PredictionInterval {
    /// The early end.
    pub low: f64,
    /// Half of the draws come before.
    pub middle: f64,
    /// The late end; infinite when that is further away than is looked.
    pub high: f64,
}

impl PredictionInterval {
    /// Reads drawn moments, in order, at such places; none without any.
    #[must_use]
    pub fn of(reached: &[f64], places: Places) -> Option<Self> {
        let at = |share| reached.get(rank(reached.len(), share)).copied();
        Some(Self { low: at(places.early)?, middle: at(0.5)?, high: at(places.late)? })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::care::forecast::goal::Goal;
    use crate::care::forecast::resample::{DRAWS, Past, futures};
    use crate::care::forecast::resampling_params::RESAMPLING_PARAMS;
    use crate::care::forecast::week::{Day, WEEK, Week};
    use proptest::prelude::*;

    fn weeks_of(days: &[f64]) -> Vec<Week> {
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "some hours")]
        let day = |hours: &f64| Day { run_ms: (hours * 3_600_000.0) as u64, sessions: 1 };
        let days: Vec<Day> = days.iter().map(day).collect();
        days.chunks_exact(WEEK).filter_map(|week| week.try_into().ok()).collect()
    }

    #[test]
    fn the_ends_are_the_nearest_places_of_the_draws() {
        let reached: Vec<f64> = (0..101_u32).map(f64::from).collect();
        let read = PredictionInterval::of(&reached, Places { early: 0.05, late: 0.95 });
        assert_eq!(read, Some(PredictionInterval { low: 5.0, middle: 50.0, high: 95.0 }));
        let far = PredictionInterval::of(&[1.0, f64::INFINITY], PLACES);
        assert_eq!(far.map(|far| (far.low, far.high)), Some((1.0, f64::INFINITY)));
    }

    #[test]
    fn without_a_future_there_is_no_range() {
        assert_eq!(PredictionInterval::of(&[], PLACES), None);
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
                let reached = futures(&past, &[goal], &RESAMPLING_PARAMS, DRAWS / 5, 5);
                PredictionInterval::of(&reached[0], PLACES).unwrap()
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
