//! The machine-hour rate: what one hour of running costs, by the form that every costing textbook gives.
//!
//! Depreciation is spread evenly over the expected running life; costs of a period are spread over the hours that the
//! machine runs in it; costs of an hour are added as they stand.

use serde::Serialize;
use shared_types::MachineTag;
use thiserror::Error;

use crate::entries::amount::Money;
use crate::entries::{CostBasis, EntryBody, Hours, InForce};

impl CostBasis {
    /// Works the rate out.
    ///
    /// # Errors
    /// When the resale value is above the price, or costs of a period have no hours.
    pub fn rate(&self) -> Result<MachineHourRate, RateProblem> {
        let units = |costs: &[Money]| costs.iter().map(|cost| cost.units()).collect();
        let figures = CostFigures {
            price: self.price.units(),
            resale: self.resale.units(),
            life_hours: self.life_hours,
            period_hours: self.period_hours,
            period_costs: units(&self.period_costs),
            hour_costs: units(&self.hour_costs),
        };
        figures.rate()
    }
}

/// Why there is no rate.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum RateProblem {
    /// The machine would gain by wear.
    #[error("the resale value {resale} is more than the price {price}")]
    ResaleOverPrice {
        /// The price, in units of the currency.
        price: f64,
        /// The resale value, in units of the currency.
        resale: f64,
    },
    /// Costs of a period without the hours to spread them over.
    #[error("there are costs of a period, but not how many hours the machine runs in it")]
    NoPeriodHours,
}

/// The rate and its parts, in currency units per hour of running; not rounded.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct MachineHourRate {
    /// Price less resale, over the life.
    pub depreciation_per_hour: f64,
    /// Costs of the period, over its hours.
    pub period_costs_per_hour: f64,
    /// Costs of each hour, added.
    pub hour_costs: f64,
    /// All three together.
    pub machine_hour_rate: f64,
}

/// Inputs of the machine-hour rate, in units of the currency and as fine as typed.
#[derive(Clone, Debug, PartialEq)]
pub struct CostFigures {
    /// Purchase price.
    pub price: f64,
    /// Residual value at the end.
    pub resale: f64,
    /// Hours that it is expected to run in its life.
    pub life_hours: Hours,
    /// Hours that it runs in a period.
    pub period_hours: Option<Hours>,
    /// Costs of that period.
    pub period_costs: Vec<f64>,
    /// Costs of each hour.
    pub hour_costs: Vec<f64>,
}

impl CostFigures {
    /// Works the rate out.
    ///
    /// # Errors
    /// When the resale value is above the price, or costs of a period have no hours.
    pub fn rate(&self) -> Result<MachineHourRate, RateProblem> {
        let lost = self.price - self.resale;
        if lost < 0.0 {
            return Err(RateProblem::ResaleOverPrice { price: self.price, resale: self.resale });
        }
        let period_costs_per_hour = match self.period_hours {
            Some(hours) => sum(&self.period_costs) / hours.get(),
            None if self.period_costs.is_empty() => 0.0,
            None => return Err(RateProblem::NoPeriodHours),
        };
        let depreciation_per_hour = lost / self.life_hours.get();
        let hour_costs = sum(&self.hour_costs);
        Ok(MachineHourRate {
            depreciation_per_hour,
            period_costs_per_hour,
            hour_costs,
            machine_hour_rate: depreciation_per_hour + period_costs_per_hour + hour_costs,
        })
    }
}

/// The smallest first, so that the order in which costs were typed cannot matter.
fn sum(costs: &[f64]) -> f64 {
    let mut costs = costs.to_vec();
    costs.sort_by(f64::total_cmp);
    costs.iter().fold(0.0, |sum, cost| sum + cost)
}

/// What was last entered for a machine.
#[must_use]
pub fn entered<'all>(entries: &'all InForce<'_>, machine: MachineTag) -> Option<&'all CostBasis> {
    entries.iter().rev().find_map(|entry| match &entry.body {
        EntryBody::MachineCosts(costs) if costs.machine == machine => Some(&costs.basis),
        _ => None,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn basis(price: u64, resale: u64, life_hours: f64) -> CostBasis {
        CostBasis {
            price: Money(price * 1_000_000),
            resale: Money(resale * 1_000_000),
            life_hours: Hours::new(life_hours).unwrap(),
            period_hours: None,
            period_costs: Vec::new(),
            hour_costs: Vec::new(),
        }
    }

    #[test]
    fn a_hobby_machine_costs_a_small_sum_per_hour() {
        // By hand: 300 less 100 over 500 h is 0.40; 24 a year over 60 h is 0.40; 0.10 and 0.05 an hour: 0.95 in all.
        let whole = CostBasis {
            period_hours: Hours::new(60.0),
            period_costs: vec![Money(20_000_000), Money(4_000_000)],
            hour_costs: vec![Money(100_000), Money(50_000)],
            ..basis(300, 100, 500.0)
        };
        let rate = whole.rate().unwrap();
        assert!((rate.depreciation_per_hour - 0.4).abs() < 1e-12);
        assert!((rate.period_costs_per_hour - 0.4).abs() < 1e-12);
        assert!((rate.hour_costs - 0.15).abs() < 1e-12);
        assert!((rate.machine_hour_rate - 0.95).abs() < 1e-12);
    }

    #[test]
    fn a_machine_that_keeps_its_price_costs_nothing_and_one_above_it_is_refused() {
        assert_eq!(basis(300, 300, 500.0).rate().unwrap().machine_hour_rate.to_bits(), 0);
        let refused = basis(300, 301, 500.0).rate().unwrap_err();
        assert_eq!(refused.to_string(), "the resale value 301 is more than the price 300");
    }

    #[test]
    fn costs_of_a_period_need_its_hours() {
        let lacking = CostBasis { period_costs: vec![Money(1)], ..basis(300, 0, 500.0) };
        assert_eq!(lacking.rate(), Err(RateProblem::NoPeriodHours));
        let idle = CostBasis { period_hours: Hours::new(10.0), ..basis(300, 0, 500.0) };
        assert_eq!(idle.rate().unwrap().period_costs_per_hour.to_bits(), 0);
    }

    #[test]
    fn hours_are_above_zero_and_believable() {
        for hours in [0.0, -0.0, -1.0, f64::NAN, f64::INFINITY, 1_000_000.1] {
            assert_eq!(Hours::new(hours), None, "{hours}");
        }
        assert!(Hours::new(1_000_000.0).is_some() && Hours::new(1e-6).is_some());
    }

    proptest! {
        #[test]
        fn the_order_of_costs_does_not_matter_and_each_makes_it_dearer(
            mut costs in prop::collection::vec(1_u64..1_000_000_000, 1..10), extra in 1_u64..1_000_000_000,
        ) {
            let with = |costs: &[u64]| CostBasis {
                hour_costs: costs.iter().copied().map(Money).collect(),
                ..basis(300, 100, 500.0)
            }.rate().unwrap().machine_hour_rate;
            let before = with(&costs);
            costs.reverse();
            prop_assert_eq!(with(&costs).to_bits(), before.to_bits());
            costs.push(extra);
            prop_assert!(with(&costs) > before);
        }
    }
}
