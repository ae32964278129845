//! The emulated board, driven from Rust: starts it on the board image, moves needle, knob and buttons, cuts the power, and talks to
//! the firmware through its USB cable with the shared frames.
//!
//! Time passes only while an operation lets it pass, and only the machine's time counts, so tests do not depend on how fast
//! they run.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a test may stop at the first surprise"
)]

use std::io::{BufRead, BufReader, Write};
use std::path::{Path, PathBuf};
use std::process::{Child, ChildStdin, ChildStdout, Command, Stdio};
use std::sync::OnceLock;
use std::time::Duration;

use serde_json::{Value, json};
use shared_types::limits::{MAX_FRAME, MAX_MESSAGE};
use shared_types::link::frame::{FrameReader, encode_frame};
use shared_types::link::{
    Live, LogState, LoggerStatus, Reply, Request, decode_message, encode_message, link_records,
};
use shared_types::log::{Event, Record, decode_body};
use shared_types::{LogId, RecordSeq};

use crate::board_image::{Lock, board_image, source_tree};

/// The pin of the first button: press for a near-miss, hold for a tear.
pub const CLOTH_BUTTON: u8 = 16;
/// The pin of the second button: press for care done, hold for a re-tensioned cloth.
pub const CARE_BUTTON: u8 = 17;
/// The pin that, joined to ground at the start, says that the knob is a dial.
pub const DIAL_STRAP: u8 = 22;
/// Longest machine time that a start or an answer may take.
const TIMEOUT: Duration = Duration::from_secs(5);

/// A running emulator with one board in it.
#[derive(Debug)]
pub struct Emulator {
    child: Child,
    to: ChildStdin,
    from: BufReader<ChildStdout>,
    /// Bytes that the board sent and nobody has taken yet.
    received: Vec<u8>,
    /// What was noted along the way.
    pub seen: Seen,
}

/// What the board went through since it was first powered.
#[derive(Clone, Debug, Default)]
pub struct Seen {
    /// Causes of all resets, in order, the first power-up included.
    pub resets: Vec<String>,
    /// Where planned power cuts came.
    pub cuts: Vec<String>,
    /// Instructions executed so far.
    pub instructions: u64,
    /// The world's time, in nanoseconds since the first power-up.
    pub time_ns: u64,
    /// Whether the board had no power at the last look.
    pub is_off: bool,
}

/// Where a planned power cut comes.
#[derive(Clone, Copy, Debug)]
pub enum Cut {
    /// After this many more instructions.
    Instructions(u64),
    /// After this much more of machine time.
    After(Duration),
    /// During the n-th flash operation from now (from 1), when this share of it is done.
    FlashOperation(u32, f64),
    /// During the n-th sector erase from now (from 1), when this share of it is done.
    Erase(u32, f64),
}

impl Emulator {
    /// Powers a new board with the board image in its flash, the rest of the flash erased.
    ///
    /// # Panics
    /// When the image cannot be built or a tool is missing; the message says what to install.
    #[must_use]
    pub fn start() -> Self {
        Self::start_with(board_image(), &json!({}))
    }

    /// As [`Self::start`], with an image and the emulator's own options.
    ///
    /// # Panics
    /// As [`Self::start`].
    #[must_use]
    pub fn start_with(image: &Path, options: &Value) -> Self {
        require_emulator();
        let mut child = Command::new("node")
            .arg(emulator_folder().join("bridge.mjs"))
            .arg(image)
            .arg(options.to_string())
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .spawn()
            .unwrap_or_else(|error| panic!("cannot run node: {error}; install Node.js 20 or newer"));
        let to = child.stdin.take().expect("a pipe to the emulator");
        let from = BufReader::new(child.stdout.take().expect("a pipe from the emulator"));
        Self { child, to, from, received: Vec::new(), seen: Seen::default() }
    }

