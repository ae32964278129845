//! Server of the link: request bytes in, at most one reply frame out for each request.
//!
//! The host asks and the logger never speaks first. Noise is answered with silence, because nobody may be listening; a whole
//! frame that is no request is refused, so that a newer host learns what this firmware does not know.

use embedded_storage::nor_flash::NorFlash;
use shared_types::limits::{MAX_BATCH, MAX_FRAME, MAX_MESSAGE, MAX_RECORD_BODY};
use shared_types::link::frame::{FrameReader, encode_frame};
use shared_types::link::{
    LinkRecord, LogState, RecordBatch, Refusal, Reply, Request, decode_message, encode_message,
};
use shared_types::log::encode_body;
use shared_types::{LogId, RecordSeq, UptimeMillis, UtcMillis};

use crate::clock::is_settable;
use crate::logger::Logger;

/// Bytes that always suffice for a reply frame with its closing zero.
pub const REPLY_BYTES: usize = MAX_FRAME + 1;

/// What the board has to do after a request.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Outcome {
    /// Send this many bytes of the reply buffer; zero when there is nothing to say.
    pub reply_len: usize,
    /// Set the clock chip to this moment.
    pub set_chip: Option<UtcMillis>,
}

/// Answers requests. Holds the buffers, so that they need not fit on a small stack.
#[derive(Debug)]
pub struct LinkServer {
    reader: FrameReader,
    message: [u8; MAX_MESSAGE],
    batch: [u8; MAX_BATCH],
}

impl Default for LinkServer {
    fn default() -> Self {
        Self::new()
    }
}

impl LinkServer {
    /// A server that has heard nothing.
    #[must_use]
    pub const fn new() -> Self {
        Self { reader: FrameReader::new(), message: [0; MAX_MESSAGE], batch: [0; MAX_BATCH] }
    }

    /// Forgets an unfinished frame, when the host has gone.
    pub const fn hang_up(&mut self) {
        self.reader.reset();
    }

    /// Takes one byte. When it completes a request, answers it as [`LinkServer::handle`] does.
    pub fn take<F: NorFlash>(
        &mut self,
        logger: &mut Logger<F>,
        now: UptimeMillis,
        byte: u8,
        out: &mut [u8],
    ) -> Option<Outcome> {
        let message = self.reader.push(byte)?.ok()?;
        Some(answer(&mut self.batch, &mut self.message, logger, now, message, out))
    }

    /// Answers one message with one frame in `out`, which takes [`REPLY_BYTES`]. Whatever the bytes, it does not panic.
    pub fn handle<F: NorFlash>(
        &mut self,
        logger: &mut Logger<F>,
        now: UptimeMillis,
        message: &[u8],
        out: &mut [u8],
    ) -> Outcome {
        answer(&mut self.batch, &mut self.message, logger, now, message, out)
    }
}

fn answer<F: NorFlash>(
    batch: &mut [u8],
    scratch: &mut [u8],
    logger: &mut Logger<F>,
    now: UptimeMillis,
    message: &[u8],
    out: &mut [u8],
) -> Outcome {
    let mut set_chip = None;
    let reply = match decode_message::<Request>(message) {
        Ok(request) => {
            if let Request::SetClock { utc } = request {
                set_chip = is_settable(utc).then_some(utc);
            }
            reply_to(request, batch, logger, now)
        }
        Err(_) => Reply::Refused(Refusal::NotUnderstood),
    };
    let reply_len = encode_message(&reply, scratch)
        .ok()
        .and_then(|bytes| encode_frame(bytes, out).ok())
        .map_or(0, <[u8]>::len);
    Outcome { reply_len, set_chip }
}

fn reply_to<'batch, F: NorFlash>(
    request: Request,
    batch: &'batch mut [u8],
    logger: &mut Logger<F>,
    now: UptimeMillis,
) -> Reply<'batch> {
    // A number that was told is never given out again, and what was told must stay.
    let is_safe = logger.commit(now);
    let done = match request {
        Request::LoggerStatus if !is_safe => Err(Refusal::FlashFailed),
        Request::LoggerStatus => {
            // A pull begins with it, and is to get everything.
            logger.write_short_bursts();
            return Reply::LoggerStatus(logger.status(now));
        }
        Request::Diagnostics => return Reply::Diagnostics(logger.diagnostics()),
        Request::Live => return Reply::Live(logger.live(now)),
        Request::ReadFrom { log, from } => {
            return read_from(batch, logger, log, from).map_or_else(Reply::Refused, Reply::Records);
        }
        Request::Acknowledge { log, below } => acknowledge(logger, log, below),
        Request::SetClock { utc } if !is_settable(utc) => Err(Refusal::NotUnderstood),
        Request::SetClock { utc } => logger.set_clock(now, utc),
        Request::Apply(settings) => logger.apply(now, settings),
        Request::Fit(machine) => logger.fit(now, machine),
        Request::FormatUnreadable => logger.format_unreadable(),
    };
    done.map_or_else(Reply::Refused, |()| Reply::Done)
}

/// Checks that the log is the one that is meant and that `seq` was written or comes next.
fn check<F: NorFlash>(logger: &mut Logger<F>, meant: LogId, seq: RecordSeq) -> Result<(), Refusal> {
    match logger.store_mut().log_state() {
        LogState::Unreadable | LogState::Formatting { .. } => Err(Refusal::NoLog),
        LogState::Ready { log, .. } if log != meant => Err(Refusal::OtherLog),
        LogState::Ready { next, .. } if seq > next => Err(Refusal::BeyondEnd),
        LogState::Ready { .. } => Ok(()),
    }
}

fn acknowledge<F: NorFlash>(logger: &mut Logger<F>, log: LogId, below: RecordSeq) -> Result<(), Refusal> {
    check(logger, log, below)?;
    logger.store_mut().acknowledge(below).map_err(|_| Refusal::FlashFailed)
}

fn read_from<'batch, F: NorFlash>(
    batch: &'batch mut [u8],
    logger: &mut Logger<F>,
    log: LogId,
    from: RecordSeq,
) -> Result<RecordBatch<'batch>, Refusal> {
    check(logger, log, from)?;
    let mut used = 0;
    let end = logger
        .store_mut()
        .read_from(from, &mut |seq, record| {
            let mut body = [0; MAX_RECORD_BODY];
            let taken = encode_body(record, &mut body).ok().and_then(|body| {
                let free = batch.get_mut(used..)?;
                postcard::to_slice(&LinkRecord { seq, body }, free).ok().map(|bytes| bytes.len())
            });
            used += taken.unwrap_or(0);
            taken.is_some()
        })
        .map_err(|_| Refusal::FlashFailed)?;
    let records = batch.get(..used).unwrap_or_default();
    Ok(RecordBatch { log, next: end.next, end: end.reached_end, records })
}

#[cfg(all(test, feature = "sim"))]
#[path = "link_tests.rs"]
mod tests;
