//! A saved log: the frames of a pull in a file, `LoggerStatus` first. Read as a stream, so its size costs no memory.
//!
//! Damage is counted, never guessed at: a frame whose check fails is passed over, and reading goes on at the next.

use std::fs::File;
use std::io::{self, BufReader, Read};
use std::path::Path;

use shared_types::link::frame::FrameReader;
use shared_types::link::{Diagnostics, Live, LogState, LoggerStatus, MessageError, Reply, decode_message};
use shared_types::log::Settings;
use shared_types::{LogId, LoggerId, MachineTag, RecordSeq, UtcMillis};

use super::wire::owned;
use crate::app::ports::{Batch, Logger, LoggerError, Skipped};

/// The largest file that is read, in bytes: many times what any logger's flash holds.
pub const MAX_SAVED_BYTES: u64 = 64 * 1024 * 1024;

/// A saved log, opened and known to begin with a `LoggerStatus`.
#[derive(Debug)]
pub struct SavedLog {
    bytes: io::Bytes<BufReader<File>>,
    reader: FrameReader,
    place: String,
    status: LoggerStatus,
    is_ours: bool,
    received: u64,
    skipped: Skipped,
}

/// What stands next in the file.
enum Next {
    LoggerStatus(Box<LoggerStatus>),
    Records(LogId, Batch),
    Other,
    Damaged,
    End,
}

impl SavedLog {
    /// Opens a saved log and reads whose it is.
    ///
    /// # Errors
    /// `Open` when it cannot be read; `NotALogger` when it is empty, too large, or does not begin with a whole `LoggerStatus`;
    /// `NewerLink` when a newer program saved it.
    pub fn open(path: &Path) -> Result<Self, LoggerError> {
        let place = path.display().to_string();
        let unopened = |source| LoggerError::Open { place: place.clone(), source };
        let unfit = |what: &str| LoggerError::NotALogger { place: place.clone(), what: what.to_owned() };
        let file = File::open(path).map_err(unopened)?;
        let about = file.metadata().map_err(unopened)?;
        if about.is_dir() {
            return Err(unopened(io::ErrorKind::IsADirectory.into()));
        }
        match about.len() {
            0 if about.is_file() => return Err(unfit("the file is empty")),
            size if size > MAX_SAVED_BYTES => {
                return Err(unfit("the file is larger than 64 MiB, more than any logger holds"));
            }
            _ => {}
        }
        let mut reader = FrameReader::new();
        let mut bytes = BufReader::new(file).bytes();
        let mut received = 0;
        let mut first = next(&mut bytes, &mut reader, &mut received, &place)?;
        // Of a logger that was still making its log the first greeting with a log counts, if one came.
        while let Next::LoggerStatus(status) = &first
            && matches!(status.log, LogState::Formatting { .. })
            && let later @ Next::LoggerStatus(_) = next(&mut bytes, &mut reader, &mut received, &place)?
        {
            first = later;
        }
        match first {
            Next::LoggerStatus(status) => Ok(Self {
                bytes,
                reader,
                place,
                status: *status,
                is_ours: true,
                received,
                skipped: Skipped::default(),
            }),
            _ => Err(unfit("it does not begin with a logger's greeting; the file is foreign or damaged")),
        }
    }

    fn log(&self) -> Option<(LoggerId, LogId)> {
        match self.status.log {
            LogState::Ready { log, .. } => Some((self.status.logger, log)),
            LogState::Unreadable | LogState::Formatting { .. } => None,
        }
    }

    fn read_only(&self) -> LoggerError {
        LoggerError::ReadOnly { place: self.place.clone() }
    }
}

fn next(
    bytes: &mut io::Bytes<BufReader<File>>,
    reader: &mut FrameReader,
    received: &mut u64,
    place: &str,
) -> Result<Next, LoggerError> {
    for byte in bytes {
        let byte = byte.map_err(|source| LoggerError::Lost { place: place.to_owned(), source })?;
        *received += 1;
        if *received > MAX_SAVED_BYTES {
            // Not a plain file, or one that is still growing.
            return Ok(Next::End);
        }
        let message = match reader.push(byte) {
            None => continue,
            Some(Ok(message)) => message,
            Some(Err(_)) => return Ok(Next::Damaged),
        };
        return match decode_message::<Reply<'_>>(message) {
            Ok(Reply::LoggerStatus(status)) => Ok(Next::LoggerStatus(Box::new(status))),
            Ok(Reply::Records(batch)) => Ok(Next::Records(batch.log, owned(&batch))),
            Ok(_) => Ok(Next::Other),
            Err(MessageError::UnknownVersion(version)) => {
                Err(LoggerError::NewerLink { place: place.to_owned(), version })
            }
            Err(_) => Ok(Next::Damaged),
        };
    }
    Ok(Next::End)
}

impl Logger for SavedLog {
    fn status(&mut self) -> Result<LoggerStatus, LoggerError> {
        Ok(self.status.clone())
    }

    /// The next batch of the file, whatever its numbers; `from` is not looked at, because a file may repeat itself.
    fn read_from(&mut self, log: LogId, _from: RecordSeq) -> Result<Batch, LoggerError> {
        loop {
            match next(&mut self.bytes, &mut self.reader, &mut self.received, &self.place)? {
                Next::Records(of, batch) if self.is_ours && of == log => {
                    return Ok(Batch { end: false, ..batch });
                }
                Next::Records(..) => self.skipped.foreign_frames += 1,
                Next::LoggerStatus(status) => {
                    let of = match status.log {
                        LogState::Ready { log, .. } => Some((status.logger, log)),
                        LogState::Unreadable | LogState::Formatting { .. } => None,
                    };
                    self.is_ours = of == self.log();
                }
                Next::Other => self.skipped.foreign_frames += 1,
                Next::Damaged => self.skipped.damaged_frames += 1,
                Next::End => {
                    if self.reader.is_midway() {
                        self.skipped.cut_short = true;
                        self.reader.reset();
                    }
                    return Ok(Batch { end: true, ..Batch::default() });
                }
            }
        }
    }

    fn acknowledge(&mut self, _log: LogId, _below: RecordSeq) -> Result<(), LoggerError> {
        Err(self.read_only())
    }

    fn set_clock(&mut self, _utc: UtcMillis) -> Result<(), LoggerError> {
        Err(self.read_only())
    }

    fn apply(&mut self, _settings: Settings) -> Result<(), LoggerError> {
        Err(self.read_only())
    }

    fn fit(&mut self, _machine: MachineTag) -> Result<(), LoggerError> {
        Err(self.read_only())
    }

    fn live(&mut self) -> Result<Live, LoggerError> {
        Err(self.read_only())
    }

    fn diagnostics(&mut self) -> Result<Diagnostics, LoggerError> {
        Err(self.read_only())
    }

    fn place(&self) -> String {
        self.place.clone()
    }

    fn is_saved(&self) -> bool {
        true
    }

    fn bytes_received(&self) -> u64 {
        self.received
    }

    fn skipped(&self) -> Skipped {
        self.skipped
    }
}
