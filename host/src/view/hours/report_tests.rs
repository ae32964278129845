use jiff::civil::date;
use jiff::tz::TimeZone;

use super::*;
use host_core::hours::report::{Doubtful, NotRecorded};

fn sum(run_time_ms: u64, strokes: u64) -> Sum {
    Sum { run_time_ms, edges: strokes, strokes, bursts: 1, sessions: 1 }
}

fn answer(machine: MachineHours) -> HoursAnswer {
    HoursAnswer {
        hours: HoursReport {
            machines: vec![machine],
            no_machine: None,
            clock_jumps: Vec::new(),
            fitting_conflicts: Vec::new(),
            unreadable_records: 0,
            conflicting_records: 0,
        },
        open_sessions: Vec::new(),
        to_check: Vec::new(),
        only_rug: None,
        is_empty: false,
    }
}

fn a_machine() -> MachineHours {
    MachineHours {
        machine: Some(1),
        name: Some("Blue".to_owned()),
        is_without_logger: false,
        before_logger_run_time_ms: Some(720_000_000),
        rugs: vec![RugHours {
            rug: "Fox".to_owned(),
            assumed: sum(3_600_000, 40_000),
            confirmed: sum(1_800_000, 20_000),
            entered: Entered::default(),
            total: sum(5_400_000, 60_000),
            first_day: Some(date(2026, 3, 4)),
            last_day: Some(date(2026, 3, 9)),
        }],
        care: sum(60_000, 700),
        unassigned: Sum::default(),
        unassigned_here: Sum::default(),
        unassigned_while_lent: Sum::default(),
        undated: Sum::default(),
        doubtful: Doubtful::default(),
        steady_as_mains: Sum::default(),
        not_recorded: NotRecorded {
            run_time_ms: 9_000,
            edges: 100,
            strokes: 100,
            records_exceed_totals: false,
        },
        total: sum(5_469_000, 60_800),
        entered: Entered {
            run_time_ms: 60_000,
            frame_time_ms: 7_200_000,
            sessions: 2,
            strokes: None,
            about: true,
        },
        life_run_time_ms: 725_469_000,
        entered_care: Entered::default(),
        entered_unassigned: Entered::default(),
        by_hand: Vec::new(),
    }
}

#[test]
fn every_part_of_the_sum_has_its_line_and_what_stands_beside_it_is_said_to() {
    let text = text(&answer(a_machine()), &TimeZone::UTC);
    let line =
        |start: &str| text.lines().find(|line| line.trim_start().starts_with(start)).unwrap_or_default();
    assert_eq!(line("Machine 1"), "Machine 1, Blue: 1 h 31 min of running, 60,800 strokes");
    for words in ["1 h 30 min", "60,000", "part", "4 Mar to 9 Mar 2026"] {
        assert!(line("Fox").contains(words), "{words} is missing in {}", line("Fox"));
    }
    assert!(line("care").contains("1 min"));
    assert!(line("not recorded").contains("9 s"));
    assert!(line("all together").contains("1 h 31 min"));
    // By hand: 200 h before, and 1 h 31 min 9 s.
    assert!(line("In its life about 201 h 31 min").contains("about 200 h before you"), "{text}");
    assert!(line("Of it typed in").contains("about 1 min, from 2 sessions and 2 h at the frame"));
    assert!(!text.contains("no rug yet"), "what is zero has no line");
    assert!(text.lines().all(|line| line.chars().count() <= 130), "{text}");
}

#[test]
fn an_empty_database_is_answered_with_the_next_step() {
    let mut nothing = answer(a_machine());
    nothing.is_empty = true;
    let text = text(&nothing, &TimeZone::UTC);
    assert!(text.contains("needlehours machine add"));
    assert!(!text.contains("all together"));
}

#[test]
fn a_clock_that_jumped_is_told_without_the_programs_own_words() {
    use host_core::records::clock_marks::ClockReading;
    use host_core::records::timeline::ClockJump;
    use shared_types::log::ClockSource;
    use shared_types::{BootId, RecordSeq, UptimeMillis, UtcMillis};
    let reading = ClockReading {
        seq: RecordSeq(1),
        boot: BootId(1),
        at: UptimeMillis(0),
        utc: UtcMillis(0),
        source: ClockSource::ClockChip,
    };
    let mut jumped = answer(a_machine());
    jumped.hours.clock_jumps = vec![ClockJump { before: reading, after: reading, by_ms: -1 }];
    let text = text(&jumped, &TimeZone::UTC);
    assert!(text.contains("jumped 1 time."));
    assert!(!text.contains("boot") && !text.contains("anchor"));
}

#[test]
fn lines_that_do_not_add_up_as_they_stand_are_explained() {
    // Twice a minute and a half, each shown as two minutes, are three minutes together.
    let halves = sum(90_000, 0);
    let machine = MachineHours {
        rugs: Vec::new(),
        care: Sum::default(),
        not_recorded: NotRecorded::default(),
        unassigned: sum(180_000, 0),
        unassigned_here: halves,
        unassigned_while_lent: halves,
        total: sum(180_000, 0),
        ..a_machine()
    };
    let text = text(&answer(machine), &TimeZone::UTC);
    assert!(text.contains("Each time is rounded for itself"), "{text}");
}
