use proptest::prelude::*;
use shared_types::log::ClockSource::{ClockChip, Host};
use shared_types::{BootId, RecordSeq, UptimeMillis, UtcMillis};

use super::Timeline;
use crate::records::log_records::LogRecords;
use crate::records::when::When;
use crate::test_facts::{HOUR, MINUTE, MONDAY_8, anchor, empty_log, segment, started};

fn at(log: &LogRecords, boot: u32, uptime: u64) -> When {
    Timeline::of(log).when(BootId(boot), UptimeMillis(uptime))
}

fn dated(utc: i64) -> When {
    When::Dated(UtcMillis(utc))
}

fn between(earliest: i64, latest: i64) -> When {
    When::Between { earliest: UtcMillis(earliest), latest: UtcMillis(latest) }
}

#[test]
fn two_boots_and_three_anchors_give_the_dates_computed_by_hand() {
    // Boot 1: the chip says 08:00:00 at uptime 10 s, and 09:00:01 at uptime 3,610 s: one second more than the
    // 3,600 s of uptime between them. Boot 2: the computer says 14:00:00 at uptime 60 s.
    let log = LogRecords {
        events: vec![
            anchor(1, 1, 10_000, MONDAY_8, ClockChip),
            anchor(2, 1, 3_610_000, MONDAY_8 + HOUR + 1_000, ClockChip),
            anchor(3, 2, 60_000, MONDAY_8 + 6 * HOUR, Host),
        ],
        segments: vec![segment(4, 2, 7_260_000, 1_000, 13)],
        ..empty_log()
    };
    // Uptime 1,810 s is half way: 08:00:00 + 1,800 s * 3,601 / 3,600 = 08:30:00.5.
    assert_eq!(at(&log, 1, 1_810_000), dated(MONDAY_8 + 30 * MINUTE + 500));
    // Before the first reading the uptime counts back from it: 10 s at uptime 0, so 07:59:50.
    assert_eq!(at(&log, 1, 0), dated(MONDAY_8 - 10_000));
    // After the last it counts on: uptime 3,620 s is 10 s later, 09:00:11.
    assert_eq!(at(&log, 1, 3_620_000), dated(MONDAY_8 + HOUR + 11_000));
    // Boot 2: uptime 7,260 s is two hours after 14:00:00.
    assert_eq!(at(&log, 2, 7_260_000), dated(MONDAY_8 + 8 * HOUR));
    assert!(Timeline::of(&log).jumps().is_empty());
    assert!(Timeline::of(&log).distrusted().is_empty());
}

#[test]
fn boots_without_readings_lie_between_their_neighbours_less_the_uptimes_that_must_have_passed() {
    // Boot 1 ends at uptime 60 min, its reading says 08:00 at uptime 0, so it ends at 09:00 at the earliest.
    // Boot 2 has 20 min, boot 3 has 30 min, none of them a reading. Boot 4 starts at 14:00.
    let log = LogRecords {
        events: vec![anchor(1, 1, 0, MONDAY_8, ClockChip), anchor(5, 4, 0, MONDAY_8 + 6 * HOUR, Host)],
        segments: vec![
            segment(2, 1, 3_590_000, 10_000, 100),
            segment(3, 2, 1_190_000, 10_000, 100),
            segment(4, 3, 1_790_000, 10_000, 100),
        ],
        ..empty_log()
    };
    // Boot 2 at uptime 5 min: 09:00 + 5 min at the earliest; at the latest boot 3's 30 min and the last 15 of boot 2
    // must still fit before 14:00, so 13:15.
    assert_eq!(
        at(&log, 2, 300_000),
        between(MONDAY_8 + HOUR + 5 * MINUTE, MONDAY_8 + 5 * HOUR + 15 * MINUTE)
    );
    // Boot 3 at its start: 09:00 + 20 min of boot 2; at the latest 13:30.
    assert_eq!(at(&log, 3, 0), between(MONDAY_8 + HOUR + 20 * MINUTE, MONDAY_8 + 5 * HOUR + 30 * MINUTE));
}

#[test]
fn without_a_limit_on_one_side_a_moment_is_undated() {
    let log = LogRecords {
        events: vec![started(1, 1, 0, 0), anchor(2, 2, 1_000, MONDAY_8, Host), started(3, 3, 0, 0)],
        ..empty_log()
    };
    assert_eq!(at(&log, 1, 0), When::Undated);
    assert_eq!(at(&log, 3, 0), When::Undated);
    assert_eq!(at(&log, 9, 0), When::Undated, "a boot that no record tells of");
}

