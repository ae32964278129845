//! Exact limits for a count of rare events, and for the rate that follows from it.

use super::tails::{gamma_quantile, gamma_upper_quantile};
use super::{Estimate, Level, Observed, finite, number};

/// The expected counts that would make this count, or a more extreme one, just too surprising (Garwood 1936).
///
/// Lower limit: the Poisson mean at which `events` or more have the probability of one tail; exactly 0 for no event. Upper
/// limit: the mean at which `events` or fewer have it.
#[must_use]
pub fn count_limits(events: u64, level: Level) -> Estimate {
    let tail = level.tail();
    let low = if events == 0 { Some(0.0) } else { gamma_quantile(number(events), tail) };
    Estimate { estimate: Some(number(events)), low, high: gamma_upper_quantile(number(events) + 1.0, tail) }
}

/// Events per unit of exposure, with exact limits; nothing without exposure.
#[must_use]
pub fn rate(observed: Observed, level: Level) -> Estimate {
    if observed.exposure.is_nan() || observed.exposure <= 0.0 {
        return Estimate::default();
    }
    let count = count_limits(observed.events, level);
    let per = |value: Option<f64>| value.and_then(|value| finite(value / observed.exposure));
    Estimate { estimate: per(count.estimate), low: per(count.low), high: per(count.high) }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn no_event_has_a_lower_limit_of_exactly_zero() {
        assert_eq!(count_limits(0, Level::USUAL).low, Some(0.0));
    }

    #[test]
    fn no_event_has_the_upper_limit_of_the_logarithm() {
        // P(0; m) = exp(-m) = tail, so m = -ln(tail): by hand, for any level.
        for share in [0.5, 0.8, 0.9, 0.95, 0.99, 0.999_999] {
            let high = count_limits(0, Level::new(share).unwrap()).high.unwrap();
            assert!((high + ((1.0 - share) / 2.0).ln()).abs() < 1e-9, "{share}: {high}");
        }
    }

    #[test]
    fn without_exposure_there_is_no_rate() {
        assert_eq!(rate(Observed { events: 2, exposure: 0.0 }, Level::USUAL), Estimate::default());
    }

    proptest! {
        #[test]
        fn limits_enclose_the_count_and_grow_with_it(events in 0_u64..3000, share in 0.5_f64..0.999) {
            let level = Level::new(share).unwrap();
            let (this, next) = (count_limits(events, level), count_limits(events + 1, level));
            prop_assert!(this.low.unwrap() <= number(events) && number(events) < this.high.unwrap());
            prop_assert!(this.low.unwrap() < next.low.unwrap() && this.high.unwrap() < next.high.unwrap());
        }
    }
}
