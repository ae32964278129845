//! The pull against a scripted logger: nothing lost, nothing twice, nothing acknowledged that is not safe.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::indexing_slicing,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a test may stop at the first surprise"
)]

use shared_types::link::LoggerStatus;
use shared_types::link::frame::encode_frame;
use std::cell::RefCell;
use std::path::Path;
use std::rc::Rc;

use crate::scripted::program::place;
use crate::scripted::{CLOCK, NOW, Scripted};
use host::app::logger::pull::{PullWish, pull};
use host::app::logger::pull_report::{Order, PullError, PullReport, Warning};
use host::app::ports::{Gap, Logger, LoggerError, Store};
use host::logger_link::simulated::{Loss, simulated};
use host::store::Database;
use host_core::entries::{Drive, EntryBody, Fitting, MachineAdded, Pile};
use rusqlite::Connection;
use shared_types::link::{Refusal, Request};
use shared_types::log::Limits;
use shared_types::{Edges, LogId, LoggerId, MachineTag, RecordSeq, RunMillis, Totals};

type Shared = Rc<RefCell<Scripted>>;

fn shared(logger: Scripted) -> Shared {
    Rc::new(RefCell::new(logger))
}

fn link(logger: &Shared, loss: Loss) -> impl Logger + use<> {
    let logger = Rc::clone(logger);
    simulated("a scripted logger", move |bytes: &[u8]| logger.borrow_mut().answer(bytes), loss)
}

fn pull_with(logger: &Shared, path: &Path, wish: &PullWish<'_>) -> Result<PullReport, PullError> {
    let mut store = Database::open(path).unwrap();
    pull(&mut link(logger, Loss::default()), &mut store, &CLOCK, wish, &mut |_| {})
}

fn pull_into(logger: &Shared, path: &Path) -> PullReport {
    pull_with(logger, path, &PullWish::default()).unwrap()
}

fn pull_for(logger: &Shared, path: &Path, machine: u32) -> PullReport {
    pull_with(logger, path, &PullWish { machine: Some(MachineTag(machine)), ..PullWish::default() }).unwrap()
}

fn run_kept(path: &Path) -> u64 {
    let logs = Database::open(path).unwrap().logs().unwrap();
    logs.iter().flat_map(|log| &log.segments).map(|segment| segment.run.0).sum()
}

fn fittings(path: &Path) -> Vec<(u32, u32)> {
    let entries = Database::open(path).unwrap().entries().unwrap().with_withdrawn().to_vec();
    entries
        .iter()
        .filter_map(|entry| match entry.body {
            EntryBody::LoggerFitted(Fitting { machine, from, .. }) => Some((machine.0, from.0)),
            _ => None,
        })
        .collect()
}

fn add_machine(path: &Path, number: u32) {
    let body = EntryBody::MachineAdded(MachineAdded {
        machine: MachineTag(number),
        name: format!("Gun {number}"),
        pile: Pile::Cut,
        before_logger: None,
        since: NOW,
        drive: Drive::Electric,
        has_logger: None,
        is_second_hand: None,
    });
    Database::open(path).unwrap().add_entry(NOW, &body).unwrap();
}

#[test]
fn a_machine_that_a_pull_enters_comes_with_its_logger_or_not_at_all() {
    let (_dir, path) = place();
    let logger = shared(Scripted::with_segments(100));
    drop(Database::open(&path).unwrap());
    let book = Connection::open(&path).unwrap();
    let fails = "CREATE TRIGGER fails BEFORE INSERT ON entry WHEN (SELECT count(*) FROM entry) >= 1
                 BEGIN SELECT RAISE(ABORT, 'no more'); END";
    book.execute_batch(fails).unwrap();
    assert!(matches!(pull_with(&logger, &path, &PullWish::default()), Err(PullError::Store(_))));
    assert_eq!(Database::open(&path).unwrap().entries().unwrap().with_withdrawn().to_vec(), []);
    book.execute_batch("DROP TRIGGER fails").unwrap();
    assert!(pull_into(&logger, &path).machine_added);
}

