//! Day after day of the reference stream, until the log of the board is full and goes round.

use firmware::sim::nor::Nor;
use firmware::store::Store;
use std::collections::BTreeMap;

use shared_types::log::{
    Anchor, ClockSource, Event, FirmwareVersion, Record, Settings, StartReason, Started,
};
use shared_types::{RecordSeq, UptimeMillis, UtcMillis};

use super::work::Work;
use super::{chip, open};

/// Running of one working day, in milliseconds: three hours.
const RUN_PER_DAY_MS: u64 = 3 * 3_600_000;
const HOUR_MS: u64 = 3_600_000;

/// What a log that has gone round still holds.
#[derive(Clone, Debug, Default)]
pub struct Held {
    /// Whole working days between the first record that is left and the last that was written.
    pub days: u64,
    /// Bursts that are left.
    pub bursts: u64,
    /// Records that are left.
    pub records: u64,
    /// Run time of the records that are left, in milliseconds.
    pub run_ms: u64,
    /// Records that were left, by kind.
    pub by_kind: BTreeMap<&'static str, u64>,
    /// Bytes of the log's region.
    pub region_bytes: u64,
}

/// Works until the log has lost its first records. Each day is one boot: start, settings, the clock once an hour, three
/// hours of running in bursts, a control trace for about one in thirty.
#[must_use]
pub fn fill(sectors: usize, seed: u64) -> Held {
    let mut work = Work::new(seed);
    let mut nor = chip(sectors, seed);
    let mut first_of_day = Vec::new();
    loop {
        let Ok(mut store) = open(nor, sectors) else { panic!("no cut here") };
        work.restart();
        first_of_day.push(store.append(&started(store.boot(), store.totals())).expect("no cut here"));
        let settings = Event::Settings(Settings::default());
        let record = Record { boot: store.boot(), at: UptimeMillis(0), event: settings };
        store.append(&record).expect("no cut here");
        let run_at_start = store.totals().run.0;
        let mut hours = 0;
        while store.totals().run.0 - run_at_start < RUN_PER_DAY_MS {
            let record = work.next(store.boot());
            if record.at.0 >= hours * HOUR_MS {
                let utc = UtcMillis(1_700_000_000_000 + (hours * HOUR_MS).cast_signed());
                let event = Event::Anchor(Anchor { utc, source: ClockSource::ClockChip });
                hours += 1;
                store.append(&Record { boot: store.boot(), at: record.at, event }).expect("no cut here");
            }
            store.append(&record).expect("no cut here");
            store.prepare_while_still().expect("no cut here");
        }
        if store.overran() {
            return read(&mut store, &first_of_day, sectors);
        }
        nor = store.into_flash();
    }
}

fn started(boot: shared_types::BootId, totals: shared_types::Totals) -> Record {
    let firmware = FirmwareVersion { major: 1, minor: 0, patch: 0 };
    let event = Event::Started(Started { reason: StartReason::PowerOn, firmware, totals });
    Record { boot, at: UptimeMillis(0), event }
}

fn read(store: &mut Store<Nor>, first_of_day: &[RecordSeq], sectors: usize) -> Held {
    let mut held = Held { region_bytes: sectors as u64 * 4_096, ..Held::default() };
    let mut oldest = None;
    let end = store.read_from(RecordSeq(0), &mut |seq, record| {
        oldest.get_or_insert(seq);
        held.records += 1;
        if let Event::Segment(segment) = &record.event {
            held.run_ms += segment.run.0;
            held.bursts += u64::from(!segment.continues);
        }
        *held.by_kind.entry(kind(&record.event)).or_default() += 1;
        true
    });
    assert!(end.expect("no cut here").reached_end, "all is read");
    // A day whose first record is gone does not count.
    let oldest = oldest.expect("a full log holds records");
    held.days = first_of_day.iter().filter(|first| **first >= oldest).count() as u64;
    held
}

const fn kind(event: &Event) -> &'static str {
    match event {
        Event::Segment(segment) if segment.continues => "segments that go on",
        Event::Segment(_) => "segments that begin a burst",
        Event::Control(_) => "control traces",
        _ => "starts, settings, clock readings",
    }
}
