//! Quantiles of a sample: definition 7 of Hyndman and Fan (1996), the one of R and numpy when nothing else is said.

use super::number;

/// The value below which the share `p` of the sample lies, straight between neighbours; nothing for an empty sample, a value
/// that is no number, or a share outside 0 to 1. The order of the values does not matter.
#[must_use]
pub fn quantile(values: &[f64], p: f64) -> Option<f64> {
    if !(0.0..=1.0).contains(&p) || values.iter().any(|value| value.is_nan()) {
        return None;
    }
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    let steps = sorted.len().checked_sub(1)?;
    let as_number = |step: usize| u64::try_from(step).map_or(f64::INFINITY, number);
    let place = p * as_number(steps);
    // The place is at most the number of steps, so a look through them finds its floor without a cast.
    let lower = (0..=steps).rev().find(|&step| as_number(step) <= place)?;
    let (low, high) = (*sorted.get(lower)?, *sorted.get((lower + 1).min(steps))?);
    Some(low + (place - as_number(lower)) * (high - low))
}

#[cfg(test)]
mod tests {
    use super::quantile;

    #[test]
    fn the_ends_and_the_middle_are_those_of_the_sample() {
        let sample = [4.0, 1.0, 3.0, 2.0];
        let found = [0.0, 0.5, 1.0].map(|p| quantile(&sample, p));
        assert_eq!(found, [Some(1.0), Some(2.5), Some(4.0)]);
        assert_eq!(quantile(&[7.0], 0.3), Some(7.0));
    }

    #[test]
    fn nothing_comes_of_nothing() {
        assert_eq!((quantile(&[], 0.5), quantile(&[1.0, f64::NAN], 0.5)), (None, None));
        assert_eq!((quantile(&[1.0], -0.1), quantile(&[1.0], 1.1)), (None, None));
    }
}
