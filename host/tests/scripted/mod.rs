//! A small scripted logger for tests: it speaks the link's own encodings, keeps its records in memory and does what the
//! test says. It shares no code with the logger's firmware.
#![allow(
    dead_code,
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::indexing_slicing,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a test may stop at the first surprise, and each test file uses its part"
)]

#[cfg(unix)]
pub mod port;
#[path = "../program/mod.rs"]
pub mod program;

use shared_types::link::frame::decode_frame;
use std::collections::BTreeMap;

use program::Still;
use shared_types::limits::{MAX_BATCH, MAX_FRAME, MAX_MESSAGE, MAX_RECORD_BODY};
use shared_types::link::frame::{FrameReader, encode_frame};
use shared_types::link::{
    Diagnostics, Live, LogState, LoggerStatus, RecordBatch, Refusal, Reply, Request, decode_message,
    encode_message,
};
use shared_types::log::{Event, FirmwareVersion, Record, Segment, Settings, encode_body};
use shared_types::{
    BootId, Edges, LogId, LoggerId, MachineTag, RawAngle, RecordSeq, RunMillis, Totals, UptimeMillis,
    UtcMillis,
};

pub const NOW: UtcMillis = UtcMillis(1_790_000_000_000);

/// The computer's clock stands still there.
pub const CLOCK: Still = Still(NOW.0);

#[derive(Clone, Debug)]
pub struct Scripted {
    pub logger: u64,
    pub log: u32,
    pub is_readable: bool,
    /// Greetings that will still say that the log is being made, with so many parts to go.
    pub making: u32,
    pub records: BTreeMap<u32, Vec<u8>>,
    pub next: u32,
    pub acknowledged: u32,
    pub formatted_with: Totals,
    pub totals: Totals,
    pub settings: Settings,
    pub faults: u16,
    pub requests: Vec<Request>,
    /// Orders that are answered with this refusal.
    pub refuses_orders: Option<Refusal>,
    pub answers: bool,
    /// At most this many records in a batch.
    pub batch: usize,
    /// What it tells of itself; none: its firmware does not understand the question.
    pub diagnostics: Option<Diagnostics>,
}

impl Default for Scripted {
    fn default() -> Self {
        Self {
            logger: 0xFEED_0000_0000_0001,
            log: 0xA0A0_0001,
            is_readable: true,
            making: 0,
            records: BTreeMap::new(),
            next: 0,
            acknowledged: 0,
            formatted_with: Totals::default(),
            totals: Totals::default(),
            settings: Settings::default(),
            faults: 0,
            requests: Vec::new(),
            refuses_orders: None,
            answers: true,
            batch: usize::MAX,
            diagnostics: None,
        }
    }
}

impl Scripted {
    /// A logger that ran `count` times for a second and a bit, with 30 edges each.
    pub fn with_segments(count: u32) -> Self {
        let mut logger = Self::default();
        logger.run(count);
        logger
    }

    pub fn run(&mut self, count: u32) {
        for _ in 0..count {
            let run = RunMillis(1_000 + u64::from(self.next));
            self.totals = self.totals.plus(run, Edges(30));
            self.add(Event::Segment(Segment {
                run,
                edges: 30,
                angle: Some(RawAngle::new(1_234)),
                continues: false,
            }));
        }
    }

    pub fn add(&mut self, event: Event) {
        let record = Record { boot: BootId(1), at: UptimeMillis(u64::from(self.next) * 60_000), event };
        let mut out = [0; MAX_RECORD_BODY];
        let body = encode_body(&record, &mut out).unwrap().to_vec();
        self.add_raw(body);
    }

    pub fn add_raw(&mut self, body: Vec<u8>) {
        self.records.insert(self.next, body);
        self.next += 1;
    }

    pub fn fit(&mut self, machine: u32) {
        self.settings.machine = MachineTag(machine);
        self.add(Event::Fitted(MachineTag(machine)));
    }

    /// As when the flash was full: the oldest records go.
    pub fn forget_below(&mut self, seq: u32) {
        self.records.retain(|&held, _| held >= seq);
    }

    pub fn oldest(&self) -> u32 {
        self.records.keys().next().copied().unwrap_or(self.next)
    }

    pub fn status(&self) -> LoggerStatus {
        let log = if self.is_readable {
            LogState::Ready {
                log: LogId(self.log),
                oldest: RecordSeq(self.oldest()),
                next: RecordSeq(self.next),
                acknowledged: RecordSeq(self.acknowledged),
                formatted_with: self.formatted_with,
            }
        } else {
            LogState::Unreadable
        };
        let log = if self.making > 0 { LogState::Formatting { sectors_left: self.making } } else { log };
        LoggerStatus {
            record_version: 1,
            firmware: FirmwareVersion { major: 0, minor: 1, patch: 2 },
            build: "scripted".try_into().unwrap(),
            logger: LoggerId(self.logger),
            log,
            boot: BootId(1),
            // Not before its latest record.
            uptime: UptimeMillis(77 + u64::from(self.next) * 60_000),
            totals: self.totals,
            settings: self.settings,
            faults: self.faults,
        }
    }

