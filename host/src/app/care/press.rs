//! The care button at the machine: what was done when it was pressed.

use serde::Serialize;
use shared_types::{MachineTag, UtcMillis};

use crate::app::logger::PullReport;
use crate::app::ports::{Clock, Store};
use crate::app::typed::error::RequestError;
use crate::app::whole_book::Book;
use host_core::care::done::OpenQuestion;
use host_core::care::plan::BelongsTo;
use host_core::care::{care_of, schedule};
use host_core::entries::{EntryBody, PressWithdrawn};

/// As many tasks are offered, one for each digit.
pub const OFFERED: usize = 9;

/// A press that a pull brought and that nobody has answered.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PressAsked {
    /// The machine's number.
    pub machine: MachineTag,
    /// Its name.
    pub machine_name: String,
    /// The press.
    pub press: OpenQuestion,
    /// When it was, as an answer is noted; null while that is not known.
    pub at: Option<UtcMillis>,
    /// What may have been done: what was due first. The cloth has a button of its own and stands last.
    pub tasks: Vec<TaskOffered>,
}

/// A task that may have been done.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct TaskOffered {
    /// Its name.
    pub task: String,
    /// Whether it was due.
    pub is_due: bool,
}

/// The care presses that a pull brought. Those of earlier pulls were asked about then; `due` still lists them.
///
/// # Errors
/// When the database cannot be read.
pub fn presses_of_pull(
    store: &impl Store,
    clock: &impl Clock,
    report: &PullReport,
) -> Result<Vec<PressAsked>, RequestError> {
    let (Some(from), Some(to)) = (report.new_from, report.new_to) else { return Ok(Vec::new()) };
    let book = Book::read(store)?;
    let ledger = book.ledger();
    let grounds = book.grounds(&ledger);
    let mut asked = Vec::new();
    for card in &book.studio.machines {
        let care = care_of(grounds, card, clock.now(), &clock.zone());
        let is_new = |press: &OpenQuestion| {
            (from..=to).contains(&press.seq)
                && format!("{:08x}", press.log.0) == report.log
                && format!("{:016x}", press.logger.0) == report.logger
        };
        let mut dues: Vec<_> = care.dues.iter().collect();
        dues.sort_by_key(|due| (!due.is_due(), due.planned.task.belongs_to == BelongsTo::Cloth));
        let offered = |due: &&schedule::Due<'_>| TaskOffered {
            task: due.planned.task.name.to_owned(),
            is_due: due.is_due(),
        };
        let tasks: Vec<TaskOffered> = dues.iter().take(OFFERED).map(offered).collect();
        asked.extend(care.notes.open_questions().into_iter().filter(is_new).map(|press| PressAsked {
            machine: card.tag,
            machine_name: card.name.clone(),
            press,
            at: press.when.earliest(),
            tasks: tasks.clone(),
        }));
    }
    Ok(asked)
}

/// Notes that a care press was a mistake.
///
/// # Errors
/// When the database does not take it.
pub fn withdraw_press(
    store: &mut impl Store,
    clock: &impl Clock,
    press: &OpenQuestion,
) -> Result<(), RequestError> {
    let body = EntryBody::PressWithdrawn(PressWithdrawn {
        logger: press.logger,
        log: press.log,
        seq: press.seq,
        reason: "nothing was done".to_owned(),
    });
    store.add_entry(clock.now(), &body)?;
    Ok(())
}