    /// As [`Self::start`], with a log that an earlier start has made: making one looks at every byte of the flash, which takes
    /// the emulator a second and is not what most tests are about. Nothing has run yet, and no time has passed.
    ///
    /// # Panics
    /// As [`Self::start`].
    #[must_use]
    pub fn start_again() -> Self {
        static USED_FLASH: OnceLock<PathBuf> = OnceLock::new();
        let used_flash = USED_FLASH.get_or_init(|| {
            let _guard = Lock::take(&source_tree(), "used-flash.lock");
            let path = source_tree().join("target/used-flash.bin");
            let mut board = Self::start();
            board.run_until_connected();
            board.perform(&json!({ "op": "power_off" }));
            board.perform(&json!({ "op": "save_flash", "path": path }));
            path
        });
        let mut board = Self::start();
        board.perform(&json!({ "op": "load_flash", "path": used_flash }));
        board
    }

    /// Performs one operation of the emulator; its README lists them.
    ///
    /// # Panics
    /// When the emulator refuses it, or the board's core has stopped for good.
    pub fn perform(&mut self, operation: &Value) -> Value {
        self.try_perform(operation).unwrap_or_else(|stopped| panic!("{stopped}"))
    }

    /// As [`Self::perform`], for whoever wants to count boards whose core has stopped for good.
    ///
    /// # Errors
    /// Why it has stopped.
    ///
    /// # Panics
    /// When the emulator refuses the operation.
    pub fn try_perform(&mut self, operation: &Value) -> Result<Value, String> {
        writeln!(self.to, "{operation}").expect("the emulator takes operations");
        let mut line = String::new();
        self.from.read_line(&mut line).expect("the emulator answers");
        let answer: Value =
            serde_json::from_str(&line).unwrap_or_else(|_| panic!("the emulator ended at {operation}"));
        assert!(answer.get("error").is_none(), "{operation}: {answer}");
        self.received.extend(from_hex(answer["rx"].as_str().unwrap_or_default()));
        for reset in answer["resets"].as_array().into_iter().flatten() {
            self.seen.resets.push(reset["cause"].as_str().unwrap_or("?").to_owned());
        }
        if let Some(cut) = answer["powercut"].as_str() {
            self.seen.cuts.push(cut.to_owned());
        }
        self.seen.instructions = answer["insns"].as_u64().unwrap_or(self.seen.instructions);
        self.seen.time_ns = answer["t_ns"].as_u64().unwrap_or(self.seen.time_ns);
        self.seen.is_off = answer["powered"] == false;
        if answer.get("halted").is_some() {
            return Err(format!("the board has stopped: {}", answer["halted"]));
        }
        Ok(answer)
    }

    /// Lets machine time pass.
    pub fn run(&mut self, time: Duration) {
        self.perform(&json!({ "op": "run", "ns": nanoseconds(time) }));
    }

    /// Runs until the computer at the other end has opened the port.
    ///
    /// # Panics
    /// When it does not within five seconds of machine time.
    pub fn run_until_connected(&mut self) {
        let answer = self.perform(&json!({ "op": "run_until_usb", "ns": nanoseconds(TIMEOUT) }));
        assert_eq!(answer["connected"], true, "the board is not connected: {answer}");
        self.run(Duration::from_millis(5));
    }

    /// Gives needle strokes from now on, the first period beginning now; the n-th ends with the rising edge that counts.
    pub fn stroke(&mut self, count: u32, per_second: f64) {
        self.perform(&json!({ "op": "pulses", "n": count, "hz": per_second }));
    }

    /// Gives strokes and lets them pass, and `rest` after them.
    pub fn sew(&mut self, count: u32, per_second: f64, rest: Duration) {
        self.stroke(count, per_second);
        self.run(Duration::from_secs_f64(f64::from(count) / per_second) + rest);
    }

    /// Turns the knob to an angle of its sensor, 0 to 4095.
    pub fn turn_knob(&mut self, angle: u16) {
        self.perform(&json!({ "op": "angle", "v": angle }));
    }

    /// Sets the voltage of a dial, 0 to 4095 for the whole supply.
    pub fn turn_dial(&mut self, steps: u16) {
        self.perform(&json!({ "op": "dial", "v": steps }));
    }

