//! Today's image on the flash that an earlier one has left, and an earlier one on today's: nothing that was recorded, counted or
//! set is lost.

use firmware::sim::nor::Nor;
use firmware::store::{Layout, StartFacts, Store};
use host::store::Database;
use serde_json::json;
use shared_types::link::{LogState, LoggerStatus, Refusal, Reply, Request};
use shared_types::log::{
    Ceiling, Event, Fault, FaultChange, FirmwareVersion, Limits, Record, Segment, Settings, StartReason,
    Started,
};
use shared_types::{MachineTag, RawAngle, RecordSeq, RunMillis, UptimeMillis};
use tests::board_image::FlashPiece;
use tests::cable::Cable;
use tests::emulator::Emulator;
use tests::flash_picture::{FlashPicture, file, put_image, released_image, todays_image};

use super::ms;
use super::pull::pull_into;

/// Written by the image of version 0.1.0, in the format in which logs are read and written since.
const PICTURE: &str = "flash-0.1.0";
/// All that were kept, one of each version that wrote something of its own.
const PICTURES: [&str; 2] = [PICTURE, "flash-0.2.0"];
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

fn standing(status: &LoggerStatus) -> Result<Standing, String> {
    match status.log {
        LogState::Ready { next, acknowledged, .. } => Ok(Standing { next, acknowledged }),
        other => Err(format!("no log: {other:?}")),
    }
}

fn log_id(status: &LoggerStatus) -> Option<u32> {
    if let LogState::Ready { log, .. } = status.log { Some(log.0) } else { None }
}

/// Everything that an upgrade must keep; the first thing that it has not kept.
fn check_upgrade(board: &mut Emulator, picture: &FlashPicture) -> Result<(), String> {
    let (before, now) = (&picture.status, board.status());
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
    if !numbers.eq(old.next.0..standing(&board.status())?.next.0) {
        return Err("the numbers do not go on".to_owned());
    }
    Ok(())
}

#[test]
fn todays_image_goes_on_with_the_log_and_the_settings_of_an_earlier_one() {
    for name in PICTURES {
        let picture = FlashPicture::read(name);
        assert!(picture.records.len() >= 300, "{name}: {} records", picture.records.len());
        assert_eq!(picture.status.settings.machine, MachineTag(3), "{name}");
        let mut board = picture.start_todays_image();
        check_upgrade(&mut board, &picture).unwrap();
        let Limits { retension_at, retension_every, .. } = board.status().settings.limits;
        let expected = settings_of_the_picture();
        let limits = Limits { retension_at, retension_every, ..expected.limits };
        assert_eq!(board.status().settings, Settings { limits, ..expected }, "{name}");
        assert_eq!(retension_every, Some(RunMillis(720_000)), "{name}");
        let before = board.status().totals;
        board.sew(50, 25.0, ms(1_500));
        // 49 periods of 40 ms.
        let now = board.status().totals;
        let run_is_right = (now.run.0 - before.run.0).abs_diff(1_960) <= 2;
        assert_eq!((now.edges.0 - before.edges.0, run_is_right), (50, true), "{name}");
    }
}

