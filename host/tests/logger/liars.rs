//! Loggers that say one wrong thing in whole frames. Whatever it is, the next honest pull finds everything, and nothing was
//! ever acknowledged that was not held.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::indexing_slicing,
    clippy::cast_possible_truncation,
    clippy::cast_possible_wrap,
    clippy::panic,
    clippy::cast_sign_loss,
    reason = "a test may stop at the first surprise"
)]

use std::cell::RefCell;
use std::collections::BTreeMap;
use std::path::Path;
use std::rc::Rc;

use crate::scripted::program::place;
use crate::scripted::{CLOCK, NOW, Scripted, framed, link_record};
use firmware::split_mix::SplitMix64;
use host::app::logger::pull::{PullWish, pull};
use host::app::logger::pull_report::{PullError, PullReport, Warning};
use host::app::ports::contradiction::Contradiction;
use host::app::ports::{Gap, LoggerError, Store};
use host::logger_link::simulated::{Loss, simulated};
use host::store::Database;
use host::view::logger::pull;
use host_core::entries::Entry;
use host_core::records::log_records;
use rusqlite::Connection;
use shared_types::link::frame::decode_frame;
use shared_types::link::{LogState, LoggerStatus, RecordBatch, Reply, Request, decode_message, link_records};
use shared_types::{Edges, LogId, LoggerId, RecordSeq, RunMillis, Totals};

type Shared = Rc<RefCell<Scripted>>;

/// What a wrong number is made of the right one.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Twist {
    Zero,
    Max,
    More,
    Less,
    Random(u64),
}

impl Twist {
    fn of(self, value: u64, max: u64) -> u64 {
        match self {
            Self::Zero => 0,
            Self::Max => max,
            Self::More => value.saturating_add(1).min(max),
            Self::Less => value.saturating_sub(1),
            Self::Random(random) => random % max.saturating_add(1).max(1),
        }
    }

    fn seq(self, seq: &mut RecordSeq) {
        seq.0 = self.of(seq.0.into(), u32::MAX.into()) as u32;
    }
}

#[derive(Clone, Copy, Debug, PartialEq)]
enum Field {
    Oldest,
    Next,
    Acknowledged,
    FormattedRun,
    FormattedEdges,
    TotalRun,
    TotalEdges,
    Boot,
    Uptime,
    Log,
    Faults,
    BatchLog,
    BatchNext,
    BatchEnd,
    FirstNumber,
    MiddleNumber,
    LastNumber,
}

const FIELDS: [Field; 17] = [
    Field::Oldest,
    Field::Next,
    Field::Acknowledged,
    Field::FormattedRun,
    Field::FormattedEdges,
    Field::TotalRun,
    Field::TotalEdges,
    Field::Boot,
    Field::Uptime,
    Field::Log,
    Field::Faults,
    Field::BatchLog,
    Field::BatchNext,
    Field::BatchEnd,
    Field::FirstNumber,
    Field::MiddleNumber,
    Field::LastNumber,
];

/// One field, twisted in the answers from one on.
#[derive(Clone, Copy, Debug)]
struct Lie {
    field: Field,
    twist: Twist,
    from_answer: u32,
    answers: u32,
}

impl Lie {
    fn greet(self, status: &mut LoggerStatus) {
        let twist = self.twist;
        if let LogState::Ready { log, oldest, next, acknowledged, formatted_with } = &mut status.log {
            match self.field {
                Field::Oldest => twist.seq(oldest),
                Field::Next => twist.seq(next),
                Field::Acknowledged => twist.seq(acknowledged),
                Field::FormattedRun => formatted_with.run.0 = twist.of(formatted_with.run.0, u64::MAX),
                Field::FormattedEdges => formatted_with.edges.0 = twist.of(formatted_with.edges.0, u64::MAX),
                Field::Log => log.0 = twist.of(log.0.into(), u32::MAX.into()) as u32,
                _ => {}
            }
        }
        match self.field {
            Field::TotalRun => status.totals.run.0 = twist.of(status.totals.run.0, u64::MAX),
            Field::TotalEdges => status.totals.edges.0 = twist.of(status.totals.edges.0, u64::MAX),
            Field::Boot => status.boot.0 = twist.of(status.boot.0.into(), u32::MAX.into()) as u32,
            Field::Uptime => status.uptime.0 = twist.of(status.uptime.0, u64::MAX),
            Field::Faults => status.faults = twist.of(status.faults.into(), u16::MAX.into()) as u16,
            _ => {}
        }
    }