#[test]
fn a_chip_that_fell_back_is_flagged_and_dates_nothing_where_the_computer_says_otherwise() {
    // The chip loses 30 days in boot 2; in boot 3 the computer's clock shows that boot 1 was right.
    let back = 30 * 24 * HOUR;
    let log = LogRecords {
        events: vec![
            anchor(1, 1, 0, MONDAY_8, ClockChip),
            anchor(2, 1, 3_600_000, MONDAY_8 + HOUR, ClockChip),
            anchor(3, 2, 0, MONDAY_8 + 2 * HOUR - back, ClockChip),
            anchor(4, 3, 0, MONDAY_8 + 3 * HOUR - back, ClockChip),
            anchor(5, 3, 60_000, MONDAY_8 + 3 * HOUR + MINUTE, Host),
        ],
        ..empty_log()
    };
    let timeline = Timeline::of(&log);
    // Both sides of each jump are kept: record 2 to 3 (back), 4 to 5 (forward again).
    let jumps: Vec<_> = timeline.jumps().iter().map(|jump| (jump.before.seq.0, jump.after.seq.0)).collect();
    assert_eq!(jumps, [(2, 3), (4, 5)]);
    assert_eq!(
        timeline.jumps()[0].by_ms,
        HOUR - back,
        "an hour passed at the least, the chip went 30 days back"
    );
    let distrusted: Vec<_> = timeline.distrusted().iter().map(|reading| reading.seq).collect();
    assert_eq!(distrusted, [RecordSeq(3), RecordSeq(4)]);
    assert_eq!(timeline.when(BootId(3), UptimeMillis(0)), dated(MONDAY_8 + 3 * HOUR));
    // Boot 2 has no trusted reading left: after 09:00 and, boot 2 having no length, before 11:00.
    assert_eq!(timeline.when(BootId(2), UptimeMillis(0)), between(MONDAY_8 + HOUR, MONDAY_8 + 3 * HOUR),);
    assert_eq!(timeline.when(BootId(1), UptimeMillis(0)), dated(MONDAY_8));
}

#[test]
fn a_chip_ahead_of_the_computer_dates_nothing() {
    let log = LogRecords {
        events: vec![
            anchor(1, 1, 0, MONDAY_8, Host),
            anchor(2, 2, 0, MONDAY_8 + 500 * HOUR, ClockChip),
            anchor(3, 3, 0, MONDAY_8 + 24 * HOUR, Host),
        ],
        ..empty_log()
    };
    assert_eq!(at(&log, 2, 0), between(MONDAY_8, MONDAY_8 + 24 * HOUR));
}

#[test]
fn a_clock_without_a_battery_starts_in_the_year_2000_and_is_not_believed() {
    // 2000-01-01T00:00:00Z is 946,684,800 s after 1970 (10,957 days).
    let log = LogRecords { events: vec![anchor(1, 1, 0, 946_684_800_000, ClockChip)], ..empty_log() };
    assert_eq!(at(&log, 1, 0), When::Undated);
    assert_eq!(Timeline::of(&log).distrusted().len(), 1);
}

#[test]
fn of_several_computers_the_one_that_contradicts_the_others_is_not_believed() {
    // Record 3 contradicts 1 and 2, which agree with each other and with 4.
    let log = LogRecords {
        events: vec![
            anchor(1, 1, 0, MONDAY_8, Host),
            anchor(2, 2, 0, MONDAY_8 + HOUR, Host),
            anchor(3, 3, 0, MONDAY_8 - 300 * HOUR, Host),
            anchor(4, 4, 0, MONDAY_8 + 48 * HOUR, Host),
        ],
        ..empty_log()
    };
    let timeline = Timeline::of(&log);
    assert_eq!(timeline.distrusted().iter().map(|reading| reading.seq.0).collect::<Vec<_>>(), [3]);
    assert_eq!(timeline.when(BootId(3), UptimeMillis(0)), between(MONDAY_8 + HOUR, MONDAY_8 + 48 * HOUR));
}

#[test]
fn of_two_computers_that_contradict_each_other_both_are_kept_and_nothing_is_dated_by_guessing_between_them() {
    let log = LogRecords {
        events: vec![
            anchor(1, 1, 0, MONDAY_8, Host),
            started(2, 2, 0, 0),
            anchor(3, 3, 0, MONDAY_8 - 400 * HOUR, Host),
        ],
        ..empty_log()
    };
    let timeline = Timeline::of(&log);
    assert_eq!(timeline.jumps().len(), 1);
    assert!(timeline.distrusted().is_empty());
    assert_eq!(timeline.when(BootId(1), UptimeMillis(0)), dated(MONDAY_8));
    assert_eq!(timeline.when(BootId(2), UptimeMillis(0)), When::Undated);
    assert_eq!(timeline.when(BootId(3), UptimeMillis(0)), dated(MONDAY_8 - 400 * HOUR));
}

