//! What `speed cost` shows.

use serde::Serialize;
use shared_types::MachineTag;

use super::PLACES;
use super::posterior::{Posterior, Stratum, stratum};
use super::running::{Running, part_of};
use super::saving::{Ceiling, Costs, SURE_ENOUGH, SpeedCost, Weighing};
use crate::cloth::aftermath::parted;
use crate::cloth::exposure_sequence::{ExposureSequence, LotIndex, Step};
use crate::cloth::looks::Verdict;
use crate::cloth::strata::{Parted, Within};
use crate::entries::{EntryBody, InForce};
use crate::stats::{Estimate, Level, Observed};
use crate::studio::{MachineCard, RugIndex, StrokeRatio};
use std::collections::BTreeMap;

/// A cloth lot has an advice of its own from so many tears on.
pub const LOT_NEEDS_TEARS: u64 = 10;

/// Why the advice is what it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Because {
    /// A ceiling saves money, surely enough.
    ItPays,
    /// What a tear or an hour costs was not entered.
    NoCosts,
    /// No running on a rug with a known place of the knob.
    NoRunning,
    /// The primary question is not answered with "faster tears more".
    SpeedNotShownToMatter,
    /// No ceiling saves money surely enough.
    NotSureEnough,
}

/// The advice without any tear: what the prior alone would say. It must be none.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct PriorAdvice {
    /// The ceiling it would propose.
    pub proposal: Option<Ceiling>,
    /// The probability with which its surest ceiling saves money.
    pub surest_probability_saves: f64,
}

/// The advice for one cloth lot.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LotAdvice {
    /// The lot.
    pub cloth_lot: String,
    /// Tears in it.
    pub tears: u64,
    /// The ceiling that is proposed for it.
    pub proposal: Option<Ceiling>,
    /// The probability with which its surest ceiling saves money.
    pub surest_probability_saves: f64,
}

/// How much faster running is believed to tear, for each doubling of the stroke rate.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Effect {
    /// The factor on the tears per stroke: the median of the belief, with limits at the report's level.
    pub factor_for_a_doubling: Estimate,
    /// The probability that it is above 1.
    pub probability_faster_tears_more: Option<f64>,
}

/// What speed costs.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CostReport {
    /// The machine's number.
    pub machine: MachineTag,
    /// Its name.
    pub machine_name: String,
    /// How sure all limits are.
    pub level: f64,
    /// What a tear and an hour cost; null until both are entered.
    pub costs: Option<Costs>,
    /// The currency of all amounts, as the maker writes it; null: not said.
    pub currency: Option<String>,
    /// Rugs that were worked on.
    pub rugs: u64,
    /// Their mean strokes.
    pub strokes_per_rug: Option<f64>,
    /// Tears.
    pub tears: u64,
    /// How much more the tears of rugs scatter than chance makes them; never below 1 here.
    pub scatter_of_rugs: f64,
    /// The effect of speed.
    pub effect: Option<Effect>,
    /// What a rug costs at each speed, slow to fast.
    pub speeds: Vec<SpeedCost>,
    /// What a rug costs on average as the machine is run now.
    pub cost_per_rug_as_run_now: Option<f64>,
    /// Every ceiling that was weighed.
    pub ceilings: Vec<Ceiling>,
    /// The ceiling that is proposed.
    pub proposal: Option<Ceiling>,
    /// Why.
    pub because: Because,
    /// A ceiling needs this probability of saving money.
    pub needed_probability: f64,
    /// What the prior alone would say.
    pub from_the_prior_alone: Option<PriorAdvice>,
    /// Cloth lots with ten tears and more.
    pub cloth_lots: Vec<LotAdvice>,
    /// The ceiling that the maker accepted, per mille of the travel.
    pub accepted_ceiling_per_mille: Option<u32>,
}

/// Of so many strokes at least one must have been made at a speed for its cost to stand on it (the project's choice).
const HARDLY_ONE_IN: f64 = 20.0;

impl CostReport {
    /// Whether hardly any strokes were made at a speed, so that its cost is mostly carried over from the others.
    #[must_use]
    pub fn hardly_ran_at(&self, speed: &SpeedCost) -> bool {
        let all: f64 = self.speeds.iter().map(|speed| speed.strokes).sum();
        speed.strokes * HARDLY_ONE_IN < all
    }
}

/// What the advice goes by.
#[derive(Clone, Copy, Debug)]
pub struct Grounds<'a> {
    /// The machine.
    pub machine: &'a MachineCard,
    /// Its course.
    pub course: &'a ExposureSequence,
    /// The answer to the primary question.
    pub verdict: Verdict,
    /// What a tear and an hour cost.
    pub costs: Option<Costs>,
    /// The ceiling that the maker accepted, per mille of the travel.
    pub accepted_per_mille: Option<u32>,
}

/// What the maker entered about the costs of tears and time; the last word on each counts. None until both are known.
#[must_use]
pub fn costs_of(entries: &InForce<'_>) -> Option<Costs> {
    let (mut tear, mut hour) = (None, None);
    for entry in entries.iter() {
        if let EntryBody::TearCosts(said) = &entry.body {
            tear = said.tear.or(tear);
            hour = said.hour.or(hour);
        }
    }
    tear.zip(hour).map(|(tear, hour)| Costs { tear: tear.units(), hour: hour.units() })
}

