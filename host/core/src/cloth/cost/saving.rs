//! What a ceiling on the knob would save: fewer tears, if fast running tears more, against the time that slower running takes.

use serde::Serialize;

use super::posterior::{Point, Posterior};
use super::running::{Place, Running, top_of};
use crate::stats::Estimate;

/// A ceiling is proposed only when it saves money with at least this probability.
pub const SURE_ENOUGH: f64 = 0.9;

/// Costs of a tear and of an hour, in units of the maker's currency.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Costs {
    /// A tear.
    pub tear: f64,
    /// An hour of the maker's time.
    pub hour: f64,
}

/// A possible ceiling.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Ceiling {
    /// The highest knob place that is still run at, per mille of the travel.
    pub knob_per_mille: u32,
    /// The probability that it saves money.
    pub probability_saves: f64,
    /// What it saves on a rug on average; negative where it costs more than it saves.
    pub saving_per_rug: f64,
}

/// Cost of a whole rug at one speed: time and tears.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct SpeedCost {
    /// The lowest knob place of it, per mille of the travel.
    pub knob_low_per_mille: u32,
    /// The highest, included.
    pub knob_high_per_mille: u32,
    /// The stroke rate there.
    pub strokes_per_second: f64,
    /// Strokes that were made there.
    pub strokes: f64,
    /// Tears there.
    pub tears: u64,
    /// Of it, the time.
    pub time_cost_per_rug: f64,
    /// Time and tears together, with the range in which it lies at the level of the report.
    pub cost_per_rug: Estimate,
}

/// A belief about one machine's running, with what things cost.
#[derive(Clone, Copy, Debug)]
pub struct Weighing<'a> {
    /// The running.
    pub running: &'a Running,
    /// The belief.
    pub belief: &'a Posterior,
    /// The costs.
    pub costs: Costs,
}

impl Weighing<'_> {
    /// Every ceiling that would change anything: at each place of the running but the fastest.
    #[must_use]
    pub fn ceilings(&self) -> Vec<Ceiling> {
        let last = self.running.places.len().saturating_sub(1);
        (0..last).filter_map(|place| self.ceiling(place)).collect()
    }

    /// The ceiling that saves most on average among those that are sure enough; none where none is.
    #[must_use]
    pub fn best(&self) -> Option<Ceiling> {
        let sure = self.ceilings().into_iter().filter(|ceiling| ceiling.probability_saves >= SURE_ENOUGH);
        sure.max_by(|one, other| one.saving_per_rug.total_cmp(&other.saving_per_rug))
    }

    /// The probability with which the surest ceiling saves money; 0 where there is nothing to cap.
    #[must_use]
    pub fn surest(&self) -> f64 {
        self.ceilings().iter().map(|ceiling| ceiling.probability_saves).fold(0.0, f64::max)
    }

    fn ceiling(&self, at: usize) -> Option<Ceiling> {
        let strokes = self.running.strokes_per_rug?;
        let place = self.running.places.get(at)?;
        let above = self.running.places.get(at + 1..)?;
        let hours = |rate: f64| 1.0 / (3_600.0 * rate);
        let slower: f64 = above
            .iter()
            .map(|fast| fast.share * (hours(place.strokes_per_second) - hours(fast.strokes_per_second)))
            .sum();
        let lost = strokes * self.costs.hour * slower;
        let per_rate = |point: &Point| strokes * self.costs.tear * fewer(point, at, above);
        let saves = |point: &Point| {
            let gained = per_rate(point);
            if gained > 0.0 { point.above(lost / gained) } else { 0.0 }
        };
        Some(Ceiling {
            knob_per_mille: top_of(place.part),
            probability_saves: self.belief.mean(saves).min(1.0),
            saving_per_rug: self.belief.mean(|point| point.mean() * per_rate(point)) - lost,
        })
    }

    /// What a rug costs at each place of the running; `tail` lies beyond each of the two limits.
    #[must_use]
    pub fn speeds(&self, tail: f64) -> Vec<SpeedCost> {
        let Some(strokes) = self.running.strokes_per_rug else { return Vec::new() };
        let cost = |(index, place): (usize, &Place)| {
            let time = strokes * self.costs.hour / (3_600.0 * place.strokes_per_second);
            let tears = |rate: f64| time + strokes * self.costs.tear * rate;
            let factor = |point: &Point| point.factors.get(index).copied().unwrap_or(1.0);
            let mean = self.belief.mean(|point| point.mean() * factor(point));
            SpeedCost {
                knob_low_per_mille: if place.part == 0 { 0 } else { top_of(place.part - 1) + 1 },
                knob_high_per_mille: top_of(place.part),
                strokes_per_second: place.strokes_per_second,
                strokes: place.strokes,
                tears: place.tears,
                time_cost_per_rug: time,
                cost_per_rug: Estimate {
                    estimate: Some(tears(mean)),
                    low: self.belief.rate_quantile(index, tail).map(tears),
                    high: self.belief.rate_quantile(index, 1.0 - tail).map(tears),
                },
            }
        };
        self.running.places.iter().enumerate().map(cost).collect()
    }

    /// What a rug costs on average as the maker runs now.
    #[must_use]
    pub fn as_run_now(&self) -> Option<f64> {
        let strokes = self.running.strokes_per_rug?;
        let places = || self.running.places.iter();
        let hours: f64 = places().map(|place| place.share / (3_600.0 * place.strokes_per_second)).sum();
        let tears = self.belief.mean(|point| {
            let factors: f64 = places().zip(&point.factors).map(|(place, factor)| place.share * factor).sum();
            point.mean() * factors
        });
        Some(strokes * (self.costs.hour * hours + self.costs.tear * tears))
    }
}

/// By how much a ceiling lowers the tears per stroke, for one tear per stroke at the mean speed.
fn fewer(point: &Point, at: usize, above: &[Place]) -> f64 {
    let own = point.factors.get(at).copied().unwrap_or(1.0);
    let faster = point.factors.iter().skip(at + 1);
    above.iter().zip(faster).map(|(place, factor)| place.share * (factor - own)).sum()
}

#[cfg(test)]
#[path = "saving_tests.rs"]
mod tests;
