//! Finding the dry run after an oiling among the runs around it. Whether yarn was in the needle cannot be seen, so this is a
//! rule of judgement; it is stated in `host/core/STATISTICS/sessions.md` and can be overruled for every run.
//!
//! Runs with no more than a few seconds between them are one stretch. A stretch can be a dry run when it ran 10 to 180 seconds
//! and stands alone. First the stretches after the oiling are looked at: up to three (oil, run, wipe, and again, with no more than
//! five minutes between) from the first one on, within half an hour, before anything else ran; the second and third must be one
//! pull of the trigger. Where there is none, the last stretch before: many note the oiling when all is done. There the rule is
//! stricter, because a last line of tufting stands before the entry too.

use shared_types::{RecordSeq, UtcMillis};

use crate::records::when::When;
use crate::stats::MINUTE_MS;

/// A dry run begins or ended at most so long from the entry, in milliseconds; half an hour.
pub const WITHIN_MS: i64 = 30 * MINUTE_MS.cast_signed();
/// A dry run ran at least so long, in milliseconds.
pub const RAN_AT_LEAST_MS: u64 = 10_000;
/// From its first stroke to its last it takes at most so long, in milliseconds.
pub const TOOK_AT_MOST_MS: i64 = 180_000;
/// It is alone when the machine stood still for so long before and after it, in milliseconds.
pub const ALONE_MS: i64 = 2 * MINUTE_MS.cast_signed();
/// Before the entry the machine must have stood for so long: oiling takes that. Milliseconds.
pub const OILED_FOR_MS: i64 = 5 * MINUTE_MS.cast_signed();
/// Runs with a shorter stop between them are one stretch. Milliseconds.
pub const ONE_STRETCH_MS: i64 = 10_000;
/// A second dry run begins at most so long after the first one ended: a wipe takes no longer. Milliseconds.
pub const AGAIN_WITHIN_MS: i64 = 5 * MINUTE_MS.cast_signed();
/// A stretch with no longer stops in it, all together, is one pull of the trigger. Milliseconds.
pub const ONE_PULL_MS: i64 = 1_000;
/// After one oiling so many dry runs at the most.
pub const AT_MOST: usize = 3;

/// A dated run of one machine.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Run {
    /// Its first record.
    pub seq: RecordSeq,
    /// When it began, in milliseconds UTC.
    pub start_utc_ms: i64,
    /// How long it took, in milliseconds.
    pub run_ms: u64,
}

impl Run {
    /// A run that is dated; the others cannot be judged.
    #[must_use]
    pub fn of(seq: RecordSeq, when: When, run_ms: u64) -> Option<Self> {
        match when {
            When::Dated(at) => Some(Self { seq, start_utc_ms: at.0, run_ms }),
            When::Between { .. } | When::Undated => None,
        }
    }

    fn ends(&self) -> i64 {
        self.start_utc_ms.saturating_add(i64::try_from(self.run_ms).unwrap_or(i64::MAX))
    }
}

/// Runs that are one.
#[derive(Clone, Copy, Debug)]
struct Stretch<'a> {
    runs: &'a [Run],
    start: i64,
    end: i64,
    run_ms: u64,
}

/// The dry runs that belong to an oiling, by their first records. `runs` are those of one machine in the order of time.
#[must_use]
pub fn find(runs: &[Run], oiled_utc_ms: UtcMillis) -> Vec<RecordSeq> {
    let at = oiled_utc_ms.0;
    let margin = WITHIN_MS + TOOK_AT_MOST_MS + OILED_FOR_MS;
    let first = runs.partition_point(|run| run.ends() < at.saturating_sub(margin));
    let end = runs.partition_point(|run| run.start_utc_ms <= at.saturating_add(margin));
    // One more on each side, to see whether the outermost stretch stands alone.
    let near = runs.get(first.saturating_sub(1)..(end + 1).min(runs.len())).unwrap_or_default();
    let stretches = stretches(near);
    let later = stretches.partition_point(|stretch| stretch.end <= at);
    let found = after(&stretches, later, at);
    let found = if found.is_empty() { before(&stretches, later, at) } else { found };
    found.iter().flat_map(|stretch| stretch.runs).map(|run| run.seq).collect()
}

fn stretches(runs: &[Run]) -> Vec<Stretch<'_>> {
    runs.chunk_by(|one, next| next.start_utc_ms.saturating_sub(one.ends()) <= ONE_STRETCH_MS)
        .filter_map(|runs| {
            let (first, last) = (runs.first()?, runs.last()?);
            let run_ms = runs.iter().fold(0, |sum: u64, run| sum.saturating_add(run.run_ms));
            Some(Stretch { runs, start: first.start_utc_ms, end: last.ends(), run_ms })
        })
        .collect()
}

/// Up to three from the first stretch after the moment on.
fn after<'s, 'r>(stretches: &'s [Stretch<'r>], later: usize, at: i64) -> Vec<&'s Stretch<'r>> {
    let candidates = stretches.iter().enumerate().skip(later).take(AT_MOST);
    candidates
        .take_while(|(place, stretch)| {
            stretch.start <= at.saturating_add(WITHIN_MS)
                && stretch.is_short()
                && still_before(stretches, *place) >= ALONE_MS
                && still_after(stretches, *place) >= ALONE_MS
                && (*place == later || stretch.goes_on_from(still_before(stretches, *place)))
        })
        .map(|(_, stretch)| stretch)
        .collect()
}

/// The last stretch before the moment.
fn before<'s, 'r>(stretches: &'s [Stretch<'r>], later: usize, at: i64) -> Vec<&'s Stretch<'r>> {
    let Some(place) = later.checked_sub(1) else { return Vec::new() };
    stretches
        .get(place)
        .filter(|stretch| {
            stretch.end >= at.saturating_sub(WITHIN_MS)
                && stretch.is_short()
                && still_before(stretches, place) >= OILED_FOR_MS
                && still_after(stretches, place) >= ALONE_MS
        })
        .into_iter()
        .collect()
}

impl Stretch<'_> {
    /// Whether it can be another dry run after a stop. Running idle is one pull of the trigger; lines of tufting are many.
    fn goes_on_from(&self, stood_ms: i64) -> bool {
        let ran = i64::try_from(self.run_ms).unwrap_or(i64::MAX);
        let stops = self.end.saturating_sub(self.start).saturating_sub(ran);
        stops <= ONE_PULL_MS && stood_ms <= AGAIN_WITHIN_MS
    }

    fn is_short(&self) -> bool {
        self.run_ms >= RAN_AT_LEAST_MS && self.end.saturating_sub(self.start) <= TOOK_AT_MOST_MS
    }
}

fn still_before(stretches: &[Stretch<'_>], place: usize) -> i64 {
    let before = place.checked_sub(1).and_then(|before| stretches.get(before));
    before.zip(stretches.get(place)).map_or(i64::MAX, |(before, this)| this.start - before.end)
}

fn still_after(stretches: &[Stretch<'_>], place: usize) -> i64 {
    let next = stretches.get(place + 1);
    next.zip(stretches.get(place)).map_or(i64::MAX, |(next, this)| next.start - this.end)
}

#[cfg(test)]
#[path = "dry_run_tests.rs"]
mod tests;
