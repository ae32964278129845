//! The exponentially weighted moving average, for a level that may drift slowly (Roberts 1959).

use super::finite;

/// The average after each value: `weight` of the new value and the rest of the average before it, beginning at `start`. The
/// weight lies above 0 and is at most 1.
#[must_use]
pub fn moving_average(values: &[f64], weight: f64, start: f64) -> Vec<f64> {
    values
        .iter()
        .scan(start, |average, value| {
            *average = moved(*average, *value, weight);
            Some(*average)
        })
        .collect()
}

/// The average after one more value.
#[must_use]
pub fn moved(average: f64, value: f64, weight: f64) -> f64 {
    average + weight * (value - average)
}

/// How far from the start the average strays by chance alone: `widths` of its standard deviations once many values have gone
/// in, when single values have this standard deviation and are independent.
#[must_use]
pub fn limit_distance(standard_deviation: f64, weight: f64, widths: f64) -> Option<f64> {
    let is_usable = standard_deviation >= 0.0 && weight > 0.0 && weight <= 1.0 && widths >= 0.0;
    finite(widths * standard_deviation * (weight / (2.0 - weight)).sqrt()).filter(|_| is_usable)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_weight_of_one_forgets_everything() {
        assert_eq!(moving_average(&[3.0, 5.0, 4.0], 1.0, 100.0), [3.0, 5.0, 4.0]);
        assert_eq!(limit_distance(2.0, 1.0, 3.0), Some(6.0));
    }

    #[test]
    fn a_half_is_worked_out_by_hand() {
        assert_eq!(moving_average(&[2.0, 4.0, 0.0], 0.5, 0.0), [1.0, 2.5, 1.25]);
        assert_eq!(moving_average(&[], 0.5, 1.0), Vec::<f64>::new());
    }

    #[test]
    fn weights_and_spreads_that_are_none_have_no_limit() {
        for (spread, weight, widths) in
            [(1.0, 0.0, 3.0), (1.0, 1.1, 3.0), (-1.0, 0.5, 3.0), (f64::NAN, 0.5, 3.0)]
        {
            assert_eq!(limit_distance(spread, weight, widths), None);
        }
    }
}
