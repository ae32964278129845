//! A pseudo-terminal between the emulated board and a program that believes it opens a serial port.
//!
//! A thread carries the bytes. Machine time passes as bytes are waited for, so nothing depends on how fast the computer is; a cable
//! for a person's hands keeps machine time behind the computer's clock instead.

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
use std::sync::mpsc::{Receiver, Sender, channel};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

use serde_json::json;
use serialport::{SerialPort, TTYPort};

use crate::emulator::Emulator;

/// How long the carrier listens for the program before it lets machine time pass.
const LISTEN: Duration = Duration::from_millis(1);
/// Machine time that passes between two looks at what the program has to say.
const TURN_NS: u64 = 5_000_000;

/// What is done to the board between two looks; it lets no time pass.
pub type Order = Box<dyn FnOnce(&mut Emulator) + Send>;

/// The cable while it is plugged in.
#[derive(Debug)]
pub struct Cable {
    path: String,
    is_pulled: Arc<AtomicBool>,
    orders: Sender<Order>,
    carrier: JoinHandle<Emulator>,
}

/// How the carrier goes about it.
#[derive(Clone, Copy, Debug)]
struct Carriage {
    /// The power goes, and the cable is out, once the board has sent this many bytes.
    bytes: usize,
    /// Machine time never runs ahead of the computer's clock.
    is_real_time: bool,
}

impl Cable {
    /// Plugs the board into a new pseudo-terminal.
    ///
    /// # Panics
    /// When the system gives no pseudo-terminal.
    #[must_use]
    pub fn plug(board: Emulator) -> Self {
        Self::plug_in(board, Carriage { bytes: usize::MAX, is_real_time: false })
    }

    /// As [`Self::plug`], but machine time never runs ahead of the computer's clock.
    ///
    /// # Panics
    /// As [`Self::plug`].
    #[must_use]
    pub fn plug_in_real_time(board: Emulator) -> Self {
        Self::plug_in(board, Carriage { bytes: usize::MAX, is_real_time: true })
    }

    /// As [`Self::plug`], but takes the power away, and the cable out, once the board has sent this many bytes.
    ///
    /// # Panics
    /// As [`Self::plug`].
    #[must_use]
    pub fn plug_for(board: Emulator, bytes: usize) -> Self {
        Self::plug_in(board, Carriage { bytes, is_real_time: false })
    }

    fn plug_in(board: Emulator, carriage: Carriage) -> Self {
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
        let (orders, waiting) = channel();
        let carrier = std::thread::spawn(move || {
            let board = carry(board, board_end, &pulled, &waiting, carriage);
            drop(kept_open);
            board
        });
        Self { path, is_pulled, orders, carrier }
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
        let (done, is_done) = channel();
        self.order(Box::new(move |board: &mut Emulator| {
            act(board);
            done.send(()).expect("the test waits");
        }));
        is_done.recv().expect("the carrier has done it");
    }

    /// Has something done to the board while it is plugged in: at its next turn, and without waiting for it.
    ///
    /// # Panics
    /// When the carrier has failed meanwhile.
    pub fn order(&self, order: Order) {
        assert!(self.orders.send(order).is_ok(), "the carrier has ended");
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
    orders: &Receiver<Order>,
    carriage: Carriage,
) -> Emulator {
    let mut bytes = [0; 1024];
    let mut bytes_left = carriage.bytes;
    let (begun, begun_ns) = (Instant::now(), board.seen.time_ns);
    while !is_pulled.load(Ordering::Relaxed) {
        match end.read(&mut bytes) {
            Ok(count) => board.send(&bytes[..count]),
            Err(error) if error.kind() == ErrorKind::TimedOut => {}
            Err(error) => panic!("the board's end of the pseudo-terminal: {error}"),
        }
        for order in orders.try_iter() {
            order(&mut board);
        }
        let passed = Duration::from_nanos(board.seen.time_ns - begun_ns);
        if carriage.is_real_time && passed > begun.elapsed() {
            continue;
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