#[test]
fn a_first_pull_keeps_everything_and_puts_the_logger_on_the_only_machine() {
    let (_dir, path) = place();
    let logger = shared(Scripted::with_segments(100));
    let report = pull_into(&logger, &path);
    assert_eq!((report.new_records, report.known_records), (100, 0));
    assert_eq!((report.new_from, report.new_to), (Some(RecordSeq(0)), Some(RecordSeq(99))));
    // 100 runs of 1000 ms and 0 + 1 + ... + 99 ms more.
    assert_eq!((report.new_run_time_ms, report.new_edges), (104_950, 3_000));
    assert_eq!((report.not_recorded_ms, report.not_recorded_edges), (0, 0));
    assert_eq!(report.machine_name.as_deref(), Some("Machine 1"));
    assert!(report.fitted_now && report.machine_added && report.clock_set);
    assert_eq!(fittings(&path), [(1, 0)]);
    assert_eq!(report.acknowledged_below, Some(RecordSeq(100)));
    let logger = logger.borrow();
    assert_eq!(logger.acknowledged, 100);
    assert_eq!(logger.settings.machine, MachineTag(1));
    assert!(logger.requests.contains(&Request::SetClock { utc: NOW }));
    assert!(report.payload_bytes > 0 && report.link_bytes > report.payload_bytes);
    assert_eq!(report.warnings, []);
}

#[test]
fn pulling_again_finds_only_what_is_new() {
    let (_dir, path) = place();
    let logger = shared(Scripted::with_segments(100));
    pull_into(&logger, &path);
    // The fitting itself became record number 100.
    let second = pull_into(&logger, &path);
    assert_eq!((second.new_records, second.new_from), (1, Some(RecordSeq(100))));
    let third = pull_into(&logger, &path);
    assert_eq!((third.new_records, third.known_records, third.acknowledged_below), (0, 0, None));
    assert!(!third.fitted_now && third.warnings.is_empty());
    assert_eq!(run_kept(&path), 104_950);
    assert_eq!(fittings(&path).len(), 1);
}

#[test]
fn nothing_is_acknowledged_before_it_is_on_the_disk() {
    let (_dir, path) = place();
    let logger = shared(Scripted::with_segments(300));
    let (script, file) = (Rc::clone(&logger), path.clone());
    let seen = Rc::new(RefCell::new(None));
    let seen_at = Rc::clone(&seen);
    let mut link = simulated(
        "a watched logger",
        move |bytes: &[u8]| {
            let answer = script.borrow_mut().answer(bytes);
            if let Some(Request::Acknowledge { below, .. }) = script.borrow().requests.last() {
                // Looks through another connection, which sees only what is committed.
                let held: u32 = rusqlite::Connection::open(&file)
                    .unwrap()
                    .query_row("SELECT count(*) FROM raw_record", (), |row| row.get(0))
                    .unwrap();
                seen_at.borrow_mut().get_or_insert((below.0, held));
            }
            answer
        },
        Loss::default(),
    );
    let mut store = Database::open(&path).unwrap();
    pull(&mut link, &mut store, &CLOCK, &PullWish::default(), &mut |_| {}).unwrap();
    assert_eq!(*seen.borrow(), Some((300, 300)));
}

#[test]
fn a_lossy_link_loses_and_doubles_nothing() {
    for seed in 0..20 {
        let (_dir, path) = place();
        let logger = shared(Scripted::with_segments(400));
        let loss = Loss { seed, dropped_per_million: 150, flipped_per_million: 150 };
        let mut store = Database::open(&path).unwrap();
        let report = pull(&mut link(&logger, loss), &mut store, &CLOCK, &PullWish::default(), &mut |_| {})
            .unwrap_or_else(|error| panic!("seed {seed}: {error}"));
        assert_eq!((report.new_records, report.conflicting_records), (400, 0), "seed {seed}");
        assert_eq!(report.unreadable_records, 0, "seed {seed}");
        drop(store);
        // 400 runs of 1000 ms and 0 + 1 + ... + 399 ms more.
        assert_eq!(run_kept(&path), 479_800, "seed {seed}");
    }
}

