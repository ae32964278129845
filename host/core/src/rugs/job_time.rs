//! The three clocks of a commission, kept apart: running (logged), tufting (sessions at the frame) and the job (entered).
//!
//! Labour is tufting and job time together, without waiting for glue, and without what both clocks counted at once: where a
//! timer ran on while a session of the same commission was going on, the time is counted once, as tufting.

use serde::Serialize;

use super::commission::{JobSpan, longest_timer_ms};
use super::rug_work::RugTaken;
use crate::entries::{EntryId, JobKind};
use crate::records::when::When;
use shared_types::UtcMillis;

/// Job time of one kind.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct JobSum {
    /// What.
    pub job: JobKind,
    /// How long, in milliseconds.
    pub lasted_ms: u64,
    /// How often.
    pub times: u64,
}

/// A timer that runs. It counts nowhere until it is stopped.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct RunningTimer {
    /// The entry that started it.
    pub entry: EntryId,
    /// What.
    pub job: JobKind,
    /// For which commission.
    pub rug: Option<String>,
    /// Since when, in milliseconds UTC.
    pub since_utc_ms: i64,
    /// How long so far, in milliseconds.
    pub running_for_ms: u64,
    /// Longer than this it is asked whether it was forgotten, in milliseconds.
    pub asked_after_ms: u64,
    /// Whether that is so.
    pub is_probably_forgotten: bool,
}

impl RunningTimer {
    /// A running timer, now; none where it has been stopped.
    #[must_use]
    pub fn of(span: &JobSpan, now: UtcMillis) -> Option<Self> {
        let running_for_ms = span.running_for_ms(now)?;
        let asked_after_ms = longest_timer_ms(span.job);
        Some(Self {
            entry: span.entry,
            job: span.job,
            rug: span.rug.as_ref().map(|rug| rug.0.clone()),
            since_utc_ms: span.at.0,
            running_for_ms,
            asked_after_ms,
            is_probably_forgotten: running_for_ms > asked_after_ms,
        })
    }
}

/// The clocks of one commission, in milliseconds each.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Clocks {
    /// Running that was logged and is counted to it by the calendar alone.
    pub run_assumed_ms: u64,
    /// Running that was logged and that the maker said is its.
    pub run_confirmed_ms: u64,
    /// Running that was typed in.
    pub run_by_hand_ms: u64,
    /// Whether some of that only follows from the time at the frame.
    pub run_by_hand_is_about: bool,
    /// At the frame in assumed sessions.
    pub tufting_assumed_ms: u64,
    /// At the frame in confirmed sessions.
    pub tufting_confirmed_ms: u64,
    /// At the frame, typed in; of a session of which only the running was noted, that as the least.
    pub tufting_by_hand_ms: u64,
    /// Sessions that were typed in without their time at the frame.
    pub entered_without_frame_time: u64,
    /// Sessions of which it is not known how long they were; their time at the frame is not in it.
    pub sessions_of_unknown_length: u64,
    /// Job time by kind, waiting too.
    pub jobs: Vec<JobSum>,
    /// Job time that is work of hands.
    pub job_ms: u64,
    /// Waiting for glue.
    pub waiting_ms: u64,
    /// What a timer and a session counted at once; taken off labour once.
    pub counted_twice_ms: u64,
    /// Tufting and job time together, less what was counted twice.
    pub labour_ms: u64,
    /// Timers that run now; not in it.
    pub running: Vec<RunningTimer>,
}

/// Adds the job's clock, and labour, to the other two.
#[must_use]
pub fn with_jobs<'all>(
    mut clocks: Clocks,
    taken: &RugTaken,
    jobs: impl IntoIterator<Item = &'all JobSpan>,
    now: UtcMillis,
) -> Clocks {
    for span in jobs {
        clocks.running.extend(RunningTimer::of(span, now));
        let Some(lasted) = span.lasted_ms else { continue };
        let sums = &mut clocks.jobs;
        let place = sums.iter().position(|sum| sum.job == span.job).unwrap_or_else(|| {
            sums.push(JobSum { job: span.job, lasted_ms: 0, times: 0 });
            sums.len() - 1
        });
        if let Some(sum) = sums.get_mut(place) {
            sum.lasted_ms = sum.lasted_ms.saturating_add(lasted);
            sum.times += 1;
        }
        if span.job.is_labour() {
            clocks.job_ms = clocks.job_ms.saturating_add(lasted);
            let at_the_frame = overlap_ms(span, taken);
            clocks.counted_twice_ms = clocks.counted_twice_ms.saturating_add(at_the_frame);
        } else {
            clocks.waiting_ms = clocks.waiting_ms.saturating_add(lasted);
        }
    }
    clocks.jobs.sort_by_key(|sum| sum.job);
    clocks.labour_ms = clocks
        .tufting_assumed_ms
        .saturating_add(clocks.tufting_confirmed_ms)
        .saturating_add(clocks.tufting_by_hand_ms)
        .saturating_add(clocks.job_ms)
        .saturating_sub(clocks.counted_twice_ms);
    clocks
}

