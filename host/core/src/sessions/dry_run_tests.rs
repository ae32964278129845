#![allow(clippy::cast_possible_wrap, reason = "a test may stop at the first surprise")]
use super::*;
use proptest::prelude::*;
use rstest::rstest;

const MINUTE: i64 = 60_000;
const SECOND: i64 = 1_000;
/// The oiling of all these tests.
const OILED: i64 = 1_000 * MINUTE;

/// Runs as (milliseconds from the oiling, seconds of running), numbered from 0.
fn runs(of: &[(i64, u64)]) -> Vec<Run> {
    (0..)
        .zip(of)
        .map(|(seq, (from, seconds))| Run {
            seq: RecordSeq(seq),
            start_utc_ms: OILED + from,
            run_ms: seconds * 1_000,
        })
        .collect()
}

fn found(of: &[(i64, u64)]) -> Vec<u32> {
    find(&runs(of), UtcMillis(OILED)).into_iter().map(|seq| seq.0).collect()
}

/// Each limit of the rule, at it and one step past it.
#[rstest]
#[case::half_a_minute(5 * MINUTE, 30, true)]
#[case::just_long_enough(5 * MINUTE, 10, true)]
#[case::a_touch_of_the_trigger(5 * MINUTE, 9, false)]
#[case::just_short_enough(5 * MINUTE, 180, true)]
#[case::work(5 * MINUTE, 181, false)]
#[case::within_half_an_hour(30 * MINUTE, 30, true)]
#[case::too_late(30 * MINUTE + 1, 30, false)]
fn a_lone_run_after_the_oiling_is_its_dry_run(#[case] from: i64, #[case] seconds: u64, #[case] is_one: bool) {
    assert_eq!(found(&[(-40 * MINUTE, 60), (from, seconds)]), if is_one { vec![1] } else { vec![] });
}

#[test]
fn a_run_that_work_follows_at_once_is_work() {
    // It ends at 5:30; two minutes on is 7:30.
    assert_eq!(found(&[(5 * MINUTE, 30), (7 * MINUTE + 30 * SECOND, 200)]), [0]);
    assert_eq!(found(&[(5 * MINUTE, 30), (7 * MINUTE + 29 * SECOND, 200)]), [] as [u32; 0]);
}

#[test]
fn oil_run_wipe_and_again_are_three_dry_runs_and_no_more() {
    let five = [(3 * MINUTE, 30), (6 * MINUTE, 30), (9 * MINUTE, 30), (12 * MINUTE, 30), (15 * MINUTE, 30)];
    assert_eq!(found(&five), [0, 1, 2]);
    // The first ends at 3:30; what begins at 8:30 can be the second, a millisecond later it is work.
    assert_eq!(found(&[(3 * MINUTE, 30), (8 * MINUTE + 30 * SECOND, 30)]), [0, 1]);
    assert_eq!(found(&[(3 * MINUTE, 30), (8 * MINUTE + 30 * SECOND + 1, 30)]), [0]);
    // Nothing after the first work is a dry run.
    assert_eq!(found(&[(3 * MINUTE, 30), (6 * MINUTE, 600), (20 * MINUTE, 30)]), [0]);
}

#[test]
fn the_first_lines_of_tufting_after_the_dry_run_are_no_second_one() {
    // A second between the two runs at most; a line takes longer to set anew.
    assert_eq!(found(&[(3 * MINUTE, 30), (6 * MINUTE, 8), (6 * MINUTE + 9 * SECOND, 8)]), [0, 1, 2]);
    assert_eq!(found(&[(3 * MINUTE, 30), (6 * MINUTE, 8), (6 * MINUTE + 9 * SECOND + 1, 8)]), [0]);
}

#[test]
fn an_oiling_noted_when_all_is_done_has_its_dry_run_before_it() {
    // Work until 20 minutes before, five minutes with oil and brush, the dry run, the note.
    assert_eq!(found(&[(-30 * MINUTE, 600), (-15 * MINUTE, 30)]), [1]);
    // A last line of tufting came too soon after the one before.
    assert_eq!(found(&[(-30 * MINUTE, 600), (-16 * MINUTE, 30)]), [] as [u32; 0]);
    // What runs after the oiling goes first.
    assert_eq!(found(&[(-30 * MINUTE, 600), (-15 * MINUTE, 30), (3 * MINUTE, 30)]), [2]);
}

#[test]
fn three_touches_of_the_trigger_with_seconds_between_are_one_dry_run() {
    assert_eq!(
        found(&[(3 * MINUTE, 10), (3 * MINUTE + 15 * SECOND, 10), (3 * MINUTE + 30 * SECOND, 10)]),
        [0, 1, 2]
    );
}

#[test]
fn nothing_ran_nothing_is_found() {
    assert_eq!(found(&[]), [] as [u32; 0]);
    assert_eq!(Run::of(RecordSeq(1), When::Undated, 5), None);
}

proptest! {
    /// Seconds of running, cut in two at any place, are found or not found just as they were.
    #[test]
    fn splitting_a_run_in_two_changes_nothing(
        gaps in prop::collection::vec((0_i64..600, 1_u64..240), 1..12),
        which in 0_usize..12,
        share in 1_u64..100,
    ) {
        let mut at = -40 * MINUTE;
        let mut whole = Vec::new();
        for (gap, seconds) in gaps {
            at += gap * SECOND;
            whole.push(Run { seq: RecordSeq(0), start_utc_ms: OILED + at, run_ms: seconds * 1_000 });
            at += seconds as i64 * SECOND;
        }
        let which = which % whole.len();
        let cut = whole[which].run_ms * share / 100;
        let mut two = whole.clone();
        let rest = Run {
            start_utc_ms: whole[which].start_utc_ms + cut as i64,
            run_ms: whole[which].run_ms - cut,
            ..whole[which]
        };
        two[which].run_ms = cut;
        two.insert(which + 1, rest);
        let found_ms = |runs: &[Run]| {
            let mut numbered = runs.to_vec();
            for (seq, run) in (0..).zip(&mut numbered) {
                run.seq = RecordSeq(seq);
            }
            let found = find(&numbered, UtcMillis(OILED));
            numbered.iter().filter(|run| found.contains(&run.seq)).map(|run| run.run_ms).sum::<u64>()
        };
        prop_assert_eq!(found_ms(&whole), found_ms(&two));
    }
}
