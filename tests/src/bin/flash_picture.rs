//! Lets an image work for a while and keeps what it has left in flash, for the tests of every later image:
//! `cargo run -p tests --bin flash_picture -- NAME [IMAGE]`, once for each released format. Without IMAGE it is the one of the sources.
#![allow(clippy::cast_possible_truncation, reason = "the numbers of a few starts and bursts")]

use std::path::PathBuf;
use std::process::ExitCode;
use std::time::Duration;

use serde_json::json;
use shared_types::link::{LogState, Reply, Request};
use shared_types::log::{Ceiling, Limits, Settings};
use shared_types::{MachineTag, RawAngle, RecordSeq, RunMillis, UtcMillis};
use tests::board_image::board_image;
use tests::emulator::{CARE_BUTTON, CLOTH_BUTTON, Emulator};
use tests::flash_picture::FlashPicture;

/// Starts in the picture; each but the last has been cut from the power.
const STARTS: u32 = 6;
/// Bursts in each.
const BURSTS: u32 = 26;
/// 2031-04-05T06:07:08Z, by `date -u -d 2031-04-05T06:07:08Z +%s`.
const UTC: UtcMillis = UtcMillis(1_933_135_628_000);

fn main() -> ExitCode {
    let mut arguments = std::env::args().skip(1);
    let Some(name) = arguments.next() else {
        eprintln!("flash_picture NAME [IMAGE]");
        return ExitCode::from(2);
    };
    let image = arguments.next().map_or_else(|| board_image().to_owned(), PathBuf::from);
    let mut board = Emulator::start_with(&image, &json!({}));
    board.perform(&json!({ "op": "clock", "set": "2031-04-05T06:07:08" }));
    board.run_until_connected();
    for start in 0..STARTS {
        if start > 0 {
            board.power_cycle();
        }
        work(&mut board, start);
    }
    let picture = FlashPicture::take(board);
    println!("{} records, {} runs of bytes", picture.records.len(), picture.pieces.len());
    match picture.keep(&name) {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("{name} was not kept: {error}");
            ExitCode::FAILURE
        }
    }
}

/// A bit of everything that makes records.
fn work(board: &mut Emulator, start: u32) {
    let ms = Duration::from_millis;
    order(board, &Request::SetClock { utc: UtcMillis(UTC.0 + i64::from(start) * 3_600_000) });
    let limits = Limits {
        look_at: Some(RunMillis(14_400_000)),
        stop_at: Some(RunMillis(36_000_000)),
        retension_at: None,
        retension_every: Some(RunMillis(720_000)),
        ceiling: Some(Ceiling { from: RawAngle::new(3_000), to: RawAngle::new(3_600) }),
    };
    order(board, &Request::Apply(Settings { machine: MachineTag(1), knob_step: 20 + start as u16, limits }));
    order(board, &Request::Fit(MachineTag(start / 2 + 1)));
    for burst in 0..BURSTS {
        board.turn_knob(((start * 700 + burst * 37) % 4_096) as u16);
        board.sew(40 + 11 * (burst % 23), f64::from(12 + burst), ms(900));
        match burst % 6 {
            1 => board.press(CLOTH_BUTTON, ms(60)),
            3 => board.press(CLOTH_BUTTON, ms(1_000)),
            5 => board.press(CARE_BUTTON, ms(60 + 940 * u64::from(burst % 4 / 2))),
            _ => {}
        }
    }
    board.plug_knob(false);
    board.sew(60, 20.0, ms(1_500));
    board.plug_knob(true);
    board.run(ms(1_500));
    if let LogState::Ready { log, next, .. } = board.status().log {
        order(board, &Request::Acknowledge { log, below: RecordSeq(next.0 - 20) });
    }
    board.sew(25, 10.0, ms(1_500));
}

fn order(board: &mut Emulator, request: &Request) {
    board.ask(request, |reply| assert_eq!(reply, Reply::Done, "{request:?}"));
}
