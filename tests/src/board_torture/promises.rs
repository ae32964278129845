//! What the board has told, and whether it still says so. Shares nothing with the firmware but the contract.

use std::collections::{BTreeMap, BTreeSet};

use shared_types::link::{LogState, LoggerStatus};
use shared_types::log::{Event, Limits, PressKind, Record, Settings};
use shared_types::{BootId, RecordSeq, Totals};

use super::lamp::Confirmed;
use super::{Toll, UsedFlash};

/// A finger on a button.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct MadePress {
    kind: PressKind,
    boot: BootId,
    /// Uptime in milliseconds.
    down_ms: u64,
}

/// Everything told in one life.
#[derive(Debug)]
pub struct Promises<'a> {
    used: &'a UsedFlash,
    /// What was learnt in this life, by number.
    known: BTreeMap<u32, Record>,
    /// The same by boot and moment, to find what stands twice.
    moments: BTreeMap<(u32, u64), Vec<u32>>,
    first: Option<LoggerStatus>,
    last: Option<LoggerStatus>,
    /// The oldest number that may still be there.
    oldest: u32,
    settings: Option<Settings>,
    tried_settings: Option<Settings>,
    acknowledged: u32,
    care_pressed: bool,
    retension_pressed: bool,
    /// The last press, until the lamp confirms it.
    pressed: Option<MadePress>,
    /// Presses that the lamp has confirmed in this life, each with the uptime at which the lamp was dark again.
    confirmed_presses: Vec<(MadePress, u64)>,
    seed: u64,
    /// What went wrong so far.
    pub toll: Toll,
}

impl<'a> Promises<'a> {
    /// Nothing told yet but what stands in the log.
    pub fn new(used: &'a UsedFlash, seed: u64) -> Self {
        Self {
            used,
            known: BTreeMap::new(),
            moments: BTreeMap::new(),
            first: None,
            last: None,
            oldest: used.span().0,
            settings: None,
            tried_settings: None,
            acknowledged: 0,
            care_pressed: false,
            retension_pressed: false,
            pressed: None,
            confirmed_presses: Vec::new(),
            seed,
            toll: Toll::default(),
        }
    }

    /// The number of the first record of this life.
    pub fn first_of_life(&self) -> u32 {
        self.used.records.len() as u32
    }

    /// What was told last.
    pub const fn last(&self) -> Option<&LoggerStatus> {
        self.last.as_ref()
    }

    pub fn note_lost(&mut self, what: &str) {
        self.toll.lost += 1;
        self.note("lost", what);
    }

    pub fn note_doubled(&mut self, what: &str) {
        self.toll.doubled += 1;
        self.note("doubled", what);
    }

    pub fn note_bricked(&mut self, what: &str) {
        self.toll.bricked += 1;
        self.note("bricked", what);
    }

    fn note(&mut self, kind: &str, what: &str) {
        let cuts = self.toll.cuts;
        self.toll.failures.push(format!("life {:#x}, after {cuts} cuts, {kind}: {what}", self.seed));
    }

    /// Settings are to be saved.
    pub const fn try_settings(&mut self, settings: Settings) {
        self.tried_settings = Some(settings);
    }

    /// The board has said that they are saved.
    pub const fn promise_settings(&mut self) {
        if let Some(settings) = self.tried_settings.take() {
            self.settings = Some(settings);
            self.care_pressed = false;
            self.retension_pressed = false;
        }
    }

    /// The board has said that everything below is acknowledged.
    pub fn promise_cursor(&mut self, below: u32) {
        self.acknowledged = self.acknowledged.max(below);
    }

    /// A finger goes down at this uptime. Presses change the limits by themselves, sooner or later.
    pub fn press(&mut self, kind: PressKind, down_ms: u64) {
        self.pressed = self.last.as_ref().map(|status| MadePress { kind, boot: status.boot, down_ms });
        self.care_pressed |= kind == PressKind::CareDone;
        self.retension_pressed |= kind == PressKind::Retension;
    }

