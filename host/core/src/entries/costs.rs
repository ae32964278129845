//! What the maker says of a machine's costs.

use serde::{Deserialize, Serialize};
use shared_types::MachineTag;

use super::amount::Money;

/// Hours of running, above zero and finite.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Hours(f64);

/// The longest life or period that is believed, in hours: more than a hundred years without a pause.
const MOST_HOURS: f64 = 1_000_000.0;

impl Hours {
    /// Hours, if they are above zero and not more than a million.
    #[must_use]
    pub fn new(hours: f64) -> Option<Self> {
        (hours > 0.0 && hours <= MOST_HOURS).then_some(Self(hours))
    }

    /// The number of hours.
    #[must_use]
    pub const fn get(self) -> f64 {
        self.0
    }
}

/// What a machine hour is worked out from.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct CostBasis {
    /// What the machine cost.
    pub price: Money,
    /// What it will still bring at the end.
    pub resale: Money,
    /// Hours that it is expected to run in its life.
    pub life_hours: Hours,
    /// Hours that it runs in a period: a month, a year.
    pub period_hours: Option<Hours>,
    /// Costs of that period: the share of the rent, insurance, a service.
    pub period_costs: Vec<Money>,
    /// Costs of each hour: oil, power, wearing parts.
    pub hour_costs: Vec<Money>,
}

/// What the maker entered about a machine's costs; the last entry counts.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct MachineCosts {
    /// The machine.
    pub machine: MachineTag,
    /// Price, life and costs.
    pub basis: CostBasis,
}
