//! Prediction interval of the next value of a log-normal quantity: that of its logarithm by Student's t, with
//! s * sqrt(1 + 1/n), taken back with the exponential.

use super::tails::{student_distance, student_two_sided};
use super::{Estimate, Level, finite, number};

/// Fewer values than this give no interval.
pub const LEAST_VALUES: usize = 4;
/// With less probability than this above the floor, nothing is foretold.
const FEWEST_ABOVE: f64 = 0.005;
/// A tail this near to a half is the middle: so near to it the distribution function has no digits left to search in, and the
/// distance is below three millionths of the scale.
const MIDDLE: f64 = 1e-6;
/// How far, as a share of the asked probability, the way back may end from where it began.
const ROUND_TRIP: f64 = 1e-9;

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

/// How many of the values lie within the range that all others give for the next one; nothing where the others are fewer
/// than [`LEAST_VALUES`]. Takes time in proportion to the values: mean and squares without one follow from those of all.
#[must_use]
pub fn held_when_left_out(values: &[f64], level: Level) -> Option<u64> {
    if values.len() <= LEAST_VALUES || values.iter().any(|value| !(value.is_finite() && *value > 0.0)) {
        return None;
    }
    let count = number(u64::try_from(values.len()).ok()?);
    let others = count - 1.0;
    let mean = values.iter().map(|value| value.ln()).sum::<f64>() / count;
    let squares: f64 = values.iter().map(|value| (value.ln() - mean).powi(2)).sum();
    let wide = student_distance(level.tail(), others - 1.0)? * (1.0 + 1.0 / others).sqrt();
    let held = values.iter().filter(|value| {
        let from_mean = value.ln() - mean;
        // Without this one the mean lies further away by n / (n - 1), and the squares lack that times the distance squared.
        let left = (squares - from_mean.powi(2) * count / others).max(0.0);
        (from_mean * count / others).abs() <= wide * (left / (others - 1.0)).sqrt() + ROUND_TRIP
    });
    u64::try_from(held.count()).ok()
}

/// The same for a value of which it is already known that it is above `floor`: the prediction's distribution, cut off
/// there. So the answer never lies below what has been reached. Nothing as [`next_value`], and where the values hardly
/// leave anything above the floor.
#[must_use]
pub fn next_value_above(values: &[f64], floor: f64, level: Level) -> Option<Estimate> {
    let plain = next_value(values, level)?;
    if floor <= 0.0 {
        return Some(plain);
    }
    let count = number(u64::try_from(values.len()).ok()?);
    let mean = values.iter().map(|value| value.ln()).sum::<f64>() / count;
    let squares: f64 = values.iter().map(|value| (value.ln() - mean).powi(2)).sum();
    let scale = (squares / (count - 1.0)).sqrt() * (1.0 + 1.0 / count).sqrt();
    if scale <= 0.0 {
        return plain.estimate.filter(|only| *only > floor).map(|_| plain);
    }
    let degrees = count - 1.0;
    let from_middle = (floor.ln() - mean) / scale;
    let outside = student_two_sided(from_middle, degrees)? / 2.0;
    let above_floor = if from_middle > 0.0 { outside } else { 1.0 - outside };
    // Where so little is left, the floor itself lies far outside of what the values tell.
    if above_floor < FEWEST_ABOVE {
        return None;
    }
    let beyond = |share: f64| {
        let tail = share * above_floor;
        let distance = if (tail - 0.5).abs() < MIDDLE {
            0.0
        } else if tail < 0.5 {
            student_distance(tail, degrees)?
        } else {
            -student_distance(1.0 - tail, degrees)?
        };
        finite((mean + distance * scale).exp())
    };
    Some(Estimate { estimate: beyond(0.5), low: beyond(1.0 - level.tail()), high: beyond(level.tail()) })
}

#[cfg(test)]
mod tests {
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

