use jiff::tz::TimeZone;
use shared_types::log::ClockSource::Host;
use shared_types::{Edges, RunMillis, Totals};

use super::*;
use crate::care::history::History;
use crate::care::run_pieces::Moment;
use crate::entries::WorkChange::{Delivered, Finished, Started};
use crate::entries::{Certainty, DoubtAnswered, EntryBody, Owner, RugName};
use crate::hours::report::{HoursReport, MachineHours};
use crate::records::log_records::SegmentRecord;
use crate::sessions::hours_at::hours_at;
use crate::sessions::{doubtful_runs, session_list};
use crate::test_facts::{
    HOUR, LOG, MINUTE, MONDAY_8, anchor, assigned, empty_log, entries, fitted, machine, rug, segment, work,
};
use shared_types::UtcMillis;

/// Ten seconds of work at twelve strokes a second at 8:00 and at 8:20; between them, at 8:10, ten minutes of rest with four
/// edges, as an older firmware makes them of a stray pulse.
fn log() -> LogRecords {
    let segments = vec![
        segment(10, 1, 0, 10_000, 121),
        segment(20, 1, 600_000, 600_000, 4),
        segment(30, 1, 1_200_500, 10_000, 121),
    ];
    let last_totals = Totals { run: RunMillis(620_000), edges: Edges(246) };
    LogRecords { events: vec![anchor(1, 1, 0, MONDAY_8, Host)], segments, last_totals, ..empty_log() }
}

fn start() -> Vec<EntryBody> {
    vec![machine(1), fitted(1, 0), rug("Fox"), work("Fox", None, Started, MONDAY_8 - HOUR)]
}

fn answered(from: u32, to: u32, answer: DoubtAnswer) -> EntryBody {
    let (from, to) = (RecordSeq(from), RecordSeq(to));
    EntryBody::DoubtAnswered(DoubtAnswered { logger: LOG.logger, log: LOG.log, from, to, answer })
}

fn hours(said: &[EntryBody]) -> MachineHours {
    let studio = Studio::of(&entries(said.to_vec()));
    let logs = [log()];
    let report = HoursReport::of(&studio, &Ledger::of_heard(&studio, &logs, &[]), &TimeZone::UTC);
    let hours = report.machines[0].clone();
    assert_eq!((hours.total.run_time_ms, hours.total.edges), (620_000, 246));
    hours
}

/// Run time of the commission, to check, set aside, questioned.
fn sums(said: &[EntryBody]) -> (u64, u64, u64, u64) {
    let hours = hours(said);
    let of_rug = hours.rugs.iter().map(|rug| rug.total.run_time_ms).sum();
    let doubtful = hours.doubtful;
    assert_eq!(doubtful.sum.run_time_ms, doubtful.to_check.run_time_ms + doubtful.set_aside.run_time_ms);
    (of_rug, doubtful.to_check.run_time_ms, doubtful.set_aside.run_time_ms, doubtful.questioned.run_time_ms)
}

#[test]
fn rest_that_became_running_stands_outside_the_commission_until_it_is_answered() {
    let mut said = start();
    assert_eq!(sums(&said), (20_000, 600_000, 0, 0));
    said.push(answered(20, 20, DoubtAnswer::NotReal));
    assert_eq!(sums(&said), (20_000, 0, 600_000, 0));
    said.push(answered(20, 20, DoubtAnswer::Real));
    assert_eq!(sums(&said), (620_000, 0, 0, 0));
    // Taken back, the answer before it holds again; taken back too, the question is open.
    said.push(EntryBody::Withdrawn { entry: EntryId(6), reason: String::new() });
    assert_eq!(sums(&said), (20_000, 0, 600_000, 0));
    said.push(EntryBody::Withdrawn { entry: EntryId(5), reason: String::new() });
    assert_eq!(sums(&said), (20_000, 600_000, 0, 0));
}

#[test]
fn an_answer_touches_no_burst_that_nobody_doubts() {
    let mut said = start();
    said.push(answered(0, u32::MAX, DoubtAnswer::NotReal));
    assert_eq!(sums(&said), (20_000, 0, 600_000, 0));
}

#[test]
fn what_was_confirmed_or_delivered_before_stays_counted_and_is_questioned() {
    let fox = || Owner::Rug(RugName("Fox".to_owned()));
    let mut confirmed = start();
    confirmed.push(assigned(10, 30, fox(), Certainty::Confirmed));
    assert_eq!(sums(&confirmed), (620_000, 0, 0, 600_000));
    let mut delivered = start();
    delivered.push(work("Fox", None, Finished, MONDAY_8 + HOUR));
    assert_eq!(sums(&delivered), (20_000, 600_000, 0, 0));
    delivered.push(work("Fox", None, Delivered, MONDAY_8 + 2 * HOUR));
    assert_eq!(sums(&delivered), (620_000, 0, 0, 600_000));
    // Left open when it was delivered, it stays out.
    delivered.push(answered(20, 20, DoubtAnswer::LeftOpen));
    assert_eq!(sums(&delivered), (20_000, 600_000, 0, 0));
    // And the maker's word is the last one.
    confirmed.push(answered(20, 20, DoubtAnswer::NotReal));
    assert_eq!(sums(&confirmed), (20_000, 0, 600_000, 0));
    // Given to nobody, it was never counted.
    let mut nobodys = start();
    nobodys.push(assigned(20, 20, Owner::Nobody, Certainty::Explicit));
    assert_eq!(sums(&nobodys), (20_000, 600_000, 0, 0));
}

