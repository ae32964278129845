//! Saying on which machine a logger sits, and what that does to hours that are counted already. Running is never taken from a
//! machine unasked.

use serde::Serialize;
use shared_types::{LogId, LoggerId, MachineTag, RecordSeq};

use super::error::FittingError;
use super::fit::NOWHERE;
use crate::app::ports::{Clock, Store};
use crate::app::typed::choose_machine;
use crate::app::typed::error::RequestError;
use crate::app::whole_book::Book;
use host_core::entries::{EntryBody, EntryId, Fitting};
use host_core::hours::report::{HoursReport, Sum};
use host_core::records::fittings::FittingConflict;
use host_core::records::log_records::LogRecords;
use host_core::sessions::ledger::Ledger;
use host_core::studio::Studio;

/// What is asked for.
#[derive(Clone, Copy, Debug, Default)]
pub struct Refit {
    /// The machine; none: the only one.
    pub machine: Option<u32>,
    /// The logger; none: the only one.
    pub logger: Option<LoggerId>,
    /// From which record on; none: from the first when it was never fitted, else from the next one that it will write.
    pub from: Option<RecordSeq>,
}

/// How the hours of one machine change.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct HoursChange {
    /// Its number; none for loggers that sit on no machine.
    pub machine: Option<u32>,
    /// Its name.
    pub name: Option<String>,
    /// Measured before.
    pub before: Sum,
    /// Measured after.
    pub after: Sum,
}

impl HoursChange {
    /// Run time that it loses, in milliseconds.
    #[must_use]
    pub const fn lost_run_time_ms(&self) -> u64 {
        self.before.run_time_ms.saturating_sub(self.after.run_time_ms)
    }

    /// Whether it loses something and is a machine.
    #[must_use]
    pub const fn is_loss_of_a_machine(&self) -> bool {
        self.machine.is_some()
            && (self.after.run_time_ms < self.before.run_time_ms || self.after.edges < self.before.edges)
    }
}

/// A fitting, and what it does.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct RefitPlan {
    /// The fitting to be entered.
    pub fitting: Fitting,
    /// Machines whose hours change by it; empty when it only tells of what comes.
    pub changes: Vec<HoursChange>,
    /// Another machine's claim to the same records.
    pub claimed: Option<FittingConflict>,
}

impl RefitPlan {
    /// Whether some machine loses hours that were counted to it.
    #[must_use]
    pub fn takes_hours(&self) -> bool {
        self.changes.iter().any(HoursChange::is_loss_of_a_machine)
    }
}

/// Works out what a fitting would do, and enters nothing.
///
/// # Errors
/// When the machine or the logger is not clear, the record is one that the logger has not written yet, or the store cannot be
/// read.
pub fn plan(store: &impl Store, clock: &impl Clock, asked: Refit) -> Result<RefitPlan, FittingError> {
    let book = Book::read(store)?;
    let machine = match asked.machine {
        Some(0) => NOWHERE,
        other => choose_machine::machine(&book.studio, other)?.tag,
    };
    let log = choose_log(&book.logs, asked.logger)?;
    let first = if book.studio.fittings.was_fitted(log.key) { log.last_next } else { RecordSeq(0) };
    let from = asked.from.unwrap_or(first);
    if from > log.last_next {
        let range = "one that the logger has written, or its next one";
        let given = format!("{}; its next one is {}", from.0, log.last_next.0);
        return Err(RequestError::OutOfRange { what: "the record", range, given }.into());
    }
    let fitting = Fitting { machine, logger: log.key.logger, log: log.key.log, from };
    let new = EntryBody::LoggerFitted(fitting);
    let after = Studio::of(&book.entries.clone().with(clock.now(), new));
    let claimed = after.fittings.conflicts().get(book.studio.fittings.conflicts().len()).copied();
    let zone = clock.zone();
    let hours =
        |studio: &Studio| HoursReport::of(studio, &Ledger::of_heard(studio, &book.logs, &book.heard), &zone);
    Ok(RefitPlan { fitting, changes: changes(&hours(&book.studio), &hours(&after)), claimed })
}

