//! When to replace a part before it fails: the age with the lowest cost per hour in the long run (Barlow and Hunter 1960).
//!
//! A part is replaced at a chosen age for the planned cost, or when it fails before for the failure cost; the new one is like
//! the old one when it was new. Cost per hour is the mean cost of a part over its mean time in use.

use serde::Serialize;
use statrs::function::gamma::ln_gamma;

use super::finite;
use super::root::root;
use super::weibull::Weibull;

/// Costs of a replacement, in the caller's currency.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Costs {
    /// At a moment of the maker's choice; above zero.
    pub planned: f64,
    /// When the part fails at work; above zero.
    pub failure: f64,
}

impl Costs {
    /// Both costs; nothing unless both are finite and above zero.
    #[must_use]
    pub fn new(planned: f64, failure: f64) -> Option<Self> {
        let is_usable = |cost: f64| cost.is_finite() && cost > 0.0;
        (is_usable(planned) && is_usable(failure)).then_some(Self { planned, failure })
    }
}

/// Why no age is better than running to failure.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum NoAge {
    /// An old part is no more likely to fail in the next hour than a new one: the shape is 1 or below.
    WearDoesNotGrow,
    /// A failure costs no more than a planned replacement.
    FailureCostsNoMore,
    /// The best age saves less than a billionth, because hardly any part reaches it.
    SavesNothing,
}

/// The best policy.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Replacement {
    /// The age at which to replace, or why none pays.
    pub age: Result<f64, NoAge>,
    /// Cost per unit of time at that age, or of running to failure; none where it is too small or large for a number.
    pub cost_rate: Option<f64>,
    /// Cost per unit of time of running to failure.
    pub failure_cost_rate: Option<f64>,
}

/// A saving below this share of the cost is none.
const LEAST_SAVING: f64 = 1e-9;
/// The searched ages, as the logarithm of the expected number of failures up to that age.
const LN_FAILURES: (f64, f64) = (-700.0, 6.5);

/// Finds the age with the lowest cost per unit of time.
#[must_use]
pub fn best_age(life: Weibull, costs: Costs) -> Replacement {
    let failure_cost_rate = life.mean().and_then(|mean| finite(costs.failure / mean));
    let run_to_failure = |why| Replacement { age: Err(why), cost_rate: failure_cost_rate, failure_cost_rate };
    if life.shape <= 1.0 {
        return run_to_failure(NoAge::WearDoesNotGrow);
    }
    if costs.failure <= costs.planned {
        return run_to_failure(NoAge::FailureCostsNoMore);
    }
    best_of(life, costs)
        .filter(|(_, rate)| failure_cost_rate.is_none_or(|other| *rate < other * (1.0 - LEAST_SAVING)))
        .map_or_else(
            || run_to_failure(NoAge::SavesNothing),
            |(age, rate)| Replacement { age: Ok(age), cost_rate: Some(rate), failure_cost_rate },
        )
}

/// The age and its cost rate. At the best age the hazard times the mean time in use, less the share that failed, equals the
/// planned cost over what a failure costs beyond it; the left side rises with the age, so there is one such age.
fn best_of(life: Weibull, costs: Costs) -> Option<(f64, f64)> {
    let wanted = (costs.planned / (costs.failure - costs.planned)).ln();
    let gained = |ln_z: f64| {
        let z = ln_z.exp();
        let gain = life.shape * z * in_use_over_age(life.shape, z) + (-z).exp_m1();
        // Rounding may leave nothing of a tiny gain: its first term stands in.
        if gain > 0.0 { gain.ln() } else { (life.shape - 1.0).ln() + ln_z }
    };
    let ln_z = root(LN_FAILURES.0, LN_FAILURES.1, |ln_z| gained(ln_z) - wanted)?;
    let z = ln_z.exp();
    let age = (life.scale.ln() + ln_z / life.shape).exp();
    let failed = -(-z).exp_m1();
    let cost = costs.planned + (costs.failure - costs.planned) * failed;
    let rate = cost / (age * in_use_over_age(life.shape, z));
    Some((finite(age).filter(|age| *age > 0.0)?, finite(rate)?))
}

