//! What is looked at after each start.

use std::time::Duration;

use serde_json::json;
use shared_types::link::{LogState, Reply, Request, link_records};
use shared_types::log::{Record, decode_body};
use shared_types::{LogId, RecordSeq};

use super::life::Life;
use crate::emulator::Emulator;

/// At most this much running may be missing, in seconds (the design: "at most the running ten seconds are lost").
const AT_RISK_S: f64 = 10.0;
/// Strokes that may come while a start has not yet switched the counter on, and the ones at both ends of a stretch.
const AT_THE_ENDS: u64 = 4;
/// How far back from the end the records are read at every start.
const RECORDS_BACK: u32 = 60;

/// What the needle did, and what of it must be on record.
#[derive(Debug, Default)]
pub struct Needle {
    given_at_power_on: u64,
    /// Strokes broken off since then: the needle's line goes back to high, which may be an edge.
    broken_off: u64,
    /// The fastest strokes since the power came.
    fastest_hz: f64,
    /// Lifetime edges told right after the start before, and how many were given while the power was on since.
    told: Option<u64>,
    given_since: u64,
    must_have_since: u64,
}

impl Needle {
    pub fn power_on(&mut self, board: &mut Emulator) -> Result<(), String> {
        self.given_at_power_on = given(board)?;
        self.broken_off = 0;
        Ok(())
    }

    /// Ends all strokes under way.
    pub fn stop(&mut self, board: &mut Emulator) -> Result<(), String> {
        self.broken_off += 1;
        board.try_perform(&json!({ "op": "stop_pulses" })).map(drop)
    }

    /// Strokes at this rate have begun.
    pub fn strokes_at(&mut self, hz: f64) {
        self.fastest_hz = self.fastest_hz.max(hz);
    }

    /// Strokes of before have ended, and the power is off.
    pub fn power_off(&mut self, board: &mut Emulator) -> Result<(), String> {
        let stretch = given(board)? - self.given_at_power_on;
        self.given_since += stretch + self.broken_off;
        let at_risk = (AT_RISK_S * self.fastest_hz).ceil() as u64 + AT_THE_ENDS;
        self.must_have_since += stretch.saturating_sub(at_risk);
        Ok(())
    }

    /// What the lifetime edges may be now: at least, at most.
    fn bounds(&self, given_now: u64) -> Option<(u64, u64)> {
        let told = self.told?;
        let in_this_start = given_now - self.given_at_power_on;
        Some((told + self.must_have_since, told + self.given_since + in_this_start + self.broken_off))
    }

    fn take_told(&mut self, edges: u64) {
        self.told = Some(edges);
        self.given_since = 0;
        self.must_have_since = 0;
    }
}

fn given(board: &mut Emulator) -> Result<u64, String> {
    let state = board.try_perform(&json!({ "op": "state" }))?;
    Ok(state["pulses_given"].as_u64().expect("the emulator counts its strokes"))
}

impl Life<'_> {
    /// Asks who it is, right after a start. False when the power went.
    pub fn check_start(&mut self) -> Result<bool, String> {
        if !self.check_status()? {
            return Ok(false);
        }
        self.promises.check_settings_after_a_start();
        Ok(true)
    }

    /// Asks who it is. False when the power went.
    pub fn check_status(&mut self) -> Result<bool, String> {
        let Some(reply) = self.board.try_ask(&Request::LoggerStatus, |reply| match reply {
            Reply::LoggerStatus(status) => Ok(status),
            other => Err(format!("not a greeting: {other:?}")),
        })?
        else {
            return Ok(false);
        };
        self.promises.take_status(reply?);
        Ok(true)
    }

    /// Right after a greeting. False when the power went.
    pub fn check_needle_and_records(&mut self, with_sums: bool) -> Result<bool, String> {
        let Some(status) = self.promises.last().cloned() else { return Ok(false) };
        let LogState::Ready { log, next, .. } = status.log else { return Err("no readable log".to_owned()) };
        self.check_strokes(status.totals.edges.0)?;
        let first = self.promises.first_of_life();
        let recent = next.0.saturating_sub(RECORDS_BACK).max(first);
        let from = if with_sums { first } else { recent };
        if with_sums {
            // Nothing may close while the records are read and compared with the totals.
            self.needle.stop(&mut self.board)?;
            self.wait(Duration::from_millis(1_500))?;
        }
        if !self.read_to_the_end(log, from)? || !self.read_an_old_batch(log)? {
            return Ok(false);
        }
        if with_sums {
            if !self.check_status()? {
                return Ok(false);
            }
            if let Some(status) = self.promises.last() {
                let totals = status.totals;
                self.promises.check_sums(totals);
            }
        }
        Ok(true)
    }

    fn check_strokes(&mut self, edges: u64) -> Result<(), String> {
        let now = given(&mut self.board)?;
        if let Some((at_least, at_most)) = self.needle.bounds(now) {
            if edges < at_least {
                self.promises.note_lost(&format!("{edges} strokes, at least {at_least} were made"));
            }
            if edges > at_most {
                self.promises.note_doubled(&format!("{edges} strokes, at most {at_most} were made"));
            }
        }
        self.needle.take_told(edges);
        Ok(())
    }

    fn read_to_the_end(&mut self, log: LogId, from: u32) -> Result<bool, String> {
        let mut records = Vec::new();
        let mut at = RecordSeq(from);
        loop {
            let Some((next, end)) = self.read_batch(log, at, &mut records)? else { return Ok(false) };
            at = next;
            if end {
                self.promises.take_records(from, &records, true);
                return Ok(true);
            }
        }
    }

    /// Any record that was there before this life, or a bit behind where the oldest sector has gone.
    fn read_an_old_batch(&mut self, log: LogId) -> Result<bool, String> {
        let from = self.rng.below(u64::from(self.promises.first_of_life())) as u32;
        let mut records = Vec::new();
        let Some(_) = self.read_batch(log, RecordSeq(from), &mut records)? else { return Ok(false) };
        self.promises.take_records(from, &records, false);
        Ok(true)
    }

    fn read_batch(
        &mut self,
        log: LogId,
        from: RecordSeq,
        into: &mut Vec<(u32, Record)>,
    ) -> Result<Option<(RecordSeq, bool)>, String> {
        let reply = self.board.try_ask(&Request::ReadFrom { log, from }, |reply| {
            let Reply::Records(batch) = reply else { return Err(format!("not records: {reply:?}")) };
            for record in link_records(batch.records) {
                let record = record.map_err(|left| format!("{left} bytes of a batch cannot be read"))?;
                let decoded =
                    decode_body(record.body).map_err(|error| format!("{:?}: {error}", record.seq))?;
                into.push((record.seq.0, decoded));
            }
            Ok((batch.next, batch.end))
        })?;
        reply.transpose()
    }
}