    fn send(self, batch: &RecordBatch<'_>) -> Vec<u8> {
        let mut records: Vec<(RecordSeq, Vec<u8>)> = link_records(batch.records)
            .map(|record| record.unwrap())
            .map(|r| (r.seq, r.body.to_vec()))
            .collect();
        let mut out = *batch;
        let (first, middle, last) = (0, records.len() / 2, records.len().saturating_sub(1));
        match self.field {
            Field::BatchLog => out.log.0 = self.twist.of(out.log.0.into(), u32::MAX.into()) as u32,
            Field::BatchNext => self.twist.seq(&mut out.next),
            Field::BatchEnd => out.end = !out.end,
            Field::FirstNumber | Field::MiddleNumber | Field::LastNumber => {
                let place = match self.field {
                    Field::FirstNumber => first,
                    Field::MiddleNumber => middle,
                    _ => last,
                };
                if let Some((seq, _)) = records.get_mut(place) {
                    self.twist.seq(seq);
                }
            }
            _ => {}
        }
        let bytes: Vec<u8> = records.iter().flat_map(|(seq, body)| link_record(seq.0, body)).collect();
        framed(&Reply::Records(RecordBatch { records: &bytes, ..out }))
    }

    fn spoil(self, answer: Vec<u8>) -> Vec<u8> {
        let mut copy = answer.clone();
        copy.pop();
        let Ok(message) = decode_frame(&mut copy) else { return answer };
        match decode_message::<Reply<'_>>(message) {
            Ok(Reply::LoggerStatus(mut status)) => {
                self.greet(&mut status);
                framed(&Reply::LoggerStatus(status))
            }
            Ok(Reply::Records(batch)) => self.send(&batch),
            _ => answer,
        }
    }
}

/// Pulls; looks at each acknowledgement whether what it names is held.
fn pull_from(logger: &Shared, lie: Option<Lie>, path: &Path) -> Result<PullReport, PullError> {
    let script = Rc::clone(logger);
    let (file, mut turn) = (path.to_owned(), 0);
    let mut link = simulated(
        "a scripted logger",
        move |bytes: &[u8]| {
            let answer = script.borrow_mut().answer(bytes);
            let script = script.borrow();
            if let Some(Request::Acknowledge { below, .. }) = script.requests.last() {
                let there = script.records.range(..below.0).count() as i64;
                let key = (script.logger.cast_signed(), script.log, below.0);
                let held: i64 = Connection::open(&file)
                    .unwrap()
                    .query_row(
                        "SELECT count(*) FROM raw_record JOIN log ON log.id = log_id
                         WHERE logger = ?1 AND log = ?2 AND seq < ?3 AND variant = 0",
                        key,
                        |row| row.get(0),
                    )
                    .unwrap();
                assert!(held >= there, "{} acknowledged, {held} of {there} held: {lie:?}", below.0);
            }
            turn += 1;
            match lie {
                Some(lie)
                    if turn > lie.from_answer && turn <= lie.from_answer.saturating_add(lie.answers) =>
                {
                    lie.spoil(answer)
                }
                _ => answer,
            }
        },
        Loss::default(),
    );
    let mut store = Database::open(path).unwrap();
    pull(&mut link, &mut store, &CLOCK, &PullWish::default(), &mut |_| {})
}

