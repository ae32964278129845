//! Is the interval right: from findings in a table, or from those of the log.

use serde::Serialize;

use crate::app::ports::{Clock, Store};
use crate::app::typed::choose_machine::machines;
use crate::app::typed::column_table::{TableError, read};
use crate::app::typed::error::RequestError;
use crate::app::typed::table_cell::{hours_above_zero, yes_or_no};
use crate::app::whole_book::Book;
use host_core::care::done::CareNotes;
use host_core::care::history::History;
use host_core::care::tasks::tasks_for;
use host_core::parts::{
    Asked, IntervalReport, RunMeter, TaskInterval, can_be_judged, interval_report, task_interval,
};
use host_core::stats::Look;
use host_core::studio::nearest_names;

/// What the log's own findings say.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct IntervalsReport {
    /// Tasks with findings, machine by machine, in the order of the plan.
    pub tasks: Vec<TaskInterval>,
    /// Tasks of which a finding can tell at all whether they come too late.
    pub can_be_judged: Vec<&'static str>,
    /// The task that was asked for, where it is none of these.
    pub asked_cannot_be_judged: Option<String>,
}

/// From the findings that were noted when tasks were done.
///
/// # Errors
/// When there is no such machine or task, or the store cannot be read.
pub fn of_log(
    store: &impl Store,
    clock: &impl Clock,
    machine: Option<u32>,
    task: Option<&str>,
) -> Result<IntervalsReport, RequestError> {
    let book = Book::read(store)?;
    let ledger = book.ledger();
    let chosen = machines(&book.studio, machine)?;
    let names: Vec<&'static str> =
        chosen.iter().flat_map(|card| tasks_for(card.pile)).map(|task| task.name).collect();
    let is_asked = |name: &str| task.is_none_or(|asked| name.eq_ignore_ascii_case(asked.trim()));
    let mut known: Vec<String> = Vec::new();
    for card in &chosen {
        let notes = CareNotes::of(&book.entries, &book.studio, &ledger, card.tag);
        for task in notes.tasks(card) {
            if !known.iter().any(|name| name.eq_ignore_ascii_case(task.name)) {
                known.push(task.name.to_owned());
            }
        }
    }
    if let Some(asked) = task.filter(|_| !known.iter().any(|name| is_asked(name))) {
        let names: Vec<&str> = known.iter().map(String::as_str).collect();
        return Err(RequestError::UnknownTask {
            name: asked.to_owned(),
            nearest: nearest_names(asked, &names),
            known,
        });
    }
    let mut tasks = Vec::new();
    for card in chosen {
        let history = History::of(&book.studio, &ledger, &book.heard, card.tag, &clock.zone());
        let meter = RunMeter::of(&history);
        let of_machine = tasks_for(card.pile).filter(|task| is_asked(task.name) && can_be_judged(task.name));
        tasks.extend(of_machine.filter_map(|task| {
            task_interval(Asked {
                entries: &book.entries,
                meter: &meter,
                machine: card.tag,
                machine_name: &card.name,
                task,
            })
        }));
    }
    let mut judged: Vec<&'static str> = names.into_iter().filter(|name| can_be_judged(name)).collect();
    let mut seen = std::collections::BTreeSet::new();
    judged.retain(|name| seen.insert(*name));
    let asked_cannot_be_judged =
        task.map(str::trim).filter(|_| !judged.iter().any(|name| is_asked(name))).map(str::to_owned);
    Ok(IntervalsReport { tasks, can_be_judged: judged, asked_cannot_be_judged })
}

/// The most rows that are read; the limits take many passes over them.
const MOST_ROWS: usize = 10_000;

/// From a table with the columns `hours` (since it was last done) and `dirty` (1 or 0).
///
/// # Errors
/// When the table cannot be used.
pub fn of_table(csv: &[u8]) -> Result<IntervalReport, TableError> {
    let rows = read(csv, ["hours", "dirty"], [], MOST_ROWS)?;
    let looks = rows.iter().map(|row| {
        let [hours, dirty] = &row.cells;
        Ok(Look {
            time: hours_above_zero(hours, row.line, "a finding needs some running before it")?,
            dirty: yes_or_no(dirty, "dirty", row.line)?,
        })
    });
    Ok(interval_report(&looks.collect::<Result<Vec<_>, TableError>>()?))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_finding_without_running_is_named_by_its_line() {
        let told = of_table(b"hours,dirty\n3,1\n0,0\n").unwrap_err().to_string();
        assert_eq!(told, "line 3: hours is 0; a finding needs some running before it");
    }

    #[test]
    fn a_single_finding_is_a_table_with_too_little_in_it() {
        let report = of_table(b"hours,dirty\n3,1\n").unwrap();
        assert_eq!((report.enough_evidence, report.findings, report.missing.findings), (false, 1, 9));
    }
}