    /// What the board says of itself after a start.
    pub fn take_status(&mut self, status: LoggerStatus) {
        let LogState::Ready { log, oldest, next, acknowledged, .. } = status.log else {
            self.note_bricked("the log is unreadable");
            return;
        };
        if acknowledged < RecordSeq(self.acknowledged) {
            self.note_lost(&format!("acknowledged up to {}, {} was told", acknowledged.0, self.acknowledged));
        }
        let before = self.last.take();
        if let Some(before) = &before
            && let LogState::Ready { log: log_before, next: next_before, .. } = before.log
        {
            if status.logger != before.logger || log != log_before {
                self.note_lost("another identity");
            }
            if next < next_before {
                self.note_doubled(&format!("next number {} after {}", next.0, next_before.0));
            }
            if status.boot <= before.boot && status.uptime < before.uptime {
                self.note_doubled(&format!("boot {} after {}", status.boot.0, before.boot.0));
            }
            if status.totals.edges < before.totals.edges || status.totals.run < before.totals.run {
                self.toll.totals_fell += 1;
                self.note("totals fell", &format!("{:?} after {:?}", status.totals, before.totals));
            }
        }
        self.check_room(oldest.0);
        self.first.get_or_insert_with(|| status.clone());
        self.last = Some(status);
    }

    /// The oldest records may go, one sector for one erase, and never fall back.
    fn check_room(&mut self, oldest: u32) {
        if oldest < self.oldest {
            self.note_doubled(&format!("records from {oldest} are back"));
        }
        // Two sectors at most between two looks: one that is full and one that had failed.
        if oldest > self.oldest.max(1) + 3 * self.used.most_in_a_sector {
            self.note_lost(&format!("the oldest record is {oldest}, it was {}", self.oldest));
        }
        self.oldest = oldest;
    }

    /// Later on, settings that a press has changed may be in force before they are saved, so they are no promise.
    pub fn check_settings_after_a_start(&mut self) {
        let Some(found) = self.last.as_ref().map(|status| status.settings) else { return };
        let is_told = |told: Settings| {
            let Limits { look_at, stop_at, retension_at, retension_every, ceiling } = told.limits;
            let limits = found.limits;
            let rests = self.care_pressed && limits.look_at.is_none() && limits.stop_at.is_none();
            found.machine == told.machine
                && found.knob_step == told.knob_step
                && (limits.retension_every, limits.ceiling) == (retension_every, ceiling)
                && (rests || (limits.look_at, limits.stop_at) == (look_at, stop_at))
                && (self.retension_pressed || limits.retension_at == retension_at)
        };
        let as_told = self.settings.is_none_or(is_told) || self.tried_settings.is_some_and(is_told);
        if !as_told {
            self.note_lost(&format!("settings are {found:?}, {:?} was told", self.settings));
        }
        self.settings = Some(found);
        self.tried_settings = None;
        self.care_pressed = false;
        self.retension_pressed = false;
    }

    /// Records that were read, from the number `from` on, and whether the log's end was reached.
    pub fn take_records(&mut self, from: u32, records: &[(u32, Record)], is_complete: bool) {
        if !records.is_sorted_by(|before, after| before.0 < after.0) {
            self.note_doubled("numbers do not ascend");
        }
        for (seq, record) in records {
            self.learn(*seq, record);
        }
        let present: BTreeSet<u32> = records.iter().map(|(seq, _)| *seq).collect();
        let end = if is_complete { u32::MAX } else { present.last().map_or(from, |last| last + 1) };
        let start = from.max(self.oldest.min(records.first().map_or(u32::MAX, |(seq, _)| *seq)));
        let old = start..self.first_of_life().min(end);
        let new = self.known.range(start.min(end)..end).map(|(seq, _)| *seq);
        let missing: Vec<u32> = old.chain(new).filter(|seq| !present.contains(seq)).collect();
        if let (Some(first), Some(last)) = (missing.first(), missing.last()) {
            self.toll.lost += missing.len() as u64 - 1;
            self.note_lost(&format!("{} records between {first} and {last}", missing.len()));
        }
        for seq in missing {
            self.known.remove(&seq);
        }
    }

