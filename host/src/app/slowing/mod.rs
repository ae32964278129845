//! Control charts of a machine's stroke rate.

use super::ports::{Clock, Store};
use super::typed::choose_machine::machine;
use super::typed::dates::Given;
use super::typed::error::RequestError;
use super::whole_book::Book;
use host_core::slowing::{Asked, SlowingReport, slowing_report};

/// Draws both charts of a machine, from its first record or from a day on.
///
/// # Errors
/// When the machine is not clear, or the store cannot be read.
pub fn slowing(
    store: &impl Store,
    clock: &impl Clock,
    number: Option<u32>,
    since: Option<Given>,
) -> Result<SlowingReport, RequestError> {
    let book = Book::read(store)?;
    Ok(slowing_report(Asked {
        entries: &book.entries,
        studio: &book.studio,
        ledger: &book.ledger(),
        card: machine(&book.studio, number)?,
        zone: &clock.zone(),
        since: since.map(|since| since.start(clock)),
        now: clock.now(),
    }))
}
