//! The series behind the pictures.

use super::book::Book;
use super::ports::{Clock, Store};
use super::request::{self, RequestError};
use crate::core::usage::UsageReport;

/// How each commission used the machine, by where the knob stood.
///
/// # Errors
/// When there is no such machine, or the store cannot be read.
pub fn usage(
    store: &impl Store,
    clock: &impl Clock,
    machine: Option<u32>,
) -> Result<UsageReport, RequestError> {
    let book = Book::read(store)?;
    let machine = request::only_machine(&book.studio, machine)?;
    Ok(UsageReport::of(&book.studio, &book.ledger(), machine, &clock.zone()))
}
