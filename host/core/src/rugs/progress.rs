//! How far along is a commission, and how much is left? From its area, its strokes so far, and the strokes that the maker's
//! own finished rugs of the same style took for their area.
//!
//! The rug is not done yet, so its total lies above what it has had: the prediction of a next rug is cut off there. Where some of
//! its running was typed in, the hours at the frame stand for the strokes.

use std::collections::BTreeMap;

use serde::Serialize;

use super::commission::Commissions;
use super::own_rugs::{self, OwnRugs};
use super::quote::OwnRug;
use super::rug_work::RugTaken;
use crate::entries::{SampleSquare, Style};
use crate::stats::{self, Estimate, HOUR_MS, LEAST_VALUES, Level, next_value_above, number};
use crate::studio::{Rug, RugIndex, RugState, Studio};

const MM2_PER_M2: f64 = 1_000_000.0;
/// With less time at the frame than this, in milliseconds, a rug's own pace says little; half an hour.
const LEAST_OWN_PACE_MS: u64 = HOUR_MS / 2;

/// From what the answer follows.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum ProgressBasis {
    /// At least four own finished rugs of the style.
    OwnRugs,
    /// The hours at the frame of at least four of them: some of this one's running was typed in.
    OwnHours,
    /// Timed sample squares with their strokes; there is no range.
    SampleSquare,
    /// Nothing; there is no answer.
    None,
}

/// Why there is no answer.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum WhyNot {
    /// Its tufting is done.
    Done,
    /// Its size is not known.
    NoSize,
    /// Too few finished rugs of the style, and no sample square with strokes.
    HistoryTooThin,
    /// It has taken far more strokes than the own rugs tell.
    BeyondOwnRugs,
}

/// From whose pace the hours follow.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Pace {
    /// This rug's so far.
    ThisRug,
    /// The finished rugs'.
    OwnRugs,
    /// Nobody's; there are no hours.
    None,
}

/// How far along a commission is.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Progress {
    /// Its name.
    pub rug: String,
    /// How it stands.
    pub state: RugState,
    /// Its style.
    pub style: Option<Style>,
    /// Its area in square metres.
    pub area_m2: Option<f64>,
    /// Strokes so far, where they were counted.
    pub strokes: u64,
    /// Hours at the frame so far; none where it is not known how long some session was.
    pub tufting_hours: Option<f64>,
    /// Whether some of it was typed in, so that the strokes are not all.
    pub partly_typed: bool,
    /// From what the answer follows.
    pub basis: ProgressBasis,
    /// Why there is no answer.
    pub why_not: Option<WhyNot>,
    /// Own finished rugs of the style.
    pub own_rugs: u64,
    /// How many it takes.
    pub own_rugs_needed: u64,
    /// Sample squares of the style with strokes.
    pub sample_squares: u64,
    /// How sure the range is; none without a range.
    pub level: Option<f64>,
    /// Strokes of the whole rug.
    pub strokes_expected: Estimate,
    /// The share that is done, 0 to 1.
    pub share_done: Estimate,
    /// Strokes that are left.
    pub strokes_left: Estimate,
    /// Hours at the frame that are left.
    pub tufting_hours_left: Estimate,
    /// Hours of running that are left.
    pub run_hours_left: Estimate,
    /// From whose pace the hours follow.
    pub pace: Pace,
}

/// Inputs of the progress report.
#[derive(Clone, Copy, Debug)]
pub struct Known<'all> {
    /// The studio.
    pub studio: &'all Studio,
    /// What was told about commissions.
    pub commissions: &'all Commissions,
    /// Work on every commission.
    pub taken: &'all BTreeMap<RugIndex, RugTaken>,
    /// The finished ones.
    pub own: &'all OwnRugs,
    /// Sample squares.
    pub samples: &'all [SampleSquare],
    /// Grams of yarn for each 1,000 strokes of the finished ones of which all yarn was weighed.
    pub own_yarn: &'all [f64],
}

/// How far along a commission is.
#[must_use]
pub fn progress(known: Known<'_>, place: RugIndex, rug: &Rug, level: Level) -> Progress {
    let nothing = RugTaken::default();
    let taken = known.taken.get(&place).unwrap_or(&nothing);
    let style = own_rugs::style(known.studio, known.commissions, rug, taken);
    let like = |other: Option<Style>| style.is_none() || other == style;
    let partly_typed = taken.has_typed();
    let counts = |own: &&OwnRug| match own.strokes {
        _ if partly_typed => own.tufting_ms.is_some_and(|ms| ms > 0),
        strokes => strokes.is_some_and(|strokes| strokes > 0),
    };
    let own: Vec<&OwnRug> = known.own.rugs.iter().filter(|own| like(own.style)).filter(counts).collect();
    let samples: Vec<&SampleSquare> =
        known.samples.iter().filter(|sample| like(sample.style) && sample.strokes.is_some()).collect();
    let strokes = taken.strokes(known.studio);
    let area_mm2 = own_rugs::area_mm2(rug);
    let mut progress = Progress {
        rug: rug.order.rug.0.clone(),
        state: rug.state(),
        style,
        area_m2: area_mm2.map(|area| number(area) / MM2_PER_M2),
        strokes,
        tufting_hours: taken.whole_tufting_ms().map(stats::hours),
        partly_typed,
        basis: ProgressBasis::None,
        why_not: None,
        own_rugs: count(own.len()),
        own_rugs_needed: count(LEAST_VALUES),
        sample_squares: count(samples.len()),
        level: None,
        strokes_expected: Estimate::default(),
        share_done: Estimate::default(),
        strokes_left: Estimate::default(),
        tufting_hours_left: Estimate::default(),
        run_hours_left: Estimate::default(),
        pace: Pace::None,
    };
    if rug.state().is_done() {
        progress.why_not = Some(WhyNot::Done);
        return progress;
    }
    let Some(area_mm2) = area_mm2 else {
        progress.why_not = Some(WhyNot::NoSize);
        return progress;
    };
    if partly_typed {
        expect_hours(&mut progress, taken, &own, number(area_mm2), level);
        return progress;
    }
    expect_strokes(&mut progress, &own, &samples, number(area_mm2), level);
    if progress.why_not.is_none() {
        work_out_rest(&mut progress, taken, &own);
    }
    progress
}