#[test]
fn an_answer_that_comes_late_is_not_taken_for_the_next_one() {
    let (_dir, path) = place();
    let logger = shared(Scripted { batch: 7, ..Scripted::with_segments(100) });
    let script = Rc::clone(&logger);
    let (mut held_back, mut turn) = (Vec::new(), 0);
    // Every third answer is held back and comes together with the answer to the repeated question.
    let mut link = simulated(
        "a slow logger",
        move |bytes: &[u8]| {
            let mut answer = std::mem::take(&mut held_back);
            answer.extend(script.borrow_mut().answer(bytes));
            turn += 1;
            if turn % 3 == 0 {
                held_back = std::mem::take(&mut answer)
            }
            answer
        },
        Loss::default(),
    );
    let mut store = Database::open(&path).unwrap();
    let report = pull(&mut link, &mut store, &CLOCK, &PullWish::default(), &mut |_| {}).unwrap();
    assert_eq!((report.new_records, report.known_records, report.conflicting_records), (100, 0, 0));
    drop(store);
    assert_eq!(run_kept(&path), 104_950);
}

#[test]
fn a_silent_logger_and_one_that_talks_nonsense_are_told_apart() {
    let (_dir, path) = place();
    let logger = shared(Scripted { answers: false, ..Scripted::with_segments(3) });
    let silent = pull_with(&logger, &path, &PullWish::default());
    assert!(matches!(silent, Err(PullError::Logger(LoggerError::Silent { .. }))));
    assert_eq!(logger.borrow().requests.len(), 3, "it asks three times");
    let mut noise = simulated("a printer", |_: &[u8]| b"READY\r\n\0@PJL\0".to_vec(), Loss::default());
    assert!(matches!(noise.status(), Err(LoggerError::NotALogger { .. })));
    let mut newer = simulated(
        "a newer logger",
        |_: &[u8]| {
            let mut frame = [0; 64];
            encode_frame(&[9, 1, 2, 3], &mut frame).unwrap().to_vec()
        },
        Loss::default(),
    );
    assert!(matches!(newer.status(), Err(LoggerError::NewerLink { version: 9, .. })));
}

#[test]
fn two_computers_each_get_everything() {
    let (_dir, first) = place();
    let (_other_dir, second) = place();
    let logger = shared(Scripted::with_segments(50));
    pull_into(&logger, &first);
    let report = pull_into(&logger, &second);
    assert_eq!(report.new_records, 51, "the first computer's fitting is a record too");
    logger.borrow_mut().run(10);
    assert_eq!(pull_into(&logger, &first).new_records, 11);
    assert_eq!(pull_into(&logger, &second).new_records, 10);
    assert_eq!(run_kept(&first), run_kept(&second));
    assert_eq!(fittings(&second), [(1, 0)]);
    assert_eq!(logger.borrow().acknowledged, 61);
}

#[test]
fn a_log_formatted_anew_is_kept_beside_the_old_one() {
    let (_dir, path) = place();
    let logger = shared(Scripted::with_segments(20));
    pull_into(&logger, &path);
    {
        let mut logger = logger.borrow_mut();
        logger.log = 0xB0B0_0002;
        logger.records.clear();
        (logger.next, logger.acknowledged) = (0, 0);
        logger.formatted_with = logger.totals;
        logger.run(5);
    }
    let report = pull_into(&logger, &path);
    assert_eq!((report.new_records, report.conflicting_records), (5, 0));
    assert_eq!(report.not_recorded_ms, 0, "what the old log held is not missing in the new one");
    assert_eq!(report.warnings, [Warning::Reformatted { before: vec!["a0a00001".to_owned()] }]);
    assert_eq!(report.machine, Some(MachineTag(1)), "the logger itself did not move");
    // 20 runs: 20000 + 190; 5 runs: 5000 + 10.
    assert_eq!(run_kept(&path), 25_200);
    assert_eq!(pull_into(&logger, &path).warnings, [], "it is said once");
}

