//! Requests and replies over anything that can be read and written.
//!
//! Every request may be repeated without harm, so a lost or damaged frame costs a repetition and nothing else. Replies
//! carry no number; one that comes late, after its request was repeated, is drained before the next request is sent, and
//! a reply of another kind than the one awaited is passed over.

use std::io::{self, ErrorKind, Read, Write};
use std::time::{Duration, Instant};

use shared_types::limits::{MAX_FRAME, MAX_MESSAGE};
use shared_types::link::frame::{FrameReader, encode_frame};
use shared_types::link::{
    Diagnostics, Hello, Live, MessageError, RecordBatch, Refusal, Reply, Request, decode_message,
    encode_message, link_records,
};
use shared_types::log::Settings;
use shared_types::{LogId, MachineTag, RecordSeq, UtcMillis};

use super::recorder::Recording;
use crate::app::ports::{Batch, Logger, LoggerError, RawRecord, Skipped};

/// How long to wait, and how often to ask again.
#[derive(Clone, Copy, Debug)]
pub struct RetryPolicy {
    /// For one attempt. The logger may be erasing flash, which takes some tenths of a second.
    pub attempt: Duration,
    /// Attempts in all, at least one.
    pub attempts: u32,
}

impl RetryPolicy {
    /// For a logger on a cable: six seconds in all for one request.
    pub const CABLE: Self = Self { attempt: Duration::from_secs(2), attempts: 3 };
}

/// The longest answer takes a tenth of a second at 115,200 baud; a device that talks on and on is none of ours.
const LONGEST_ATTEMPT: Duration = Duration::from_secs(4);

/// A logger at the other end of a byte stream.
///
/// The stream's reads must give up after a short time with [`ErrorKind::TimedOut`] or [`ErrorKind::WouldBlock`]; the
/// shorter, the sooner a damaged reply is noticed.
#[derive(Debug)]
pub struct Wire<T> {
    stream: T,
    place: String,
    policy: RetryPolicy,
    reader: FrameReader,
    received: u64,
    damaged_frames: u64,
    needs_draining: bool,
    recording: Option<Recording>,
}

/// What one attempt came to.
enum Attempt<R> {
    Answered(R),
    Refused(Refusal),
    /// Nothing came, or nothing usable; with the last thing that was wrong.
    Failed(Option<String>),
    Newer(u8),
}

impl<T: Read + Write> Wire<T> {
    /// Speaks to the logger at the other end of `stream`; `place` is its name for the maker.
    pub fn new(stream: T, place: impl Into<String>, policy: RetryPolicy) -> Self {
        Self {
            stream,
            place: place.into(),
            policy,
            reader: FrameReader::new(),
            received: 0,
            damaged_frames: 0,
            needs_draining: false,
            recording: None,
        }
    }

    /// From now on keeps every reply that a saved log needs.
    pub fn record_to(&mut self, recording: Recording) {
        self.recording = Some(recording);
    }

    /// Ends the recording, if there is one.
    ///
    /// # Errors
    /// The first error met in writing the file; the pull itself was not disturbed by it.
    pub fn finish_recording(&mut self) -> io::Result<()> {
        self.recording.take().map_or(Ok(()), Recording::finish)
    }

    /// The stream, for looking at it in tests.
    pub const fn stream(&self) -> &T {
        &self.stream
    }