/// Hours at the frame of the whole rug, and what is left of them.
fn expect_hours(progress: &mut Progress, taken: &RugTaken, own: &[&OwnRug], area: f64, level: Level) {
    let per_area: Vec<f64> =
        own.iter().filter_map(|rug| Some(number(rug.tufting_ms?) / number(rug.area_mm2))).collect();
    let Some(done) = taken.whole_tufting_ms().map(number).filter(|_| per_area.len() >= LEAST_VALUES) else {
        progress.why_not = Some(WhyNot::HistoryTooThin);
        return;
    };
    let Some(expected) = next_value_above(&per_area, done / area, level) else {
        progress.why_not = Some(WhyNot::BeyondOwnRugs);
        return;
    };
    progress.basis = ProgressBasis::OwnHours;
    progress.level = Some(level.share());
    let whole = expected.times(area);
    progress.share_done = share_of(done, whole);
    progress.tufting_hours_left = left_of(done, whole).times(1.0 / number(HOUR_MS));
    progress.pace = Pace::OwnRugs;
}

/// The share that is done of a whole.
fn share_of(done: f64, whole: Estimate) -> Estimate {
    let share = |total: Option<f64>| total.filter(|total| *total > 0.0).map(|total| (done / total).min(1.0));
    Estimate { estimate: share(whole.estimate), low: share(whole.high), high: share(whole.low) }
}

/// What is left of a whole.
fn left_of(done: f64, whole: Estimate) -> Estimate {
    let left = |total: Option<f64>| total.map(|total| (total - done).max(0.0));
    Estimate { estimate: left(whole.estimate), low: left(whole.low), high: left(whole.high) }
}

/// Strokes of the whole rug.
fn expect_strokes(
    progress: &mut Progress,
    own: &[&OwnRug],
    samples: &[&SampleSquare],
    area: f64,
    level: Level,
) {
    if own.len() >= LEAST_VALUES {
        let per_area: Vec<f64> =
            own.iter().filter_map(|rug| Some(number(rug.strokes?) / number(rug.area_mm2))).collect();
        match next_value_above(&per_area, number(progress.strokes) / area, level) {
            Some(expected) => {
                progress.basis = ProgressBasis::OwnRugs;
                progress.level = Some(level.share());
                progress.strokes_expected = expected.times(area);
            }
            None => progress.why_not = Some(WhyNot::BeyondOwnRugs),
        }
        return;
    }
    let sampled: u64 = samples.iter().map(|sample| sample.area_mm2()).sum();
    if sampled == 0 {
        progress.why_not = Some(WhyNot::HistoryTooThin);
        return;
    }
    let strokes = samples.iter().filter_map(|sample| sample.strokes).fold(0, u64::saturating_add);
    let expected = number(strokes) / number(sampled) * area;
    if expected < number(progress.strokes) {
        progress.why_not = Some(WhyNot::BeyondOwnRugs);
        return;
    }
    progress.basis = ProgressBasis::SampleSquare;
    progress.strokes_expected = Estimate { estimate: Some(expected), low: None, high: None };
}

/// What is left, from the strokes of the whole.
fn work_out_rest(progress: &mut Progress, taken: &RugTaken, own: &[&OwnRug]) {
    let done = number(progress.strokes);
    let expected = progress.strokes_expected;
    progress.share_done = share_of(done, expected);
    progress.strokes_left = left_of(done, expected);
    let this_tufting = taken.whole_tufting_ms().filter(|ms| *ms >= LEAST_OWN_PACE_MS && progress.strokes > 0);
    let sum = |take: fn(&OwnRug) -> Option<u64>| -> Option<f64> {
        let parts: Option<Vec<u64>> = own.iter().map(|rug| take(rug)).collect();
        parts.map(|parts| number(parts.into_iter().fold(0, u64::saturating_add)))
    };
    let own_strokes = sum(|rug| rug.strokes).filter(|strokes| *strokes > 0.0);
    let (tufting_per_stroke, run_per_stroke) = match (this_tufting, own_strokes) {
        (Some(tufting), _) => {
            progress.pace = Pace::ThisRug;
            (Some(number(tufting) / done), Some(number(taken.run_ms()) / done))
        }
        (None, Some(strokes)) => {
            progress.pace = Pace::OwnRugs;
            let tufting = sum(|rug| rug.tufting_ms).map(|tufting| tufting / strokes);
            (tufting, sum(|rug| Some(rug.run_ms)).map(|run| run / strokes))
        }
        (None, None) => (None, None),
    };
    let hours = |per_stroke: Option<f64>| {
        per_stroke.map_or_else(Estimate::default, |ms| progress.strokes_left.times(ms / number(HOUR_MS)))
    };
    progress.tufting_hours_left = hours(tufting_per_stroke);
    progress.run_hours_left = hours(run_per_stroke);
}

fn count(length: usize) -> u64 {
    u64::try_from(length).unwrap_or(u64::MAX)
}

#[cfg(test)]
#[path = "progress_tests.rs"]
mod tests;
