//! A pseudo-terminal between the emulated board and a program that believes it opens a serial port.
//!
//! A thread carries the bytes. Machine time passes as bytes are waited for, so nothing depends on how fast the computer is.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a test may stop at the first surprise"
)]

use std::fs::OpenOptions;
use std::io::{ErrorKind, Read, Write};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{self, Receiver, Sender};
use std::thread::JoinHandle;
use std::time::Duration;

use serde_json::json;
use serialport::{SerialPort, TTYPort};

use crate::emulator::Emulator;

/// How long the carrier listens for the program before it lets machine time pass.
const LISTEN: Duration = Duration::from_millis(1);
/// Machine time that passes between two looks at what the program has to say.
const TURN_NS: u64 = 5_000_000;

/// The cable while it is plugged in.
#[derive(Debug)]
pub struct Cable {
    path: String,
    is_pulled: Arc<AtomicBool>,
    carrier: JoinHandle<Emulator>,
    acts: Sender<Act>,
}

/// Something done to the board while it is plugged in.
type Act = Box<dyn FnOnce(&mut Emulator) + Send>;

impl Cable {
    /// Plugs the board into a new pseudo-terminal.
    ///
    /// # Panics
    /// When the system gives no pseudo-terminal.
    #[must_use]
    pub fn plug(board: Emulator) -> Self {
        Self::plug_for(board, usize::MAX)
    }

    /// As [`Self::plug`], but takes the power away, and the cable out, once the board has sent this many bytes.
    ///
    /// # Panics
    /// As [`Self::plug`].
    #[must_use]
    pub fn plug_for(board: Emulator, bytes: usize) -> Self {
        let (mut board_end, program_end) = TTYPort::pair().expect("a pseudo-terminal");
        board_end.set_timeout(LISTEN).expect("a time limit");
        let path = program_end.name().expect("a pseudo-terminal has a path");
        // Kept open, or the board's end would report a hang-up until the program opens the port; but as a plain file, because
        // the library locks its ports.
        let kept_open =
            OpenOptions::new().read(true).write(true).open(&path).expect("the pseudo-terminal opens");
        drop(program_end);
        let is_pulled = Arc::new(AtomicBool::new(false));
        let pulled = Arc::clone(&is_pulled);
        let (acts, waiting) = mpsc::channel();
        let carrier = std::thread::spawn(move || {
            let board = carry(board, board_end, &pulled, &waiting, bytes);
            drop(kept_open);
            board
        });
        Self { path, is_pulled, carrier, acts }
    }

    /// What the program opens.
    #[must_use]
    pub fn path(&self) -> &str {
        &self.path
    }

    /// Does something to the board while it stays plugged in, and waits until it is done.
    ///
    /// # Panics
    /// When the board or the carrier has failed meanwhile.
    pub fn at_the_board(&self, act: impl FnOnce(&mut Emulator) + Send + 'static) {
        let (done, is_done) = mpsc::channel();
        let act = move |board: &mut Emulator| {
            act(board);
            done.send(()).expect("the test waits");
        };
        self.acts.send(Box::new(act)).expect("the carrier is there");
        is_done.recv().expect("the carrier has done it");
    }

    /// Pulls the cable out and gives the board back.
    ///
    /// # Panics
    /// When the board or the carrier has failed meanwhile.
    #[must_use]
    pub fn unplug(self) -> Emulator {
        self.is_pulled.store(true, Ordering::Relaxed);
        self.carrier.join().expect("the carrier comes to its end")
    }
}

fn carry(
    mut board: Emulator,
    mut end: TTYPort,
    is_pulled: &AtomicBool,
    acts: &Receiver<Act>,
    mut bytes_left: usize,
) -> Emulator {
    let mut bytes = [0; 1024];
    while !is_pulled.load(Ordering::Relaxed) {
        if let Ok(act) = acts.try_recv() {
            act(&mut board);
        }
        match end.read(&mut bytes) {
            Ok(count) => board.send(&bytes[..count]),
            Err(error) if error.kind() == ErrorKind::TimedOut => {}
            Err(error) => panic!("the board's end of the pseudo-terminal: {error}"),
        }
        board.perform(&json!({ "op": "run_until_rx", "ns": TURN_NS, "delimiter": null }));
        let mut sent = board.take_received();
        sent.truncate(bytes_left);
        bytes_left -= sent.len();
        end.write_all(&sent).expect("the pseudo-terminal takes bytes");
        if bytes_left == 0 {
            board.perform(&json!({ "op": "power_off" }));
            break;
        }
    }
    board
}
