//! The host's own pull reads the board's log through its serial adapter, on a pseudo-terminal.

use host::app::ports::{Clock, Store};
use host::app::pull::{PullError, PullReport, PullWish, pull};
use host::logger_link::serial;
use host::store::Database;
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
    let mut logger = serial::open(cable.path()).expect("the pseudo-terminal opens as a serial port");
    pull(&mut logger, database, &StoppedClock, &PullWish::default(), &mut |_| {})
}

fn log_of(board: &mut Emulator) -> (RecordSeq, RecordSeq) {
    match board.hello().log {
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
