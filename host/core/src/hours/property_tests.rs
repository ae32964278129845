//! The equation of hours under everything that can happen to records and entries: re-assignments, splits, missing records,
//! two loggers on one machine in turn or at once, hours by hand, single bursts moved, entries taken back.

use jiff::tz::TimeZone;
use proptest::prelude::*;
use shared_types::log::ClockSource::Host;
use shared_types::{Edges, LogId, LoggerId, MachineTag, RecordSeq, RunMillis, Totals, UtcMillis};

use super::{HoursReport, MachineHours};
use crate::book::hours::BookHours;
use crate::entries::WorkChange::{Delivered, Finished, Paused, Started};
use crate::entries::{
    BurstsAssigned, Certainty, DoubtAnswer, DoubtAnswered, EntryBody, EntryId, Fitting, HandHours,
    MachineLent, MachineReturned, MeterReading, Owner, PersonTag, RugName,
};
use crate::records::log_records::{LogKey, LogRecords, SegmentRecord};
use crate::rugs::rug_work;
use crate::sessions::ledger::Ledger;
use crate::studio::Studio;
use crate::test_facts::{HOUR, LOG, MONDAY_8, anchor, empty_log, entries, machine, rug, segment, work};

const OTHER: LogKey = LogKey { logger: LoggerId(0xD4), log: LogId(0xE5) };

/// Without doubt, of which splits of a segment may take away the reason.
fn report(logs: &[LogRecords], said: &[EntryBody]) -> HoursReport {
    let studio = Studio::of(&entries(said.to_vec()));
    HoursReport::of(&studio, &Ledger::of(&studio, logs), &TimeZone::UTC)
}

/// With doubt: of the random runs, those of more than 10.75 s and those with too few edges are doubtful.
fn doubting(logs: &[LogRecords], said: &[EntryBody]) -> HoursReport {
    let studio = Studio::of(&entries(said.to_vec()));
    HoursReport::of(&studio, &Ledger::of_heard(&studio, logs, &[]), &TimeZone::UTC)
}

/// Run time and edges of one machine, which its parts must make.
fn assert_parts_make_the_total(hours: &MachineHours) -> (u64, u64) {
    let sums = hours.rugs.iter().flat_map(|rug| [rug.assumed, rug.confirmed]).chain([
        hours.care,
        hours.unassigned,
        hours.undated,
        hours.doubtful.sum,
    ]);
    let (run, edges) = sums.fold((0, 0), |(run, edges), sum| (run + sum.run_time_ms, edges + sum.edges));
    let entered: u64 = hours.rugs.iter().map(|rug| rug.entered.run_time_ms).sum();
    assert_eq!(hours.total.run_time_ms, run + entered + hours.not_recorded.run_time_ms);
    assert_eq!(hours.total.edges, edges + hours.not_recorded.edges);
    for rug in &hours.rugs {
        let counted = rug.assumed.run_time_ms + rug.confirmed.run_time_ms;
        assert_eq!(rug.total.run_time_ms, counted + rug.entered.run_time_ms);
        assert_eq!(rug.total.edges, rug.assumed.edges + rug.confirmed.edges);
    }
    let unassigned = [hours.unassigned_here, hours.unassigned_while_lent];
    assert_eq!(hours.unassigned.run_time_ms, unassigned.iter().map(|sum| sum.run_time_ms).sum::<u64>());
    assert_eq!(hours.unassigned.edges, unassigned.iter().map(|sum| sum.edges).sum::<u64>());
    let doubtful = [hours.doubtful.to_check, hours.doubtful.set_aside];
    assert_eq!(hours.doubtful.sum.run_time_ms, doubtful.iter().map(|sum| sum.run_time_ms).sum::<u64>());
    assert_eq!(hours.doubtful.sum.edges, doubtful.iter().map(|sum| sum.edges).sum::<u64>());
    let book = BookHours::of(hours.clone(), 0);
    let by_hand: u64 = book.by_hand.iter().map(|sum| sum.run_time_ms).sum();
    let before = book.before_logger_run_time_ms.unwrap_or(0);
    assert_eq!(book.life_run_time_ms, before + book.measured.run_time_ms + by_hand);
    assert_eq!(hours.life_run_time_ms, before + hours.total.run_time_ms);
    assert_eq!(book.parts().iter().map(|part| part.run_time_ms).sum::<u64>(), book.measured.run_time_ms);
    assert_eq!(book.parts().iter().map(|part| part.edges).sum::<u64>(), book.measured.edges);
    (hours.total.run_time_ms, hours.total.edges)
}

