//! The record of care, corrections included.

use serde::Serialize;

use super::limits::task_of;
use crate::app::ports::Store;
use crate::app::typed::choose_machine::{machines, only_machine};
use crate::app::typed::error::RequestError;
use crate::app::whole_book::Book;
use host_core::care::done::CareNotes;
use host_core::care::record::{RecordLine, record};
use host_core::studio::MachineCard;

/// The record of care.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct RecordReport {
    /// In the order of time; what was taken back is there and marked.
    pub entries: Vec<RecordLine>,
}

/// Every entry about care, of one machine or all, of one task or all.
///
/// # Errors
/// When there is no such machine or task, or the database cannot be read.
pub fn care_record(
    store: &impl Store,
    number: Option<u32>,
    task: Option<&str>,
) -> Result<RecordReport, RequestError> {
    let book = Book::read(store)?;
    let ledger = book.ledger();
    let cards = machines(&book.studio, number)?;
    let tag = only_machine(&book.studio, number)?;
    let grounds = book.grounds(&ledger);
    let entries = record(grounds, tag, task);
    if let Some(task) = task.filter(|_| entries.is_empty()) {
        let asked = |card: &&MachineCard| {
            let notes = CareNotes::of(&book.entries, &book.studio, &ledger, card.tag);
            task_of(&notes, card, task).map(|_| ())
        };
        // A task that any of the machines has was only never noted.
        let mut refused = Ok(());
        for card in &cards {
            refused = asked(card);
            if refused.is_ok() {
                break;
            }
        }
        refused?;
    }
    Ok(RecordReport { entries })
}
