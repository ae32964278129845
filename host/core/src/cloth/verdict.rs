//! The one primary question: does fast running tear cloth more than slow running, stroke for stroke, within the same rug?
//!
//! Fast and slow are cut once, at the median of the first twenty hours, before any answer is looked for. The cut depends on the
//! order of records alone, so that it stays where it is while the log grows. Everything else that is shown is a hint.

use serde::Serialize;

use super::aftermath::fast_and_slow;
use super::exposure_sequence::Step;
use super::looks::{Judged, LOOK_P, Verdict, judge, look_after};
use super::strata::{Strata, place_of};
use crate::entries::Harm;
use crate::stats::{ExactRatio, HOUR_MS, Level, Pair, TooManyEvents, binomial, number};

/// The cut between slow and fast is taken from the first running of this length. Milliseconds of run time.
pub const CUT_FROM_MS: u64 = 20 * HOUR_MS;

/// Where the cut lies, or how much running it still needs.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Cut {
    /// Knob places up to this one are slow, above it fast. Per mille of travel.
    At(u32),
    /// Missing run time with a known knob place, in milliseconds.
    Needs(u64),
}

/// Finds the cut: the median, by run time, of the knob places of the first twenty hours.
#[must_use]
pub fn cut(steps: &[Step]) -> Cut {
    let mut first: Vec<(u32, u64)> = Vec::new();
    let mut sum = 0_u64;
    for step in steps {
        if let Step::Ran(ran) = step
            && let Some(knob) = ran.knob
        {
            // Only as much of the last stretch as fills the twenty hours.
            let counted = ran.run_ms.min(CUT_FROM_MS - sum);
            first.push((knob, counted));
            sum += counted;
            if sum == CUT_FROM_MS {
                break;
            }
        }
    }
    if sum < CUT_FROM_MS {
        return Cut::Needs(CUT_FROM_MS - sum);
    }
    first.sort_unstable();
    let mut below = 0;
    for (knob, run_ms) in first {
        below += run_ms;
        if 2 * below >= CUT_FROM_MS {
            return Cut::At(knob);
        }
    }
    Cut::Needs(0)
}

/// What was known at one look.
#[derive(Clone, Debug, PartialEq)]
pub struct Look {
    /// With how many tears.
    pub tears: u64,
    /// Fast above the line, slow below it, for each rug with a tear.
    pub strata: Vec<Pair>,
    /// The share of strokes that were fast on these rugs, weighted by their tears.
    pub fast_share: Option<f64>,
}

/// Everything the primary question has to go by.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Looks {
    /// The looks that were reached, in order; each knows only what had happened by its last tear.
    pub looks: Vec<Look>,
    /// Tears with a known knob place and a known rug or cloth.
    pub placed: u64,
    /// Tears of which one of the two is not known.
    pub not_placed: u64,
    /// Where everything stands now.
    pub now: Strata,
}

/// Stops at every look of a course. What was run just after a tear is counted as the running around it; see [`super::aftermath`].
#[must_use]
pub fn looks(steps: &[Step], cut: u32) -> Looks {
    let mut all = Looks::default();
    for (index, step) in steps.iter().enumerate() {
        let Step::Hurt(hurt) = step else { continue };
        if hurt.harm != Harm::Tear {
            continue;
        }
        if hurt.knob.is_none() || place_of(hurt).is_none() {
            all.not_placed += 1;
            continue;
        }
        let next = look_after(all.placed);
        all.placed += 1;
        if all.placed == next {
            let known = fast_and_slow(steps.get(..=index).unwrap_or(steps), cut);
            all.looks.push(Look { tears: next, strata: known.pairs(), fast_share: known.upper_share() });
        }
    }
    all.now = fast_and_slow(steps, cut);
    all
}

/// How much is still missing.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct Missing {
    /// Further tears.
    pub tears: u64,
    /// Run time in which so many are to be expected at this maker's tear rate, in milliseconds; null before the first tear.
    pub run_time_ms: Option<f64>,
    /// Months in which the machine runs for so long at this maker's pace; null with less than four weeks of it.
    pub months: Option<f64>,
}

/// Tears and run time so far, and the time that they took.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Pace {
    /// Tears so far.
    pub tears: u64,
    /// Run time so far, in milliseconds.
    pub run_time_ms: u64,
    /// From the first to the last running, in milliseconds; none when that is too short to tell a pace.
    pub span_ms: Option<f64>,
}

/// A mean month in milliseconds: 365.25 / 12 days.
const MONTH_MS: f64 = 2_629_800_000.0;

impl Pace {
    /// What so many more tears take.
    #[must_use]
    pub fn missing(self, tears: u64) -> Missing {
        let run_time_ms =
            (self.tears > 0).then(|| number(tears) * number(self.run_time_ms) / number(self.tears));
        Missing { tears, run_time_ms, months: run_time_ms.and_then(|run| self.months(run)) }
    }

    /// How many months so much run time takes.
    #[must_use]
    pub fn months(self, run_time_ms: f64) -> Option<f64> {
        let span = self.span_ms.filter(|_| self.run_time_ms > 0)?;
        Some(run_time_ms * span / number(self.run_time_ms) / MONTH_MS)
    }
}