#[test]
fn a_pull_from_the_upgraded_logger_brings_every_old_record_and_the_totals_add_up() {
    let picture = FlashPicture::read(PICTURE);
    let mut board = picture.start_todays_image();
    board.sew(50, 25.0, ms(1_500));
    let next = standing(&board.status()).unwrap().next;
    let folder = tempfile::tempdir().unwrap();
    let mut database = Database::open(&folder.path().join("pulled.db")).unwrap();
    let cable = Cable::plug(board);
    let report = pull_into(&mut database, &cable).unwrap();
    drop(cable.unplug());
    assert_eq!((report.new_records, report.unreadable_records), (u64::from(next.0), 0));
    assert_eq!(report.new_edges, picture.status.totals.edges.0 + 50);
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

/// The store's settings and log on the board.
const LAYOUT: Layout = Layout { settings: 0x2_8000..LOG_START, log: LOG_START..0x20_0000 };
const CHIP_SECTORS: usize = 512;

/// What a later firmware than 0.1.0 writes, by the library: faults that 0.1.0 does not know, and running behind each.
fn write_newer_records(board: &mut Emulator) -> Vec<(RecordSeq, Record)> {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("chip.bin");
    board.perform(&json!({ "op": "power_off" }));
    board.perform(&json!({ "op": "save_flash", "path": path }));
    let mut nor = Nor::new(CHIP_SECTORS, 0);
    nor.load(0, &std::fs::read(&path).unwrap());
    let mut store = Store::open(nor, LAYOUT, StartFacts { chip_id: None, random: 1 })
        .map_err(|(error, _)| error)
        .unwrap();
    let boot = store.boot();
    let started = Started {
        reason: StartReason::PowerOn,
        firmware: FirmwareVersion { major: 0, minor: 2, patch: 0 },
        totals: store.totals(),
    };
    let mut events = vec![Event::Started(started)];
    for fault in [Fault::StampsAlone, Fault::CountsAlone, Fault::KnobShakes] {
        events.push(Event::Fault(FaultChange { fault, present: true }));
        let angle = Some(RawAngle::new(1_500));
        events.push(Event::Segment(Segment { run: RunMillis(5_000), edges: 101, angle, continues: false }));
        events.push(Event::Fault(FaultChange { fault, present: false }));
    }
    let written = (0..).zip(events).map(|(place, event)| {
        let record = Record { boot, at: UptimeMillis(10_000 * place), event };
        (store.append(&record).unwrap(), record)
    });
    let written = written.collect();
    std::fs::write(&path, store.into_flash().bytes()).unwrap();
    board.perform(&json!({ "op": "load_flash", "path": path }));
    written
}

#[test]
fn an_older_image_and_todays_take_turns_on_one_log_and_lose_nothing() {
    let (old, new) = (released_image("pico-0.1.0"), todays_image());
    let picture = FlashPicture::read(PICTURE);
    let mut board = picture.start_image(&old);
    assert_eq!(board.status().build, "pico 0.1.0");
    board.sew(50, 25.0, ms(1_500));
    let sewn_by_old = board.status().totals;
    assert_eq!(sewn_by_old.edges.0, picture.status.totals.edges.0 + 50);

    put_image(&mut board, &new);
    board.power_cycle();
    assert_ne!(board.status().build, "pico 0.1.0");
    assert_eq!(board.status().totals, sewn_by_old);
    board.sew(60, 30.0, ms(1_500));
    let before = board.status().totals;
    let newer = write_newer_records(&mut board);

    // 0.1.0 does not show what it does not know, and counts all the same: three segments of 5 s and 101 edges.
    put_image(&mut board, &old);
    board.power_cycle();
    let back = board.status();
    assert_eq!((back.totals.edges.0, back.totals.run.0), (before.edges.0 + 303, before.run.0 + 15_000));
    board.sew(70, 35.0, ms(1_500));
    let shown = board.records();
    let is_fault = |record: &Record| matches!(record.event, Event::Fault(_));
    for (seq, record) in &newer {
        assert_eq!(shown.contains(&(*seq, record.clone())), !is_fault(record), "{seq:?} {record:?}");
    }

    put_image(&mut board, &new);
    board.power_cycle();
    let all = board.records();
    assert!(newer.iter().all(|it| all.contains(it)), "what 0.1.0 did not show is there again");
    assert!(shown.iter().all(|it| all.contains(it)), "what 0.1.0 wrote is there");
    let status = board.status();
    assert_eq!(status.totals.edges.0, before.edges.0 + 303 + 70);
    assert_eq!((status.logger, log_id(&status)), (picture.status.logger, log_id(&picture.status)));
    assert_eq!(status.settings, picture.status.settings);
    let LogState::Ready { next, .. } = status.log else { panic!("{:?}", status.log) };
    let numbers: Vec<u32> = all.iter().map(|(seq, _)| seq.0).collect();
    assert_eq!(numbers, (numbers[0]..next.0).collect::<Vec<u32>>(), "each number once");
}

#[test]
fn todays_host_pulls_from_the_image_of_0_1_0_which_refuses_what_it_does_not_know() {
    let picture = FlashPicture::read(PICTURE);
    let mut board = picture.start_image(&released_image("pico-0.1.0"));
    board.sew(50, 25.0, ms(1_500));
    let answer = |reply: Reply<'_>| matches!(reply, Reply::Refused(Refusal::NotUnderstood));
    assert!(board.ask(&Request::Diagnostics, answer), "it does not know what it had to put up with");
    let folder = tempfile::tempdir().unwrap();
    let mut database = Database::open(&folder.path().join("pulled.db")).unwrap();
    let next = standing(&board.status()).unwrap().next;
    let cable = Cable::plug(board);
    let report = pull_into(&mut database, &cable).unwrap();
    let mut board = cable.unplug();
    assert_eq!((report.new_records, report.unreadable_records), (u64::from(next.0), 0));
    assert_eq!(report.new_edges, picture.status.totals.edges.0 + 50);
    assert_eq!(standing(&board.status()).unwrap().acknowledged, next);
}

#[test]
fn a_kept_picture_never_changes() {
    // CRC-32 by `python3 -c "import sys, zlib; print(hex(zlib.crc32(open(sys.argv[1], 'rb').read())))" FILE`.
    for (name, ending, expected) in [
        (PICTURE, "flash", 0x3F79_9789_u32),
        (PICTURE, "told", 0xE7C4_5F63),
        ("pico-0.1.0", "bin", 0x8ECE_7361),
        ("flash-0.2.0", "flash", 0x40F2_2126),
        ("flash-0.2.0", "told", 0x145B_21D4),
    ] {
        let found = crc32(&std::fs::read(file(name, ending)).unwrap());
        assert_eq!(found, expected, "{name}.{ending}");
    }
}

/// CRC-32 as in zlib: the catalogue's ISO-HDLC, bit by bit.
pub fn crc32(bytes: &[u8]) -> u32 {
    !bytes.iter().fold(!0, |sum: u32, byte| {
        (0..8).fold(
            sum ^ u32::from(*byte),
            |sum, _| {
                if sum & 1 == 1 { (sum >> 1) ^ 0xEDB8_8320 } else { sum >> 1 }
            },
        )
    })
}