#[test]
fn a_logger_on_another_machine_is_reported_and_its_new_records_wait() {
    let (_dir, path) = place();
    add_machine(&path, 1);
    let logger = shared(Scripted::with_segments(10));
    pull_into(&logger, &path);
    logger.borrow_mut().run(3);
    // Another computer says that it sits on its machine 2 now.
    logger.borrow_mut().fit(2);
    logger.borrow_mut().run(4);
    let report = pull_into(&logger, &path);
    // 10 runs, the first fitting, 3 runs: the second fitting is record 14.
    let moved = |known| Warning::Moved { known, told: MachineTag(2), from: RecordSeq(14) };
    assert_eq!(report.warnings, [moved(Some(MachineTag(1)))]);
    assert_eq!((report.new_records, report.machine), (9, None));
    assert_eq!(fittings(&path), [(1, 0), (0, 14)]);
    assert_eq!(logger.borrow().settings.machine, MachineTag(2), "the other computer's word stands");
    let again = pull_into(&logger, &path);
    assert_eq!(again.warnings, [moved(None)], "it is said until it is answered");
    assert_eq!(fittings(&path).len(), 2);
    let answered = pull_for(&logger, &path, 1);
    assert_eq!((answered.machine, answered.fitted_now), (Some(MachineTag(1)), true));
    assert_eq!(fittings(&path), [(1, 0), (0, 14), (1, 14)]);
    assert_eq!(pull_into(&logger, &path).warnings, []);
}

#[test]
fn the_maker_moves_a_logger_and_what_was_not_pulled_counts_there() {
    let (_dir, path) = place();
    add_machine(&path, 1);
    add_machine(&path, 2);
    let logger = shared(Scripted::with_segments(10));
    pull_for(&logger, &path, 1);
    logger.borrow_mut().run(5);
    let report = pull_for(&logger, &path, 2);
    let expected = Warning::MovedByWish { before: MachineTag(1), from: RecordSeq(10) };
    assert_eq!(report.warnings, [expected]);
    assert_eq!(fittings(&path), [(1, 0), (2, 10)]);
    assert_eq!(logger.borrow().settings.machine, MachineTag(2));
    assert_eq!(pull_into(&logger, &path).warnings, []);
}

#[test]
fn with_several_machines_the_maker_is_asked_first() {
    let (_dir, path) = place();
    add_machine(&path, 1);
    add_machine(&path, 2);
    let logger = shared(Scripted::with_segments(10));
    let asked = pull_with(&logger, &path, &PullWish::default());
    assert!(matches!(asked, Err(PullError::WhichMachine { machines }) if machines.len() == 2));
    let wish = PullWish { machine: Some(MachineTag(7)), ..PullWish::default() };
    let unknown = pull_with(&logger, &path, &wish);
    assert!(matches!(unknown, Err(PullError::NoSuchMachine { machine: MachineTag(7), .. })));
    assert_eq!(run_kept(&path), 0);
    assert_eq!(pull_for(&logger, &path, 2).new_records, 10);
    assert_eq!(fittings(&path), [(2, 0)]);
}

#[test]
fn what_the_flash_lost_is_reported_and_not_asked_for_again() {
    let (_dir, path) = place();
    let logger = shared(Scripted::with_segments(10));
    pull_into(&logger, &path);
    logger.borrow_mut().run(20);
    logger.borrow_mut().forget_below(15);
    let report = pull_into(&logger, &path);
    assert_eq!(report.new_records, 16);
    assert_eq!(report.gaps, [Gap { from: RecordSeq(10), to: RecordSeq(14) }]);
    // Record 10 was the fitting; runs 11 to 14 took 1011, 1012, 1013 and 1014 ms.
    assert_eq!((report.not_recorded_ms, report.not_recorded_edges), (4_050, 120));
    logger.borrow_mut().requests.clear();
    assert_eq!(pull_into(&logger, &path).new_records, 0);
    let asked = logger.borrow().requests.clone();
    assert!(asked.contains(&Request::ReadFrom { log: LogId(0xA0A0_0001), from: RecordSeq(31) }), "{asked:?}");
}

