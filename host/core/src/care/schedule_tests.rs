#![allow(clippy::cast_possible_wrap, reason = "a test may stop at the first surprise")]
use super::*;
use crate::care::done::Evidence;
use crate::care::history::History;
use crate::care::run_pieces::{Moment, Place, RunPiece, RunPieces};
use crate::care::tasks::PLAN;
use crate::care::tasks::task;
use crate::records::log_records::LogKey;
use crate::stats::HOUR_MS;
use jiff::tz::TimeZone;
use proptest::prelude::*;
use rstest::rstest;
use shared_types::UtcMillis;
use shared_types::{BootId, LogId, LoggerId, RecordSeq, RunMillis, UptimeMillis};

const LOG: LogKey = LogKey { logger: LoggerId(1), log: LogId(1) };

fn planned(limits: TaskLimits) -> PlannedTask<'static> {
    let last = LastDone { evidence: Evidence::Entered, moment: Moment::dated(UtcMillis(0)), finding: None };
    PlannedTask {
        task: *task("oiling").unwrap(),
        limits,
        limits_by_maker: false,
        last,
        applies: true,
        besides: Besides::default(),
    }
}

fn run_limit(run_time_ms: u64) -> TaskLimits {
    TaskLimits { run_time_ms: Some(run_time_ms), ..TaskLimits::default() }
}

fn ran(ms: u64) -> Used {
    Used { run: RunSince { at_least_ms: ms, at_most_ms: ms, ..RunSince::default() }, ..Used::default() }
}

/// Four hours: soon from four fifths (11,520,000 ms), due at 14,400,000 ms, overdue from six hours (21,600,000 ms).
#[rstest]
#[case::nothing(0, DueState::Fine)]
#[case::just_before_soon(11_519_999, DueState::Fine)]
#[case::soon(11_520_000, DueState::Soon)]
#[case::one_millisecond_before(14_399_999, DueState::Soon)]
#[case::at_the_limit(14_400_000, DueState::Due)]
#[case::one_millisecond_after(14_400_001, DueState::Due)]
#[case::just_before_overdue(21_599_999, DueState::Due)]
#[case::overdue(21_600_000, DueState::Overdue)]
#[case::for_ever(u64::MAX, DueState::Overdue)]
fn a_task_falls_due_at_its_limit_to_the_millisecond(#[case] ms: u64, #[case] state: DueState) {
    assert_eq!(judge(planned(run_limit(4 * HOUR_MS)), ran(ms)).state, state);
}

#[test]
fn whichever_limit_comes_first_decides() {
    let limits = TaskLimits {
        run_time_ms: Some(4 * HOUR_MS),
        days: Some(30),
        idle_days: Some(14),
        sessions: Some(5),
        ..TaskLimits::default()
    };
    let used = Used { time_ms: 10 * DAY_MS, rest_ms: 14 * DAY_MS, sessions: 4, ..ran(HOUR_MS) };
    let due = judge(planned(limits), used);
    assert_eq!((due.state, due.decided_by), (DueState::Due, Some(LimitKind::IdleDays)));
    assert_eq!(due.remaining_run_ms(), Some(3 * HOUR_MS as i64));
    assert_eq!(due.remaining_time_ms(), Some(0));
    // Eight sessions of five ask in the evening; what is due by days of standing still stays due by them.
    let busy = judge(planned(limits), Used { sessions: 8, ..used });
    assert_eq!((busy.state, busy.decided_by), (DueState::Due, Some(LimitKind::IdleDays)));
}

#[test]
fn what_every_session_asks_for_is_end_of_day_care_and_never_overdue() {
    let limits = TaskLimits { sessions: Some(1), ..run_limit(4 * HOUR_MS) };
    let after = |sessions, ran_ms| judge(planned(limits), Used { sessions, ..ran(ran_ms) });
    assert_eq!(after(0, HOUR_MS).state, DueState::Fine);
    for sessions in [1, 2, 100, u64::MAX] {
        let due = after(sessions, HOUR_MS);
        assert_eq!((due.state, due.decided_by), (DueState::EndOfDay, Some(LimitKind::Sessions)));
        assert!(!due.is_due());
    }
    // Its hours still make it due, and then they decide.
    let by_hours = after(100, 4 * HOUR_MS);
    assert_eq!((by_hours.state, by_hours.decided_by), (DueState::Due, Some(LimitKind::RunTime)));
    // Nearly due by hours is no reason to leave the evening out.
    assert_eq!(after(1, 4 * HOUR_MS - 1).state, DueState::EndOfDay);
}