/// Everything that answers are made from.
#[derive(Debug, PartialEq)]
struct Answers {
    records: BTreeMap<(i64, u32, u32, u32), Vec<u8>>,
    entries: Vec<Entry>,
    totals: Vec<(Totals, Totals, RecordSeq)>,
    gaps: Vec<Vec<Gap>>,
}

fn answers(path: &Path) -> Answers {
    let store = Database::open(path).unwrap();
    let logs = store.logs().unwrap();
    let records = Connection::open(path)
        .unwrap()
        .prepare("SELECT logger, log, seq, variant, body FROM raw_record JOIN log ON log.id = log_id")
        .unwrap()
        .query_map((), |row| Ok(((row.get(0)?, row.get(1)?, row.get(2)?, row.get(3)?), row.get(4)?)))
        .unwrap()
        .collect::<Result<_, _>>()
        .unwrap();
    Answers {
        records,
        entries: store.entries().unwrap().with_withdrawn().to_vec(),
        totals: logs.iter().map(|log| (log.formatted_with, log.last_totals, log.last_next)).collect(),
        gaps: logs.iter().map(|log| store.holding(log.key).unwrap().gaps).collect(),
    }
}

/// A logger of one of several kinds: whole, with its oldest records gone, with holes, or nearly empty.
fn logger_of(kind: u64) -> Scripted {
    let formatted_with = Totals { run: RunMillis(5_000), edges: Edges(40) };
    let start = || Scripted { batch: 16, formatted_with, totals: formatted_with, ..Scripted::default() };
    let mut logger = start();
    match kind {
        0 => logger.run(60),
        1 => {
            logger.run(70);
            logger.forget_below(25);
        }
        2 => {
            logger.run(50);
            for seq in [0, 9, 10, 33] {
                logger.records.remove(&seq);
            }
        }
        3 => logger.run(1),
        _ => {
            logger.run(40);
            logger.batch = 1;
        }
    }
    logger
}

/// A liar's pull between honest ones, beside the same without the liar. Returns whether the lie was refused.
fn is_refused(seed: u64, lie: Lie, kind: u64, was_pulled_before: bool) -> bool {
    let (_dir, path) = place();
    let (_other_dir, honest_path) = place();
    let logger = Rc::new(RefCell::new(logger_of(kind)));
    let honest = Rc::new(RefCell::new(logger_of(kind)));
    if was_pulled_before {
        for (logger, path) in [(&logger, &path), (&honest, &honest_path)] {
            pull_from(logger, None, path).unwrap();
            logger.borrow_mut().run(30);
        }
    }
    let lied = pull_from(&logger, Some(lie), &path);
    if let Err(error) = &lied {
        let link = matches!(error, PullError::Logger(_) | PullError::BrokeOff { .. });
        assert!(link, "seed {seed}, {lie:?}: {error:?}");
    }
    for (logger, path) in [(&logger, &path), (&honest, &honest_path)] {
        // Twice, because the first tells the logger its machine, which becomes a record.
        for _ in 0..2 {
            pull_from(logger, None, path).unwrap_or_else(|error| panic!("seed {seed}, {lie:?}: {error:?}"));
        }
    }
    let (after, alone) = (answers(&path), answers(&honest_path));
    assert_eq!(after, alone, "seed {seed}, {lie:?}, kind {kind}, before {was_pulled_before}, {lied:?}");
    let last = pull_from(&logger, None, &path).unwrap();
    assert_eq!((last.new_records, last.warnings), (0, vec![]), "seed {seed}, {lie:?}");
    lied.is_err()
}