/// The answer to the primary question.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Primary {
    /// Knob places up to this one are slow, above it fast; frozen. Null until there are twenty run hours.
    pub cut_knob_per_mille: Option<u32>,
    /// Run time that the cut still needs, in milliseconds; zero once it is there.
    pub cut_needs_run_time_ms: u64,
    /// Tears with a known knob place and a known rug or cloth; only these count here.
    pub tears_placed: u64,
    /// Tears of which one of the two is not known.
    pub tears_not_placed: u64,
    /// The look that counts: with how many tears. Null before the first.
    pub look_at_tears: Option<u64>,
    /// The next look.
    pub next_look_at_tears: u64,
    /// Fast over slow at the look that counts; null before the first.
    pub ratio: Option<ExactRatio>,
    /// What may be said.
    pub verdict: Verdict,
    /// Rugs (or cloths) with a tear that were made both fast and slow, now.
    pub informative_rugs: u64,
    /// Rugs (or cloths) with a tear that were made at one side of the cut only: they say nothing.
    pub silent_rugs: u64,
    /// To the next look; null where the verdict is told.
    pub to_next_look: Option<Missing>,
    /// Until a true tripling would be told with four chances in five; null where the verdict is told or there is nothing to go by.
    pub to_tell_a_tripling: Option<Missing>,
}

/// The size of effect for which the waiting time is told.
const TOLD_RATIO: f64 = 3.0;
/// ... and the chance with which it is then told.
const TOLD_POWER: f64 = 0.8;
/// More tears than this are no plan for anybody.
const MOST_TEARS: u64 = 500;

/// Answers the primary question.
///
/// # Errors
/// When there are more tears than can be compared.
pub fn primary(steps: &[Step], pace: Pace, level: Level) -> Result<Primary, TooManyEvents> {
    let cut = cut(steps);
    let (at, needs) = match cut {
        Cut::At(knob) => (Some(knob), 0),
        Cut::Needs(run_ms) => (None, run_ms),
    };
    // Without a cut everything is slow, and no look counts; tears are placed all the same.
    let found = looks(steps, at.unwrap_or(u32::MAX));
    let look = found.looks.last().filter(|_| at.is_some());
    let judged = look.map(|look| judge(&look.strata, level)).transpose()?;
    let verdict = judged.map_or(Verdict::CannotTellYet, |judged: Judged| judged.verdict);
    let pairs = found.now.pairs();
    let informative = pairs.iter().filter(|pair| pair.is_informative()).count();
    let is_open = verdict == Verdict::CannotTellYet;
    let next = look_after(found.placed);
    let tripling = found
        .now
        .upper_share()
        .filter(|_| is_open && at.is_some())
        .and_then(|share| tears_to_tell(TOLD_RATIO, share))
        .map(|tears| of_all(&pairs, tears).saturating_sub(found.placed).max(next - found.placed));
    Ok(Primary {
        cut_knob_per_mille: at,
        cut_needs_run_time_ms: needs,
        tears_placed: found.placed,
        tears_not_placed: found.not_placed,
        look_at_tears: look.map(|look| look.tears),
        next_look_at_tears: next,
        ratio: judged.map(|judged| judged.ratio),
        verdict,
        informative_rugs: u64::try_from(informative).unwrap_or(u64::MAX),
        silent_rugs: u64::try_from(pairs.len() - informative).unwrap_or(u64::MAX),
        to_next_look: is_open.then(|| pace.missing(next - found.placed)),
        to_tell_a_tripling: tripling.map(|tears| pace.missing(tears)),
    })
}

/// So many informative tears, as all tears, at the share of informative ones so far.
fn of_all(pairs: &[Pair], tears: u64) -> u64 {
    let events = |pair: &Pair| pair.upper.events + pair.lower.events;
    let all: u64 = pairs.iter().map(events).sum();
    let informative: u64 = pairs.iter().filter(|pair| pair.is_informative()).map(events).sum();
    tears.saturating_mul(all).checked_div(informative).unwrap_or(tears)
}

/// The look at which a true ratio is told with [`TOLD_POWER`], where a share of the strokes is fast on every rug; none when that
/// takes more than [`MOST_TEARS`]. Counts the one look alone, which is cautious: earlier ones may have told it.
#[must_use]
pub fn tears_to_tell(ratio: f64, fast_share: f64) -> Option<u64> {
    if !(fast_share > 0.0 && fast_share < 1.0) {
        return None;
    }
    let share = ratio * fast_share / (ratio * fast_share + 1.0 - fast_share);
    let mut look = look_after(0);
    while look <= MOST_TEARS {
        let told: f64 = (0..=look)
            .filter(|fast| not_more_probable(*fast, look, fast_share) <= LOOK_P)
            .map(|fast| binomial(fast, look, share))
            .sum();
        if told >= TOLD_POWER {
            return Some(look);
        }
        look = look_after(look);
    }
    None
}

fn not_more_probable(events: u64, of: u64, share: f64) -> f64 {
    let bound = binomial(events, of, share) * (1.0 + 1e-7);
    (0..=of).map(|count| binomial(count, of, share)).filter(|probability| *probability <= bound).sum()
}

#[cfg(test)]
#[path = "verdict_tests.rs"]
mod tests;