/// The machines whose measured hours differ, machines that lose first.
fn changes(before: &HoursReport, after: &HoursReport) -> Vec<HoursChange> {
    let total = |report: &HoursReport, machine| {
        report.all().find(|hours| hours.machine == machine).map(|hours| hours.total).unwrap_or_default()
    };
    let names = |machine: Option<u32>| {
        let of = |report: &HoursReport| {
            report.all().find(|hours| hours.machine == machine).and_then(|hours| hours.name.clone())
        };
        of(after).or_else(|| of(before))
    };
    let mut machines: Vec<Option<u32>> = before.all().chain(after.all()).map(|hours| hours.machine).collect();
    machines.sort_unstable();
    machines.dedup();
    let mut changes: Vec<HoursChange> = machines
        .into_iter()
        .map(|machine| HoursChange {
            machine,
            name: names(machine),
            before: total(before, machine),
            after: total(after, machine),
        })
        .filter(|change| {
            (change.before.run_time_ms, change.before.edges) != (change.after.run_time_ms, change.after.edges)
        })
        .collect();
    changes.sort_by_key(|change| change.after.run_time_ms >= change.before.run_time_ms);
    changes
}

/// Enters a fitting as it was planned.
///
/// # Errors
/// When it takes hours from a machine and the maker did not agree to that, or the store fails.
pub fn carry_out(
    store: &mut impl Store,
    clock: &impl Clock,
    plan: &RefitPlan,
    is_agreed: bool,
) -> Result<(), FittingError> {
    if plan.takes_hours() && !is_agreed {
        return Err(FittingError::MovesHours);
    }
    store.add_entry(clock.now(), &EntryBody::LoggerFitted(plan.fitting))?;
    Ok(())
}

/// The newest log of the logger that is meant: the one named, or the only one.
fn choose_log(logs: &[LogRecords], asked: Option<LoggerId>) -> Result<&LogRecords, FittingError> {
    let mut known: Vec<LoggerId> = logs.iter().map(|log| log.key.logger).collect();
    known.sort_unstable();
    known.dedup();
    let logger = match (asked, known.as_slice()) {
        (_, []) => return Err(FittingError::NoLogger),
        (Some(asked), _) => asked,
        (None, [only]) => *only,
        (None, _) => return Err(FittingError::SeveralLoggers(known)),
    };
    // Logs come in the order in which they were first heard.
    match logs.iter().rfind(|log| log.key.logger == logger) {
        Some(log) => Ok(log),
        None => Err(FittingError::UnknownLogger { asked: logger, known }),
    }
}

/// A fitting that was entered for records which had been read before.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct LateFitting {
    /// The entry.
    pub entry: EntryId,
    /// The machine to which the records were given; 0 for none.
    pub machine: MachineTag,
    /// The logger.
    #[serde(skip)]
    pub logger: LoggerId,
    /// Its log.
    #[serde(skip)]
    pub log: LogId,
    /// The first of the records.
    pub from_record: RecordSeq,
    /// The first record that had not been read.
    pub below_record: RecordSeq,
}

/// The fittings that changed whose running already-read records are. The first fitting of a log only answers the question.
#[must_use]
pub fn late_fittings(book: &Book) -> Vec<LateFitting> {
    let mut fitted = Vec::new();
    let mut late = Vec::new();
    for entry in book.entries.iter() {
        let EntryBody::LoggerFitted(fitting) = entry.body else { continue };
        let key = (fitting.logger, fitting.log);
        let heard = book.heard.iter().filter(|one| (one.log.logger, one.log.log) == key);
        let below = heard.filter(|one| one.at <= entry.entered_at).map(|one| one.next).max();
        if let Some(below) = below.filter(|below| fitting.from < *below && fitted.contains(&key)) {
            late.push(LateFitting {
                entry: entry.id,
                machine: fitting.machine,
                logger: fitting.logger,
                log: fitting.log,
                from_record: fitting.from,
                below_record: below,
            });
        }
        fitted.push(key);
    }
    late
}