/// Running of the sessions that were typed in.
fn typed_ms(said: &[EntryBody]) -> u64 {
    Studio::of(&entries(said.to_vec())).worked.iter().map(|session| session.run_ms).sum()
}

fn whole(report: &HoursReport) -> (u64, u64) {
    report.all().map(assert_parts_make_the_total).fold((0, 0), |sum, one| (sum.0 + one.0, sum.1 + one.1))
}

/// Runs, each after a pause, in one boot that began on Monday at eight and so many hours; records are ten numbers apart.
fn log(key: LogKey, after_hours: i64, runs: &[(u64, u64, u32)]) -> LogRecords {
    let (mut at, mut seq) = (0, 1);
    let mut totals = Totals::default();
    let mut segments = Vec::new();
    for (pause, run, edges) in runs {
        at += pause;
        seq += 10;
        segments.push(segment(seq, 1, at, *run, *edges));
        at += run;
        totals = totals.plus(RunMillis(*run), Edges(u64::from(*edges)));
    }
    let events = vec![anchor(1, 1, 0, MONDAY_8 + after_hours * HOUR, Host)];
    LogRecords { key, events, segments, last_totals: totals, ..empty_log() }
}

fn runs() -> impl Strategy<Value = Vec<(u64, u64, u32)>> {
    prop::collection::vec((1_u64..2_000_000, 0_u64..20_000, 0_u32..300), 1..25)
}

fn fitting(key: LogKey, tag: u32, from: u32) -> EntryBody {
    EntryBody::LoggerFitted(Fitting {
        machine: MachineTag(tag),
        logger: key.logger,
        log: key.log,
        from: RecordSeq(from),
    })
}

/// What a maker may say about both logs, in any order.
fn any_said() -> impl Strategy<Value = EntryBody> {
    let name = || prop_oneof![Just("Fox"), Just("Bear"), Just("Owl")];
    let key = || prop_oneof![Just(LOG), Just(OTHER)];
    let owner = prop_oneof![
        name().prop_map(|name| Owner::Rug(RugName(name.to_owned()))),
        Just(Owner::Care),
        Just(Owner::Nobody),
    ];
    let certainty = prop_oneof![Just(Certainty::Explicit), Just(Certainty::Confirmed)];
    let change = prop_oneof![Just(Started), Just(Paused), Just(Finished), Just(Delivered)];
    prop_oneof![
        (key(), 0_u32..3, 0_u32..300).prop_map(|(key, tag, from)| fitting(key, tag, from)),
        name().prop_map(rug),
        (name(), prop::option::of(1_u32..3), change, 0_i64..40).prop_map(|(name, on, change, hour)| work(
            name,
            on,
            change,
            MONDAY_8 + hour * HOUR
        )),
        (1_u32..3, 0_i64..40).prop_map(|(tag, hour)| EntryBody::MachineLent(MachineLent {
            machine: MachineTag(tag),
            to: PersonTag(1),
            at: UtcMillis(MONDAY_8 + hour * HOUR),
            condition: None,
            reading: MeterReading::default(),
        })),
        (1_u32..3, 0_i64..40).prop_map(|(tag, hour)| EntryBody::MachineReturned(MachineReturned {
            machine: MachineTag(tag),
            at: UtcMillis(MONDAY_8 + hour * HOUR),
            condition: None,
            reading: MeterReading::default(),
        })),
        (key(), 0_u32..300, 0_u32..300, owner, certainty).prop_map(|(key, from, to, owner, certainty)| {
            EntryBody::BurstsAssigned(BurstsAssigned {
                logger: key.logger,
                log: key.log,
                from: RecordSeq(from),
                to: RecordSeq(to),
                owner,
                certainty,
            })
        }),
    ]
}

