//! How answers grow with the number of commissions: each is asked of so many rugs and of twice as many, and the ratio of the
//! times is printed. Two is straight growth, four would be the square. There is no pass mark.
//!
//! `cargo bench -p host --bench rugs -- [rugs]`; five and ten thousand when no number is given.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::cast_possible_truncation,
    reason = "a benchmark may stop at the first surprise"
)]

use std::rc::Rc;
use std::time::{Duration, Instant};

use host::app::hours::{plot, report};
use host::app::ports::{Clock, Gap, Holding, Kept, RawRecord, StatusReport, Store, StoreError};
use host::app::rugs::quote::{self, QuoteAsked};
use host::app::rugs::{history, job, rug, sheet};
use host_core::entries::amount::Money;
use host_core::entries::{
    Drive, Entry, EntryBody, EntryId, Fitting, InForce, JobAdded, JobKind, MachineAdded, MaterialUsed, Pile,
    RugDescribed, RugName, RugOrdered, RugWork, Stage, StageBegun, Style, WorkChange, YarnMove, YarnWeighed,
};
use host_core::records::log_records::{EventFact, LogKey, LogRecords, LoggedEvent, SegmentRecord};
use host_core::stats::Level;
use jiff::tz::TimeZone;
use shared_types::link::LoggerStatus;
use shared_types::log::{Anchor, ClockSource};
use shared_types::{
    BootId, Edges, LogId, LoggerId, MachineTag, RawAngle, RecordSeq, RunMillis, Totals, UptimeMillis,
    UtcMillis,
};

const KEY: LogKey = LogKey { logger: LoggerId(1), log: LogId(1) };
/// 2026-01-01T00:00:00Z.
const START: i64 = 1_767_225_600_000;
const HOUR: i64 = 3_600_000;

fn main() {
    let rugs = std::env::args().skip(1).find_map(|argument| argument.parse().ok()).unwrap_or(5_000);
    let (one, two) = (studio(rugs), studio(rugs * 2));
    println!("{:<28} {:>10} {:>10} {:>7}", "", format!("{rugs} rugs"), format!("{} rugs", rugs * 2), "ratio");
    let last = format!("Rug {}", rugs - 1);
    let asked = |store: &Held, what: &str| match what {
        "rug list" => rug::list(store, &Noon).unwrap().rugs.len(),
        "hours" => report::report(store, &Noon, None, None).unwrap().hours.machines.len(),
        "rug sessions" => rug::sessions(store, &Noon, &rug::Choice::default()).unwrap().sessions.len(),
        "rug progress" => sheet::progress(store, &Noon, None).unwrap().rugs.len(),
        "rug sheet" => sheet::sheet(store, &Noon, &last).unwrap().machines.len(),
        "rug history" => history::history(store, &last).unwrap().entries.len(),
        "job" => job::list(store, &Noon, None).unwrap().jobs.len(),
        "plot usage" => plot::usage(store, &Noon, None).unwrap().rows.len(),
        "plot density" => plot::density(store, &Noon).unwrap().rugs.len(),
        "plot year" => plot::year(store, &Noon, None, None).unwrap().report.days.len(),
        _ => usize::from(ask_quote(store)),
    };
    for what in [
        "rug list",
        "hours",
        "rug sessions",
        "rug progress",
        "rug sheet",
        "rug history",
        "job",
        "quote",
        "plot usage",
        "plot density",
        "plot year",
    ] {
        let (first, second) = (timed(|| asked(&one, what)), timed(|| asked(&two, what)));
        let ratio = second.as_secs_f64() / first.as_secs_f64();
        println!("{what:<28} {:>8} ms {:>8} ms {ratio:>7.2}", first.as_millis(), second.as_millis());
    }
}

fn ask_quote(store: &Held) -> bool {
    let asked = QuoteAsked {
        size_mm: (900, 1_200),
        style: Some(Style::Cut),
        colours: None,
        level: Level::new(0.8).unwrap(),
        machine: None,
        wage: None,
    };
    quote::ask(store, &Noon, &asked).unwrap().quote.run_hours.estimate.is_some()
}

/// The shorter of three times.
fn timed(mut work: impl FnMut() -> usize) -> Duration {
    let once = |work: &mut dyn FnMut() -> usize| {
        let start = Instant::now();
        std::hint::black_box(work());
        start.elapsed()
    };
    (0..3).map(|_| once(&mut work)).min().unwrap()
}