    fn request<R>(
        &mut self,
        request: &Request,
        pick: impl Fn(Reply<'_>) -> Option<R>,
    ) -> Result<R, LoggerError> {
        let mut message = [0; MAX_MESSAGE];
        // The leading zero ends whatever noise stands in the logger's reader.
        let mut bytes = [0; MAX_FRAME + 2];
        let framed = encode_message(request, &mut message).ok().and_then(|message| {
            let (_, room) = bytes.split_first_mut()?;
            encode_frame(message, room).ok().map(<[u8]>::len)
        });
        let sending =
            framed.and_then(|length| bytes.get(..=length)).ok_or_else(|| LoggerError::NotALogger {
                place: self.place.clone(),
                what: "the request does not fit into a message".to_owned(),
            })?;
        if self.needs_draining {
            self.drain()?;
        }
        let mut trouble = None;
        for attempt in 0..self.policy.attempts.max(1) {
            if attempt > 0 {
                self.needs_draining = true;
            }
            self.stream.write_all(sending).map_err(|source| self.lost(source))?;
            match self.attempt(&pick)? {
                Attempt::Answered(answer) => return Ok(answer),
                // A request damaged on the way is not understood; asking again may help.
                Attempt::Refused(Refusal::NotUnderstood) if attempt + 1 < self.policy.attempts => {}
                Attempt::Refused(refusal) => return Err(LoggerError::Refused(refusal)),
                Attempt::Newer(version) => {
                    return Err(LoggerError::NewerLink { place: self.place.clone(), version });
                }
                Attempt::Failed(what) => trouble = what.or(trouble),
            }
        }
        let place = self.place.clone();
        Err(match trouble {
            Some(what) => LoggerError::NotALogger { place, what },
            None => LoggerError::Silent { place },
        })
    }

    fn attempt<R>(&mut self, pick: &impl Fn(Reply<'_>) -> Option<R>) -> Result<Attempt<R>, LoggerError> {
        let started = Instant::now();
        let mut trouble = None;
        let mut chunk = [0_u8; 256];
        loop {
            let came = match self.stream.read(&mut chunk) {
                Ok(0) => return Err(self.lost(ErrorKind::UnexpectedEof.into())),
                Ok(count) => chunk.get(..count).unwrap_or_default(),
                Err(error) if is_only_quiet(&error) => &[],
                Err(error) => return Err(self.lost(error)),
            };
            self.received += came.len() as u64;
            for &next in came {
                let message = match self.reader.push(next) {
                    None => continue,
                    Some(Ok(message)) => message,
                    Some(Err(error)) => {
                        self.damaged_frames += 1;
                        trouble = Some(error.to_string());
                        continue;
                    }
                };
                match decode_message::<Reply<'_>>(message) {
                    Ok(Reply::Refused(refusal)) => return Ok(Attempt::Refused(refusal)),
                    Ok(reply) => {
                        let is_worth_saving = matches!(reply, Reply::Hello(_) | Reply::Records(_));
                        if let Some(answer) = pick(reply) {
                            if let Some(recording) = self.recording.as_mut().filter(|_| is_worth_saving) {
                                recording.keep(message);
                            }
                            return Ok(Attempt::Answered(answer));
                        }
                        trouble = Some("an answer to something else".to_owned());
                    }
                    Err(MessageError::UnknownVersion(version)) => return Ok(Attempt::Newer(version)),
                    Err(error) => trouble = Some(error.to_string()),
                }
            }
            // After something damaged, quiet means that nothing better is coming. What is still arriving gets longer,
            // but a device that never falls silent does not get for ever.
            let waited = started.elapsed();
            let is_over = if came.is_empty() {
                trouble.is_some() || waited >= self.policy.attempt
            } else {
                waited >= LONGEST_ATTEMPT
            };
            if is_over {
                return Ok(Attempt::Failed(trouble));
            }
        }
    }

    /// Reads until it is quiet, so that a late answer is not taken for the next one.
    fn drain(&mut self) -> Result<(), LoggerError> {
        let started = Instant::now();
        let mut chunk = [0_u8; 256];
        loop {
            match self.stream.read(&mut chunk) {
                Ok(0) => return Err(self.lost(ErrorKind::UnexpectedEof.into())),
                Ok(count) => self.received += count as u64,
                Err(error) if is_only_quiet(&error) => break,
                Err(error) => return Err(self.lost(error)),
            }
            if started.elapsed() >= LONGEST_ATTEMPT {
                break;
            }
        }
        self.reader.reset();
        self.needs_draining = false;
        Ok(())
    }

    fn lost(&self, source: io::Error) -> LoggerError {
        LoggerError::Lost { place: self.place.clone(), source }
    }

    fn order(&mut self, request: &Request) -> Result<(), LoggerError> {
        self.request(request, |reply| matches!(reply, Reply::Done).then_some(()))
    }
}

fn is_only_quiet(error: &io::Error) -> bool {
    matches!(error.kind(), ErrorKind::TimedOut | ErrorKind::WouldBlock | ErrorKind::Interrupted)
}

/// A batch of the link as the port hands it on.
pub(super) fn owned(batch: &RecordBatch<'_>) -> Batch {
    let mut out = Batch { records: Vec::new(), next: batch.next, end: batch.end, unreadable_bytes: 0 };
    for record in link_records(batch.records) {
        match record {
            Ok(record) => out.records.push(RawRecord { seq: record.seq, body: record.body.to_vec() }),
            Err(unread) => out.unreadable_bytes += unread,
        }
    }
    out
}

impl<T: Read + Write> Logger for Wire<T> {
    fn hello(&mut self) -> Result<Hello, LoggerError> {
        self.request(&Request::Hello, |reply| match reply {
            Reply::Hello(hello) => Some(hello),
            _ => None,
        })
    }

    fn read_from(&mut self, log: LogId, from: RecordSeq) -> Result<Batch, LoggerError> {
        self.request(&Request::ReadFrom { log, from }, |reply| match reply {
            Reply::Records(batch) if batch.log == log => {
                let batch = owned(&batch);
                // A late answer to an earlier request starts before what was asked for.
                let is_late = batch.records.first().is_some_and(|record| record.seq < from);
                (!is_late).then_some(batch)
            }
            _ => None,
        })
    }

    fn acknowledge(&mut self, log: LogId, below: RecordSeq) -> Result<(), LoggerError> {
        self.order(&Request::Acknowledge { log, below })
    }

    fn set_clock(&mut self, utc: UtcMillis) -> Result<(), LoggerError> {
        self.order(&Request::SetClock { utc })
    }

    fn apply(&mut self, settings: Settings) -> Result<(), LoggerError> {
        self.order(&Request::Apply(settings))
    }

    fn fit(&mut self, machine: MachineTag) -> Result<(), LoggerError> {
        self.order(&Request::Fit(machine))
    }

    fn live(&mut self) -> Result<Live, LoggerError> {
        self.request(&Request::Live, |reply| match reply {
            Reply::Live(live) => Some(live),
            _ => None,
        })
    }

    fn diagnostics(&mut self) -> Result<Diagnostics, LoggerError> {
        self.request(&Request::Diagnostics, |reply| match reply {
            Reply::Diagnostics(told) => Some(told),
            _ => None,
        })
    }

    fn place(&self) -> String {
        self.place.clone()
    }

    fn bytes_received(&self) -> u64 {
        self.received
    }

    fn skipped(&self) -> Skipped {
        Skipped { damaged_frames: self.damaged_frames, ..Skipped::default() }
    }
}
