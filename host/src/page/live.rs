//! The board while somebody looks: strokes a second, the knob, and its records as soon as it rests.
//!
//! The port is held only while a page was looked at within the last seconds, so that every other command has it otherwise.

use std::sync::{Arc, Mutex};
use std::thread;
use std::time::{Duration, Instant};

use serde::Serialize;
use tokio::sync::watch;

use super::desk::Desk;
use super::error::Refused;
use super::lock::held;
use crate::app::care::ClothWatched;
use crate::app::cloth::cost;
use crate::app::logger::live::{LiveSample, Scale, watch as look};
use crate::app::ports::{Logger, LoggerError};
use crate::view::logger::live as words;
use crate::view::words::run_time;
use host_core::care::ClothTension;
use shared_types::link::{LogState, LoggerStatus};
use shared_types::{MachineTag, RecordSeq};

/// From one look at the inputs to the next.
const PAUSE: Duration = Duration::from_millis(250);
/// Hands stay off for so long after the last stroke.
const HANDS_OFF: Duration = Duration::from_secs(2);
/// After so long without a stroke the board is asked for new records.
const QUIET: Duration = Duration::from_secs(5);
/// From one look for a board to the next.
const BETWEEN: Duration = Duration::from_millis(500);
/// Somebody looks when they did within so long.
const LOOKED_WITHIN: Duration = Duration::from_secs(10);

/// The board as the page needs it of the world.
pub trait Board: Send {
    /// The port of the only board that is plugged in.
    fn port(&mut self) -> Option<String>;
    /// Opens it.
    ///
    /// # Errors
    /// When another program holds it, or it is gone.
    fn open(&mut self, port: &str) -> Result<Box<dyn Logger>, LoggerError>;
    /// Keeps its records in the database.
    ///
    /// # Errors
    /// When it cannot be read.
    fn read(&mut self, port: &str) -> Result<(), Refused>;
}

/// No board, ever.
#[derive(Clone, Copy, Debug)]
pub struct NoBoard;

impl Board for NoBoard {
    fn port(&mut self) -> Option<String> {
        None
    }

    fn open(&mut self, port: &str) -> Result<Box<dyn Logger>, LoggerError> {
        Err(LoggerError::Open { place: port.to_owned(), source: std::io::ErrorKind::NotFound.into() })
    }

    fn read(&mut self, _: &str) -> Result<(), Refused> {
        Ok(())
    }
}

/// What the board tells now, in words.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct LiveNow {
    /// Whether a board is plugged in and answers.
    pub is_plugged: bool,
    /// Its machine's number; zero where it was never said.
    pub machine: u32,
    /// Strokes a second.
    pub rate: String,
    /// The knob against the ceiling.
    pub knob: String,
    /// Whether the knob stands above the ceiling.
    pub is_over: bool,
    /// Whether strokes came in within the last two seconds.
    pub hands_off: bool,
    /// Why the board was not read; empty where it was.
    pub unread: String,
    /// How long the cloth on the frame has been tight, with what runs now; null where nobody knows.
    pub cloth: Option<ClothNow>,
}

/// How long the cloth has been tight, in words.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct ClothNow {
    /// Running since it was tightened.
    pub ran: String,
    /// When it wants it again.
    pub wants: String,
    /// Whether that is now.
    pub is_due: bool,
}

/// When somebody last looked.
#[derive(Clone, Debug, Default)]
pub struct Looked(Arc<Mutex<Option<Instant>>>);

impl Looked {
    /// Somebody looks now.
    pub fn now(&self) {
        *held(&self.0) = Some(Instant::now());
    }

    fn is_recent(&self) -> bool {
        held(&self.0).is_some_and(|at| at.elapsed() < LOOKED_WITHIN)
    }
}

/// What the watch is made from.
pub struct Watcher {
    /// The board.
    pub board: Box<dyn Board>,
    /// The database.
    pub desk: Desk,
    /// When somebody looked.
    pub looked: Looked,
    /// Where it is told.
    pub live: watch::Sender<LiveNow>,
    /// Grows when records were read.
    pub changes: Arc<watch::Sender<u64>>,
    /// True when all ends.
    pub ends: watch::Receiver<bool>,
}

