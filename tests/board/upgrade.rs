//! Today's image on the flash that an earlier one has left: nothing that was recorded, counted or set is lost.

use host::store::Database;
use shared_types::link::{Hello, LogState};
use shared_types::log::{Ceiling, Limits, Settings};
use shared_types::{MachineTag, RawAngle, RecordSeq, RunMillis};
use tests::board_image::FlashPiece;
use tests::cable::Cable;
use tests::emulator::Emulator;
use tests::flash_picture::{FlashPicture, file};

use super::ms;
use super::pull::pull_into;

/// Written by the image of version 0.1.0, in the format in which logs are read and written since.
const PICTURE: &str = "flash-0.1.0";
const LOG_START: u32 = 0x2_A000;

/// What the makers of the picture set last: `tests/src/bin/flash_picture.rs`, sixth start.
fn settings_of_the_picture() -> Settings {
    let ceiling = Some(Ceiling { from: RawAngle::new(3_000), to: RawAngle::new(3_600) });
    Settings {
        machine: MachineTag(3),
        knob_step: 25,
        // A press of care done has put these two to rest.
        limits: Limits { look_at: None, stop_at: None, ceiling, ..Limits::default() },
    }
}

struct Standing {
    next: RecordSeq,
    acknowledged: RecordSeq,
}

fn standing(hello: &Hello) -> Result<Standing, String> {
    match hello.log {
        LogState::Ready { next, acknowledged, .. } => Ok(Standing { next, acknowledged }),
        other => Err(format!("no log: {other:?}")),
    }
}

fn log_id(hello: &Hello) -> Option<u32> {
    if let LogState::Ready { log, .. } = hello.log { Some(log.0) } else { None }
}

/// Everything that an upgrade must keep; the first thing that it has not kept.
fn check_upgrade(board: &mut Emulator, picture: &FlashPicture) -> Result<(), String> {
    let (before, now) = (&picture.hello, board.hello());
    let (old, new) = (standing(before)?, standing(&now)?);
    let claims = [
        (now.logger == before.logger, "the logger is another"),
        (log_id(&now) == log_id(before), "the log is another"),
        (now.boot.0 == before.boot.0 + 1, "the count of starts does not go on"),
        (now.totals.run >= before.totals.run, "the run time fell"),
        (now.totals.edges >= before.totals.edges, "the strokes fell"),
        (now.settings == before.settings, "the settings are others"),
        (new.acknowledged == old.acknowledged, "the cursor moved"),
        (new.next > old.next, "nothing was written by the start"),
    ];
    if let Some((_, lost)) = claims.iter().find(|(holds, _)| !holds) {
        return Err(format!("{lost}: {now:?} after {before:?}"));
    }
    let records = board.raw_records();
    let (kept, added) = records.split_at_checked(picture.records.len()).ok_or("records are missing")?;
    if let Some((found, told)) = kept.iter().zip(&picture.records).find(|(found, told)| found != told) {
        return Err(format!("{found:x?} was {told:x?}"));
    }
    let numbers = added.iter().map(|(seq, _)| seq.0);
    if !numbers.eq(old.next.0..standing(&board.hello())?.next.0) {
        return Err("the numbers do not go on".to_owned());
    }
    Ok(())
}

#[test]
fn todays_image_goes_on_with_the_log_and_the_settings_of_an_earlier_one() {
    let picture = FlashPicture::read(PICTURE);
    assert!(picture.records.len() >= 300, "{} records", picture.records.len());
    assert_eq!(picture.hello.settings.machine, MachineTag(3));
    let mut board = picture.start_todays_image();
    check_upgrade(&mut board, &picture).unwrap();
    let Limits { retension_at, retension_every, .. } = board.hello().settings.limits;
    let expected = settings_of_the_picture();
    let limits = Limits { retension_at, retension_every, ..expected.limits };
    assert_eq!(board.hello().settings, Settings { limits, ..expected });
    assert_eq!(retension_every, Some(RunMillis(720_000)));
    let before = board.hello().totals;
    board.sew(50, 25.0, ms(1_500));
    // 49 periods of 40 ms.
    let now = board.hello().totals;
    assert_eq!((now.edges.0 - before.edges.0, (now.run.0 - before.run.0).abs_diff(1_960) <= 2), (50, true));
}

#[test]
fn a_pull_from_the_upgraded_logger_brings_every_old_record_and_the_totals_add_up() {
    let picture = FlashPicture::read(PICTURE);
    let mut board = picture.start_todays_image();
    board.sew(50, 25.0, ms(1_500));
    let next = standing(&board.hello()).unwrap().next;
    let folder = tempfile::tempdir().unwrap();
    let mut database = Database::open(&folder.path().join("pulled.db")).unwrap();
    let cable = Cable::plug(board);
    let report = pull_into(&mut database, &cable).unwrap();
    drop(cable.unplug());
    assert_eq!((report.new_records, report.unreadable_records), (u64::from(next.0), 0));
    assert_eq!(report.new_edges, picture.hello.totals.edges.0 + 50);
    assert_eq!((report.not_recorded_ms, report.not_recorded_edges), (0, 0));
}

/// The picture with every piece of a region somewhere else, as if an upgrade had moved the region.
fn with_pieces_moved(from: u32, to: u32, by: u32) -> FlashPicture {
    let mut picture = FlashPicture::read(PICTURE);
    for FlashPiece { offset, .. } in &mut picture.pieces {
        if (from..to).contains(offset) {
            *offset += by;
        }
    }
    picture
}

#[test]
fn a_log_region_that_had_moved_by_a_sector_would_be_noticed() {
    let moved = with_pieces_moved(LOG_START, u32::MAX, 0x1000);
    let lost = check_upgrade(&mut moved.start_todays_image(), &moved).unwrap_err();
    assert!(lost.starts_with("no log"), "{lost}");
}

#[test]
fn settings_that_had_moved_would_be_noticed() {
    let mut gone = FlashPicture::read(PICTURE);
    gone.pieces.retain(|piece| piece.offset >= LOG_START);
    let lost = check_upgrade(&mut gone.start_todays_image(), &gone).unwrap_err();
    assert!(lost.starts_with("the settings are others"), "{lost}");
}

#[test]
fn one_record_that_reads_differently_would_be_noticed() {
    let mut other = FlashPicture::read(PICTURE);
    *other.records[200].1.last_mut().unwrap() ^= 1;
    let lost = check_upgrade(&mut other.start_todays_image(), &other).unwrap_err();
    assert!(lost.contains("was"), "{lost}");
}

#[test]
fn a_kept_picture_never_changes() {
    // CRC-32 by `python3 -c "import sys, zlib; print(hex(zlib.crc32(open(sys.argv[1], 'rb').read())))" FILE`.
    for (ending, expected) in [("flash", 0x3F79_9789_u32), ("told", 0xE7C4_5F63)] {
        let found = crc32(&std::fs::read(file(PICTURE, ending)).unwrap());
        assert_eq!(found, expected, "{PICTURE}.{ending}");
    }
}

/// CRC-32 as in zlib: the catalogue's ISO-HDLC, bit by bit.
fn crc32(bytes: &[u8]) -> u32 {
    !bytes.iter().fold(!0, |sum: u32, byte| {
        (0..8).fold(
            sum ^ u32::from(*byte),
            |sum, _| {
                if sum & 1 == 1 { (sum >> 1) ^ 0xEDB8_8320 } else { sum >> 1 }
            },
        )
    })
}
