//! Lending machines out and taking them back, and how running is spread over machines.

use serde::Serialize;
use shared_types::{MachineTag, RunMillis, UtcMillis};

use super::error::MachineError;
use crate::app::hand::{self, People, Person};
use crate::app::ports::book::Names;
use crate::app::ports::{Clock, Store};
use crate::app::typed::choose_machine;
use crate::app::typed::dates::Given;
use crate::app::typed::error::RequestError;
use crate::app::typed::words::{decimal, refused};
use crate::app::whole_book::Book;
use host_core::entries::{EntryBody, MachineLent, MachineReturned, MeterReading, ReadingSource};
use host_core::hours::report::HoursReport;
use host_core::hours::spread::{Period, SpreadReport, spread};
use host_core::sessions::hours_at::{hours_at, last_heard};
use host_core::sessions::ledger::Ledger;
use host_core::sessions::lending::loans_with_running;
use host_core::studio::loans::{Loan, loans};

/// Longest note of a condition, in characters.
const LONGEST_CONDITION: usize = 500;

/// A machine that leaves or comes back.
#[derive(Clone, Debug, Default)]
pub struct Handed {
    /// Which machine; none: the only one.
    pub machine: Option<u32>,
    /// When; none: now.
    pub at: Option<UtcMillis>,
    /// In which condition.
    pub condition: Option<String>,
    /// What another meter shows; none: what its loggers counted.
    pub reading: Option<TypedReading>,
}

/// A reading that the maker typed.
#[derive(Clone, Debug, Default)]
pub struct TypedReading {
    /// Hours, with up to three places after the point.
    pub hours: String,
    /// Strokes, where they are known.
    pub strokes: Option<u64>,
}

/// What was entered.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct HandedReport {
    /// The machine's number.
    pub machine: MachineTag,
    /// Its name.
    pub machine_name: String,
    /// The borrower.
    pub person: Person,
    /// Whether the borrower was entered as a new person.
    pub is_new_person: bool,
    /// The reading.
    pub reading: MeterReading,
    /// Of when it is, in milliseconds UTC.
    pub at_utc_ms: UtcMillis,
    /// When the logger that sits on it now was last read, in milliseconds UTC.
    pub last_read_utc_ms: Option<UtcMillis>,
    /// The loan as it stands now.
    pub loan: Option<Loan>,
    /// Whether the machine has no logger board.
    pub is_without_logger: bool,
}

/// Lends a machine out; somebody whose name is new is entered as a person.
///
/// # Errors
/// When the machine is not clear or lent already, the name or the condition cannot be, it is before the machine last came back,
/// or the store fails.
pub fn lend(
    store: &mut (impl Store + Names),
    clock: &impl Clock,
    handed: &Handed,
    to: &str,
) -> Result<HandedReport, MachineError> {
    let book = Book::read(store)?;
    let card = choose_machine::machine(&book.studio, handed.machine)?.clone();
    let condition = checked_condition(handed.condition.as_deref())?;
    let earlier: Vec<Loan> =
        loans(&book.entries).into_iter().filter(|loan| loan.machine == card.tag).collect();
    if let Some(open) = earlier.iter().find(|loan| loan.is_away()) {
        let to = People::read(store)?.called(open.to);
        return Err(MachineError::IsLent { machine: card.tag.0, to });
    }
    let at = handed.at.unwrap_or_else(|| clock.now());
    if let Some(back) = earlier.iter().filter_map(|loan| loan.back_utc_ms).max().filter(|back| at < *back) {
        return Err(MachineError::LentBeforeBack { machine: card.tag.0, back });
    }
    let reading = reading(&book, handed, card.tag, at)?;
    let known = People::read(store)?.find(to).ok().cloned();
    let is_new_person = known.is_none();
    let person = store.together(|store| {
        let person = known.map_or_else(|| hand::add(store, clock, to), Ok)?;
        let (machine, to) = (card.tag, person.person);
        let body = EntryBody::MachineLent(MachineLent { machine, to, at, condition, reading });
        store.add_entry(clock.now(), &body)?;
        Ok::<_, MachineError>(person)
    })?;
    Ok(HandedReport {
        machine: card.tag,
        machine_name: card.name,
        person,
        is_new_person,
        reading,
        at_utc_ms: at,
        last_read_utc_ms: last_read(&book, card.tag),
        loan: last_loan(store, card.tag)?,
        is_without_logger: book.studio.is_without_logger(card.tag),
    })
}

/// Takes a machine back.
///
/// # Errors
/// When the machine is not clear or not lent, the condition cannot be, it is before it left, or the store fails.
pub fn back(
    store: &mut (impl Store + Names),
    clock: &impl Clock,
    handed: &Handed,
) -> Result<HandedReport, MachineError> {
    let book = Book::read(store)?;
    let card = choose_machine::machine(&book.studio, handed.machine)?.clone();
    let condition = checked_condition(handed.condition.as_deref())?;
    let open = loans(&book.entries).into_iter().rev().find(|loan| loan.machine == card.tag && loan.is_away());
    let Some(open) = open else { return Err(MachineError::IsNotLent(card.tag.0)) };
    let at = handed.at.unwrap_or_else(|| clock.now());
    if at < open.out_utc_ms {
        return Err(MachineError::BackBeforeLent { machine: card.tag.0, out: open.out_utc_ms });
    }
    let reading = reading(&book, handed, card.tag, at)?;
    let is_typed = |reading: &MeterReading| reading.source == ReadingSource::Typed;
    let went_back = is_typed(&reading) && is_typed(&open.reading_out);
    if went_back && (reading.run < open.reading_out.run || fewer(reading.strokes, open.reading_out.strokes)) {
        return Err(MachineError::ReadingFell(card.tag.0));
    }
    let body = EntryBody::MachineReturned(MachineReturned { machine: card.tag, at, condition, reading });
    store.add_entry(clock.now(), &body)?;
    let people = People::read(store)?;
    let person = people.people.iter().find(|known| known.person == open.to).cloned();
    Ok(HandedReport {
        machine: card.tag,
        machine_name: card.name,
        person: person.unwrap_or(Person { person: open.to, name: None }),
        is_new_person: false,
        reading,
        at_utc_ms: at,
        last_read_utc_ms: last_read(&book, card.tag),
        loan: last_loan(store, card.tag)?,
        is_without_logger: book.studio.is_without_logger(card.tag),
    })
}