#[test]
fn a_chip_a_few_minutes_off_still_dates_its_boots() {
    let log = LogRecords {
        events: vec![
            anchor(1, 1, 0, MONDAY_8, ClockChip),
            anchor(2, 2, 0, MONDAY_8 + HOUR, ClockChip),
            anchor(3, 2, 1_000, MONDAY_8 + HOUR - 3 * MINUTE, Host),
        ],
        ..empty_log()
    };
    assert_eq!(at(&log, 1, 0), dated(MONDAY_8));
    // In the computer's own boot the computer counts: a second before 08:57:00.
    assert_eq!(at(&log, 2, 0), dated(MONDAY_8 + HOUR - 3 * MINUTE - 1_000));
}

#[test]
fn what_was_heard_had_happened_by_then() {
    // Boot 1 is dated; boot 2 ran for an hour without a reading and was heard at 14:00, up to record 19.
    let log = LogRecords {
        events: vec![anchor(1, 1, 0, MONDAY_8, ClockChip)],
        segments: vec![
            segment(10, 2, 0, 60_000, 9),
            segment(19, 2, 3_540_000, 60_000, 9),
            segment(20, 3, 0, 1, 1),
        ],
        ..empty_log()
    };
    let heard = |at| super::HeardAt { log: log.key, next: RecordSeq(20), at: UtcMillis(at) };
    let when =
        |heard: &[super::HeardAt], boot| Timeline::of_heard(&log, heard).when(BootId(boot), UptimeMillis(0));
    assert_eq!(when(&[], 2), When::Undated);
    // An hour of running must fit in before 14:00, so boot 2 began at 13:00 at the latest.
    assert_eq!(when(&[heard(MONDAY_8 + 6 * HOUR)], 2), between(MONDAY_8, MONDAY_8 + 5 * HOUR));
    assert_eq!(when(&[heard(MONDAY_8 + 6 * HOUR)], 3), When::Undated, "boot 3 was not there yet");
    // A computer whose clock says that it was heard before it can have happened limits nothing.
    assert_eq!(when(&[heard(MONDAY_8 - 6 * HOUR)], 2), When::Undated);
}

#[test]
fn the_largest_numbers_do_no_harm() {
    let log = LogRecords {
        events: vec![anchor(1, 1, u64::MAX, i64::MAX, Host), anchor(2, 2, u64::MAX, i64::MIN, Host)],
        segments: vec![segment(3, 2, u64::MAX, u64::MAX, u32::MAX)],
        ..empty_log()
    };
    assert_ne!(at(&log, 1, u64::MAX), When::Undated);
}

proptest! {
    /// A studio's true history: boots with gaps between them, some with a reading of the true clock.
    #[test]
    fn the_truth_always_lies_within_the_limits(
        boots in prop::collection::vec((0i64..100_000_000, 1u64..50_000_000, any::<bool>(), 0u64..100), 1..30)
    ) {
        let mut log = empty_log();
        let mut starts = Vec::new();
        let mut now = MONDAY_8;
        for (boot, (gap, length, has_reading, part)) in (1u32..).zip(boots) {
            now += gap;
            starts.push((boot, now, length));
            log.segments.push(segment(boot * 10, boot, length - 1, 1, 1));
            if has_reading {
                let uptime = length * part / 100;
                log.events.push(anchor(boot * 10 + 1, boot, uptime, now + uptime.cast_signed(), Host));
            }
            now += length.cast_signed();
        }
        let timeline = Timeline::of(&log);
        prop_assert!(timeline.jumps().is_empty());
        for (boot, start, length) in starts {
            for uptime in [0, length / 2, length] {
                let truth = UtcMillis(start + uptime.cast_signed());
                match timeline.when(BootId(boot), UptimeMillis(uptime)) {
                    When::Dated(at) => prop_assert_eq!(at, truth),
                    When::Between { earliest, latest } => prop_assert!(earliest <= truth && truth <= latest),
                    When::Undated => {}
                }
            }
        }
    }

    /// Asked in any order, each moment has the date that it has by itself; one boot with readings close to each other.
    #[test]
    fn what_is_remembered_of_the_last_moment_changes_no_date(
        readings in prop::collection::vec((0u32..4, 0u64..3_000, -400i64..400), 0..30),
        asked in prop::collection::vec((0u32..5, 0u64..3_000), 1..60),
        is_in_order in any::<bool>(),
    ) {
        let (mut log, mut asked) = (empty_log(), asked);
        for (seq, (boot, second, off)) in (1u32..).zip(readings) {
            let utc = MONDAY_8 + i64::from(boot) * HOUR + second.cast_signed() * 1_000 + off;
            log.events.push(anchor(seq, boot, second * 1_000, utc, Host));
        }
        if is_in_order {
            asked.sort_unstable();
        }
        let timeline = Timeline::of(&log);
        let mut dates = timeline.in_order();
        for (boot, second) in asked {
            let (boot, uptime) = (BootId(boot), UptimeMillis(second * 1_000));
            prop_assert_eq!(dates.when(boot, uptime), timeline.when(boot, uptime));
        }
    }
}
