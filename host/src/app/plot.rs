//! The series behind the pictures.

use super::book::Book;
use super::machine::choose;
use super::ports::{Clock, Store};
use super::refused::Refused;
use crate::core::usage::UsageReport;

/// How each commission used the machine, by where the knob stood.
///
/// # Errors
/// When there is no such machine, or the store cannot be read.
pub fn usage(store: &impl Store, clock: &impl Clock, machine: Option<u32>) -> Result<UsageReport, Refused> {
    let book = Book::read(store)?;
    let machine = machine.map(|asked| choose(&book.studio, Some(asked)).map(|card| card.tag)).transpose()?;
    Ok(UsageReport::of(&book.studio, &book.ledger(), machine, &clock.zone()))
}
