//! Is the answer to "does speed tear cloth?" fair? Made-up studios work for three years, their cloth tears by a known rule, and the
//! program's own rule looks at every burst row of theirs. Where speed does nothing, hardly any studio may ever be told that it does.

pub mod cells;
pub mod chance;
pub mod enumeration;
pub mod studio;

use host::core::stats::{Level, exact_ratio};
use host::core::tears::looks::{Verdict, claim};
use host::core::tears::verdict::{Cut, cut, looks};

use cells::Cell;
use studio::work;

/// What one studio was told in three years.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Told {
    /// Whether any look said that faster tears more.
    pub faster: bool,
    /// Whether any look said that slower tears more.
    pub slower: bool,
    /// The ratio at the last look with its 95 % limits; zero and infinity where there is no limit. None before the first look.
    pub last: Option<(f64, f64, f64)>,
}

/// One studio: works, and looks whenever it may.
///
/// # Panics
/// When there are more tears than can be compared, which no cell has.
#[must_use]
pub fn one_studio(cell: &Cell, per_stroke: f64, seed: u64) -> Told {
    let steps = work(cell, per_stroke, seed);
    let mut told = Told { faster: false, slower: false, last: None };
    let Cut::At(knob) = cut(&steps) else { return told };
    let looks = looks(&steps, knob).looks;
    for look in &looks {
        let verdict = claim(&look.strata).unwrap_or(Verdict::CannotTellYet);
        told.faster |= verdict == Verdict::FasterTearsMore;
        told.slower |= verdict == Verdict::SlowerTearsMore;
    }
    if let Some(truth) = cell.truth
        && truth > 0.0
        && let Some(look) = looks.last()
    {
        told.last = exact_ratio(&look.strata, Level::USUAL)
            .ok()
            .filter(|ratio| ratio.informative_strata > 0)
            .map(|ratio| {
                let or = |value: Option<f64>, other| value.unwrap_or(other);
                (or(ratio.low, 0.0), or(ratio.estimate, f64::INFINITY), or(ratio.high, f64::INFINITY))
            });
    }
    told
}

/// What all studios of a cell were told.
#[derive(Clone, Debug, PartialEq)]
pub struct Outcome {
    /// Studios.
    pub runs: u64,
    /// ... of which so many were ever told that speed matters.
    pub told: u64,
    /// ... that faster tears more.
    pub faster: u64,
    /// ... that slower tears more.
    pub slower: u64,
    /// Studios that reached a look and have a known truth.
    pub with_limits: u64,
    /// ... whose limits hold it.
    pub covered: u64,
    /// The middle estimate of these.
    pub median_estimate: f64,
    /// The middle of upper limit over lower limit.
    pub median_width: f64,
}

/// Runs many studios of one cell; seeds count up from `seed`, so that a run can be repeated alone.
#[must_use]
pub fn many_studios(cell: &Cell, runs: u64, seed: u64) -> Outcome {
    let per_stroke = studio::tears_per_stroke(cell, seed);
    let mut outcome = Outcome {
        runs,
        told: 0,
        faster: 0,
        slower: 0,
        with_limits: 0,
        covered: 0,
        median_estimate: f64::NAN,
        median_width: f64::NAN,
    };
    let (mut estimates, mut widths) = (Vec::new(), Vec::new());
    for run in 0..runs {
        let told = one_studio(cell, per_stroke, seed.wrapping_add(run.wrapping_mul(0xD134_2543_DE82_EF95)));
        outcome.told += u64::from(told.faster || told.slower);
        outcome.faster += u64::from(told.faster);
        outcome.slower += u64::from(told.slower);
        if let (Some((low, estimate, high)), Some(truth)) = (told.last, cell.truth) {
            outcome.with_limits += 1;
            outcome.covered += u64::from(low <= truth && truth <= high);
            estimates.push(estimate);
            widths.push(high / low);
        }
    }
    outcome.median_estimate = median(estimates);
    outcome.median_width = median(widths);
    outcome
}

fn median(mut values: Vec<f64>) -> f64 {
    values.sort_by(f64::total_cmp);
    values.get(values.len() / 2).copied().unwrap_or(f64::NAN)
}
