//! How long the cloth on the frame has been tight.

use shared_types::MachineTag;

use crate::app::ports::{Clock, Store, StoreError};
use crate::app::whole_book::Book;
use host_core::care::{ClothTension, care_of};

/// Run time since the cloth on a machine's frame was last tightened, as the book tells it; none where no rug is on the frame,
/// re-tension is switched off, or there is no such machine.
///
/// # Errors
/// When the database cannot be read.
pub fn cloth_tension(
    store: &impl Store,
    clock: &impl Clock,
    machine: MachineTag,
) -> Result<Option<ClothTension>, StoreError> {
    let book = Book::read(store)?;
    let ledger = book.ledger();
    let Some(card) = book.studio.machine(machine) else { return Ok(None) };
    let care = care_of(book.grounds(&ledger), card, clock.now(), &clock.zone());
    Ok(ClothTension::of(&care, machine))
}
