//! Waiting time for further events of a Poisson process, from the count in a known time.

use statrs::function::beta::checked_beta_reg;

use super::root::root;
use super::{Estimate, Level, number};

/// The time until `more` events have come, after `seen` came in `time`, with the limits between which it lies with the level's
/// probability. Events come at random at one steady rate (Poisson); the rate has nothing known of it beforehand, so that the
/// share of the coming time in both times together is Beta(`more`, `seen`). Nothing without any event or any time.
#[must_use]
pub fn waiting_time(seen: u64, time: f64, more: u64, level: Level) -> Estimate {
    if seen == 0 || more == 0 || !time.is_finite() || time <= 0.0 {
        return Estimate::default();
    }
    let until = |probability: f64| {
        let below = |share: f64| {
            if share <= 0.0 {
                return 0.0;
            }
            checked_beta_reg(number(more), number(seen), share.min(1.0)).unwrap_or(f64::NAN)
        };
        let share = root(0.0, 1.0, |share| below(share) - probability)?;
        (share < 1.0).then(|| time * share / (1.0 - share))
    };
    Estimate { estimate: until(0.5), low: until(level.tail()), high: until(1.0 - level.tail()) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_more_event_is_worked_out_by_hand() {
        // Beta(1, n) has the distribution 1 - (1 - b)^n. For n = 10 and a tail of a tenth: b = 1 - 0.9^(1/10) = 0.010481, and
        // 70 days times b / (1 - b) = 0.741420; for nine tenths b = 1 - 0.1^(1/10) = 0.205672, and 18.124788.
        let told = waiting_time(10, 70.0, 1, Level::new(0.8).unwrap());
        assert!((told.low.unwrap() - 70.0 * (0.9_f64.powf(-0.1) - 1.0)).abs() < 1e-9, "{told:?}");
        assert!((told.high.unwrap() - 70.0 * (0.1_f64.powf(-0.1) - 1.0)).abs() < 1e-9, "{told:?}");
        assert!((told.estimate.unwrap() - 70.0 * (2.0_f64.powf(0.1) - 1.0)).abs() < 1e-9, "{told:?}");
    }

    #[test]
    fn more_events_seen_make_the_range_narrower_and_none_make_no_time() {
        let width = |seen: u64| {
            let told = waiting_time(seen, number(seen), 10, Level::USUAL);
            told.high.unwrap() - told.low.unwrap()
        };
        assert!(width(200) < width(20) && width(20) < width(5));
        assert_eq!(waiting_time(0, 70.0, 5, Level::USUAL), Estimate::default());
        assert_eq!(waiting_time(5, 0.0, 5, Level::USUAL), Estimate::default());
    }
}
