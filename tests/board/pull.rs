//! The host's own pull reads the board's log through its serial adapter, on a pseudo-terminal.

use host::app::hours::{check, report};
use host::app::logger::pull::{PullWish, pull};
use host::app::logger::pull_report::{PullError, PullReport};
use host::app::ports::{Clock, Store};
use host::logger_link::port_lock::{self, Holder};
use host::store::Database;
use host_core::entries::DoubtAnswer;
use shared_types::link::LogState;
use shared_types::{RecordSeq, UtcMillis};
use tests::cable::Cable;
use tests::emulator::{CLOTH_BUTTON, Emulator};

use super::{ms, started};

/// A computer whose clock stands still: 2031-04-05T06:07:08Z, by `date -u -d 2031-04-05T06:07:08Z +%s`.
struct StoppedClock;

impl Clock for StoppedClock {
    fn now(&self) -> UtcMillis {
        UtcMillis(1_933_135_628_000)
    }

    fn zone(&self) -> jiff::tz::TimeZone {
        jiff::tz::TimeZone::UTC
    }
}

pub fn pull_into(database: &mut Database, cable: &Cable) -> Result<PullReport, PullError> {
    let mut logger = port_lock::open(database.path(), cable.path(), Holder::Pull)
        .expect("the pseudo-terminal opens as a serial port");
    pull(&mut logger, database, &StoppedClock, &PullWish::default(), &mut |_| {})
}

fn log_of(board: &mut Emulator) -> (RecordSeq, RecordSeq) {
    match board.status().log {
        LogState::Ready { next, acknowledged, .. } => (next, acknowledged),
        other => panic!("there is no log: {other:?}"),
    }
}

#[test]
fn the_host_s_own_pull_reads_the_board_s_log_and_a_second_pull_only_what_is_new() {
    let folder = tempfile::tempdir().unwrap();
    let mut database = Database::open(&folder.path().join("pulled.db")).unwrap();
    let mut board = started();
    board.sew(700, 35.0, ms(1_500));
    board.press(CLOTH_BUTTON, ms(1_000));
    board.sew(80, 20.0, ms(1_500));
    let (next, _) = log_of(&mut board);

    let cable = Cable::plug(board);
    let report = pull_into(&mut database, &cable).unwrap();
    let mut board = cable.unplug();
    assert_eq!((report.new_records, report.known_records), (u64::from(next.0), 0));
    assert_eq!(report.new_edges, 780);
    // 699 periods of a 35th of a second, and 79 of a 20th.
    assert!(report.new_run_time_ms.abs_diff(19_971 + 3_950) <= 4, "{} ms", report.new_run_time_ms);
    assert_eq!((report.not_recorded_ms, report.not_recorded_edges), (0, 0));
    assert_eq!((report.conflicting_records, report.unreadable_records), (0, 0));
    assert!(report.clock_set);
    assert_eq!(log_of(&mut board).1, next, "what the database holds is acknowledged");

    board.sew(33, 20.0, ms(1_500));
    let (next_then, _) = log_of(&mut board);
    let cable = Cable::plug(board);
    let report = pull_into(&mut database, &cable).unwrap();
    drop(cable.unplug());
    assert_eq!(report.new_records, u64::from(next_then.0 - next.0));
    assert_eq!((report.new_edges, report.conflicting_records), (33, 0));
    let [log] = &database.logs().unwrap()[..] else { panic!("one log") };
    assert_eq!(log.segments.iter().map(|segment| u64::from(segment.edges)).sum::<u64>(), 813);
}

#[test]
fn a_pull_that_loses_the_board_in_the_middle_is_made_good_by_the_next_one() {
    let folder = tempfile::tempdir().unwrap();
    let mut database = Database::open(&folder.path().join("pulled.db")).unwrap();
    let mut board = started();
    for _ in 0..20 {
        board.sew(30, 40.0, ms(1_000));
        board.press(CLOTH_BUTTON, ms(100));
    }
    // The greeting is about 100 bytes and the first reply with records at most 1,000, so the power goes in the second.
    let cable = Cable::plug_for(board, 1_500);
    let broken = pull_into(&mut database, &cable);
    let mut board = cable.unplug();
    let Err(PullError::BrokeOff { report, .. }) = broken else { panic!("the board went away: {broken:?}") };
    assert!(report.new_records > 0, "what came before the power went is kept");
    board.power_cycle();
    assert_eq!(log_of(&mut board).1, RecordSeq(0), "nothing was acknowledged before it was safe");
    let cable = Cable::plug(board);
    let report = pull_into(&mut database, &cable).unwrap();
    drop(cable.unplug());
    assert_eq!((report.not_recorded_edges, report.conflicting_records), (0, 0));
    let [log] = &database.logs().unwrap()[..] else { panic!("one log") };
    assert_eq!(log.segments.iter().map(|segment| u64::from(segment.edges)).sum::<u64>(), 600);
}

#[test]
fn noise_on_the_needle_s_wire_stands_apart_from_real_work_until_somebody_says_what_it_was() {
    let folder = tempfile::tempdir().unwrap();
    let mut database = Database::open(&folder.path().join("pulled.db")).unwrap();
    let mut board = started();
    board.sew(500, 25.0, ms(1_500));
    // A minute of pulses that are long enough for strokes, three hundred in a second.
    board.sew(18_000, 300.0, ms(15_000));
    board.sew(700, 35.0, ms(1_500));
    let cable = Cable::plug(board);
    pull_into(&mut database, &cable).unwrap();
    drop(cable.unplug());

    let machine = |database: &Database| {
        let answer = report::report(database, &StoppedClock, None, None).unwrap();
        let [machine] = &answer.hours.machines[..] else { panic!("one machine") };
        let sums = [machine.unassigned, machine.undated, machine.doubtful.sum];
        assert_eq!(sums.map(|sum| sum.edges).iter().sum::<u64>(), machine.total.edges);
        assert_eq!(sums.map(|sum| sum.run_time_ms).iter().sum::<u64>(), machine.total.run_time_ms);
        (machine.total, machine.doubtful)
    };
    let (total, doubtful) = machine(&database);
    assert_eq!((total.edges, doubtful.to_check.edges), (19_200, 18_000));
    // 17,999 periods of a 300th of a second.
    assert!(doubtful.to_check.run_time_ms.abs_diff(59_997) <= 3, "{} ms", doubtful.to_check.run_time_ms);
    check::answer(&mut database, &StoppedClock, &[], DoubtAnswer::NotReal).unwrap();
    let (total, doubtful) = machine(&database);
    assert_eq!((total.edges, doubtful.to_check.edges, doubtful.set_aside.edges), (19_200, 0, 18_000));
    let noise = check::list(&database).unwrap().runs[0].run;
    check::answer(&mut database, &StoppedClock, &[noise], DoubtAnswer::Real).unwrap();
    let (total, doubtful) = machine(&database);
    assert_eq!((total.edges, doubtful.sum.edges), (19_200, 0), "and it counts as any other");
}
