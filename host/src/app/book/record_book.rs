//! The record book of one machine: everything that is known of it, in one report.

use std::{panic, thread};

use serde::Serialize;
use shared_types::log::PressKind;
use shared_types::{MachineTag, UtcMillis};

use super::verify;
use crate::app::hand::{People, Person};
use crate::app::logger::{LateFitting, late_fittings, loggers_on};
use crate::app::machines::{self, LoanLine};
use crate::app::ports::book::{Chained, Names};
use crate::app::ports::{Clock, Store};
use crate::app::typed::choose_machine;
use crate::app::typed::error::RequestError;
use crate::app::whole_book::Book;
use host_core::book::ChainReport;
use host_core::book::hours::BookHours;
use host_core::book::lines::{BookLine, lines};
use host_core::care::due_report;
use host_core::care::report::TaskReport;
use host_core::entries::Pile;
use host_core::heavy::report::{MachineHeavy, heavy_report};
use host_core::hours::report::HoursReport;
use host_core::records::log_records::LoggedEvent;
use host_core::records::when::When;
use host_core::sessions::ledger::Ledger;
use host_core::studio::Studio;

/// A press of one of the two buttons at the machine.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct PressLine {
    /// Which.
    #[serde(serialize_with = "press_as_text")]
    pub press: PressKind,
    /// When.
    pub when: When,
    /// Whether it was a mistake, as the maker said later.
    pub is_withdrawn: bool,
}

fn press_as_text<S: serde::Serializer>(press: &PressKind, out: S) -> Result<S::Ok, S::Error> {
    out.serialize_str(match press {
        PressKind::NearMiss => "near_miss",
        PressKind::Tear => "tear",
        PressKind::CareDone => "care_done",
        PressKind::Retension => "retension",
    })
}

/// The book.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct RecordBook {
    /// When it was made.
    pub as_of_utc_ms: UtcMillis,
    /// The machine's number.
    pub machine: MachineTag,
    /// Its name.
    pub machine_name: String,
    /// What it makes.
    pub pile: Pile,
    /// Since when it is in the studio.
    pub since_utc_ms: UtcMillis,
    /// Whether it has no logger board.
    pub is_without_logger: bool,
    /// The loggers on it now, by identity in hexadecimal.
    pub loggers: Vec<String>,
    /// Its hours.
    pub hours: BookHours,
    /// How its care stands, the most pressing first.
    pub care_due: Vec<TaskReport>,
    /// Presses at the machine, in the order of records.
    pub presses: Vec<PressLine>,
    /// Heavy use, with the faults of the logger's sensors.
    pub heavy: Option<MachineHeavy>,
    /// When it was lent out.
    pub loans: Vec<LoanLine>,
    /// Fittings entered for records that had been read before: running went from one machine to another by them.
    pub late_fittings: Vec<LateFitting>,
    /// Every entry about it, in the order of arrival, withdrawn ones too.
    pub entries: Vec<BookLine>,
    /// The people whose numbers stand in it.
    pub people: Vec<Person>,
    /// The chain, and the head to which this book goes.
    pub chain: ChainReport,
}

/// Makes the book of the named machine, or of the only one.
///
/// # Errors
/// When the machine is not clear, or the store cannot be read.
pub fn book(
    store: &(impl Store + Names + Chained),
    clock: &impl Clock,
    machine: Option<u32>,
) -> Result<RecordBook, RequestError> {
    // What is entered meanwhile is in the book and after its head, never the other way round.
    let (chain, under) = verify::chain_beside(store, || all_but_chain(store, clock, machine));
    let chain = chain?;
    if !chain.is_whole {
        // A damaged page is no book; a change that somebody made with care is told in it.
        store.check_kept()?;
    }
    under.map(|under| under(chain))
}

/// The book, to be put under the head of its chain.
fn all_but_chain<S: Store + Names, C: Clock>(
    store: &S,
    clock: &C,
    machine: Option<u32>,
) -> Result<impl FnOnce(ChainReport) -> RecordBook + use<S, C>, RequestError> {
    let book = Book::read(store)?;
    let card = choose_machine::machine(&book.studio, machine)?;
    let (tag, now, zone) = (card.tag, clock.now(), clock.zone());
    let number = Some(tag.0);
    let (ledger, people) = (book.ledger(), People::read(store)?);
    let loans: Vec<LoanLine> = machines::lines(&book, &ledger, &people)
        .into_iter()
        .filter(|line| line.loan.machine == tag)
        .collect();
    let grounds = book.grounds(&ledger);
    let (heavy, hours, care_due) = thread::scope(|scope| {
        let care_due = || due_report(grounds, &[card], now, &zone).tasks;
        let beside = thread::Builder::new().spawn_scoped(scope, care_due);
        let heavy = heavy_report(grounds.entries, grounds.studio, grounds.ledger, &[card], None, now, &zone);
        let hours = HoursReport::of(&book.studio, &ledger, &zone);
        let care_due = match beside {
            Ok(beside) => beside.join().unwrap_or_else(|panicked| panic::resume_unwind(panicked)),
            Err(_) => care_due(),
        };
        (heavy, hours, care_due)
    });
    let entries = lines(&book.entries, &book.studio, tag);
    let measured = hours.machines.into_iter().find(|hours| hours.machine == number);
    let lent_run_time_ms = loans.iter().map(|line| line.loan.run_time_ms).sum();
    let hours = measured.map_or_else(
        || BookHours {
            before_logger_run_time_ms: card.before_logger.map(|run| run.0),
            life_run_time_ms: card.before_logger.map_or(0, |run| run.0),
            lent_run_time_ms,
            ..BookHours::default()
        },
        |hours| BookHours::of(hours, lent_run_time_ms),
    );
    let (machine_name, pile, since_utc_ms) = (card.name.clone(), card.pile, card.since);
    let loggers = loggers_on(&book, Some(tag));
    let is_without_logger = book.studio.is_without_logger(tag);
    let presses = presses(&book.studio, &ledger, tag);
    let people = named_in(&entries, people);
    let late_fittings = late_fittings(&book)
        .into_iter()
        .filter(|late| entries.iter().any(|line| line.entry == late.entry))
        .collect();
    Ok(move |chain| RecordBook {
        as_of_utc_ms: now,
        machine: tag,
        machine_name,
        pile,
        since_utc_ms,
        is_without_logger,
        loggers,
        hours,
        care_due,
        presses,
        heavy: heavy.machines.into_iter().next(),
        loans,
        late_fittings,
        entries,
        people,
        chain,
    })
}

/// The people whose numbers stand in some entries, and no others.
fn named_in(entries: &[BookLine], people: People) -> Vec<Person> {
    let stands_in = |person: &Person| entries.iter().any(|line| line.says.person() == Some(person.person));
    people.people.into_iter().filter(stands_in).collect()
}

fn presses(studio: &Studio, ledger: &Ledger<'_>, machine: MachineTag) -> Vec<PressLine> {
    let mut presses = Vec::new();
    for log in &ledger.logs {
        for event in &log.facts.events {
            let LoggedEvent::Press(press) = &event.what else { continue };
            if studio.fittings.machine_of(log.facts.key, event.seq) == Some(machine) {
                presses.push(PressLine {
                    press: press.kind,
                    when: log.timeline.when(event.boot, event.at),
                    is_withdrawn: studio.withdrawn_presses.contains(&(log.facts.key, event.seq)),
                });
            }
        }
    }
    presses
}