#[test]
fn after_any_single_lie_an_honest_pull_finds_everything() {
    let twists = [Twist::Zero, Twist::Max, Twist::More, Twist::Less];
    let mut refused = 0;
    for (seed, field) in FIELDS.into_iter().enumerate() {
        for twist in twists {
            let lie = Lie { field, twist, from_answer: 0, answers: u32::MAX };
            refused += u32::from(is_refused(seed as u64, lie, seed as u64 % 5, false));
            refused += u32::from(is_refused(seed as u64, lie, (seed as u64 + 1) % 5, true));
        }
    }
    assert!(refused > 0, "the lies reached the program");
}

#[test]
fn after_drawn_lies_an_honest_pull_finds_everything() {
    let mut refused = 0;
    for seed in 0..120 {
        let mut rng = SplitMix64::new(seed);
        let field = FIELDS[rng.below(FIELDS.len() as u64) as usize];
        let twist = match rng.below(5) {
            0 => Twist::Zero,
            1 => Twist::Max,
            2 => Twist::More,
            3 => Twist::Less,
            // Near the true numbers, where a wrong one is hardest to tell.
            _ => Twist::Random(rng.below(120)),
        };
        let answers = if rng.below(2) == 0 { 1 } else { u32::MAX };
        let lie = Lie { field, twist, from_answer: rng.below(6) as u32, answers };
        refused += u32::from(is_refused(seed, lie, rng.below(5), rng.below(2) == 0));
    }
    assert!(refused > 0, "the lies reached the program");
}

#[test]
fn a_greeting_whose_oldest_record_comes_after_its_next_is_refused_and_nothing_is_noted() {
    let (_dir, path) = place();
    let logger = Rc::new(RefCell::new(Scripted::with_segments(30)));
    let lie = Lie { field: Field::Oldest, twist: Twist::Max, from_answer: 0, answers: u32::MAX };
    let refused = pull_from(&logger, Some(lie), &path);
    let (oldest, next) = (RecordSeq(u32::MAX), RecordSeq(30));
    let what = Contradiction::OldestAfterNext { oldest, next };
    assert!(
        matches!(&refused, Err(PullError::Logger(LoggerError::Contradicts { what: told, .. })) if *told == what)
    );
    assert_eq!(logger.borrow().requests, [Request::LoggerStatus], "it was told nothing");
    let store = Database::open(&path).unwrap();
    assert_eq!(
        (store.entries().unwrap().with_withdrawn().to_vec(), store.status_reports().unwrap()),
        (vec![], vec![])
    );
}

#[test]
fn a_log_under_another_loggers_number_is_not_counted_twice() {
    let (_dir, path) = place();
    let logger = Rc::new(RefCell::new(Scripted::with_segments(30)));
    pull_from(&logger, None, &path).unwrap();
    pull_from(&logger, None, &path).unwrap();
    let before = answers(&path);
    let known = LoggerId(logger.borrow().logger);
    logger.borrow_mut().logger += 1;
    let refused = pull_from(&logger, None, &path);
    let what = Contradiction::LogOfAnother { known };
    assert!(
        matches!(&refused, Err(PullError::Logger(LoggerError::Contradicts { what: told, .. })) if *told == what)
    );
    assert_eq!(answers(&path), before);
}

/// What earlier versions kept of a greeting with a wrong oldest number, next number or totals.
#[test]
fn a_database_that_believed_a_wrong_greeting_heals_at_the_next_honest_pull() {
    let far = Totals { run: RunMillis(u64::MAX), edges: Edges(u64::MAX) };
    type Wrong = fn(&mut LoggerStatus, Totals);
    let wrong: [Wrong; 3] = [
        |status, _| {
            if let LogState::Ready { oldest, .. } = &mut status.log {
                *oldest = RecordSeq(u32::MAX);
            }
        },
        |status, _| {
            if let LogState::Ready { next, .. } = &mut status.log {
                *next = RecordSeq(u32::MAX);
            }
        },
        |status, far| status.totals = far,
    ];
    for (case, spoil) in wrong.into_iter().enumerate() {
        let (_dir, path) = place();
        let (_other_dir, honest_path) = place();
        let logger = Rc::new(RefCell::new(logger_of(0)));
        let honest = Rc::new(RefCell::new(logger_of(0)));
        let mut status = logger.borrow().status();
        spoil(&mut status, far);
        {
            let mut store = Database::open(&path).unwrap();
            store.note_status(NOW, &status, "cable").unwrap();
            let key = log_records::LogKey { logger: status.logger, log: LogId(logger.borrow().log) };
            store.note_gone(key, RecordSeq(0), RecordSeq(u32::MAX)).unwrap();
        }
        for (logger, path) in [(&logger, &path), (&honest, &honest_path)] {
            for _ in 0..2 {
                pull_from(logger, None, path).unwrap();
            }
        }
        assert_eq!(answers(&path), answers(&honest_path), "case {case}");
        assert_eq!(pull_from(&logger, None, &path).unwrap().warnings, [], "case {case}");
    }
}