#[test]
fn end_of_day_care_that_was_put_off_waits_too() {
    let limits = TaskLimits { sessions: Some(1), ..TaskLimits::default() };
    let put_off = Besides { is_snoozed: true, ..Besides::default() };
    assert_eq!(judge(with(limits, put_off), Used { sessions: 3, ..ran(0) }).state, DueState::Snoozed);
    assert_eq!(judge(with(limits, put_off), ran(0)).state, DueState::Fine);
}

#[test]
fn hours_by_hand_and_what_is_not_recorded_count_too() {
    let run = RunSince {
        at_least_ms: HOUR_MS,
        at_most_ms: 2 * HOUR_MS,
        not_recorded_ms: HOUR_MS,
        by_hand_ms: 2 * HOUR_MS,
        ..RunSince::default()
    };
    let due = judge(planned(run_limit(4 * HOUR_MS)), Used { run, ..Used::default() });
    assert_eq!(due.state, DueState::Due);
}

#[test]
fn a_task_with_every_limit_off_or_without_its_cloth_is_not_now() {
    assert_eq!(judge(planned(TaskLimits::default()), ran(u64::MAX)).state, DueState::NotNow);
    let no_cloth = PlannedTask { applies: false, ..planned(run_limit(1)) };
    assert_eq!(judge(no_cloth, ran(u64::MAX)).state, DueState::NotNow);
    assert!(!judge(no_cloth, ran(u64::MAX)).is_due());
}

fn with(limits: TaskLimits, besides: Besides) -> PlannedTask<'static> {
    PlannedTask { besides, ..planned(limits) }
}

#[test]
fn strokes_decide_where_they_are_the_first_limit_to_be_reached() {
    let limits = TaskLimits { strokes: Some(100_000), ..run_limit(4 * HOUR_MS) };
    let at = |strokes| judge(with(limits, Besides { strokes, ..Besides::default() }), ran(HOUR_MS));
    assert_eq!((at(99_999).state, at(100_000).state), (DueState::Soon, DueState::Due));
    assert_eq!(at(150_000).state, DueState::Overdue);
    assert_eq!(at(100_000).decided_by, Some(LimitKind::Strokes));
}

#[test]
fn a_tear_makes_a_task_due_at_once_and_three_tears_do_not_make_it_overdue() {
    let limits = TaskLimits { after_tear: true, ..run_limit(4 * HOUR_MS) };
    let after = |tears| judge(with(limits, Besides { tears, ..Besides::default() }), ran(0));
    assert_eq!(after(0).state, DueState::Fine);
    assert_eq!((after(1).state, after(1).decided_by), (DueState::Due, Some(LimitKind::Tear)));
    assert_eq!(after(3).state, DueState::Due);
    let not_asked = judge(with(run_limit(HOUR_MS), Besides { tears: 3, ..Besides::default() }), ran(0));
    assert_eq!(not_asked.state, DueState::Fine);
}

#[test]
fn a_change_of_the_pile_height_makes_a_task_due() {
    let limits = TaskLimits { after_pile_height: true, ..TaskLimits::default() };
    let due = judge(with(limits, Besides { pile_heights: 1, ..Besides::default() }), ran(0));
    assert_eq!((due.state, due.decided_by), (DueState::Due, Some(LimitKind::PileHeight)));
}

#[test]
fn a_new_machine_asks_at_its_own_run_time() {
    let besides = Besides { running_in_at_ms: Some(2 * HOUR_MS), ..Besides::default() };
    let ever =
        |run_ever_ms| judge(with(run_limit(4 * HOUR_MS), besides), Used { run_ever_ms, ..ran(HOUR_MS / 2) });
    assert_eq!(ever(2 * HOUR_MS - 1).state, DueState::Soon);
    let due = ever(2 * HOUR_MS);
    assert_eq!((due.state, due.decided_by), (DueState::Due, Some(LimitKind::RunningIn)));
    // Two hours less one and a half, not four less a half.
    assert_eq!(ever(HOUR_MS * 3 / 2).remaining_run_ms(), Some(HOUR_MS as i64 / 2));
}

#[test]
fn what_is_put_off_is_neither_due_nor_hidden() {
    let snoozed = Besides { is_snoozed: true, ..Besides::default() };
    let due = judge(with(run_limit(4 * HOUR_MS), snoozed), ran(9 * HOUR_MS));
    assert_eq!((due.state, due.is_due()), (DueState::Snoozed, false));
    // What is not due needs no putting off.
    assert_eq!(judge(with(run_limit(4 * HOUR_MS), snoozed), ran(0)).state, DueState::Fine);
}

