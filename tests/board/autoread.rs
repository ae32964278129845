//! The board read by itself: plugged in, left plugged in, unplugged and plugged in again. Minutes are told to it, not waited for.

use std::cell::Cell;

use host::app::care::notify::{Notice, Notifier, NotifyError};
use host::app::logger::PullReport;
use host::app::ports::Store;
use host::cli::{CommandEnv, PortReader};
use host::store::Database;
use host_core::entries::{CareLimitSet, CareTaskName, Drive, EntryBody, MachineAdded, MoreLimits, Pile};
use shared_types::{MachineTag, UtcMillis};
use tests::cable::Cable;

use super::{ms, started};

const MINUTE: u64 = 60_000;

/// A desktop that counts what it is told.
#[derive(Debug, Default)]
struct Desktop(Cell<u32>);

impl Notifier for Desktop {
    fn notify(&self, _notice: &Notice) -> Result<(), NotifyError> {
        self.0.set(self.0.get() + 1);
        Ok(())
    }
}

/// What was read in one turn at the only port.
fn one(reader: &mut PortReader<'_>, minute: u64, cable: &Cable) -> Option<PullReport> {
    let mut read = reader.turn(minute * MINUTE, &[cable.path().to_owned()]);
    assert!(read.len() <= 1);
    read.pop().map(|(port, read)| {
        assert_eq!(port, cable.path());
        read.unwrap_or_else(|failure| panic!("not read: {failure}"))
    })
}

/// A machine that is asked to be oiled after a hundred strokes.
fn machine_that_is_soon_due(database: &mut Database) {
    let machine = MachineTag(1);
    let added = MachineAdded {
        machine,
        name: "Blue handle".to_owned(),
        pile: Pile::Cut,
        before_logger: None,
        since: UtcMillis(0),
        drive: Drive::Electric,
        has_logger: None,
        is_second_hand: None,
    };
    let limit = CareLimitSet {
        machine,
        task: CareTaskName("oiling".to_owned()),
        every_run: None,
        every_days: None,
        more: MoreLimits { every_strokes: Some(100), ..MoreLimits::default() },
    };
    for body in [EntryBody::MachineAdded(added), EntryBody::CareLimitSet(limit)] {
        database.add_entry(UtcMillis(0), &body).unwrap();
    }
}

#[test]
fn the_board_is_read_when_plugged_in_and_after_ten_quiet_minutes_and_care_is_told_once() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("studio.db");
    machine_that_is_soon_due(&mut Database::open(&path).unwrap());
    let (around, desktop) = (CommandEnv::new(Some(path), true), Desktop::default());
    let mut reader = PortReader::new(&around, &desktop);
    assert!(reader.turn(0, &[]).is_empty(), "nothing is plugged in");

    let mut board = started();
    board.sew(700, 35.0, ms(1_500));
    let cable = Cable::plug(board);
    let report = one(&mut reader, 1, &cable).expect("it is read as soon as it is there");
    assert_eq!((report.new_edges, report.not_recorded_edges, desktop.0.get()), (700, 0, 1));
    assert!(one(&mut reader, 2, &cable).is_none(), "nothing was sewn since");

    // Sewn while it stays plugged in; seen in minute 3, quiet for ten minutes in minute 13.
    cable.at_the_board(|board| board.sew(80, 20.0, ms(1_500)));
    for minute in 3..13 {
        assert!(one(&mut reader, minute, &cable).is_none(), "minute {minute}");
    }
    assert_eq!(one(&mut reader, 13, &cable).expect("ten quiet minutes").new_edges, 80);
    for minute in 14..26 {
        assert!(one(&mut reader, minute, &cable).is_none(), "no second time, minute {minute}");
    }

    let mut board = cable.unplug();
    assert!(reader.turn(26 * MINUTE, &[]).is_empty());
    board.sew(33, 20.0, ms(1_500));
    let cable = Cable::plug(board);
    let report = one(&mut reader, 27, &cable).expect("it was plugged in again");
    drop(cable.unplug());
    assert_eq!((report.new_edges, report.conflicting_records), (33, 0));
    assert_eq!(desktop.0.get(), 1, "what is due was told once");
}
