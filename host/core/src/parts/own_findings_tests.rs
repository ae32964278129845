use shared_types::{RunMillis, UtcMillis};

use super::*;
use crate::care::history::History;
use crate::care::tasks::task;
use crate::entries::EntryId;
use crate::stats::{HOUR_MS, number};

const MACHINE: MachineTag = MachineTag(1);
const HOUR: i64 = 3_600_000;

/// A machine that runs one hour in each hour of the calendar, written by hand so that no log is needed.
fn meter() -> RunMeter {
    let by_hand = (0..1000).map(|hour| (UtcMillis(hour * HOUR + HOUR / 2), RunMillis(HOUR_MS))).collect();
    RunMeter::of(&History { by_hand, ..History::default() })
}

fn done(task: &str, hour: i64, finding: Option<Finding>) -> EntryBody {
    EntryBody::CareDone(CareDone {
        machine: MACHINE,
        task: CareTaskName(task.to_owned()),
        at: UtcMillis(hour * HOUR),
        finding,
        note: None,
    })
}

fn entries(bodies: Vec<(i64, EntryBody)>) -> InForce<'static> {
    let all: Vec<Entry> = (1..)
        .zip(bodies)
        .map(|(id, (hour, body))| Entry { id: EntryId(id), entered_at: UtcMillis(hour * HOUR), body })
        .collect();
    InForce::of(all)
}

fn found(task: &str, findings: &[(i64, Finding)]) -> Vec<(i64, EntryBody)> {
    findings.iter().map(|(hour, finding)| (*hour, done(task, *hour, Some(*finding)))).collect()
}

fn judged(task_name: &str, entries: &InForce<'_>) -> Option<TaskInterval> {
    let meter = meter();
    task_interval(Asked {
        entries,
        meter: &meter,
        machine: MACHINE,
        machine_name: "Test",
        task: task(task_name).unwrap(),
    })
}

use crate::entries::{CareTaskName, Entry, InForce, MoreLimits};
use Finding::{BlackMarkOnYarn, Clean, ClearOilSpot, GreyBlackOil, Lint};

#[test]
fn what_is_dirty_depends_on_the_task() {
    assert_eq!([GreyBlackOil, BlackMarkOnYarn].map(|seen| says_dirty("oiling", seen)), [Some(true); 2]);
    assert_eq!([Clean, ClearOilSpot].map(|seen| says_dirty("oiling", seen)), [Some(false); 2]);
    assert_eq!((says_dirty("oiling", Lint), says_dirty("brush-out", GreyBlackOil)), (None, None));
    assert_eq!((says_dirty("brush-out", Lint), says_dirty("brush-out", Clean)), (Some(true), Some(false)));
    assert!(can_be_judged("oiling") && can_be_judged("brush-out") && !can_be_judged("belt"));
}

#[test]
fn hours_count_from_the_time_before_whatever_was_found_then() {
    let mut bodies = found("oiling", &[(4, Clean), (8, GreyBlackOil)]);
    bodies.push((10, done("oiling", 10, None)));
    bodies.extend(found("oiling", &[(13, Clean)]));
    let report = judged("oiling", &entries(bodies)).unwrap();
    let hours: Vec<Option<f64>> = report.findings.iter().map(|found| found.hours_at_most).collect();
    assert_eq!(hours, [None, Some(4.0), Some(3.0)]);
    let counts: Vec<Counts> = report.findings.iter().map(|found| found.counts).collect();
    assert_eq!(counts, [Counts::FirstTime, Counts::Counted, Counts::Counted]);
}

#[test]
fn three_clean_at_the_interval_propose_a_quarter_longer_and_one_dirty_a_quarter_shorter() {
    // The start value of oiling is four hours, its range one to ten.
    let clean = entries(found("oiling", &[(4, Clean), (8, Clean), (12, Clean), (16, ClearOilSpot)]));
    let report = judged("oiling", &clean).unwrap();
    assert_eq!((report.every_hours, report.proposed_hours, report.clean_in_a_row), (Some(4.0), Some(5.0), 3));
    let dirty = entries(found("oiling", &[(4, Clean), (8, Clean), (12, BlackMarkOnYarn)]));
    assert_eq!(judged("oiling", &dirty).unwrap().proposed_hours, Some(3.0));
}

#[test]
fn only_findings_since_the_interval_was_set_count_for_the_steps_and_all_for_the_curve() {
    let mut bodies = found("oiling", &[(4, Clean), (8, Clean), (12, Clean), (16, Clean)]);
    let set = CareLimitSet {
        machine: MACHINE,
        task: CareTaskName("oiling".to_owned()),
        every_run: Some(RunMillis(10 * HOUR_MS)),
        every_days: None,
        more: MoreLimits::default(),
    };
    bodies.push((17, EntryBody::CareLimitSet(set)));
    bodies.extend(found("oiling", &[(27, Clean), (37, Clean)]));
    let report = judged("oiling", &entries(bodies.clone())).unwrap();
    assert_eq!((report.findings_since_set, report.clean_in_a_row, report.proposed_hours), (2, 2, None));
    assert_eq!(report.evidence.findings, 5);
    // Ten hours is the longest that may be: a third clean one changes nothing.
    bodies.extend(found("oiling", &[(47, Clean)]));
    assert_eq!(judged("oiling", &entries(bodies)).unwrap().proposed_hours, None);
}

#[test]
fn a_finding_that_was_taken_back_or_belongs_elsewhere_is_none() {
    let mut bodies = found("oiling", &[(4, Clean), (8, GreyBlackOil)]);
    bodies.push((9, EntryBody::Withdrawn { entry: EntryId(2), reason: "wrong machine".to_owned() }));
    bodies.extend(found("brush-out", &[(9, Lint)]));
    let report = judged("oiling", &entries(bodies)).unwrap();
    assert_eq!((report.findings.len(), report.evidence.findings), (1, 0));
    assert_eq!(judged("oiling", &entries(vec![(4, done("oiling", 4, None))])), None);
}

#[test]
fn nothing_ran_since_the_last_time_says_nothing() {
    let report = judged("oiling", &entries(found("oiling", &[(4, Clean), (4, GreyBlackOil)]))).unwrap();
    assert_eq!(report.findings[1].counts, Counts::NothingRan);
    assert_eq!(report.proposed_hours, None);
}

#[test]
fn enough_findings_of_the_log_give_a_curve_like_those_of_a_table() {
    let gaps_and_seen = [
        (1, Clean),
        (2, Clean),
        (3, Clean),
        (5, Clean),
        (4, GreyBlackOil),
        (6, GreyBlackOil),
        (8, BlackMarkOnYarn),
        (9, GreyBlackOil),
        (2, Clean),
        (4, Clean),
    ];
    let mut hour = 10;
    let mut bodies = vec![(hour, done("oiling", hour, None))];
    let mut looks = Vec::new();
    for (gap, seen) in gaps_and_seen {
        hour += gap;
        bodies.push((hour, done("oiling", hour, Some(seen))));
        looks.push(Look { time: number(gap.unsigned_abs()), dirty: seen != Clean });
    }
    let report = judged("oiling", &entries(bodies)).unwrap();
    assert!(report.evidence.enough_evidence, "{:?}", report.evidence);
    assert_eq!(report.evidence, interval_report(&looks));
}
