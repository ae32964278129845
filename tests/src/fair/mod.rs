//! Is the answer to "does speed tear cloth?" fair? Made-up studios work for three years, their cloth tears by a known rule, and the
//! program's own rule looks at every burst row of theirs. Where speed does nothing, hardly any studio may ever be told that it does.

pub mod cells;
pub mod enumeration;
pub mod studio;

use host_core::cloth::cost::{Costs, proposed};
use host_core::cloth::exposure_sequence::Step;
use host_core::cloth::looks::{Verdict, claim};
use host_core::cloth::verdict::{Cut, Look, cut, looks};
use host_core::entries::Harm;
use host_core::stats::{Level, Pair, exact_ratio};
use host_core::studio::StrokeRatio;

use cells::Cell;
use enumeration::{Compared, chance_on_these_rugs};
use studio::{FAST_SHARE, work};

/// The costs with which a ceiling is proposed most readily: the maker's time is worth nothing.
const COSTS: Costs = Costs { tear: 1.0, hour: 0.0 };
/// In so many studios of a cell the chance to be told is worked out from their own running.
const WORKED_OUT: u64 = 1_000;

/// What one studio was told in three years.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Told {
    /// Whether any look said that faster tears more.
    pub faster: bool,
    /// Whether any look said that slower tears more.
    pub slower: bool,
    /// Whether a ceiling was proposed at any look; words that say that speed matters, too.
    pub ceiling: bool,
    /// The chance to be told, worked out from the strokes at each look; none where it was not asked for.
    pub chance: Option<f64>,
    /// The ratio at the last look with its 95 % limits; zero and infinity where there is no limit. None before the first look.
    pub last: Option<(f64, f64, f64)>,
}

/// One studio: works, and looks whenever it may.
///
/// # Panics
/// When there are more tears than can be compared, which no cell has.
#[must_use]
pub fn one_studio(cell: &Cell, per_stroke: f64, seed: u64, is_worked_out: bool) -> Told {
    let steps = work(cell, per_stroke, seed);
    let mut told = Told { faster: false, slower: false, ceiling: false, chance: None, last: None };
    let Cut::At(knob) = cut(&steps) else { return told };
    let looks = looks(&steps, knob).looks;
    for look in &looks {
        let verdict = claim(&look.strata).unwrap_or(Verdict::CannotTellYet);
        told.faster |= verdict == Verdict::FasterTearsMore;
        told.slower |= verdict == Verdict::SlowerTearsMore;
        told.ceiling |= proposed(until(&steps, look.tears), StrokeRatio::ONE, verdict, COSTS).is_some();
    }
    if is_worked_out {
        told.chance =
            Some(chance_on_these_rugs(&looks.iter().map(compared).collect::<Vec<_>>(), cell.fast_chance()));
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

/// What had happened by a look.
fn until(steps: &[Step], tears: u64) -> &[Step] {
    let mut seen = 0;
    let last = steps.iter().position(|step| {
        seen += u64::from(matches!(step, Step::Hurt(hurt) if hurt.harm == Harm::Tear));
        seen == tears
    });
    last.and_then(|last| steps.get(..=last)).unwrap_or(steps)
}

/// The strokes and tears of a look, without saying which tears were fast.
fn compared(look: &Look) -> Compared {
    let share = |pair: &Pair| pair.upper.exposure / (pair.upper.exposure + pair.lower.exposure);
    Compared {
        tears: look.tears,
        rugs: look.strata.iter().map(|pair| (pair.upper.events + pair.lower.events, share(pair))).collect(),
    }
}

impl Cell {
    /// The chance that a tear falls on a fast row, where rows are fast or slow by the throw of a die.
    #[must_use]
    pub const fn fast_chance(&self) -> f64 {
        self.fast_factor * FAST_SHARE / (self.fast_factor * FAST_SHARE + 1.0 - FAST_SHARE)
    }

    /// Whether the chance to be told can be worked out: two knob places, and every press is right.
    #[must_use]
    pub fn can_be_worked_out(&self) -> bool {
        self.two_places && self.wrong_presses <= 0.0
    }
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
    /// ... that a ceiling on the knob saves money.
    pub ceiling: u64,
    /// The chance to be told, worked out from the running of the first studios; not a number where it cannot be.
    pub worked_out: f64,
    /// ... and how often these were told.
    pub told_of_these: f64,
    /// Studios that reached a look and have a known truth.
    pub with_limits: u64,
    /// ... whose limits hold it.
    pub covered: u64,
    /// ... and whose limits lie above it, and below it.
    pub missed: [u64; 2],
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
        ceiling: 0,
        worked_out: f64::NAN,
        told_of_these: f64::NAN,
        with_limits: 0,
        covered: 0,
        missed: [0; 2],
        median_estimate: f64::NAN,
        median_width: f64::NAN,
    };
    let (mut estimates, mut widths, mut chances) = (Vec::new(), Vec::new(), Vec::new());
    for run in 0..runs {
        let own = seed.wrapping_add(run.wrapping_mul(0xD134_2543_DE82_EF95));
        let told = one_studio(cell, per_stroke, own, cell.can_be_worked_out() && run < WORKED_OUT);
        let is_told = told.faster || told.slower || told.ceiling;
        outcome.told += u64::from(is_told);
        outcome.ceiling += u64::from(told.ceiling);
        chances.extend(told.chance.map(|chance| (chance, f64::from(u8::from(is_told)))));
        outcome.faster += u64::from(told.faster);
        outcome.slower += u64::from(told.slower);
        if let (Some((low, estimate, high)), Some(truth)) = (told.last, cell.truth) {
            outcome.with_limits += 1;
            outcome.covered += u64::from(low <= truth && truth <= high);
            outcome.missed[0] += u64::from(low > truth);
            outcome.missed[1] += u64::from(high < truth);
            estimates.push(estimate);
            widths.push(high / low);
        }
    }
    let mean = |of: fn(&(f64, f64)) -> f64| {
        let count = f64::from(u32::try_from(chances.len()).unwrap_or(u32::MAX));
        chances.iter().map(of).sum::<f64>() / count
    };
    (outcome.worked_out, outcome.told_of_these) = (mean(|one| one.0), mean(|one| one.1));
    outcome.median_estimate = median(estimates);
    outcome.median_width = median(widths);
    outcome
}

fn median(mut values: Vec<f64>) -> f64 {
    values.sort_by(f64::total_cmp);
    values.get(values.len() / 2).copied().unwrap_or(f64::NAN)
}