/// How much of a timer's time lies in dated sessions of the commission; of a session that is shared between commissions
/// no more than this one's share.
fn overlap_ms(span: &JobSpan, taken: &RugTaken) -> u64 {
    let Some((from, to)) = span.bounds() else { return 0 };
    let within = taken.sessions.iter().filter_map(|share| {
        let (When::Dated(starts), When::Dated(ends)) = (share.starts, share.ends) else { return None };
        let both = to.min(ends.0).saturating_sub(from.max(starts.0));
        Some(u64::try_from(both).unwrap_or(0).min(share.tufting_ms.unwrap_or(0)))
    });
    within.fold(0, u64::saturating_add).min(span.lasted_ms.unwrap_or(0))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rugs::rug_work::{Run, SessionShare};
    use crate::test_facts::{HOUR, MINUTE, MONDAY_8};

    fn span(job: JobKind, from: i64, minutes: u64, is_timed: bool) -> JobSpan {
        JobSpan {
            entry: EntryId(1),
            job,
            rug: None,
            at: UtcMillis(MONDAY_8 + from * MINUTE),
            lasted_ms: Some(minutes * 60_000),
            is_timed,
            note: None,
        }
    }

    /// One session on Monday from eight to nine.
    fn an_hour_at_the_frame() -> RugTaken {
        RugTaken {
            sessions: vec![SessionShare {
                starts: When::Dated(UtcMillis(MONDAY_8)),
                ends: When::Dated(UtcMillis(MONDAY_8 + HOUR)),
                day: None,
                machine: None,
                run: Run { run_ms: 1_200_000, edges: 9 },
                tufting_ms: Some(3_600_000),
                is_confirmed: false,
                is_typed: false,
            }],
        }
    }

    fn clocks(spans: &[JobSpan]) -> Clocks {
        let tufting = Clocks { tufting_assumed_ms: 3_600_000, ..Clocks::default() };
        with_jobs(tufting, &an_hour_at_the_frame(), spans, UtcMillis(MONDAY_8 + 24 * HOUR))
    }

    #[test]
    fn waiting_for_glue_is_no_labour() {
        let found = clocks(&[
            span(JobKind::Drying, 120, 600, true),
            span(JobKind::Gluing, 90, 30, true),
            span(JobKind::Shearing, 900, 45, false),
            span(JobKind::Gluing, 200, 15, false),
        ]);
        // By hand: 60 min at the frame, 30 + 15 gluing, 45 shearing make 150; 600 of waiting apart.
        assert_eq!((found.labour_ms, found.job_ms, found.waiting_ms), (9_000_000, 5_400_000, 36_000_000));
        let kinds: Vec<_> = found.jobs.iter().map(|sum| (sum.job, sum.lasted_ms, sum.times)).collect();
        assert_eq!(
            kinds,
            [
                (JobKind::Gluing, 2_700_000, 2),
                (JobKind::Drying, 36_000_000, 1),
                (JobKind::Shearing, 2_700_000, 1)
            ]
        );
    }

    #[test]
    fn time_that_a_timer_and_a_session_counted_at_once_is_labour_once() {
        // The timer runs from half past eight to half past nine: half an hour of it lies in the session.
        let found = clocks(&[span(JobKind::Tracing, 30, 60, true)]);
        assert_eq!((found.counted_twice_ms, found.labour_ms), (1_800_000, 5_400_000));
        // Without a timer nobody knows when exactly it was.
        let added = clocks(&[span(JobKind::Tracing, 30, 60, false)]);
        assert_eq!((added.counted_twice_ms, added.labour_ms), (0, 7_200_000));
        // Waiting may well go on beside a session.
        assert_eq!(clocks(&[span(JobKind::Drying, 0, 60, true)]).counted_twice_ms, 0);
    }

    #[test]
    fn a_timer_that_runs_counts_nowhere_and_is_asked_about_after_its_limit() {
        let running = |job, from| JobSpan { lasted_ms: None, ..span(job, from, 0, true) };
        // Now is a day after Monday at eight: 1,440 minutes.
        let found = clocks(&[
            running(JobKind::Shearing, 1_200),
            running(JobKind::Shearing, 1_199),
            running(JobKind::Drying, 0),
        ]);
        let forgotten: Vec<_> = found.running.iter().map(|timer| timer.is_probably_forgotten).collect();
        assert_eq!(forgotten, [false, true, false], "240 min, 241 min, and a day of drying");
        assert_eq!((found.labour_ms, found.waiting_ms), (3_600_000, 0));
    }
}