/// Each chosen segment as two that follow each other without a gap.
fn split(log: &LogRecords, cuts: &[(bool, u64, u32)]) -> LogRecords {
    let mut parts: Vec<SegmentRecord> = Vec::new();
    for (segment, (is_cut, run, edges)) in log.segments.iter().zip(cuts.iter().cycle()) {
        let run = run % (segment.run.0 + 1);
        let edges = edges % (segment.edges + 1);
        if !is_cut {
            parts.push(*segment);
            continue;
        }
        parts.push(SegmentRecord { run: RunMillis(run), edges, ..*segment });
        parts.push(SegmentRecord {
            seq: RecordSeq(segment.seq.0 + 1),
            at: shared_types::UptimeMillis(segment.at.0 + run),
            run: RunMillis(segment.run.0 - run),
            edges: segment.edges - edges,
            continues: true,
            ..*segment
        });
    }
    LogRecords { segments: parts, ..log.clone() }
}

/// The records of which `gone` says so are missing; the totals still count them.
fn without(log: &LogRecords, gone: &[bool]) -> (LogRecords, Totals) {
    let mut gone = gone.iter().cycle();
    let (mut lost, mut held) = (Totals::default(), log.clone());
    held.segments.retain(|segment| {
        let stays = !gone.next().copied().unwrap_or(false);
        if !stays {
            lost = lost.plus(segment.run, Edges(u64::from(segment.edges)));
        }
        stays
    });
    (held, lost)
}

fn any_answer() -> impl Strategy<Value = DoubtAnswer> {
    prop_oneof![Just(DoubtAnswer::Real), Just(DoubtAnswer::NotReal), Just(DoubtAnswer::LeftOpen)]
}

/// Runs as no firmware measures them stand among the others: rest of up to half a day, and noise.
fn wrong_runs() -> impl Strategy<Value = Vec<(u64, u64, u32)>> {
    let wrong = prop_oneof![
        3 => (1_u64..2_000_000, 500_u64..10_000, 30_u32..200),
        1 => (1_u64..2_000_000, 10_751_u64..43_200_000, 0_u32..300),
        1 => (1_u64..2_000_000, 0_u64..10_000, 2_100_u32..540_000),
        1 => (1_u64..2_000_000, 600_u64..10_000, 0_u32..2),
    ];
    prop::collection::vec(wrong, 1..25)
}

/// Besides: hours by hand, single bursts moved, and entries taken back, also the first ones.
fn any_said_and_more() -> impl Strategy<Value = EntryBody> {
    let hand = (1_u32..3, prop::option::of(Just("Fox")), 0_u64..9_000_000, 0_i64..40);
    let hand = hand.prop_map(|(tag, rug, ms, hour)| {
        EntryBody::HandHours(HandHours {
            machine: MachineTag(tag),
            rug: rug.map(|rug| RugName(rug.to_owned())),
            at: UtcMillis(MONDAY_8 + hour * HOUR),
            run: Some(RunMillis(ms)),
            tufting_ms: Some(ms * 2),
            knob_per_mille: None,
        })
    });
    let one = (any::<bool>(), 1_u32..26, prop_oneof![Just("Fox"), Just("Bear")]);
    let one = one.prop_map(|(is_first, run, rug)| {
        let key = if is_first { LOG } else { OTHER };
        let seq = RecordSeq(run * 10 + 1);
        EntryBody::BurstsAssigned(BurstsAssigned {
            logger: key.logger,
            log: key.log,
            from: seq,
            to: seq,
            owner: Owner::Rug(RugName(rug.to_owned())),
            certainty: Certainty::Explicit,
        })
    });
    let back =
        (1_i64..40).prop_map(|entry| EntryBody::Withdrawn { entry: EntryId(entry), reason: String::new() });
    let doubt = (any::<bool>(), 0_u32..300, 0_u32..300, any_answer());
    let doubt = doubt.prop_map(|(is_first, from, to, answer)| {
        let key = if is_first { LOG } else { OTHER };
        let (from, to) = (RecordSeq(from), RecordSeq(to));
        EntryBody::DoubtAnswered(DoubtAnswered { logger: key.logger, log: key.log, from, to, answer })
    });
    prop_oneof![3 => any_said(), 1 => hand, 2 => one, 1 => back, 2 => doubt]
}