#[test]
fn no_stretch_that_can_be_confirmed_reaches_over_a_doubtful_burst() {
    let studio = Studio::of(&entries(start()));
    let logs = [log()];
    let ledger = Ledger::of_heard(&studio, &logs, &[]);
    let sessions = session_list::all(&studio, &ledger, &TimeZone::UTC);
    let parts: Vec<_> =
        sessions.iter().flat_map(|line| &line.parts).map(|part| (part.first.0, part.last.0)).collect();
    assert_eq!(parts, [(10, 10), (30, 30)]);
    let stretches: Vec<_> = sessions.iter().flat_map(session_list::SessionLine::stretches).collect();
    assert!(!stretches.iter().any(|(first, last)| (first.0..=last.0).contains(&20)), "{stretches:?}");
}

#[test]
fn care_counts_it_until_it_is_answered_and_a_reading_always() {
    let ran = |said: &[EntryBody]| {
        let studio = Studio::of(&entries(said.to_vec()));
        let logs = [log()];
        let ledger = Ledger::of_heard(&studio, &logs, &[]);
        let tag = shared_types::MachineTag(1);
        let history = History::of(&studio, &ledger, &[], tag, &TimeZone::UTC);
        let since = history.run_since(Moment::dated(UtcMillis(MONDAY_8 + MINUTE)));
        let reading = hours_at(&studio, &ledger, &[], tag, UtcMillis(MONDAY_8 + HOUR));
        assert_eq!(reading.run, Some(RunMillis(620_000)));
        let pieces = history.pieces.len();
        (since.at_least_ms, since.at_most_ms, since.doubtful_ms, history.edges_ever(), pieces)
    };
    let mut said = start();
    // By hand: after 8:01 the last ten seconds are certain, the ten minutes possible.
    assert_eq!(ran(&said), (10_000, 610_000, 600_000, 246, 2));
    said.push(answered(20, 20, DoubtAnswer::NotReal));
    assert_eq!(ran(&said), (10_000, 10_000, 0, 242, 2));
    said.push(answered(20, 20, DoubtAnswer::Real));
    assert_eq!(ran(&said), (610_000, 610_000, 0, 246, 3));
}

#[test]
fn a_session_of_noise_alone_asks_for_the_care_of_a_session_until_it_is_answered() {
    let noise = vec![segment(10, 1, 0, 1_000, 13), segment(20, 1, 3_600_000, 5_000, 5_000)];
    let logs = [LogRecords { segments: noise, ..log() }];
    let begun = |said: &[EntryBody]| {
        let studio = Studio::of(&entries(said.to_vec()));
        let ledger = Ledger::of_heard(&studio, &logs, &[]);
        let history = History::of(&studio, &ledger, &[], shared_types::MachineTag(1), &TimeZone::UTC);
        history.sessions_since(Moment::dated(UtcMillis(MONDAY_8 + MINUTE)))
    };
    let mut said = start();
    assert_eq!(begun(&said), 1);
    said.push(answered(20, 20, DoubtAnswer::NotReal));
    assert_eq!(begun(&said), 0);
}

#[test]
fn doubtful_bursts_that_follow_each_other_are_one_question() {
    // A chattering wire: 5,000 edges in five seconds, three times within ten minutes, and once an hour later.
    let at = [0, 60_000, 600_000, 4_200_000];
    let segments = at.iter().zip(1..).map(|(at, seq)| segment(seq * 10, 1, *at, 5_000, 5_000)).collect();
    let logs = [LogRecords { segments, ..log() }];
    let runs = |said: &[EntryBody]| {
        let studio = Studio::of(&entries(said.to_vec()));
        doubtful_runs::all(&studio, &Ledger::of_heard(&studio, &logs, &[]))
            .iter()
            .map(|run| (run.run.to_string(), run.bursts, run.standing, run.rug.clone()))
            .collect::<Vec<_>>()
    };
    let mut said = start();
    let fox = || Some("Fox".to_owned());
    let asked = [("10".to_owned(), 3, Standing::Open, fox()), ("40".to_owned(), 1, Standing::Open, fox())];
    assert_eq!(runs(&said), asked);
    said.push(answered(10, 30, DoubtAnswer::NotReal));
    let asked = [("10".to_owned(), 3, Standing::NotReal, fox()), ("40".to_owned(), 1, Standing::Open, fox())];
    assert_eq!(runs(&said), asked);
}

#[test]
fn steady_running_at_a_rate_that_a_machine_can_have_is_counted_and_hinted_at() {
    let segments = (0..7)
        .map(|at| SegmentRecord {
            continues: at > 0,
            ..segment(10 + at, 1, u64::from(at) * 9_800, 9_800, 196 + u32::from(at == 0))
        })
        .collect();
    let logs = [LogRecords { segments, ..log() }];
    let studio = Studio::of(&entries(start()));
    let report = HoursReport::of(&studio, &Ledger::of_heard(&studio, &logs, &[]), &TimeZone::UTC);
    let hours = &report.machines[0];
    // By hand: 196 periods in 9.8 s are twenty strokes a second; seven times 9.8 s.
    assert_eq!((hours.steady_as_mains.run_time_ms, hours.doubtful.sum.run_time_ms), (68_600, 0));
    assert_eq!(hours.rugs[0].total.run_time_ms, 68_600);
}