/// A dated burst.
fn burst(start: i64, run: u64) -> RunPiece {
    RunPiece {
        place: Place { log: LOG, seq: RecordSeq(1), boot: BootId(1), at: UptimeMillis(0) },
        until: RecordSeq(1),
        earliest: Some(UtcMillis(start)),
        latest: Some(UtcMillis(start)),
        run: RunMillis(run),
        edges: 0,
        is_recorded: true,
    }
}

fn history(bursts: &[(i64, u64)]) -> History {
    let pieces: Vec<RunPiece> = bursts.iter().map(|(start, run)| burst(*start, *run)).collect();
    History { sessions: pieces.clone(), pieces: RunPieces::of(pieces), ..History::default() }
}

fn schedule_of<'a>(planned: &[PlannedTask<'a>], history: &History) -> Vec<Due<'a>> {
    schedule(planned, &mut SinceDone::of(history, UtcMillis(NOW), &TimeZone::UTC))
}

fn whole_plan(done: &[i64]) -> Vec<PlannedTask<'static>> {
    PLAN.iter()
        .zip(done)
        .map(|(task, at)| PlannedTask {
            task: *task,
            limits: task.start,
            limits_by_maker: false,
            last: LastDone {
                evidence: Evidence::Entered,
                moment: Moment::dated(UtcMillis(*at)),
                finding: None,
            },
            applies: true,
            besides: Besides::default(),
        })
        .collect()
}

fn state_of(dues: &[Due<'_>], name: &str) -> (DueState, u64) {
    let due = dues.iter().find(|due| due.planned.task.name == name).unwrap();
    (due.state, due.used_per_mille)
}

const NOW: i64 = 2_000_000_000;

proptest! {
    #[test]
    fn the_most_pressing_task_stands_first(
        bursts in prop::collection::vec((0..NOW, 0_u64..20_000_000), 0..30),
        done in prop::collection::vec(0..NOW, PLAN.len()),
    ) {
        let dues = schedule_of(&whole_plan(&done), &history(&bursts));
        prop_assert_eq!(dues.len(), PLAN.len());
        prop_assert!(dues.windows(2).all(|two| two[0].state >= two[1].state));
    }

    #[test]
    fn doing_a_task_never_makes_any_task_more_pressing(
        bursts in prop::collection::vec((0..NOW, 0_u64..20_000_000), 0..30),
        done in prop::collection::vec(0..NOW, PLAN.len()),
        which in 0..PLAN.len(),
        later in 0..NOW,
    ) {
        let history = history(&bursts);
        let before = schedule_of(&whole_plan(&done), &history);
        let mut again = done.clone();
        again[which] = again[which].max(later);
        let after = schedule_of(&whole_plan(&again), &history);
        for task in PLAN {
            prop_assert!(state_of(&after, task.name) <= state_of(&before, task.name), "{}", task.name);
        }
    }

    #[test]
    fn more_running_never_makes_a_task_less_pressing(
        bursts in prop::collection::vec((0..NOW, 0_u64..20_000_000), 1..30),
        done in prop::collection::vec(0..NOW, PLAN.len()),
    ) {
        // Idle days are left out: running ends a standstill.
        let mut plan = whole_plan(&done);
        for planned in &mut plan {
            planned.limits.idle_days = None;
        }
        let fewer = schedule_of(&plan, &history(&bursts[1..]));
        let all = schedule_of(&plan, &history(&bursts));
        for task in PLAN {
            prop_assert!(state_of(&all, task.name) >= state_of(&fewer, task.name), "{}", task.name);
        }
    }

    #[test]
    fn splitting_a_burst_in_two_changes_nothing(
        start in 0..NOW,
        run in 2_u64..20_000_000,
        share in 1_u64..1000,
        done in prop::collection::vec(0..NOW, PLAN.len()),
    ) {
        let cut = run * share / 1000;
        let whole = history(&[(start, run)]);
        let mut two = history(&[(start, cut), (start + cut as i64, run - cut)]);
        // Two bursts that adjoin are still one session.
        two.sessions.truncate(1);
        two.sessions[0].run = RunMillis(run);
        let plan = whole_plan(&done);
        let (one, other) =
            (schedule_of(&plan, &whole), schedule_of(&plan, &two));
        for task in PLAN {
            prop_assert_eq!(state_of(&one, task.name), state_of(&other, task.name));
        }
    }
}
