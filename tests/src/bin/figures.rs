//! The logger's figures, from the board image and the emulator: `cargo run --release -p tests --bin figures`.
//! What they mean, and where the currents come from, stands in `firmware/FIGURES.md`.
#![allow(
    clippy::unwrap_used,
    clippy::panic,
    clippy::cast_possible_truncation,
    reason = "a measurement may stop at the first surprise"
)]

use shared_types::limits::FRAME_CHECK;
use shared_types::limits::MAX_MESSAGE;
use shared_types::link::encode_message;
use std::time::Duration;

use serde_json::json;
use shared_types::RecordSeq;
use shared_types::link::{LogState, Reply, Request, link_records};
use tests::board_image::{Contents, board_image, source_tree};
use tests::board_torture::UsedFlash;
use tests::emulator::Emulator;

/// Between two samples while nothing happens (firmware/pico/src/sampler.rs), in seconds.
const IDLE_TICK_S: f64 = 0.09;
/// The processor's clock; instructions of this core take one to two cycles, and one is counted here.
const CLOCK_HZ: f64 = 125e6;
/// Currents in mA: FIGURES.md names the sources, none of them measured here.
const AWAKE_MA: f64 = 25.0;
const ASLEEP_MA: f64 = 10.0;
const SENSORS_MA: f64 = 6.5 + 2.7 + 0.2;
/// The board's supply is 5 V; its regulator is taken to lose a sixth.
const SUPPLY_V: f64 = 3.3 / (5.0 / 6.0);

fn main() {
    let contents = Contents::read(board_image());
    println!("flash of the image                 {:>10} bytes", contents.flash_bytes);
    println!("memory, the stack aside            {:>10} bytes", contents.memory_bytes);
    let used = UsedFlash::make(board_image(), 1);
    let (mut board, start) = on(&used);
    println!("start, log nearly full             {:>10.1} ms of machine time", start.as_secs_f64() * 1e3);
    println!("                                   {:>10} instructions", board.seen.instructions);
    let awake_share = instructions(&mut board);
    energy(awake_share);
    pull(&mut board, &used);
}

fn on(used: &UsedFlash) -> (Emulator, Duration) {
    let chip = source_tree().join(format!("target/figures-{}.bin", std::process::id()));
    std::fs::write(&chip, used.content()).unwrap();
    let mut board = Emulator::start();
    board.perform(&json!({ "op": "power_off" }));
    board.perform(&json!({ "op": "load_flash", "path": chip }));
    board.perform(&json!({ "op": "reboot" }));
    std::fs::remove_file(&chip).unwrap();
    let began = board.seen.time_ns;
    board.perform(&json!({ "op": "run_until_usb", "ns": 5_000_000_000_u64 }));
    let took = Duration::from_nanos(board.seen.time_ns - began);
    (board, took)
}

/// Per idle tick and per burst; the share of the time in which the processor is awake while it tufts.
fn instructions(board: &mut Emulator) -> f64 {
    board.run(Duration::from_secs(5));
    let spent = |board: &mut Emulator, work: &mut dyn FnMut(&mut Emulator)| {
        let (before, from) = (board.seen.instructions, board.seen.time_ns);
        work(board);
        ((board.seen.instructions - before) as f64, (board.seen.time_ns - from) as f64 / 1e9)
    };
    let (idle, idle_s) = spent(board, &mut |board| board.run(Duration::from_secs(60)));
    let per_tick = idle / idle_s * IDLE_TICK_S;
    println!("idle tick                          {per_tick:>10.0} instructions");
    let bursts = 30;
    let (busy, busy_s) = spent(board, &mut |board| {
        for _ in 0..bursts {
            // A burst of 6 s and a gap of 4 s, the medians of the reference day.
            board.sew(120, 20.0, Duration::from_secs(4));
        }
    });
    let per_burst = (busy - idle / idle_s * busy_s) / f64::from(bursts);
    println!("burst of 120 strokes in 6 s        {per_burst:>10.0} instructions on top of idling");
    busy / busy_s / CLOCK_HZ
}

fn energy(awake_share: f64) {
    let ma = AWAKE_MA * awake_share + ASLEEP_MA * (1.0 - awake_share) + SENSORS_MA;
    println!("awake while tufting                {:>10.2} % of the time", awake_share * 100.0);
    println!("energy of one hour of tufting      {:>10.2} Wh (estimate)", ma / 1_000.0 * SUPPLY_V);
}

/// Reads some thousand records as fast as the board gives them.
fn pull(board: &mut Emulator, used: &UsedFlash) {
    let LogState::Ready { log, next, .. } = board.status().log else { panic!("no readable log") };
    let mut from = RecordSeq(next.0.min(used.records.len() as u32) - 10_000);
    let (mut records, mut body_bytes, mut wire_bytes) = (0_u32, 0, 0);
    let began = board.seen.time_ns;
    loop {
        let request = Request::ReadFrom { log, from };
        let (to, end, length) = board.ask(&request, |reply| {
            let Reply::Records(batch) = reply else { panic!("not records: {reply:?}") };
            for record in link_records(batch.records) {
                records += 1;
                body_bytes += record.unwrap().body.len();
            }
            let mut message = [0; MAX_MESSAGE];
            let length = encode_message(&reply, &mut message).unwrap().len();
            (batch.next, batch.end, length)
        });
        // Check, one byte for each 254 begun, and the closing zero (shared-types/FORMAT.md).
        let content = length + FRAME_CHECK;
        wire_bytes += content + content.div_ceil(254) + 1;
        from = to;
        if end {
            break;
        }
    }
    let seconds = (board.seen.time_ns - began) as f64 / 1e9;
    let rate = f64::from(records) / seconds;
    println!("pull                               {rate:>10.0} records per second of machine time");
    println!("                                   {:>10.0} kB per second", wire_bytes as f64 / 1e3 / seconds);
    println!("record bytes in all bytes sent     {:>10.1} %", body_bytes as f64 * 100.0 / wire_bytes as f64);
}