/// The mean time in use up to an age, as a share of that age, where `z` is (age / scale)^shape.
///
/// The integral of exp(-s^shape) from 0 to x is x e^-z times the sum of z^n / ((1 + 1/shape) ... (n + 1/shape)): only
/// positive terms. Beyond z = 50 it differs from its limit by less than e^-50.
fn in_use_over_age(shape: f64, z: f64) -> f64 {
    let a = 1.0 / shape;
    if z > 50.0 {
        return (ln_gamma(1.0 + a) - a * z.ln()).exp();
    }
    let (mut term, mut sum, mut n) = (1.0_f64, 1.0_f64, 0.0);
    while term > sum * 1e-17 {
        n += 1.0;
        term *= z / (n + a);
        sum += term;
    }
    sum * (-z).exp()
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn best(shape: f64, scale: f64, planned: f64, failure: f64) -> Replacement {
        best_age(Weibull::new(shape, scale).unwrap(), Costs::new(planned, failure).unwrap())
    }

    #[test]
    fn without_growing_wear_no_age_pays() {
        for shape in [0.3, 0.999, 1.0] {
            assert_eq!(best(shape, 100.0, 1.0, 50.0).age, Err(NoAge::WearDoesNotGrow));
        }
        // At shape 1 the mean life is the scale: 50 in 100 hours.
        assert!((best(1.0, 100.0, 1.0, 50.0).cost_rate.unwrap() - 0.5).abs() < 1e-12);
    }

    #[test]
    fn a_failure_that_costs_no_more_is_waited_for() {
        assert_eq!(best(3.0, 100.0, 5.0, 5.0).age, Err(NoAge::FailureCostsNoMore));
        assert_eq!(best(3.0, 100.0, 5.0, 2.0).age, Err(NoAge::FailureCostsNoMore));
    }

    #[test]
    fn an_age_that_hardly_any_part_reaches_saves_nothing() {
        assert_eq!(best(1.05, 100.0, 1.0, 1.5).age, Err(NoAge::SavesNothing));
        assert_eq!(best(2.0, 100.0, 1.0, 1.0 + 1e-9).age, Err(NoAge::SavesNothing));
    }

    #[test]
    fn costs_and_lives_far_apart_still_have_an_age() {
        // Small ages: z = (planned / extra) / (shape - 1), so for shape 2 the age is scale * sqrt(1e-12) (by hand).
        let cheap = best(2.0, 1000.0, 1.0, 1e12 + 1.0);
        assert!((cheap.age.unwrap() / 1e-3 - 1.0).abs() < 1e-5, "{cheap:?}");
        let tiny = best(2.5, 1e-200, 1.0, 5.0);
        assert!((tiny.age.unwrap() / 4.930_47e-201 - 1.0).abs() < 1e-5, "{tiny:?}");
        let steep = best(500.0, 100.0, 1.0, 100.0);
        assert!(steep.age.unwrap() > 95.0 && steep.age.unwrap() < 100.0, "{steep:?}");
    }

    #[test]
    fn costs_that_are_none_are_refused() {
        for (planned, failure) in [(0.0, 1.0), (1.0, 0.0), (-1.0, 5.0), (f64::NAN, 1.0), (1.0, f64::INFINITY)]
        {
            assert_eq!(Costs::new(planned, failure), None);
        }
    }

    /// Cost per unit of time at an age, with the integral by Simpson's rule.
    fn cost_at(life: Weibull, costs: Costs, age: f64) -> f64 {
        let strips = 2_000_u32;
        let step = age / f64::from(strips);
        let weight = |i: u32| if i == 0 || i == strips { 1.0 } else { f64::from(2 + 2 * (i % 2)) };
        let in_use: f64 =
            (0..=strips).map(|i| weight(i) * life.surviving(f64::from(i) * step)).sum::<f64>() * step / 3.0;
        let surviving = life.surviving(age);
        (costs.planned * surviving + costs.failure * (1.0 - surviving)) / in_use
    }

    proptest! {
        #[test]
        fn no_other_age_costs_less(
            shape in 1.3_f64..8.0, scale in 0.01_f64..1e5, ratio in 1.5_f64..200.0, by in 0.02_f64..0.5
        ) {
            let (life, costs) = (Weibull::new(shape, scale).unwrap(), Costs::new(7.0, 7.0 * ratio).unwrap());
            let found = best_age(life, costs);
            if let Ok(age) = found.age {
                let rate = found.cost_rate.unwrap();
                prop_assert!((cost_at(life, costs, age) / rate - 1.0).abs() < 1e-5);
                prop_assert!(cost_at(life, costs, age * (1.0 + by)) > rate * (1.0 - 1e-6));
                prop_assert!(cost_at(life, costs, age * (1.0 - by)) > rate * (1.0 - 1e-6));
                prop_assert!(rate < found.failure_cost_rate.unwrap());
            }
        }

        #[test]
        fn another_unit_of_time_or_money_changes_nothing_else(
            shape in 1.5_f64..6.0, scale in 1.0_f64..1e4, ratio in 2.0_f64..50.0, unit in 1e-6_f64..1e6
        ) {
            let (one, other) = (best(shape, scale, 1.0, ratio), best(shape, scale * unit, 3.0, 3.0 * ratio));
            let (a, b) = (one.age.unwrap(), other.age.unwrap());
            prop_assert!((a * unit / b - 1.0).abs() < 1e-9);
            prop_assert!((one.cost_rate.unwrap() * 3.0 / unit / other.cost_rate.unwrap() - 1.0).abs() < 1e-9);
        }
    }
}