    /// Puts the knob's sensor on the bus or takes it off.
    pub fn plug_knob(&mut self, present: bool) {
        self.perform(&json!({ "op": "sensor", "present": present }));
    }

    /// Keeps a finger on a button for a time, which passes, and half a second more.
    pub fn press(&mut self, pin: u8, time: Duration) {
        self.perform(&json!({ "op": "hold", "pin": pin, "down": true }));
        self.run(time);
        self.perform(&json!({ "op": "hold", "pin": pin, "down": false }));
        self.run(Duration::from_millis(500));
    }

    /// Plans a power cut; it comes while time passes.
    pub fn plan_cut(&mut self, cut: Cut) {
        let operation = match cut {
            Cut::Instructions(count) => json!({ "op": "cut", "insns": count }),
            Cut::After(time) => json!({ "op": "cut", "ns": nanoseconds(time) }),
            Cut::FlashOperation(number, share) => json!({ "op": "cut", "flash_op": number, "share": share }),
            Cut::Erase(number, share) => json!({ "op": "cut", "erase": number, "share": share }),
        };
        self.perform(&operation);
    }

    /// Takes the power away where it is still there, gives it back, and waits for the port.
    pub fn power_cycle(&mut self) {
        self.received.clear();
        self.perform(&json!({ "op": "reboot" }));
        self.run_until_connected();
    }

    /// Puts bytes on the cable.
    pub fn send(&mut self, bytes: &[u8]) {
        self.perform(&json!({ "op": "send", "hex": to_hex(bytes) }));
    }

    /// Puts a request on the cable and does not wait for the reply.
    ///
    /// # Panics
    /// When the cable is out.
    pub fn send_request(&mut self, request: &Request) {
        let mut message = [0; MAX_MESSAGE];
        let mut frame = [0; MAX_FRAME + 1];
        let message = encode_message(request, &mut message).expect("a request fits");
        let frame = encode_frame(message, &mut frame).expect("a frame fits").to_vec();
        self.send(&frame);
    }

    /// Takes what the board has sent.
    pub fn take_received(&mut self) -> Vec<u8> {
        std::mem::take(&mut self.received)
    }

