//! Tail probabilities and quantiles. Quantiles of the gamma distribution are roots of its distribution function,
//! checked by going back, because the library's own inverse is silently wrong at small shapes.

use statrs::function::beta::checked_beta_reg;
use statrs::function::erf::{erfc, erfc_inv};
use statrs::function::gamma::{checked_gamma_lr, checked_gamma_ur};

use super::root::root;

/// How far, as a share of the asked probability, the way back may end from where it began.
const ROUND_TRIP: f64 = 1e-6;

/// The value below which a gamma variable of this shape and scale 1 stays with probability `p`.
pub fn gamma_quantile(shape: f64, p: f64) -> Option<f64> {
    let below = |x: f64| if x <= 0.0 { 0.0 } else { checked_gamma_lr(shape, x).unwrap_or(f64::NAN) };
    let found = root(0.0, far_end(shape), |x| below(x) - p)?;
    is_back(below(found), p).then_some(found)
}

/// The value above which a gamma variable of this shape and scale 1 stays with probability `p`.
pub fn gamma_upper_quantile(shape: f64, p: f64) -> Option<f64> {
    let above = |x: f64| if x <= 0.0 { 1.0 } else { checked_gamma_ur(shape, x).unwrap_or(f64::NAN) };
    let found = root(0.0, far_end(shape), |x| p - above(x))?;
    // `1 - p` loses the digits of a small p; a second search on the logarithm finds them again.
    let found = root(found / 2.0, found * 2.0 + 1.0, |x| p.ln() - above(x).ln()).unwrap_or(found);
    is_back(above(found), p).then_some(found)
}

/// The probability that a gamma variable of this shape and scale 1 is above `x`; for a shape above zero.
#[must_use]
pub fn gamma_above(shape: f64, x: f64) -> f64 {
    if x <= 0.0 { 1.0 } else { checked_gamma_ur(shape, x).unwrap_or(f64::NAN) }
}

/// Beyond this no gamma variable of the shape is found with any probability above 1e-300.
fn far_end(shape: f64) -> f64 {
    shape + 60.0 * (shape + 1.0).sqrt() + 800.0
}

fn is_back(back: f64, p: f64) -> bool {
    (back - p).abs() <= ROUND_TRIP * p
}

/// The probability of a standard normal value at least as far from zero as `z`.
pub fn normal_two_sided(z: f64) -> f64 {
    erfc(z.abs() / std::f64::consts::SQRT_2)
}

/// The distance from zero beyond which a standard normal value lies with probability `tail` on one side.
pub fn normal_distance(tail: f64) -> Option<f64> {
    let z = std::f64::consts::SQRT_2 * erfc_inv(2.0 * tail);
    is_back(normal_two_sided(z), 2.0 * tail).then_some(z)
}

/// The probability of a value of Student's t at least as far from zero as `t`.
pub fn student_two_sided(t: f64, degrees_of_freedom: f64) -> Option<f64> {
    checked_beta_reg(degrees_of_freedom / 2.0, 0.5, degrees_of_freedom / (degrees_of_freedom + t * t)).ok()
}

/// Beyond this no quantile is looked for; t with one degree of freedom passes it with a probability below 1e-9.
const STUDENT_FAR_END: f64 = 1e9;

/// A distance must lead back to its probability as closely as this, relatively.
const STUDENT_ROUND_TRIP: f64 = 1e-9;

/// The distance from zero beyond which a value of Student's t lies with probability `tail` on one side; a root of the
/// distribution function, checked by going back.
#[must_use]
pub fn student_distance(tail: f64, degrees_of_freedom: f64) -> Option<f64> {
    if !(tail > 0.0 && tail < 0.5 && degrees_of_freedom > 0.0) {
        return None;
    }
    let beyond = |t: f64| student_two_sided(t, degrees_of_freedom).unwrap_or(f64::NAN);
    let found = root(0.0, STUDENT_FAR_END, |t| 2.0 * tail - beyond(t))?;
    ((beyond(found) - 2.0 * tail).abs() <= STUDENT_ROUND_TRIP * 2.0 * tail).then_some(found)
}

/// The probability of a chi-square value at least as large.
pub fn chi_square_above(value: f64, degrees_of_freedom: f64) -> Option<f64> {
    if value <= 0.0 {
        return Some(1.0);
    }
    checked_gamma_ur(degrees_of_freedom / 2.0, value / 2.0).ok()
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn tail_probabilities_are_those_of_the_tables() {
        // Standard tables: z 1.959964 leaves 2.5 % above, t 2.228 with 10 degrees of freedom 5 % on both sides, chi-square
        // 3.841459 with 1 degree 5 %, 18.307038 with 10 degrees 5 %.
        assert!((normal_distance(0.025).unwrap() - 1.959_964).abs() < 1e-6);
        assert!((normal_two_sided(1.959_964) - 0.05).abs() < 1e-7);
        assert!((student_two_sided(2.228_139, 10.0).unwrap() - 0.05).abs() < 1e-6);
        assert!((student_distance(0.025, 10.0).unwrap() - 2.228_139).abs() < 1e-6);
        assert!((student_distance(0.025, 1.0).unwrap() - 12.706_205).abs() < 1e-5);
        assert!((chi_square_above(3.841_459, 1.0).unwrap() - 0.05).abs() < 1e-7);
        assert!((chi_square_above(18.307_038, 10.0).unwrap() - 0.05).abs() < 1e-7);
    }

    proptest! {
        #[test]
        fn a_quantile_leads_back_to_its_probability(shape in 0.5_f64..5000.0, p in 1e-6_f64..0.999) {
            let x = gamma_quantile(shape, p).unwrap();
            prop_assert!((checked_gamma_lr(shape, x).unwrap() - p).abs() < 1e-6 * p);
            let y = gamma_upper_quantile(shape, p).unwrap();
            prop_assert!((checked_gamma_ur(shape, y).unwrap() - p).abs() < 1e-6 * p);
        }
    }
}