#[test]
fn a_hole_in_the_middle_of_the_log_is_passed_over_once() {
    let (_dir, path) = place();
    let logger = shared(Scripted { batch: 4, ..Scripted::with_segments(30) });
    for seq in [0, 9, 10, 11, 29] {
        logger.borrow_mut().records.remove(&seq);
    }
    let report = pull_into(&logger, &path);
    assert_eq!(report.new_records, 25);
    let gap = |from, to| Gap { from: RecordSeq(from), to: RecordSeq(to) };
    assert_eq!(report.gaps, [gap(0, 0), gap(9, 11), gap(29, 29)]);
    // Runs 0, 9, 10, 11 and 29.
    assert_eq!(report.not_recorded_ms, 5_059);
    let store = Database::open(&path).unwrap();
    let key = store.status_reports().unwrap()[0].key;
    assert_eq!(store.first_missing(key).unwrap(), RecordSeq(30));
}

#[test]
fn kinds_of_a_newer_firmware_are_kept_unread() {
    let (_dir, path) = place();
    let logger = shared(Scripted::with_segments(2));
    logger.borrow_mut().add_raw(vec![1, 1, 0, 99, 1]);
    logger.borrow_mut().add_raw(vec![7, 1, 2, 3]);
    logger.borrow_mut().run(2);
    let report = pull_into(&logger, &path);
    assert_eq!((report.new_records, report.unreadable_records), (6, 2));
    assert_eq!(report.acknowledged_below, Some(RecordSeq(6)), "kept is safe, read or not");
}

#[test]
fn totals_that_went_down_and_numbers_that_went_back_are_reported() {
    let (_dir, path) = place();
    let logger = shared(Scripted::with_segments(10));
    pull_into(&logger, &path);
    logger.borrow_mut().totals = Totals { run: RunMillis(5), edges: Edges(300) };
    let report = pull_into(&logger, &path);
    let went_down = Warning::TotalsWentDown { run_ms_before: 10_045, run_ms_now: 5 };
    assert_eq!(report.warnings, [went_down]);
    // A flash put back to an earlier copy, which then went on with other content.
    {
        let mut logger = logger.borrow_mut();
        logger.records.retain(|&seq, _| seq < 8);
        logger.next = 8;
        logger.add_raw(vec![1, 1, 5]);
    }
    let report = pull_into(&logger, &path);
    let went_back = Warning::NumbersWentBack { next_before: RecordSeq(11), next_now: RecordSeq(9) };
    assert!(report.warnings.contains(&went_back), "{:?}", report.warnings);
    assert_eq!((report.new_records, report.known_records, report.conflicting_records), (0, 8, 1));
    assert_eq!(run_kept(&path), 10_045, "what was kept first still counts");
}

#[test]
fn a_logger_that_cannot_read_its_log_is_left_alone() {
    let (_dir, path) = place();
    let logger = shared(Scripted { is_readable: false, ..Scripted::with_segments(3) });
    assert!(matches!(pull_with(&logger, &path, &PullWish::default()), Err(PullError::UnreadableLog)));
    assert_eq!(logger.borrow().requests, [Request::LoggerStatus]);
}

