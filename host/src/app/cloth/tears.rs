//! Tears and near-misses: noting, answering, taking back, listing, and setting them against the running.

use serde::Serialize;
use shared_types::UtcMillis;

use super::error::ClothError;
use super::table;
use crate::app::logger::PullReport;
use crate::app::ports::logger_name::{log_name, logger_name};
use crate::app::ports::{Clock, Store};
use crate::app::typed::choose_machine::machine;
use crate::app::typed::dates::happened;
use crate::app::typed::error::RequestError;
use crate::app::typed::withdrawn;
use crate::app::whole_book::Book;
use host_core::cloth::harms;
use host_core::cloth::traces::{TraceReport, traces as before_tears};
use host_core::cloth::{
    HarmId, HarmLine, HarmRecord, Known, SpeedBy, SpeedReport, TableProblem, TableReport, all_harm_lines,
    speed_report, table_report,
};
use host_core::entries::harm_answers::Answers;
use host_core::entries::{
    EntryBody, EntryId, Harm, PressAnswered, RugName, TearAnswered, TearDetails, TearNoted,
};
use host_core::stats::Level;
use host_core::studio::Studio;

/// What the maker says of a tear.
#[derive(Clone, Debug, Default)]
pub struct TearSaid {
    /// Whether it was only nearly one.
    pub is_near_miss: bool,
    /// The machine's number.
    pub machine: Option<u32>,
    /// When; now if nothing is said.
    pub at: Option<UtcMillis>,
    /// The knob in per cent of its travel, 0 to 100.
    pub knob_percent: Option<u8>,
    /// The commission's name.
    pub rug: Option<String>,
    /// The cloth.
    pub cloth_lot: Option<String>,
    /// Anything else.
    pub note: Option<String>,
    /// What else is known.
    pub answers: Answers,
}

/// What became of a tear or near-miss.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct HarmChanged {
    /// Its name.
    pub id: HarmId,
    /// The entry by which it was changed.
    pub entry: EntryId,
    /// How it stands now.
    pub now: Option<HarmRecord>,
}

/// Notes a tear or near-miss.
///
/// # Errors
/// When there is no such machine or commission, the moment lies in the future, or the database does not take it.
pub fn note(
    store: &mut impl Store,
    clock: &impl Clock,
    said: &TearSaid,
) -> Result<HarmChanged, RequestError> {
    let studio = Studio::of(&store.entries()?);
    let card = machine(&studio, said.machine)?;
    let now = clock.now();
    let at = happened(said.at, now)?;
    let noted = TearNoted {
        harm: if said.is_near_miss { Harm::NearMiss } else { Harm::Tear },
        machine: card.tag,
        at,
        knob_per_mille: said.knob_percent.map(per_mille),
        details: TearDetails { knob_per_mille: None, ..details(&studio, said)? },
    };
    let entry = store.add_entry(now, &EntryBody::TearNoted(noted))?;
    changed(store, HarmId::Entry(entry), entry)
}

/// Says more about a tear or near-miss. What was said before stays visible in the entries; where the two differ the later one counts.
///
/// # Errors
/// When there is none of that name, it was taken back, there is no such commission, or the database does not take it.
pub fn answer(
    store: &mut impl Store,
    clock: &impl Clock,
    id: &str,
    said: &TearSaid,
) -> Result<HarmChanged, ClothError> {
    let harm = one(store, clock, id)?;
    let details = details(&Studio::of(&store.entries()?), said)?;
    let body = match harm.id {
        HarmId::Press(log, seq) => {
            EntryBody::PressAnswered(PressAnswered { logger: log.logger, log: log.log, seq, details })
        }
        HarmId::Entry(entry) => EntryBody::TearAnswered(TearAnswered { entry, details }),
    };
    let entry = store.add_entry(clock.now(), &body)?;
    Ok(changed(store, harm.id, entry)?)
}

/// The tear or near-miss of that name, whether or not it counts.
///
/// # Errors
/// When there is none of that name, or the database cannot be read.
pub fn meant(store: &impl Store, id: &str) -> Result<HarmId, ClothError> {
    Ok(named(&all(store)?, id)?.id)
}

/// Every tear and near-miss.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct HarmList {
    /// In the order of time, what cannot be dated first; those taken back too.
    pub harms: Vec<HarmLine>,
    /// Tears that count.
    pub tears: u64,
    /// Near-misses that count.
    pub near_misses: u64,
    /// Taken back.
    pub withdrawn: u64,
}

