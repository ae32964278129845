//! First passage time of a random walk with drift: the inverse Gaussian distribution (Schroedinger 1915; Chhikara and Folks).
//!
//! Assumes that equal steps of time add independent amounts of the same mean and spread, in so many small parts that they are
//! normal. Whole weeks of a maker are neither; so this is a calculator and a check, not the forecast.

use statrs::function::erf::erfc;

use super::finite;
use super::root::root;

/// First-passage time to a distance, in the steps of the mean and the spread.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FirstPassage {
    /// The mean time.
    pub mean: f64,
    /// Its standard deviation.
    pub standard_deviation: f64,
    /// The distribution's second parameter, also a time; large means a narrow spread.
    pub shape: f64,
}

/// Increment of one time step.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Drift {
    /// On the average; above zero.
    pub mean: f64,
    /// Its standard deviation; above zero.
    pub standard_deviation: f64,
}

/// The time until `distance` is covered; nothing unless all three numbers are finite and above zero and so is what follows.
#[must_use]
pub fn first_passage(distance: f64, drift: Drift) -> Option<FirstPassage> {
    let is_usable = |value: f64| value.is_finite() && value > 0.0;
    let mean = distance / drift.mean;
    let shape = (distance / drift.standard_deviation).powi(2);
    let standard_deviation = mean * (mean / shape).sqrt();
    let all = [distance, drift.mean, drift.standard_deviation, mean, shape, standard_deviation];
    all.into_iter().all(is_usable).then_some(FirstPassage { mean, standard_deviation, shape })
}

impl FirstPassage {
    /// The probability that the distance is covered by `time`.
    #[must_use]
    pub fn by(self, time: f64) -> f64 {
        if time <= 0.0 {
            return 0.0;
        }
        let root = (self.shape / time).sqrt();
        let (near, far) = (root * (time / self.mean - 1.0), root * (time / self.mean + 1.0));
        // The textbook's second term is exp(2 shape / mean) times a normal tail at `far`; because far^2 - near^2 is exactly
        // 4 shape / mean, it is the scaled tail times exp(-near^2 / 2), which cannot overflow.
        let below = 0.5 * erfc(-near / std::f64::consts::SQRT_2);
        (below + scaled_tail(far) * (-0.5 * near * near).exp()).min(1.0)
    }

    /// The time by which the distance is covered with this probability, above 0 and below 1.
    #[must_use]
    pub fn time_of(self, probability: f64) -> Option<f64> {
        if !(probability > 0.0 && probability < 1.0) {
            return None;
        }
        let middle = self.mean.ln();
        let ln_time = root(middle - 60.0, middle + 60.0, |ln_time| self.by(ln_time.exp()) - probability)?;
        finite(ln_time.exp())
    }
}

/// The normal probability above `z`, divided by exp(-z^2 / 2), for `z` above zero.
fn scaled_tail(z: f64) -> f64 {
    if z < 20.0 {
        return 0.5 * erfc(z / std::f64::consts::SQRT_2) * (0.5 * z * z).exp();
    }
    // Asymptotic series; the first term left out is below 1e-10 of the sum from here on.
    let square = 1.0 / (z * z);
    let series = 1.0 - square * (1.0 - 3.0 * square * (1.0 - 5.0 * square * (1.0 - 7.0 * square)));
    series / (z * (2.0 * std::f64::consts::PI).sqrt())
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn nothing_is_known_without_a_distance_a_mean_and_a_spread() {
        for (distance, mean, standard_deviation) in
            [(0.0, 1.0, 1.0), (1.0, 0.0, 1.0), (1.0, 1.0, 0.0), (-1.0, 1.0, 1.0), (f64::NAN, 1.0, 1.0)]
        {
            assert_eq!(first_passage(distance, Drift { mean, standard_deviation }), None);
        }
    }

    #[test]
    fn a_narrow_spread_is_nearly_normal_and_does_not_overflow() {
        // 1000 at 1 a day with spread 0.01: mean 1000, deviation 0.01 sqrt(1000) = 0.3162; the median is the mean of a
        // symmetric distribution to within a hundredth of the deviation.
        let passage = first_passage(1000.0, Drift { mean: 1.0, standard_deviation: 0.01 }).unwrap();
        assert!((passage.standard_deviation - 0.316_227_766).abs() < 1e-8);
        assert!((passage.time_of(0.5).unwrap() - 1000.0).abs() < 0.003);
        assert!((passage.by(1000.0 + 1.959_964 * passage.standard_deviation) - 0.975).abs() < 1e-3);
    }

    #[test]
    fn the_two_ways_to_the_tail_meet() {
        let (below, above) = (scaled_tail(20.0 - 1e-9), scaled_tail(20.0));
        assert!((below / above - 1.0).abs() < 1e-8, "{below} {above}");
    }

    proptest! {
        #[test]
        fn the_probability_of_a_quantile_is_where_it_began(
            distance in 0.1_f64..1e4, mean in 0.01_f64..50.0, spread in 0.01_f64..20.0, p in 0.001_f64..0.999
        ) {
            let passage = first_passage(distance, Drift { mean, standard_deviation: spread }).unwrap();
            prop_assert!((passage.by(passage.time_of(p).unwrap()) - p).abs() < 1e-9);
        }

        #[test]
        fn later_is_never_less_probable(
            distance in 0.1_f64..1e3, mean in 0.01_f64..50.0, spread in 0.01_f64..20.0, t in 0.01_f64..1e4, by in 0.0_f64..3.0
        ) {
            let passage = first_passage(distance, Drift { mean, standard_deviation: spread }).unwrap();
            prop_assert!(passage.by(t * (1.0 + by)) >= passage.by(t) - 1e-12);
        }
    }
}
