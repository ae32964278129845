//! Where the next value of a log-normal quantity most likely lies: the prediction interval of its logarithm by Student's
//! t, with s * sqrt(1 + 1/n), taken back with the exponential.

use super::search::crossing;
use super::tails::student_two_sided;
use super::{Estimate, Level, finite, number};

/// Fewer values than this give no interval.
pub const LEAST_VALUES: usize = 4;
/// How far, as a share of the asked probability, the way back may end from where it began.
const ROUND_TRIP: f64 = 1e-9;
/// Beyond this no quantile is looked for; t with one degree of freedom passes it with a probability below 1e-9.
const FAR_END: f64 = 1e9;

/// The distance from zero beyond which a value of Student's t lies with probability `tail` on one side; found by halving
/// on the distribution function and checked by going back.
#[must_use]
pub fn student_distance(tail: f64, degrees_of_freedom: f64) -> Option<f64> {
    if !(tail > 0.0 && tail < 0.5 && degrees_of_freedom > 0.0) {
        return None;
    }
    let beyond = |t: f64| student_two_sided(t, degrees_of_freedom).unwrap_or(f64::NAN);
    let found = crossing(0.0, FAR_END, -2.0 * tail, |t| -beyond(t))?;
    ((beyond(found) - 2.0 * tail).abs() <= ROUND_TRIP * 2.0 * tail).then_some(found)
}

/// The median of the next value, and limits that hold it with the level's probability. Nothing below
/// [`LEAST_VALUES`] values, or where one is not above zero and finite.
#[must_use]
pub fn next_value(values: &[f64], level: Level) -> Option<Estimate> {
    if values.len() < LEAST_VALUES || values.iter().any(|value| !(value.is_finite() && *value > 0.0)) {
        return None;
    }
    let count = number(u64::try_from(values.len()).ok()?);
    let mean = values.iter().map(|value| value.ln()).sum::<f64>() / count;
    let squares: f64 = values.iter().map(|value| (value.ln() - mean).powi(2)).sum();
    let scatter = (squares / (count - 1.0)).sqrt();
    let half = student_distance(level.tail(), count - 1.0)? * scatter * (1.0 + 1.0 / count).sqrt();
    Some(Estimate {
        estimate: finite(mean.exp()),
        low: finite((mean - half).exp()),
        high: finite((mean + half).exp()),
    })
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, reason = "a test may stop at the first surprise")]
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn three_values_and_values_without_a_logarithm_give_no_interval() {
        assert_eq!(next_value(&[1.0, 2.0, 3.0], Level::USUAL), None);
        for bad in [0.0, -1.0, f64::NAN, f64::INFINITY] {
            assert_eq!(next_value(&[1.0, 2.0, 3.0, bad], Level::USUAL), None, "{bad}");
        }
        assert!(next_value(&[1.0, 2.0, 3.0, 4.0], Level::USUAL).is_some());
    }

    #[test]
    fn a_tail_that_is_none_has_no_distance() {
        for (tail, df) in [(0.0, 3.0), (0.5, 3.0), (-0.1, 3.0), (f64::NAN, 3.0), (0.1, 0.0), (0.1, f64::NAN)]
        {
            assert_eq!(student_distance(tail, df), None, "{tail} {df}");
        }
    }

    proptest! {
        #[test]
        fn a_distance_leads_back_to_its_tail(tail in 1e-4_f64..0.499, df in 1_u32..500) {
            let t = student_distance(tail, f64::from(df)).unwrap();
            prop_assert!((student_two_sided(t, f64::from(df)).unwrap() / 2.0 - tail).abs() < 1e-8 * tail);
        }

        #[test]
        fn another_unit_changes_the_unit_only(values in prop::collection::vec(0.01_f64..100.0, 4..12), factor in 0.01_f64..100.0) {
            let scaled: Vec<f64> = values.iter().map(|value| value * factor).collect();
            let (one, other) = (next_value(&values, Level::USUAL).unwrap(), next_value(&scaled, Level::USUAL).unwrap());
            for (one, other) in [(one.estimate, other.estimate), (one.low, other.low), (one.high, other.high)] {
                let (one, other) = (one.unwrap() * factor, other.unwrap());
                prop_assert!((one - other).abs() <= 1e-9 * other);
            }
            prop_assert!(one.low <= one.estimate && one.estimate <= one.high);
        }

        #[test]
        fn more_certainty_needs_more_room(values in prop::collection::vec(0.01_f64..100.0, 4..12)) {
            let at = |share: f64| next_value(&values, Level::new(share).unwrap()).unwrap();
            prop_assert!(at(0.95).low <= at(0.8).low && at(0.8).high <= at(0.95).high);
        }
    }
}