#[test]
fn a_log_in_the_making_is_waited_for_and_then_pulled() {
    let (_dir, path) = place();
    let logger = shared(Scripted { making: 3, ..Scripted::with_segments(5) });
    let heard = RefCell::new(Vec::new());
    let pause = |left| heard.borrow_mut().push(left);
    let report = pull_with(&logger, &path, &PullWish { pause: Some(&pause), ..PullWish::default() }).unwrap();
    assert_eq!(report.new_records, 5);
    assert_eq!(heard.into_inner(), [3, 2, 1], "one pause for each greeting without a log");
    assert_eq!(
        Database::open(&path).unwrap().status_reports().unwrap().len(),
        1,
        "the greeting with the log is kept"
    );
}

#[test]
fn a_log_that_never_gets_made_is_given_up_after_four_minutes_of_looking() {
    let (_dir, path) = place();
    let logger = shared(Scripted { making: 10_000, ..Scripted::with_segments(5) });
    let looks = RefCell::new(0);
    let pause = |_| *looks.borrow_mut() += 1;
    let outcome = pull_with(&logger, &path, &PullWish { pause: Some(&pause), ..PullWish::default() });
    // One look at once, and one after each of 240 seconds.
    assert!(matches!(outcome, Err(PullError::StillFormatting { sectors_left: 9_760 })), "{outcome:?}");
    assert_eq!(looks.into_inner(), 240);
    assert!(
        logger.borrow().requests.iter().all(|request| *request == Request::LoggerStatus),
        "nothing else is asked"
    );
}

#[test]
fn nobody_waits_for_a_log_who_was_not_told_how() {
    let (_dir, path) = place();
    let logger = shared(Scripted { making: 1, ..Scripted::with_segments(5) });
    let outcome = pull_with(&logger, &path, &PullWish::default());
    assert!(matches!(outcome, Err(PullError::StillFormatting { sectors_left: 1 })), "{outcome:?}");
}

#[test]
fn a_logger_that_refuses_orders_has_its_records_kept_all_the_same() {
    let (_dir, path) = place();
    let refuses_orders = Some(Refusal::FlashFailed);
    let logger = shared(Scripted { refuses_orders, ..Scripted::with_segments(12) });
    let report = pull_into(&logger, &path);
    assert_eq!((report.new_records, report.acknowledged_below), (12, None));
    let orders: Vec<Order> = report
        .warnings
        .iter()
        .map(|warning| match warning {
            Warning::NotTold { order, .. } => *order,
            other => panic!("{other:?}"),
        })
        .collect();
    assert_eq!(orders, [Order::Acknowledge, Order::Clock, Order::Machine]);
    logger.borrow_mut().refuses_orders = None;
    assert_eq!(pull_into(&logger, &path).acknowledged_below, Some(RecordSeq(12)));
}

#[test]
fn the_lamp_is_told_new_limits_and_left_alone_otherwise() {
    let (_dir, path) = place();
    let logger = shared(Scripted::with_segments(12));
    let limits = Limits { look_at: Some(RunMillis(3_600_000)), ..Limits::default() };
    let provider = move |store: &dyn Store, status: &LoggerStatus, machine: MachineTag| {
        assert_eq!((status.logger, machine), (LoggerId(0xFEED_0000_0000_0001), MachineTag(1)));
        assert_eq!(store.logs()?[0].segments.len(), 12, "it sees what was just pulled");
        Ok(Some(limits))
    };
    let wish = PullWish { lamp_limits: Some(&provider), ..PullWish::default() };
    assert!(pull_with(&logger, &path, &wish).unwrap().limits_set);
    assert_eq!(logger.borrow().settings.limits, limits);
    assert_eq!(logger.borrow().settings.machine, MachineTag(1));
    assert!(!pull_with(&logger, &path, &wish).unwrap().limits_set, "they stand already");
}

#[test]
fn a_logger_that_does_not_get_on_is_not_asked_for_ever() {
    let (_dir, path) = place();
    let logger = shared(Scripted { batch: 0, ..Scripted::with_segments(12) });
    let outcome = pull_with(&logger, &path, &PullWish::default());
    assert!(matches!(outcome, Err(PullError::BrokeOff { source: LoggerError::NotALogger { .. }, .. })));
}