proptest! {
    #[test]
    fn splits_missing_records_hand_hours_single_moves_and_what_was_taken_back_together_lose_and_make_nothing(
        first in runs(),
        second in runs(),
        // From both loggers at work at the same time to one after the other.
        apart in 0_i64..20,
        said in prop::collection::vec(any_said_and_more(), 0..40),
        cuts in prop::collection::vec((any::<bool>(), 0_u64..20_000, 0_u32..300), 1..25),
        missing in prop::collection::vec(prop::bool::weighted(0.2), 1..25),
    ) {
        let complete = [log(LOG, 0, &first), log(OTHER, apart, &second)];
        let counted = complete.iter().fold(Totals::default(), |sum, log| {
            sum.plus(log.last_totals.run, log.last_totals.edges)
        });
        let (held, lost): (Vec<LogRecords>, Vec<Totals>) =
            complete.iter().map(|log| without(&split(log, &cuts), &missing)).unzip();
        let lost = lost.into_iter().fold(Totals::default(), |sum, one| sum.plus(one.run, one.edges));
        let start = [machine(1), machine(2), fitting(LOG, 1, 0), fitting(OTHER, 1, 0), rug("Fox"), rug("Bear")];
        let all: Vec<EntryBody> = start.into_iter().chain(said).collect();
        let told = doubting(&held, &all);
        let with_typed = (counted.run.0 + typed_ms(&all), counted.edges.0);
        prop_assert_eq!(whole(&told), with_typed);
        prop_assert_eq!(whole(&report(&held, &all)), with_typed);
        let not_recorded = told.all().fold((0, 0), |sum, hours| {
            (sum.0 + hours.not_recorded.run_time_ms, sum.1 + hours.not_recorded.edges)
        });
        prop_assert_eq!(not_recorded, (lost.run.0, lost.edges.0));
        // What was typed in closes a sum of its own: each standing entry once, and nowhere else.
        let shown: u64 = told.all().flat_map(|hours| &hours.by_hand).map(|sum| sum.run_time_ms).sum();
        prop_assert_eq!(shown, typed_ms(&all));
        for hours in told.all() {
            let of_rugs: u64 = hours.rugs.iter().map(|rug| rug.entered.run_time_ms).sum();
            let others = hours.entered_care.run_time_ms + hours.entered_unassigned.run_time_ms;
            prop_assert_eq!(hours.entered.run_time_ms, of_rugs + others);
        }
    }

    #[test]
    fn what_ran_before_counts_in_the_machines_life_and_in_no_other_sum(
        runs in runs(),
        said in prop::collection::vec(any_said_and_more(), 0..40),
        before in prop::option::of(0_u64..50_000 * 3_600_000),
    ) {
        let start = [machine(1), machine(2), fitting(LOG, 1, 0), rug("Fox"), rug("Bear")];
        let mut all: Vec<EntryBody> = start.into_iter().chain(said).collect();
        let logs = [log(LOG, 0, &runs)];
        let without = report(&logs, &all);
        if let EntryBody::MachineAdded(added) = &mut all[0] {
            added.before_logger = before.map(RunMillis);
        }
        let mut with = report(&logs, &all);
        for (with, without) in with.machines.iter_mut().zip(&without.machines) {
            // The machine's own entry may have been taken back among what was said.
            let before = with.before_logger_run_time_ms.unwrap_or(0);
            assert_parts_make_the_total(with);
            prop_assert_eq!(with.life_run_time_ms, without.life_run_time_ms + before);
            with.life_run_time_ms = without.life_run_time_ms;
            with.before_logger_run_time_ms = without.before_logger_run_time_ms;
        }
        prop_assert_eq!(with, without);
    }

    #[test]
    fn wrong_bursts_stand_in_a_sum_of_their_own_whatever_is_said_and_answered(
        first in wrong_runs(),
        second in wrong_runs(),
        apart in 0_i64..20,
        said in prop::collection::vec(any_said_and_more(), 0..40),
        last in any_answer(),
    ) {
        let logs = [log(LOG, 0, &first), log(OTHER, apart, &second)];
        let counted = logs.iter().fold(Totals::default(), |sum, log| {
            sum.plus(log.last_totals.run, log.last_totals.edges)
        });
        let counted = (counted.run.0, counted.edges.0);
        let with_typed = |all: &[EntryBody]| (counted.0 + typed_ms(all), counted.1);
        let start = [machine(1), machine(2), fitting(LOG, 1, 0), fitting(OTHER, 1, 0), rug("Fox"), rug("Bear")];
        let mut all: Vec<EntryBody> = start.into_iter().chain(said).collect();
        prop_assert_eq!(whole(&doubting(&logs, &all)), with_typed(&all));
        for key in [LOG, OTHER] {
            let (from, to) = (RecordSeq(0), RecordSeq(u32::MAX));
            let answered = DoubtAnswered { logger: key.logger, log: key.log, from, to, answer: last };
            all.push(EntryBody::DoubtAnswered(answered));
        }
        let answered = doubting(&logs, &all);
        prop_assert_eq!(whole(&answered), with_typed(&all));
        // By the strategy: every wrong run is longer than 10.75 s, has more than 2,099 edges in ten, or has one edge at most.
        let is_wrong = |(_, run, edges): &&(u64, u64, u32)| *run > 10_750 || *edges >= 2_100 || *edges < 2;
        let wrong: u64 = first.iter().chain(&second).filter(is_wrong).map(|(_, run, _)| *run).sum();
        let sums = |pick: fn(&MachineHours) -> u64| answered.all().map(pick).sum::<u64>();
        match last {
            // Real: everything is counted, as if nobody had doubted it.
            DoubtAnswer::Real => prop_assert_eq!(sums(|hours| hours.doubtful.sum.run_time_ms), 0),
            DoubtAnswer::NotReal => prop_assert_eq!(sums(|hours| hours.doubtful.set_aside.run_time_ms), wrong),
            DoubtAnswer::LeftOpen => prop_assert_eq!(
                sums(|hours| hours.doubtful.to_check.run_time_ms + hours.doubtful.questioned.run_time_ms),
                wrong
            ),
        }
    }

    #[test]
    fn a_single_burst_that_is_moved_takes_exactly_its_run_time_and_edges_along(
        runs in runs(), which in 0_usize..25,
    ) {
        let which = which % runs.len();
        let seq = RecordSeq(u32::try_from(which).unwrap() * 10 + 11);
        let said = [
            machine(1), fitting(LOG, 1, 0), rug("Fox"), rug("Bear"), work("Fox", None, Started, MONDAY_8 - HOUR),
            EntryBody::BurstsAssigned(BurstsAssigned {
                logger: LOG.logger,
                log: LOG.log,
                from: seq,
                to: seq,
                owner: Owner::Rug(RugName("Bear".to_owned())),
                certainty: Certainty::Explicit,
            }),
        ];
        let told = report(&[log(LOG, 0, &runs)], &said);
        let bear = told.machines[0].rugs.iter().find(|rug| rug.rug == "Bear").unwrap();
        let (_, run, edges) = runs[which];
        prop_assert_eq!((bear.total.run_time_ms, bear.total.edges), (run, u64::from(edges)));
        prop_assert_eq!(bear.total.bursts, 1);
        whole(&told);
    }

    #[test]
    fn two_loggers_on_one_machine_in_turn_make_one_total_whatever_is_said(
        first in runs(), second in runs(), said in prop::collection::vec(any_said(), 0..25),
    ) {
        let logs = [log(LOG, 0, &first), log(OTHER, 20, &second)];
        let start = [machine(1), machine(2), fitting(LOG, 1, 0), fitting(OTHER, 1, 0)];
        let in_turn = report(&logs, &start);
        let counted = logs.iter().fold(Totals::default(), |sum, log| {
            sum.plus(log.last_totals.run, log.last_totals.edges)
        });
        let counted = (counted.run.0, counted.edges.0);
        prop_assert_eq!(assert_parts_make_the_total(&in_turn.machines[0]), counted);
        let all: Vec<EntryBody> = start.into_iter().chain(said).collect();
        prop_assert_eq!(whole(&report(&logs, &all)), counted);
    }

    #[test]
    fn giving_sessions_away_again_and_again_moves_hours_and_makes_none(
        runs in runs(), said in prop::collection::vec(any_said(), 1..25),
    ) {
        let logs = [log(LOG, 0, &runs)];
        let start = [machine(1), fitting(LOG, 1, 0), rug("Fox"), rug("Bear"), rug("Owl")];
        let moves = |entry: &EntryBody| matches!(entry, EntryBody::BurstsAssigned(_) | EntryBody::RugWork(_));
        let before = whole(&report(&logs, &start));
        let mut all = start.to_vec();
        for entry in said.into_iter().filter(moves) {
            all.push(entry);
            prop_assert_eq!(whole(&report(&logs, &all)), before);
        }
    }

    #[test]
    fn splitting_segments_changes_no_sum(
        runs in runs(),
        said in prop::collection::vec(any_said(), 0..20),
        cuts in prop::collection::vec((any::<bool>(), 0_u64..20_000, 0_u32..300), 1..25),
    ) {
        // A fitting or an assignment may not begin between the two halves: what is named there is another record.
        let numbered = |seq: RecordSeq| RecordSeq(seq.0 / 10 * 10);
        let said = said.into_iter().map(|entry| match entry {
            EntryBody::LoggerFitted(fit) => EntryBody::LoggerFitted(Fitting { from: numbered(fit.from), ..fit }),
            other => other,
        });
        let all: Vec<EntryBody> = [machine(1), fitting(LOG, 1, 0)].into_iter().chain(said).collect();
        let one = log(LOG, 0, &runs);
        prop_assert_eq!(report(&[split(&one, &cuts)], &all), report(&[one], &all));
    }

    #[test]
    fn a_missing_record_moves_its_hours_to_not_recorded_and_changes_no_total(
        runs in runs(),
        said in prop::collection::vec(any_said(), 0..20),
        missing in prop::collection::vec(any::<bool>(), 1..25),
    ) {
        let all: Vec<EntryBody> = [machine(1), fitting(LOG, 1, 0)].into_iter().chain(said).collect();
        let complete = log(LOG, 0, &runs);
        let (held, lost) = without(&complete, &missing);
        let (before, after) = (report(&[complete], &all), report(&[held], &all));
        prop_assert_eq!(whole(&after), whole(&before));
        let not_recorded = after.all().fold((0, 0), |sum, hours| {
            (sum.0 + hours.not_recorded.run_time_ms, sum.1 + hours.not_recorded.edges)
        });
        prop_assert_eq!(not_recorded, (lost.run.0, lost.edges.0));
    }

    #[test]
    fn what_a_rug_took_by_sessions_is_what_hours_say(
        first in runs(), second in runs(), said in prop::collection::vec(any_said(), 0..25),
    ) {
        let logs = [log(LOG, 0, &first), log(OTHER, 20, &second)];
        let start = [machine(1), machine(2), fitting(LOG, 1, 0), fitting(OTHER, 1, 0), rug("Fox")];
        let all: Vec<EntryBody> = start.into_iter().chain(said).collect();
        let studio = Studio::of(&entries(all));
        let ledger = Ledger::of(&studio, &logs);
        let hours = HoursReport::of(&studio, &ledger, &TimeZone::UTC);
        let taken = rug_work::taken(&studio, &ledger, &TimeZone::UTC);
        let times = hours.run_times();
        for (place, taken) in &taken {
            let name = studio.rug_at(*place).unwrap().order.rug.0.as_str();
            prop_assert_eq!(times.get(name).copied(), Some(taken.run_ms()));
            // Nobody stands at the frame for less time than the motor ran.
            let tufting: u64 = taken.sessions.iter().filter_map(|share| share.tufting_ms).sum();
            prop_assert!(tufting + count(taken) >= taken.run_ms());
        }
        prop_assert_eq!(times.len(), taken.len());
    }
}

/// A share of a session's time is rounded down by less than a millisecond.
fn count(taken: &rug_work::RugTaken) -> u64 {
    u64::try_from(taken.sessions.len()).unwrap()
}
