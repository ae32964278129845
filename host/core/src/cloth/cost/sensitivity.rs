//! What would have to be different for the advice to be different.

use serde::Serialize;

use super::posterior::{Posterior, Stratum};
use super::running::Running;
use super::saving::{Costs, SURE_ENOUGH, Weighing};
use crate::stats::number;

/// Costs are not looked at beyond so many times what was entered, nor below that part of it.
const FARTHEST_TIMES: f64 = 1_000.0;
/// Halvings of the logarithm: good to one part in a hundred.
const HALVINGS: u32 = 11;
/// More tears than this are no plan for anybody.
const MOST_TEARS: f64 = 500.0;

/// What would change the advice; each is null where nothing of the kind would.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct Sensitivity {
    /// The cost of a tear from which on a ceiling is sure enough to pay (where none is now), or below which none is (where one is).
    pub tear_cost_that_changes_it: Option<f64>,
    /// The same for the value of an hour: below it a ceiling would be sure enough to pay, or above it none would.
    pub hour_value_that_changes_it: Option<f64>,
    /// With so many more tears that fall like those so far, in as much more running, a ceiling would be sure enough to pay; null
    /// where one is now, and where tears like these would never do.
    pub more_tears_that_change_it: Option<u64>,
}

/// Looks for what changes the advice.
#[must_use]
pub fn sensitivity(strata: &[Stratum], running: &Running, belief: &Posterior, costs: Costs) -> Sensitivity {
    let surest = |costs: Costs| Weighing { running, belief, costs }.surest();
    let is_sure_now = surest(costs) >= SURE_ENOUGH;
    // Only the ratio of the two costs counts: a dearer tear does the same as a cheaper hour.
    let is_sure_at = |times: f64| surest(Costs { tear: costs.tear * times, ..costs }) >= SURE_ENOUGH;
    let far = if is_sure_now { 1.0 / FARTHEST_TIMES } else { FARTHEST_TIMES };
    let turns = (costs.tear > 0.0 && is_sure_at(far) != is_sure_now).then(|| {
        let (mut same, mut other) = (0.0, far.ln());
        for _ in 0..HALVINGS {
            let middle = f64::midpoint(same, other);
            if is_sure_at(middle.exp()) == is_sure_now { same = middle } else { other = middle }
        }
        other.exp()
    });
    Sensitivity {
        tear_cost_that_changes_it: turns.map(|times| costs.tear * times),
        hour_value_that_changes_it: turns.filter(|_| costs.hour > 0.0).map(|times| costs.hour / times),
        more_tears_that_change_it: if is_sure_now { None } else { more_tears(strata, running, costs) },
    }
}

fn more_tears(strata: &[Stratum], running: &Running, costs: Costs) -> Option<u64> {
    let seen = number(running.tears);
    if running.tears == 0 {
        return None;
    }
    let mut times = 1.25;
    while seen * times <= MOST_TEARS {
        let belief = Posterior::of(strata, running, times)?;
        if (Weighing { running, belief: &belief, costs }).surest() >= SURE_ENOUGH {
            let more = (seen * (times - 1.0)).ceil();
            return (1..).find(|count| number(*count) >= more);
        }
        times *= 1.25;
    }
    None
}
