//! Faults from a table, or those of the log: do they come more often?

use shared_types::{MachineTag, UtcMillis};

use super::part::grounds;
use crate::app::ports::{Clock, Store};
use crate::app::typed::choose_machine::machine;
use crate::app::typed::column_table::{TableError, at, read};
use crate::app::typed::dates::happened;
use crate::app::typed::error::RequestError;
use crate::app::typed::names::checked_name;
use crate::app::typed::table_cell::hours_above_zero;
use crate::app::typed::take_back::{WithdrawnReport, take_back};
use crate::app::whole_book::Book;
use host_core::entries::{EntryBody, EntryId, MachineFault};
use host_core::parts::{FaultReport, OwnFaults, fault_report, own_faults};
use host_core::stats::{Ending, Faults, Level};

/// The most rows that are read.
const MOST_ROWS: usize = 100_000;

/// From a table with the column `hours`: run hours of the machine at each fault, never going down. When a moment ends the
/// observation, the last row is that moment and no fault; else the last row is the last fault.
///
/// # Errors
/// When the table cannot be used.
pub fn of_table(csv: &[u8], ending: Ending, level: Level) -> Result<FaultReport, TableError> {
    let rows = read(csv, ["hours"], [], MOST_ROWS)?;
    let mut times: Vec<f64> = Vec::with_capacity(rows.len());
    for row in &rows {
        let [cell] = &row.cells;
        let time = hours_above_zero(cell, row.line, "count from when the machine began to be observed")?;
        if let Some(before) = times.last().filter(|before| time < **before) {
            let what = format!(
                "hours goes down from {before} to {time}; write the machine's hours at each fault, in order"
            );
            return Err(at(row.line, what));
        }
        times.push(time);
    }
    let line = rows.last().map_or(2, |row| row.line);
    let end = times.last().copied().unwrap_or(0.0);
    if ending == Ending::Time {
        times.pop();
    }
    let faults =
        Faults::new(times, end, ending).ok_or_else(|| at(line, "these hours are no history".to_owned()))?;
    Ok(fault_report(&faults, level))
}

/// A fault as the maker tells it.
#[derive(Clone, Debug, Default)]
pub struct FaultSaid {
    /// What failed.
    pub what: String,
    /// What was done about it.
    pub mended: Option<String>,
    /// The machine's number.
    pub machine: Option<u32>,
    /// When; now if nothing is said.
    pub at: Option<UtcMillis>,
}

/// What was noted.
#[derive(Clone, Debug, PartialEq, Eq, serde::Serialize)]
pub struct FaultNoted {
    /// The entry's number, by which it can be taken back.
    pub entry: EntryId,
    /// The machine.
    pub machine: MachineTag,
    /// Its name.
    pub machine_name: String,
    /// What failed.
    pub what: String,
    /// When.
    pub at_utc_ms: UtcMillis,
}

/// Notes a fault of a machine.
///
/// # Errors
/// When nothing or too much is said, the machine is not clear, the moment lies in the future, or the store fails.
pub fn add(store: &mut impl Store, clock: &impl Clock, said: &FaultSaid) -> Result<FaultNoted, RequestError> {
    let what = checked_name("what failed", &said.what)?;
    let at = happened(said.at, clock.now())?;
    let book = Book::read(store)?;
    let card = machine(&book.studio, said.machine)?;
    let fault = MachineFault { machine: card.tag, what: what.clone(), at, mended: said.mended.clone() };
    let entry = store.add_entry(clock.now(), &EntryBody::MachineFault(fault))?;
    Ok(FaultNoted { entry, machine: card.tag, machine_name: card.name.clone(), what, at_utc_ms: at })
}

/// Takes a fault back; it stays visible.
///
/// # Errors
/// When no such entry counts, or the store fails.
pub fn withdraw(
    store: &mut impl Store,
    clock: &impl Clock,
    entry: EntryId,
    reason: &str,
) -> Result<WithdrawnReport, RequestError> {
    take_back(store, clock, entry, reason, "a fault", |body| matches!(body, EntryBody::MachineFault(_)))
}

/// From the faults that were noted of one machine, over its recorded run hours until now.
///
/// # Errors
/// When the machine is not clear, or the store cannot be read.
pub fn of_log(
    store: &impl Store,
    clock: &impl Clock,
    number: Option<u32>,
    level: Level,
) -> Result<OwnFaults, RequestError> {
    let book = Book::read(store)?;
    let ledger = book.ledger();
    let card = machine(&book.studio, number)?;
    let grounds = grounds(&book, &ledger, clock, &[card]);
    match grounds.first() {
        Some(grounds) => Ok(own_faults(&book.entries, grounds, &card.name, clock.now(), level)),
        None => Err(RequestError::NoMachine),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_last_row_is_the_end_or_the_last_fault() {
        let table = b"hours\n10\n20\n50\n";
        let by_time = of_table(table, Ending::Time, Level::USUAL).unwrap();
        assert_eq!((by_time.beside.faults, by_time.mtbf_hours.estimate), (2, Some(25.0)));
        let by_fault = of_table(table, Ending::Failure, Level::USUAL).unwrap();
        assert_eq!((by_fault.beside.faults, by_fault.degrees_of_freedom), (3, Some(4)));
    }

    #[test]
    fn a_single_row_is_an_observation_without_a_fault() {
        let report = of_table(b"hours\n500\n", Ending::Time, Level::USUAL).unwrap();
        assert_eq!((report.beside.faults, report.mtbf_hours.estimate), (0, None));
        assert!(report.mtbf_hours.low.is_some());
    }

    #[test]
    fn hours_that_go_down_or_are_zero_are_named_by_their_line() {
        let told = |table: &[u8]| of_table(table, Ending::Time, Level::USUAL).unwrap_err().to_string();
        assert!(told(b"hours\n30\n20\n50\n").starts_with("line 3: hours goes down from 30 to 20"));
        assert!(told(b"hours\n0\n20\n").starts_with("line 2: hours is 0"));
    }
}
