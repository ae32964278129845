//! One life: cut after cut at random moments, several deep, with work in between.

use firmware::sim::nor::{ERASE_STEPS, Nor, NorError};
use firmware::split_mix::SplitMix64;
use firmware::store::{Store, StoreError};
use shared_types::RecordSeq;
use shared_types::link::LogState;

use super::oracle::Oracle;
use super::work::Work;
use super::{Sabotage, Tally, all_safe, chip, open, start_and_stop};

/// How a life goes.
#[derive(Clone, Copy, Debug)]
pub struct Plan {
    /// Sectors of the log.
    pub sectors: usize,
    /// Times the power goes.
    pub cuts: u64,
    /// Records written before the first cut.
    pub records_before: u64,
    /// One programmed byte in so many fails without a word.
    pub misprogram_one_in: Option<u64>,
    /// Every so many starts all records are looked at, else only the newest.
    pub full_check_every: u64,
    /// Takes a precaution away.
    pub sabotage: Sabotage,
}

impl Plan {
    /// A small log, looked at whole after every cut.
    #[must_use]
    pub fn small(sectors: usize, cuts: u64) -> Self {
        Self {
            sectors,
            cuts,
            records_before: 0,
            misprogram_one_in: None,
            full_check_every: 1,
            sabotage: all_safe,
        }
    }
}

/// Newest records looked at when not all are.
const NEWEST: u32 = 600;

/// Lives one life and tells what went wrong.
#[must_use]
pub fn live(plan: &Plan, seed: u64) -> Tally {
    let mut life = Life {
        plan: *plan,
        rng: SplitMix64::new(seed),
        work: Work::new(seed ^ 0x5EED),
        oracle: Oracle::default(),
        starts: 0,
    };
    let mut nor = chip(plan.sectors, seed);
    (plan.sabotage)(&mut nor);
    if plan.records_before > 0 {
        nor = life.fill(nor);
    }
    nor.misprogram_one_in(plan.misprogram_one_in);
    for _ in 0..plan.cuts {
        nor = life.hiccup(nor);
        life.next_cut(&mut nor);
        nor = life.run(nor);
        nor.power_on();
        life.oracle.tally.cuts += 1;
        if life.oracle.tally.bricked > 0 {
            return life.oracle.tally;
        }
    }
    life.finish(nor);
    life.oracle.tally
}

struct Life {
    plan: Plan,
    rng: SplitMix64,
    work: Work,
    oracle: Oracle,
    starts: u64,
}

impl Life {
    /// Mostly a good while, often at once, so that starts and starts after starts are cut too, and often in an erase,
    /// which is where a chip spends most of its time.
    fn next_cut(&mut self, nor: &mut Nor) {
        match self.rng.below(8) {
            0 => nor.cut_after(self.rng.below(20)),
            1 | 2 => nor.cut_after(self.rng.below(600)),
            3 | 4 => nor.cut_in_erase(self.rng.below(ERASE_STEPS)),
            _ => nor.cut_after(self.rng.below(6_000)),
        }
    }

    /// Now and then the supply comes and goes a few times before anything happens.
    fn hiccup(&mut self, mut nor: Nor) -> Nor {
        for _ in 0..self.rng.below(6).saturating_sub(3) {
            let wrote;
            (nor, wrote) = start_and_stop(nor, self.plan.sectors);
            self.oracle.tally.idle_writes += u64::from(wrote);
            nor.power_on();
        }
        nor
    }

    fn fill(&mut self, nor: Nor) -> Nor {
        let Ok(mut store) = open(nor, self.plan.sectors) else {
            panic!("a blank chip without cuts cannot be opened")
        };
        for _ in 0..self.plan.records_before {
            let record = self.work.next(store.boot());
            let seq = store.append(&record).expect("no cut here");
            self.oracle.promise(seq, &record, store.flash());
        }
        self.oracle.check(&mut store, 0);
        store.into_flash()
    }

    fn open_and_check(&mut self, nor: Nor) -> Result<Store<Nor>, Nor> {
        match open(nor, self.plan.sectors) {
            Ok(mut store) => {
                self.starts += 1;
                let newest = self.oracle.highest().unwrap_or(0).saturating_sub(NEWEST);
                let whole = self.starts.is_multiple_of(self.plan.full_check_every);
                self.oracle.check(&mut store, if whole { 0 } else { newest });
                self.work.restart();
                Ok(store)
            }
            Err((error, nor)) => {
                if error != StoreError::Flash(NorError::PowerOff) {
                    self.oracle.note_bricked();
                }
                Err(nor)
            }
        }
    }

    /// Works until the power goes.
    fn run(&mut self, nor: Nor) -> Nor {
        let mut store = match self.open_and_check(nor) {
            Ok(store) => store,
            Err(nor) => return nor,
        };
        while store.flash().is_on() && self.oracle.tally.bricked == 0 {
            one_task(&mut self.rng, &mut self.work, &mut self.oracle, &mut store);
        }
        store.into_flash()
    }

    /// After the last cut the store must open, hold everything and take a record.
    fn finish(&mut self, mut nor: Nor) {
        nor.misprogram_one_in(None);
        self.plan.full_check_every = 1;
        let Ok(mut store) = self.open_and_check(nor) else { return };
        let record = self.work.next(store.boot());
        match store.append(&record) {
            Ok(seq) => self.oracle.promise(seq, &record, store.flash()),
            Err(_) => self.oracle.note_bricked(),
        }
        let _still_there = self.open_and_check(store.into_flash());
    }
}

/// Does one thing with the store and tells the oracle.
pub fn one_task(rng: &mut SplitMix64, work: &mut Work, oracle: &mut Oracle, store: &mut Store<Nor>) {
    let outcome = match rng.below(20) {
        0 => {
            let settings = work.settings();
            oracle.try_settings(settings);
            store.change_settings(settings).map(|()| oracle.promise_settings(settings))
        }
        1 => {
            let LogState::Ready { next, .. } = store.log_state() else { return oracle.note_bricked() };
            let below = RecordSeq(next.0.saturating_sub(rng.below(40) as u32));
            store.acknowledge(below).map(|()| oracle.promise_cursor(below))
        }
        2..=7 => store.prepare_while_still().map(|_| ()),
        _ => {
            let record = work.anything(store.boot());
            match store.append(&record) {
                Ok(seq) => {
                    oracle.promise(seq, &record, store.flash());
                    Ok(())
                }
                Err(error) => {
                    oracle.leave_open(&record);
                    Err(error)
                }
            }
        }
    };
    if !matches!(outcome, Ok(()) | Err(StoreError::Flash(NorError::PowerOff))) {
        oracle.note_bricked();
    }
}