/// Lists them all.
///
/// # Errors
/// When the database cannot be read.
pub fn list(store: &impl Store) -> Result<HarmList, RequestError> {
    let book = Book::read(store)?;
    let ledger = book.ledger();
    let all = harms(&book.entries, &book.studio, &ledger);
    let harms =
        all_harm_lines(Known { entries: &book.entries, studio: &book.studio, ledger: &ledger, harms: &all });
    let count = |which: &dyn Fn(&HarmRecord) -> bool| {
        u64::try_from(harms.iter().filter(|line| which(&line.harm)).count()).unwrap_or(u64::MAX)
    };
    Ok(HarmList {
        tears: count(&|harm| harm.counts() && harm.harm == Harm::Tear),
        near_misses: count(&|harm| harm.counts() && harm.harm == Harm::NearMiss),
        withdrawn: count(&|harm| !harm.counts()),
        harms,
    })
}

/// Tears and near-misses that a pull brought and that count.
///
/// # Errors
/// When the database cannot be read.
pub fn of_pull(store: &impl Store, report: &PullReport) -> Result<Vec<HarmLine>, RequestError> {
    let (Some(from), Some(to)) = (report.new_from, report.new_to) else { return Ok(Vec::new()) };
    let is_new = |line: &HarmLine| match line.harm.id {
        HarmId::Press(log, seq) => {
            (from..=to).contains(&seq)
                && log_name(log.log) == report.log
                && logger_name(log.logger) == report.logger
                && line.harm.counts()
        }
        HarmId::Entry(_) => false,
    };
    Ok(list(store)?.harms.into_iter().filter(is_new).collect())
}

/// Sets a machine's tears against its running.
///
/// # Errors
/// When the database cannot be read, or there is no such machine.
pub fn speed(
    store: &impl Store,
    number: Option<u32>,
    by: SpeedBy,
    level: Level,
) -> Result<SpeedReport, ClothError> {
    let book = Book::read(store)?;
    let ledger = book.ledger();
    let card = machine(&book.studio, number)?;
    let harms = harms(&book.entries, &book.studio, &ledger);
    let known = Known { entries: &book.entries, studio: &book.studio, ledger: &ledger, harms: &harms };
    Ok(speed_report(known, card, by, level).map_err(TableProblem::from)?)
}

/// The seconds before a machine's tears.
///
/// # Errors
/// When the database cannot be read, or there is no such machine.
pub fn traces(store: &impl Store, number: Option<u32>) -> Result<TraceReport, RequestError> {
    let book = Book::read(store)?;
    let ledger = book.ledger();
    let card = machine(&book.studio, number)?;
    Ok(before_tears(&book.studio, &ledger, &harms(&book.entries, &book.studio, &ledger), card.tag))
}

/// The same from a table, without any logger.
///
/// # Errors
/// When the table cannot be read or says nothing; names the line.
pub fn speed_of_table(csv: &[u8], level: Level) -> Result<TableReport, ClothError> {
    let report = table_report(&table::read(csv)?, level)?;
    Ok(TableReport { counts_strokes: table::counts_strokes(csv), ..report })
}

fn all(store: &impl Store) -> Result<Vec<HarmRecord>, RequestError> {
    let book = Book::read(store)?;
    Ok(harms(&book.entries, &book.studio, &book.ledger()))
}

/// The one that is meant, if it counts.
fn one(store: &impl Store, clock: &impl Clock, id: &str) -> Result<HarmRecord, ClothError> {
    let book = Book::read(store)?;
    let only = named(&harms(&book.entries, &book.studio, &book.ledger()), id)?;
    match withdrawn::of_harm(&book.entries, only.id) {
        None => Ok(only),
        Some(by) => Err(withdrawn::taken_back_before(by, only.id.to_string(), clock).into()),
    }
}

/// The one of that name, whether or not it counts.
fn named(all: &[HarmRecord], id: &str) -> Result<HarmRecord, ClothError> {
    let meant: Vec<&HarmRecord> = all.iter().filter(|harm| harm.id.is_meant_by(id)).collect();
    match meant.as_slice() {
        [] => Err(ClothError::UnknownHarm(id.to_owned())),
        [only] => Ok((*only).clone()),
        several => {
            let known: Vec<String> = several.iter().map(|harm| harm.id.to_string()).collect();
            Err(ClothError::SeveralHarms { id: id.to_owned(), known: known.join(" or ") })
        }
    }
}

fn changed(store: &impl Store, id: HarmId, entry: EntryId) -> Result<HarmChanged, RequestError> {
    let now = all(store)?.into_iter().find(|harm| harm.id == id);
    Ok(HarmChanged { id, entry, now })
}

fn details(studio: &Studio, said: &TearSaid) -> Result<TearDetails, RequestError> {
    let rug = said.rug.as_deref().map(|name| studio.rug(name)).transpose()?;
    Ok(TearDetails {
        rug: rug.map(|rug| RugName(rug.order.rug.0.clone())),
        cloth_lot: said.cloth_lot.clone(),
        note: said.note.clone(),
        answers: said.answers,
        knob_per_mille: said.knob_percent.map(per_mille),
    })
}

fn per_mille(percent: u8) -> u16 {
    u16::from(percent) * 10
}