    /// The whole chip as the emulator has it, read by the library.
    pub fn take_chip(&mut self, content: &[u8]) {
        match self.used.read_all(content) {
            Ok(records) => {
                let oldest = records.first().map_or(u32::MAX, |(seq, _)| *seq);
                self.check_room(oldest);
                self.take_records(0, &records, true);
            }
            Err(error) => self.note_bricked(&format!("the library cannot read the log: {error}")),
        }
    }

    fn learn(&mut self, seq: u32, record: &Record) {
        let before = self.used.records.get(seq as usize).or_else(|| self.known.get(&seq));
        match before {
            Some(known) if known == record => return,
            Some(known) => {
                let what = format!("number {seq} is {record:?}, it was {known:?}");
                self.note_lost(&what);
                return;
            }
            None => {}
        }
        let same_moment = self.moments.entry((record.boot.0, record.at.0)).or_default();
        let twin = same_moment.iter().copied().find(|other| self.known.get(other) == Some(record));
        same_moment.push(seq);
        if let Some(twin) = twin {
            self.note_doubled(&format!("{record:?} is number {twin} and {seq}"));
        }
        self.known.insert(seq, record.clone());
    }

    /// With the power goes what the finger did and the lamp has not confirmed.
    pub const fn power_on(&mut self) {
        self.pressed = None;
    }

    /// The lamp has said that the last press is safe.
    pub fn confirm_a_press(&mut self, confirmed: Confirmed) {
        match self.pressed.take() {
            Some(made) => {
                self.toll.confirmed += 1;
                self.confirmed_presses.push((made, confirmed.until_ms));
            }
            None => self.note_doubled(&format!("{confirmed:?}, and nobody has pressed")),
        }
    }

    /// Every press that was confirmed is on record, with its kind, from between the finger and the end of the light.
    fn check_presses(&mut self) {
        let is_on_record = |(made, until_ms): &(MadePress, u64)| {
            self.known.values().any(|record| {
                record.boot == made.boot
                    && (made.down_ms..=*until_ms).contains(&record.at.0)
                    && matches!(&record.event, Event::Press(press) if press.kind == made.kind)
            })
        };
        let (_, gone): (Vec<_>, Vec<_>) = self.confirmed_presses.iter().copied().partition(is_on_record);
        for (made, until_ms) in &gone {
            self.note_lost(&format!("{made:?}, confirmed until {until_ms} ms"));
        }
        self.confirmed_presses.retain(|it| !gone.contains(it));
    }

    /// Holds the records of this life against what the board says, after all of them have been read at `totals`.
    pub fn check_sums(&mut self, totals: Totals) {
        let Some(first) = &self.first else { return };
        let (first_boot, first_totals) = (first.boot, first.totals);
        let mut sum = Totals::default();
        let (mut boots, mut twice) = (BTreeSet::new(), 0);
        for record in self.known.values() {
            match &record.event {
                Event::Segment(segment) => {
                    sum = sum.plus(segment.run, shared_types::Edges(u64::from(segment.edges)));
                }
                Event::Started(_) if !boots.insert(record.boot) => twice += 1,
                _ => {}
            }
        }
        if twice > 0 {
            self.note_doubled(&format!(
                "{twice} starts with the number of another, from {} on",
                first_boot.0
            ));
        }
        self.check_presses();
        let expected = first_totals.plus(sum.run, sum.edges);
        if expected.edges < totals.edges || expected.run < totals.run {
            self.note_lost(&format!("the records add up to {expected:?}, the totals are {totals:?}"));
        }
        if expected.edges > totals.edges || expected.run > totals.run {
            self.note_doubled(&format!("the records add up to {expected:?}, the totals are {totals:?}"));
        }
    }
}