/// When the loggers that sit on a machine now were last read.
fn last_read(book: &Book, machine: MachineTag) -> Option<UtcMillis> {
    let here = book.logs.iter().filter(|log| book.studio.fittings.machine_now(log.key) == Some(machine));
    here.filter_map(|log| last_heard(&book.heard, log.key)).max()
}

/// Whether both are known and the first is less.
fn fewer(strokes: Option<u64>, before: Option<u64>) -> bool {
    strokes.zip(before).is_some_and(|(strokes, before)| strokes < before)
}

fn last_loan(store: &impl Store, machine: MachineTag) -> Result<Option<Loan>, RequestError> {
    let book = Book::read(store)?;
    let loans = loans_with_running(&book.studio, &book.ledger(), &book.heard);
    Ok(loans.into_iter().rev().find(|loan| loan.machine == machine))
}

/// What the maker typed, else what the machine's loggers had counted by a moment.
fn reading(
    book: &Book,
    handed: &Handed,
    machine: MachineTag,
    at: UtcMillis,
) -> Result<MeterReading, RequestError> {
    let Some(typed) = &handed.reading else {
        return Ok(hours_at(&book.studio, &book.ledger(), &book.heard, machine, at));
    };
    let range = "0 to 1000000 hours, with three places after the point at most";
    let unclear = || refused("the reading", range, &typed.hours);
    decimal(&typed.hours, unclear)?;
    let run = thousandths(&typed.hours).filter(|hours| *hours <= 1_000_000_000).ok_or_else(unclear)?;
    Ok(MeterReading {
        // A thousandth of an hour is 3.6 s.
        run: Some(RunMillis(run.saturating_mul(3_600))),
        strokes: typed.strokes,
        source: ReadingSource::Typed,
        ..MeterReading::default()
    })
}

/// Thousandths of a number like `120`, `120.5` or `120,5`.
fn thousandths(text: &str) -> Option<u64> {
    let (whole, places) = text.trim().split_once(['.', ',']).unwrap_or((text.trim(), "0"));
    let are_digits = |part: &str| !part.is_empty() && part.bytes().all(|digit| digit.is_ascii_digit());
    if !are_digits(whole) || !are_digits(places) || places.len() > 3 {
        return None;
    }
    let places: u64 = format!("{places:0<3}").parse().ok()?;
    whole.parse::<u64>().ok()?.checked_mul(1_000)?.checked_add(places)
}

fn checked_condition(condition: Option<&str>) -> Result<Option<String>, RequestError> {
    let Some(condition) = condition.map(str::trim).filter(|condition| !condition.is_empty()) else {
        return Ok(None);
    };
    if condition.chars().count() > LONGEST_CONDITION {
        let given = format!("{} letters", condition.chars().count());
        return Err(RequestError::OutOfRange { what: "the condition", range: "at most 500 letters", given });
    }
    Ok(Some(condition.to_owned()))
}

/// How running is spread over machines that make the same pile, in a period; an open end is now, an open start the
/// first record.
///
/// # Errors
/// When the period ends before it starts, no machine was entered, or the store cannot be read.
pub fn spread_report(
    store: &impl Store,
    clock: &impl Clock,
    since: Option<Given>,
    until: Option<Given>,
) -> Result<SpreadReport, RequestError> {
    let book = Book::read(store)?;
    choose_machine::machines(&book.studio, None)?;
    let period = Period {
        since: since.map(|since| since.start(clock)),
        // A day that is named as the end belongs to the period.
        until: until.map(|until| UtcMillis(until.end(clock).0.saturating_add(1))),
    };
    if period.since.zip(period.until).is_some_and(|(since, until)| until <= since) {
        let (what, range) = ("the end of the period", "after its start");
        return Err(RequestError::OutOfRange { what, range, given: "before it".to_owned() });
    }
    let ledger = book.ledger();
    let hours = HoursReport::of(&book.studio, &ledger, &clock.zone());
    Ok(spread(&book.studio, &ledger, &hours, &loans(&book.entries), period))
}

/// One loan in the list.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct LoanLine {
    /// The machine's name.
    pub machine_name: String,
    /// How the borrower is called.
    pub to: String,
    /// The loan.
    pub loan: Loan,
}

/// All loans.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct LoanList {
    /// In the order of entry.
    pub loans: Vec<LoanLine>,
}

/// Lists all loans.
///
/// # Errors
/// When the store cannot be read.
pub fn list(store: &(impl Store + Names)) -> Result<LoanList, RequestError> {
    let (book, people) = (Book::read(store)?, People::read(store)?);
    Ok(LoanList { loans: lines(&book, &book.ledger(), &people) })
}

/// All loans, in the order of entry.
pub(in crate::app) fn lines(book: &Book, ledger: &Ledger<'_>, people: &People) -> Vec<LoanLine> {
    let loans = loans_with_running(&book.studio, ledger, &book.heard);
    let line = |loan: Loan| LoanLine {
        machine_name: book.studio.machine(loan.machine).map(|card| card.name.clone()).unwrap_or_default(),
        to: people.called(loan.to),
        loan,
    };
    loans.into_iter().map(line).collect()
}