#[test]
fn records_that_hold_more_than_the_totals_say_are_told() {
    let (_dir, path) = place();
    let logger = Rc::new(RefCell::new(Scripted::with_segments(10)));
    // Ten runs of 1000 ms and 0 + 1 + ... + 9 ms more, 30 edges each.
    logger.borrow_mut().totals = Totals { run: RunMillis(9_000), edges: Edges(300) };
    let report = pull_from(&logger, None, &path).unwrap();
    let more = Warning::RecordsHoldMore {
        run_ms_held: 10_045,
        run_ms_counted: 9_000,
        edges_held: 300,
        edges_counted: 300,
    };
    assert_eq!(report.warnings, [more]);
    let said = pull::text(&report);
    assert!(said.contains("One of the two is wrong"), "{said}");
}

/// A logger whose records never come to an end: there is always one more, and each greeting says so.
#[test]
fn a_pull_from_a_logger_without_an_end_ends() {
    let (_dir, path) = place();
    let logger = Rc::new(RefCell::new(Scripted { batch: 4, ..Scripted::with_segments(10) }));
    let script = Rc::clone(&logger);
    let mut link = simulated(
        "a logger without an end",
        move |bytes: &[u8]| {
            script.borrow_mut().run(8);
            script.borrow_mut().answer(bytes)
        },
        Loss::default(),
    );
    let mut store = Database::open(&path).unwrap();
    let report = pull(&mut link, &mut store, &CLOCK, &PullWish::default(), &mut |_| {}).unwrap();
    // Two records come for each one that is read, so what is there triples from greeting to greeting: 10 * 3^4 = 810.
    assert!(report.new_records >= 10 && report.new_records <= 810, "{}", report.new_records);
    assert_eq!(report.acknowledged_below.map(|below| u64::from(below.0)), Some(report.new_records));
}

/// As before, but it never gets further than empty pieces, each of which says that there is more.
#[test]
fn a_logger_that_only_promises_is_left() {
    let (_dir, path) = place();
    let logger = Rc::new(RefCell::new(Scripted::with_segments(1_000)));
    let script = Rc::clone(&logger);
    let mut link = simulated(
        "a logger that promises",
        move |bytes: &[u8]| {
            let answer = script.borrow_mut().answer(bytes);
            match script.borrow().requests.last() {
                Some(&Request::ReadFrom { log, from }) => framed(&Reply::Records(RecordBatch {
                    log,
                    next: RecordSeq(from.0 + 1),
                    end: false,
                    records: &[],
                })),
                _ => answer,
            }
        },
        Loss::default(),
    );
    let mut store = Database::open(&path).unwrap();
    let left = pull(&mut link, &mut store, &CLOCK, &PullWish::default(), &mut |_| {});
    assert!(
        matches!(left, Err(PullError::BrokeOff { source: LoggerError::NotALogger { .. }, .. })),
        "{left:?}"
    );
    assert_eq!(store.logs().unwrap().iter().map(|log| log.segments.len()).sum::<usize>(), 0);
}