/// So many commissions one after the other, each with everything that can be said of one; the last hundred are not finished.
fn studio(rugs: u32) -> Held {
    let mut said = vec![
        EntryBody::MachineAdded(MachineAdded {
            machine: MachineTag(1),
            name: "Blue".to_owned(),
            pile: Pile::Cut,
            before_logger: None,
            since: UtcMillis(START),
            drive: Drive::Electric,
            has_logger: None,
            is_second_hand: None,
        }),
        EntryBody::LoggerFitted(Fitting {
            machine: MachineTag(1),
            logger: KEY.logger,
            log: KEY.log,
            from: RecordSeq(0),
        }),
    ];
    let mut segments = Vec::new();
    let mut totals = Totals::default();
    for number in 0..rugs {
        let rug = RugName(format!("Rug {number}"));
        let at = |hours: i64| UtcMillis(START + (i64::from(number) * 3 + hours) * HOUR);
        tell(&mut said, &rug, at, number + 100 < rugs);
        for part in 0..2_u32 {
            let uptime = u64::from(number) * 3 * HOUR.unsigned_abs() + u64::from(part) * 300_000;
            let (run, edges) = (RunMillis(60_000), 900 + number * 7 % 301);
            totals = totals.plus(run, Edges(u64::from(edges)));
            segments.push(SegmentRecord {
                seq: RecordSeq(10 + number * 2 + part),
                boot: BootId(1),
                at: UptimeMillis(uptime),
                run,
                edges,
                angle: Some(RawAngle::new(2_000)),
                continues: false,
            });
        }
    }
    let anchor = LoggedEvent::Anchor(Anchor { utc: UtcMillis(START), source: ClockSource::ClockChip });
    let events = vec![EventFact { seq: RecordSeq(1), boot: BootId(1), at: UptimeMillis(0), what: anchor }];
    let log = LogRecords {
        key: KEY,
        formatted_with: Totals::default(),
        last_totals: totals,
        last_next: RecordSeq(10 + rugs * 2),
        segments,
        events,
        conflicting: Vec::new(),
        unreadable: 0,
    };
    let entry = |(id, body)| Entry { id: EntryId(id), entered_at: UtcMillis(START), body };
    Held { entries: (1..).zip(said).map(entry).collect(), log }
}

fn tell(said: &mut Vec<EntryBody>, rug: &RugName, at: impl Fn(i64) -> UtcMillis, is_finished: bool) {
    said.push(EntryBody::RugOrdered(RugOrdered {
        rug: rug.clone(),
        width_mm: Some(200),
        height_mm: Some(100),
        cloth_lot: None,
        at: at(0),
    }));
    said.push(EntryBody::RugDescribed(RugDescribed {
        rug: rug.clone(),
        style: Some(Style::Cut),
        pile_height_tenths_mm: Some(120),
        colours: vec!["red".to_owned()],
    }));
    said.push(EntryBody::StageBegun(StageBegun { rug: rug.clone(), stage: Some(Stage::Fill), at: at(0) }));
    for (moved, weight_mg, when) in [(YarnMove::Out, 90_000, at(0)), (YarnMove::Back, 40_000, at(2))] {
        said.push(EntryBody::YarnWeighed(YarnWeighed {
            rug: rug.clone(),
            colour: "red".to_owned(),
            moved,
            weight_mg,
            at: when,
        }));
    }
    said.push(EntryBody::JobAdded(JobAdded {
        job: JobKind::Gluing,
        rug: Some(rug.clone()),
        lasted_ms: 600_000,
        at: at(2),
        note: None,
    }));
    said.push(EntryBody::MaterialUsed(MaterialUsed {
        rug: rug.clone(),
        what: "yarn".to_owned(),
        amount: Money(1_000_000),
        at: at(2),
    }));
    let work = |change, at| EntryBody::RugWork(RugWork { rug: rug.clone(), machine: None, change, at });
    said.push(work(WorkChange::Started, at(0)));
    said.push(work(if is_finished { WorkChange::Finished } else { WorkChange::Paused }, at(1)));
}

/// A clock that stands still.
#[derive(Clone, Copy, Debug)]
struct Noon;

impl Clock for Noon {
    fn now(&self) -> UtcMillis {
        UtcMillis(START + 100_000 * HOUR)
    }
    fn zone(&self) -> TimeZone {
        TimeZone::UTC
    }
}

/// A store that holds everything in memory, so that only the answers are timed.
#[derive(Debug)]
struct Held {
    entries: Vec<Entry>,
    log: LogRecords,
}

impl Store for Held {
    fn together<T, E: From<StoreError>>(
        &mut self,
        act: impl FnOnce(&mut Self) -> Result<T, E>,
    ) -> Result<T, E> {
        act(self)
    }
    fn add_entry(&mut self, entered_at: UtcMillis, body: &EntryBody) -> Result<EntryId, StoreError> {
        let id = EntryId(i64::try_from(self.entries.len()).unwrap() + 1);
        self.entries.push(Entry { id, entered_at, body: body.clone() });
        Ok(id)
    }
    fn add_entries(&mut self, entered_at: UtcMillis, bodies: &[EntryBody]) -> Result<(), StoreError> {
        bodies.iter().try_for_each(|body| self.add_entry(entered_at, body).map(drop))
    }
    fn entries(&self) -> Result<InForce<'static>, StoreError> {
        Ok(InForce::of(self.entries.clone()))
    }
    fn note_status(&mut self, _: UtcMillis, _: &LoggerStatus, _: &str) -> Result<(), StoreError> {
        Ok(())
    }
    fn first_missing(&self, _: LogKey) -> Result<RecordSeq, StoreError> {
        Ok(self.log.last_next)
    }
    fn missing(&self, _: LogKey, _: RecordSeq) -> Result<Vec<Gap>, StoreError> {
        Ok(Vec::new())
    }
    fn keep_records(&mut self, _: UtcMillis, _: LogKey, _: &[RawRecord]) -> Result<Kept, StoreError> {
        Ok(Kept::default())
    }
    fn logs(&self) -> Result<Rc<[LogRecords]>, StoreError> {
        Ok(Rc::new([self.log.clone()]))
    }
    fn note_gone(&mut self, _: LogKey, _: RecordSeq, _: RecordSeq) -> Result<(), StoreError> {
        Ok(())
    }
    fn status_reports(&self) -> Result<Vec<StatusReport>, StoreError> {
        Ok(Vec::new())
    }
    fn holding(&self, _: LogKey) -> Result<Holding, StoreError> {
        Ok(Holding::default())
    }
}