/// Weighs a machine's time against its tears.
#[must_use]
pub fn cost_report(grounds: Grounds<'_>, level: Level) -> CostReport {
    let Grounds { machine, course, verdict, costs, accepted_per_mille } = grounds;
    let running = Running::of(&course.steps, machine.ratio, None);
    let told = parted::<PLACES>(&course.steps, part_of);
    let strata = strata_of(&told, &running, |_| true);
    let belief = Posterior::of(&strata, &running);
    let mut report = CostReport {
        machine: machine.tag,
        machine_name: machine.name.clone(),
        level: level.share(),
        costs,
        currency: None,
        rugs: running.rugs,
        strokes_per_rug: running.strokes_per_rug,
        tears: running.tears,
        scatter_of_rugs: running.scatter,
        effect: belief.as_ref().map(|belief| effect(belief, level)),
        speeds: Vec::new(),
        cost_per_rug_as_run_now: None,
        ceilings: Vec::new(),
        proposal: None,
        because: if belief.is_none() { Because::NoRunning } else { Because::NoCosts },
        needed_probability: SURE_ENOUGH,
        from_the_prior_alone: None,
        cloth_lots: Vec::new(),
        accepted_ceiling_per_mille: accepted_per_mille,
    };
    let Some((belief, costs)) = belief.as_ref().zip(costs) else { return report };
    let weighing = Weighing { running: &running, belief, costs };
    let may_propose = verdict == Verdict::FasterTearsMore;
    report.speeds = weighing.speeds(level.tail());
    report.cost_per_rug_as_run_now = weighing.as_run_now();
    report.ceilings = weighing.ceilings();
    report.proposal = weighing.best().filter(|_| may_propose);
    report.because = match report.proposal {
        Some(_) => Because::ItPays,
        None if may_propose => Because::NotSureEnough,
        None => Because::SpeedNotShownToMatter,
    };
    report.from_the_prior_alone = prior_advice(&running, costs);
    report.cloth_lots = lots(course, machine.ratio, &told, costs, may_propose);
    report
}

/// The ceiling that would be proposed from a course, the answer to the primary question being known; the same as in the report.
#[must_use]
pub fn proposed(steps: &[Step], ratio: StrokeRatio, verdict: Verdict, costs: Costs) -> Option<Ceiling> {
    if verdict != Verdict::FasterTearsMore {
        return None;
    }
    let running = Running::of(steps, ratio, None);
    let strata = strata_of(&parted::<PLACES>(steps, part_of), &running, |_| true);
    let belief = Posterior::of(&strata, &running)?;
    Weighing { running: &running, belief: &belief, costs }.best()
}

/// The strata with tears, by places of the running.
fn strata_of(told: &Parted<PLACES>, running: &Running, is_wanted: impl Fn(&Within) -> bool) -> Vec<Stratum> {
    let has_tears = |parts: &[Observed; PLACES]| parts.iter().any(|part| part.events > 0);
    let wanted = told.places.iter().filter(|(place, parts)| is_wanted(place) && has_tears(parts));
    wanted.map(|(_, parts)| stratum(parts, running)).collect()
}

fn effect(belief: &Posterior, level: Level) -> Effect {
    let factor = |share: f64| belief.effect_quantile(share).map(f64::exp);
    Effect {
        factor_for_a_doubling: Estimate {
            estimate: factor(0.5),
            low: factor(level.tail()),
            high: factor(1.0 - level.tail()),
        },
        probability_faster_tears_more: belief.share_above(0.0),
    }
}

fn prior_advice(running: &Running, costs: Costs) -> Option<PriorAdvice> {
    let belief = Posterior::prior(running)?;
    let weighing = Weighing { running, belief: &belief, costs };
    Some(PriorAdvice { proposal: weighing.best(), surest_probability_saves: weighing.surest() })
}

fn lots(
    course: &ExposureSequence,
    ratio: StrokeRatio,
    told: &Parted<PLACES>,
    costs: Costs,
    may_propose: bool,
) -> Vec<LotAdvice> {
    let mut lot_of: BTreeMap<RugIndex, LotIndex> = BTreeMap::new();
    for step in &course.steps {
        if let Step::Ran(ran) = step {
            lot_of.extend(ran.rug.zip(ran.lot));
        }
    }
    let advice = |(index, name): (usize, &String)| {
        let lot = LotIndex::of(index);
        let running = Running::of(&course.steps, ratio, Some(lot));
        if running.tears < LOT_NEEDS_TEARS {
            return None;
        }
        let is_of_it = |place: &Within| match place {
            Within::Rug(rug) => lot_of.get(rug) == Some(&lot),
            Within::Lot(own) => *own == lot,
        };
        let belief = Posterior::of(&strata_of(told, &running, is_of_it), &running)?;
        let weighing = Weighing { running: &running, belief: &belief, costs };
        Some(LotAdvice {
            cloth_lot: name.clone(),
            tears: running.tears,
            proposal: weighing.best().filter(|_| may_propose),
            surest_probability_saves: weighing.surest(),
        })
    };
    course.lots.iter().enumerate().filter_map(advice).collect()
}

#[cfg(test)]
#[path = "report_tests.rs"]
mod tests;