    /// Bytes in, bytes out, as a link server. Keeps no half frame between calls, like a real one after a zero.
    pub fn answer(&mut self, bytes: &[u8]) -> Vec<u8> {
        let mut reader = FrameReader::new();
        let mut out = Vec::new();
        for &byte in bytes {
            if let Some(Ok(message)) = reader.push(byte) {
                let request: Request = match decode_message(message) {
                    Ok(request) => request,
                    Err(_) => continue,
                };
                self.requests.push(request);
                if self.answers {
                    out.extend(self.reply(request));
                }
            }
        }
        out
    }

    fn reply(&mut self, request: Request) -> Vec<u8> {
        match request {
            Request::LoggerStatus => {
                let status = self.status();
                self.making = self.making.saturating_sub(1);
                framed(&Reply::LoggerStatus(status))
            }
            Request::ReadFrom { log, .. } if log.0 != self.log => framed(&Reply::Refused(Refusal::OtherLog)),
            Request::ReadFrom { from, .. } if from.0 > self.next => {
                framed(&Reply::Refused(Refusal::BeyondEnd))
            }
            Request::ReadFrom { from, .. } => self.read_from(from.0),
            Request::Live => framed(&Reply::Live(Live {
                uptime: UptimeMillis(80),
                edges_since_start: 3,
                angle: Some(RawAngle::new(9)),
                gain: Some(128),
                faults: self.faults,
            })),
            Request::Diagnostics => framed(&match self.diagnostics {
                Some(told) => Reply::Diagnostics(told),
                None => Reply::Refused(Refusal::NotUnderstood),
            }),
            order => framed(&self.obey(order)),
        }
    }

    fn obey(&mut self, order: Request) -> Reply<'static> {
        if let Some(refusal) = self.refuses_orders {
            return Reply::Refused(refusal);
        }
        match order {
            Request::Acknowledge { below, .. } if below.0 > self.next => {
                return Reply::Refused(Refusal::BeyondEnd);
            }
            Request::Acknowledge { below, .. } => self.acknowledged = below.0,
            Request::Fit(machine) => self.fit(machine.0),
            Request::Apply(settings) => self.settings = settings,
            _ => {}
        }
        Reply::Done
    }

    fn read_from(&self, from: u32) -> Vec<u8> {
        let mut bytes = Vec::new();
        let mut next = from.max(self.oldest());
        for (count, (&seq, body)) in self.records.range(from..).enumerate() {
            let record = link_record(seq, body);
            if count >= self.batch || bytes.len() + record.len() > MAX_BATCH {
                break;
            }
            bytes.extend(record);
            next = seq + 1;
        }
        let end = self.records.range(next..).next().is_none();
        if end {
            next = self.next;
        }
        framed(&Reply::Records(RecordBatch {
            log: LogId(self.log),
            next: RecordSeq(next),
            end,
            records: &bytes,
        }))
    }

    /// All of it as a saved log, `batch` records to a frame.
    pub fn saved(&self) -> Vec<u8> {
        let mut twin = self.clone();
        let mut out = framed(&Reply::LoggerStatus(self.status()));
        let mut from = self.oldest();
        while from < self.next {
            let mut count = 0;
            let frame = twin.read_from(from);
            out.extend(&frame);
            let mut copy = frame;
            copy.pop();
            let message = decode_frame(&mut copy).unwrap();
            if let Ok(Reply::Records(batch)) = decode_message::<Reply<'_>>(message) {
                count += 1;
                from = batch.next.0;
            }
            assert_eq!(count, 1);
        }
        twin.requests.clear();
        out
    }
}

/// By hand as FORMAT has it: number and length as varints, then the body.
pub fn link_record(seq: u32, body: &[u8]) -> Vec<u8> {
    let mut out = varint(seq);
    out.extend(varint(body.len() as u32));
    out.extend(body);
    out
}

fn varint(mut value: u32) -> Vec<u8> {
    let mut out = Vec::new();
    while value >= 0x80 {
        out.push((value as u8 & 0x7F) | 0x80);
        value >>= 7;
    }
    out.push(value as u8);
    out
}

pub fn framed(reply: &Reply<'_>) -> Vec<u8> {
    let mut message = [0; MAX_MESSAGE];
    let mut frame = [0; MAX_FRAME + 1];
    let message = encode_message(reply, &mut message).unwrap();
    encode_frame(message, &mut frame).unwrap().to_vec()
}