    /// Asks the firmware and gives its reply to `read`.
    ///
    /// # Panics
    /// When no reply comes within five seconds of machine time, or one that cannot be read.
    pub fn ask<T>(&mut self, request: &Request, read: impl FnOnce(Reply<'_>) -> T) -> T {
        let answer = self.try_ask(request, read).unwrap_or_else(|stopped| panic!("{stopped}"));
        answer.unwrap_or_else(|| panic!("the power went at {request:?}"))
    }

    /// As [`Self::ask`], where the power may go meanwhile: then there is no answer.
    ///
    /// # Errors
    /// No reply within five seconds of machine time, one that cannot be read, or a core that has stopped.
    pub fn try_ask<T>(
        &mut self,
        request: &Request,
        read: impl FnOnce(Reply<'_>) -> T,
    ) -> Result<Option<T>, String> {
        if self.seen.is_off {
            return Ok(None);
        }
        self.send_request(request);
        let mut reader = FrameReader::new();
        loop {
            for byte in self.take_received() {
                if let Some(message) = reader.push(byte) {
                    let message = message.map_err(|error| format!("after {request:?}: {error}"))?;
                    let reply = decode_message(message).map_err(|error| format!("{request:?}: {error}"))?;
                    return Ok(Some(read(reply)));
                }
            }
            let answer = self.try_perform(&json!({ "op": "run_until_rx", "ns": nanoseconds(TIMEOUT) }))?;
            if answer["arrived"] != true {
                return if self.seen.is_off { Ok(None) } else { Err(format!("no reply to {request:?}")) };
            }
        }
    }

    /// Asks who it is.
    ///
    /// # Panics
    /// When it answers something else.
    pub fn status(&mut self) -> LoggerStatus {
        self.ask(&Request::LoggerStatus, |reply| match reply {
            Reply::LoggerStatus(status) => status,
            other => panic!("not a greeting: {other:?}"),
        })
    }

    /// Asks for a sample of the inputs.
    ///
    /// # Panics
    /// When it answers something else.
    pub fn live(&mut self) -> Live {
        self.ask(&Request::Live, |reply| match reply {
            Reply::Live(live) => live,
            other => panic!("not a sample of the inputs: {other:?}"),
        })
    }

    /// Reads the whole log: each record's number and its body as it comes over the link.
    ///
    /// # Panics
    /// When there is no log, or it cannot be read.
    pub fn raw_records(&mut self) -> Vec<(RecordSeq, Vec<u8>)> {
        let LogState::Ready { log, oldest, .. } = self.status().log else {
            panic!("there is no readable log")
        };
        let mut records = Vec::new();
        let mut from = oldest;
        loop {
            let (next, end) = self.read_batch(log, from, &mut records);
            from = next;
            if end {
                return records;
            }
        }
    }

    fn read_batch(
        &mut self,
        log: LogId,
        from: RecordSeq,
        into: &mut Vec<(RecordSeq, Vec<u8>)>,
    ) -> (RecordSeq, bool) {
        self.ask(&Request::ReadFrom { log, from }, |reply| {
            let Reply::Records(batch) = reply else { panic!("not records: {reply:?}") };
            for record in link_records(batch.records) {
                let record = record.expect("a batch that can be taken apart");
                into.push((record.seq, record.body.to_vec()));
            }
            (batch.next, batch.end)
        })
    }

    /// Reads the whole log.
    ///
    /// # Panics
    /// As [`Self::raw_records`], and at a record that is none of this version.
    pub fn records(&mut self) -> Vec<(RecordSeq, Record)> {
        let decoded = |body: Vec<u8>| decode_body(&body).expect("a record of this version");
        self.raw_records().into_iter().map(|(seq, body)| (seq, decoded(body))).collect()
    }

    /// Reads the log and picks from its events.
    pub fn events<T>(&mut self, pick: impl FnMut(Event) -> Option<T>) -> Vec<T> {
        self.records().into_iter().map(|(_, record)| record.event).filter_map(pick).collect()
    }
}

impl Drop for Emulator {
    fn drop(&mut self) {
        // It may have ended by itself; either way nobody is left to be told.
        if self.child.kill().is_ok() {
            drop(self.child.wait());
        }
    }
}

fn emulator_folder() -> PathBuf {
    source_tree().join("tests/emulator")
}

/// Installs the emulator's one package where it is missing.
fn require_emulator() {
    static READY: OnceLock<()> = OnceLock::new();
    READY.get_or_init(|| {
        let folder = emulator_folder();
        let _guard = Lock::take(&source_tree(), "emulator-package.lock");
        if folder.join("node_modules/rp2040js/package.json").exists() {
            return;
        }
        let status = Command::new("npm")
            .args(["ci", "--no-audit", "--no-fund", "--silent"])
            .current_dir(&folder)
            .status()
            .unwrap_or_else(|error| panic!("cannot run npm: {error}; install Node.js 20 or newer, with npm"));
        assert!(
            status.success(),
            "the emulator's package cannot be installed: run `npm ci` in tests/emulator"
        );
    });
}

fn nanoseconds(time: Duration) -> u64 {
    u64::try_from(time.as_nanos()).expect("a time that a test can wait for")
}

/// Two hexadecimal digits for each byte.
#[must_use]
pub fn to_hex(bytes: &[u8]) -> String {
    bytes.iter().fold(String::with_capacity(2 * bytes.len()), |mut hex, byte| {
        use std::fmt::Write;
        write!(hex, "{byte:02x}").expect("a string takes text");
        hex
    })
}

/// The bytes of an even number of hexadecimal digits.
///
/// # Panics
/// When they are something else.
#[must_use]
pub fn from_hex(hex: &str) -> Vec<u8> {
    let pairs = hex.as_bytes().chunks(2);
    pairs.map(|pair| u8::from_str_radix(std::str::from_utf8(pair).unwrap(), 16).unwrap()).collect()
}
