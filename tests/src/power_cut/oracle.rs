//! What was promised, and whether it was kept. Shares nothing with the store but its answers.
//!
//! A promised record may be missing only if its sector was wiped since, and only if no older one stands.

use std::collections::{BTreeMap, HashMap};

use firmware::sim::nor::Nor;
use firmware::store::Store;
use shared_types::link::LogState;
use shared_types::log::{Event, Record, Settings};
use shared_types::{BootId, LogId, LoggerId, RecordSeq};

use super::Tally;

#[derive(Clone, Debug)]
struct Promise {
    sector: usize,
    wipes: u32,
}

/// Remembers every promise.
#[derive(Clone, Debug, Default)]
pub struct Oracle {
    promised: BTreeMap<u32, Promise>,
    /// Every content that a number ever stood for.
    known: HashMap<u32, Record>,
    /// Writes that failed: they may be there or not.
    open_ended: Vec<Record>,
    highest: Option<u32>,
    boot: u32,
    run_floor: u64,
    edges_floor: u64,
    run_ceiling: u64,
    settings: Settings,
    tried_settings: Option<Settings>,
    acknowledged: u32,
    identity: Option<(LoggerId, LogId)>,
    /// Numbers that a flipped bit may take: the newest record's, when the bit lies in it.
    pub may_miss: Option<u32>,
    /// What went wrong so far.
    pub tally: Tally,
}

fn running(record: &Record) -> (u64, u64) {
    match record.event {
        Event::Segment(segment) => (segment.run.0, u64::from(segment.edges)),
        _ => (0, 0),
    }
}

impl Oracle {
    /// The newest number that was promised.
    #[must_use]
    pub const fn highest(&self) -> Option<u32> {
        self.highest
    }

    /// The sector in which a promised record was written.
    #[must_use]
    pub fn sector_of(&self, seq: u32) -> Option<usize> {
        self.promised.get(&seq).map(|promise| promise.sector)
    }

    /// A record was written and its number told.
    pub fn promise(&mut self, seq: RecordSeq, record: &Record, nor: &Nor) {
        let sector = nor.last_programmed_sector() as usize;
        let is_higher = self.highest.is_none_or(|highest| seq.0 > highest);
        let is_new = self.known.insert(seq.0, record.clone()).is_none_or(|before| before == *record);
        self.tally.reused += u64::from(!is_higher || !is_new);
        self.highest = Some(seq.0);
        self.promised.insert(seq.0, Promise { sector, wipes: nor.wipes_of(sector) });
        let (run, edges) = running(record);
        self.run_floor += run;
        self.edges_floor += edges;
        self.run_ceiling += run;
    }

    /// A record was to be written and the power went.
    pub fn leave_open(&mut self, record: &Record) {
        self.run_ceiling += running(record).0;
        self.open_ended.push(record.clone());
    }

    /// Settings are to be changed.
    pub const fn try_settings(&mut self, settings: Settings) {
        self.tried_settings = Some(settings);
    }

    /// The settings were changed.
    pub const fn promise_settings(&mut self, settings: Settings) {
        self.settings = settings;
        self.tried_settings = None;
    }

    /// The cursor was moved.
    pub fn promise_cursor(&mut self, below: RecordSeq) {
        self.acknowledged = self.acknowledged.max(below.0);
    }

    /// The store could not be opened or written, though the power was on.
    pub const fn note_bricked(&mut self) {
        self.tally.bricked += 1;
    }

    /// Looks at a freshly opened store; of the records, at those from `from` on.
    pub fn check(&mut self, store: &mut Store<Nor>, from: u32) {
        let BootId(boot) = store.boot();
        self.tally.boots_repeated += u64::from(boot <= self.boot);
        self.boot = boot;
        let settings = store.settings();
        let as_told = settings == self.settings || Some(settings) == self.tried_settings;
        self.tally.settings_torn += u64::from(!as_told);
        self.promise_settings(settings);
        let LogState::Ready { log, acknowledged, next, .. } = store.log_state() else {
            self.note_bricked();
            return;
        };
        let identity = (store.logger(), log);
        let same = *self.identity.get_or_insert(identity) == identity;
        self.tally.settings_torn += u64::from(!same || acknowledged.0 < self.acknowledged);
        self.tally.reused += u64::from(self.highest.is_some_and(|highest| next.0 <= highest));
        self.check_records(store, from);
        self.check_totals(store);
        self.tally.unknown += u64::from(store.counters().stepped_over);
    }

    /// Records that the store tells and that were never written, or not under this number.
    pub fn invented(&self, store: &mut Store<Nor>) -> u64 {
        let mut count = 0;
        let end = store.read_from(RecordSeq(0), &mut |seq, record| {
            count += u64::from(self.known.get(&seq.0) != Some(record));
            true
        });
        count + u64::from(end.is_err())
    }

    fn check_totals(&mut self, store: &Store<Nor>) {
        let totals = store.totals();
        let fell = totals.run.0 < self.run_floor || totals.edges.0 < self.edges_floor;
        self.tally.totals_fell += u64::from(fell || totals.run.0 > self.run_ceiling);
        self.run_floor = self.run_floor.max(totals.run.0);
        self.edges_floor = self.edges_floor.max(totals.edges.0);
    }

    fn check_records(&mut self, store: &mut Store<Nor>, from: u32) {
        let mut present: BTreeMap<u32, Record> = BTreeMap::new();
        let mut tally = self.tally;
        let mut last = None;
        let end = store.read_from(RecordSeq(from), &mut |seq, record| {
            tally.doubled += u64::from(last.is_some_and(|last| seq.0 <= last));
            last = Some(seq.0);
            present.insert(seq.0, record.clone());
            true
        });
        self.tally = tally;
        if !end.is_ok_and(|end| end.reached_end) {
            self.note_bricked();
            return;
        }
        for (seq, record) in &present {
            self.check_present(*seq, record);
        }
        self.check_missing(&present, store.flash(), from);
    }

    fn check_present(&mut self, seq: u32, record: &Record) {
        match self.known.get(&seq) {
            Some(known) if known == record => {}
            Some(_) if self.promised.contains_key(&seq) => self.tally.lost += 1,
            Some(_) => self.tally.reused += 1,
            None => match self.open_ended.iter().position(|tried| tried == record) {
                // The write had succeeded after all; from now on it must stay, as the host may have read it.
                Some(place) => {
                    self.open_ended.remove(place);
                    self.known.insert(seq, record.clone());
                }
                None => self.tally.doubled += 1,
            },
        }
    }

    fn check_missing(&mut self, present: &BTreeMap<u32, Record>, nor: &Nor, from: u32) {
        let oldest = present.keys().next().copied().unwrap_or(u32::MAX);
        let missing: Vec<u32> = self
            .promised
            .range(from..)
            .map(|(seq, _)| *seq)
            .filter(|seq| !present.contains_key(seq))
            .collect();
        for seq in missing {
            let Some(promise) = self.promised.remove(&seq) else { continue };
            let made_room = nor.wipes_of(promise.sector) > promise.wipes && seq < oldest;
            if made_room {
                continue;
            }
            if self.may_miss == Some(seq) {
                if let Some(record) = self.known.get(&seq) {
                    let (run, edges) = running(record);
                    self.run_floor -= run;
                    self.edges_floor -= edges;
                }
            } else {
                self.tally.lost += 1;
            }
        }
    }
}