    /// Quantiles of the cut distribution from scipy 1.17.1: with z = stats.t(df=4), m and s of the logarithms of 8, 9, 10, 11,
    /// 12, scale = s*sqrt(1.2), floor 10: exp(m + scale * z.isf(q * z.sf((ln(10) - m) / scale))) for q = 0.9, 0.5, 0.1.
    #[test]
    fn a_value_known_to_be_above_a_floor_is_foretold_as_scipy_does() {
        let found = next_value_above(&[8.0, 9.0, 10.0, 11.0, 12.0], 10.0, Level::new(0.8).unwrap()).unwrap();
        for (found, scipy) in [
            (found.low, 10.228_739_466_707_024),
            (found.estimate, 11.353_803_454_758_138),
            (found.high, 14.491_490_770_175_849),
        ] {
            assert!((found.unwrap() - scipy).abs() < 1e-6, "{found:?} {scipy}");
        }
    }

    #[test]
    fn a_floor_of_nothing_changes_nothing_and_one_far_above_ends_the_prediction() {
        let values = [8.0, 9.0, 10.0, 11.0, 12.0];
        assert_eq!(next_value_above(&values, 0.0, Level::USUAL), next_value(&values, Level::USUAL));
        assert_eq!(next_value_above(&values, 1_000.0, Level::USUAL), None);
        assert_eq!(next_value_above(&[5.0; 4], 6.0, Level::USUAL), None);
        assert_eq!(
            next_value_above(&[5.0; 4], 4.0, Level::USUAL).unwrap().estimate,
            Some(next_value(&[5.0; 4], Level::USUAL).unwrap().estimate.unwrap())
        );
    }

    #[test]
    fn a_floor_far_below_leaves_the_middle_where_it_was() {
        // Found by the property below: with a floor so far down the middle was not found at all.
        let values = [
            1.524_697_941_578_453_6,
            1.307_794_843_861_928_5,
            1.372_219_854_398_648_8,
            1.428_294_436_263_816_6,
            1.471_159_612_270_928_5,
            1.512_785_419_394_034,
        ];
        let free = next_value(&values, Level::USUAL).unwrap();
        for floor in [0.001, 0.1, 0.5] {
            let cut = next_value_above(&values, floor, Level::USUAL).unwrap();
            for (cut, free) in [(cut.estimate, free.estimate), (cut.low, free.low), (cut.high, free.high)] {
                assert!((cut.unwrap() - free.unwrap()).abs() < 0.01, "{floor}: {cut:?} {free:?}");
            }
        }
    }

    proptest! {
        #[test]
        fn what_is_foretold_above_a_floor_lies_above_it(
            values in prop::collection::vec(0.5_f64..2.0, 4..12), floor in 0.1_f64..1.5,
        ) {
            if let Some(found) = next_value_above(&values, floor, Level::new(0.8).unwrap()) {
                prop_assert!(found.low.unwrap() > floor * (1.0 - 1e-9));
                prop_assert!(found.low <= found.estimate && found.estimate <= found.high);
            }
        }

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
        fn leaving_out_by_running_sums_is_leaving_out_one_by_one(
            values in prop::collection::vec(0.01_f64..100.0, 5..15), share in 0.3_f64..0.98,
        ) {
            let level = Level::new(share).unwrap();
            let one_by_one = (0..values.len()).filter(|out| {
                let others: Vec<f64> = values.iter().enumerate().filter(|(at, _)| at != out).map(|(_, one)| *one).collect();
                let next = next_value(&others, level).unwrap();
                let value = values.get(*out).copied().unwrap();
                next.low.unwrap() <= value && value <= next.high.unwrap()
            });
            prop_assert_eq!(held_when_left_out(&values, level), Some(one_by_one.count() as u64));
        }

        #[test]
        fn more_certainty_needs_more_room(values in prop::collection::vec(0.01_f64..100.0, 4..12)) {
            let at = |share: f64| next_value(&values, Level::new(share).unwrap()).unwrap();
            prop_assert!(at(0.95).low <= at(0.8).low && at(0.8).high <= at(0.95).high);
        }
    }
}