impl Watcher {
    /// Watches until the server ends.
    pub fn run(mut self) {
        let mut read_to = None;
        while !*self.ends.borrow() {
            let port = if self.looked.is_recent() { self.board.port() } else { None };
            let Some(port) = port else {
                read_to = None;
                self.tell(LiveNow::default());
                thread::sleep(BETWEEN);
                continue;
            };
            if self.stay(&port, &mut read_to).is_err() {
                self.tell(LiveNow::default());
                thread::sleep(BETWEEN);
            }
        }
    }

    fn goes_on(&self) -> bool {
        !*self.ends.borrow() && self.looked.is_recent()
    }

    fn tell(&self, now: LiveNow) {
        self.live.send_if_modified(|before| {
            let is_new = *before != now;
            *before = now;
            is_new
        });
    }

    /// Looks until the board has rested for some seconds; then keeps its new records.
    fn stay(&mut self, port: &str, read_to: &mut Option<RecordSeq>) -> Result<(), LoggerError> {
        let mut logger = self.board.open(port)?;
        let status = logger.status()?;
        let next = match status.log {
            LogState::Ready { next, .. } => Some(next),
            _ => None,
        };
        let mut unread = String::new();
        if next.is_some() && *read_to != next {
            drop(logger);
            match self.board.read(port) {
                Ok(()) => self.changes.send_modify(|changes| *changes += 1),
                Err(refused) => unread = refused.what,
            }
            *read_to = next;
            logger = self.board.open(port)?;
        }
        let machine = status.settings.machine;
        let (scale, ceiling, cloth) = self.known(status);
        let cloth = cloth.map(|cloth| move |status: &LoggerStatus| cloth.now(status));
        let cloth = cloth.as_ref().map(|cloth| cloth as &dyn Fn(&LoggerStatus) -> ClothTension);
        let begun = Instant::now();
        let mut last_stroke: Option<Instant> = None;
        look(
            logger.as_mut(),
            scale,
            cloth,
            &mut |sample| {
                if sample.strokes_per_second.is_some_and(|rate| rate > 0.0) {
                    last_stroke = Some(Instant::now());
                }
                let hands_off = last_stroke.is_some_and(|at| at.elapsed() < HANDS_OFF);
                self.tell(told(sample, machine, ceiling, hands_off, &unread));
                let rests = last_stroke.unwrap_or(begun).elapsed() >= QUIET;
                if rests && last_stroke.is_some() {
                    last_stroke = None;
                }
            },
            &mut || {
                thread::sleep(PAUSE);
                // Time and again the board is asked what is new; while strokes come in it is left alone.
                let hands_off = self.live.borrow().hands_off;
                self.goes_on() && (hands_off || begun.elapsed() < QUIET)
            },
        )?;
        Ok(())
    }

    /// What the maker entered for the machine that the board sits on.
    fn known(&self, status: LoggerStatus) -> (Scale, Option<u32>, Option<ClothWatched>) {
        let machine = status.settings.machine;
        let asked = self.desk.ask_and_wait(move |room| {
            let cloth = ClothWatched::of(&room.store, &room.clock, &status).ok().flatten();
            let scale = Scale::of(&room.store, machine).unwrap_or(Scale::UNKNOWN);
            let ceiling = cost::ceiling(&room.store, Some(machine.0)).ok();
            (scale, ceiling.and_then(|ceiling| ceiling.knob_per_mille), cloth)
        });
        asked.unwrap_or((Scale::UNKNOWN, None, None))
    }
}

fn told(
    sample: &LiveSample,
    machine: MachineTag,
    ceiling: Option<u32>,
    hands_off: bool,
    unread: &str,
) -> LiveNow {
    let is_over = sample.knob_per_mille.zip(ceiling).is_some_and(|(knob, most)| u32::from(knob) > most);
    LiveNow {
        is_plugged: true,
        machine: machine.0,
        rate: words::rate(sample),
        knob: words::knob(sample, ceiling),
        is_over,
        hands_off,
        unread: unread.to_owned(),
        cloth: sample.cloth.map(|tension| ClothNow {
            ran: run_time(tension.run_time_since_at_most_ms),
            wants: words::cloth_wants(&tension),
            is_due: tension.is_wanted(),
        }),
    }
}
