//! Everything as tables that any engine reads, from the same reports as the commands.

mod machines;
mod rugs;
mod running;
pub mod shape;
mod studio;

use crate::app::keeping::error::ExportError;
use crate::app::ports::book::Names;
use crate::app::ports::{Clock, Store};
use crate::app::whole_book::Book;
use host_core::hours::report::HoursReport;
pub use shape::{Cell, Column, Kind, Shape, TableSink};
pub use studio::About;

/// Every table, in the order in which they are written.
pub const TABLES: [&Shape; 11] = [
    &studio::STUDIO,
    &studio::PEOPLE,
    &machines::MACHINES,
    &running::BURSTS,
    &running::SESSIONS,
    &rugs::RUGS,
    &rugs::COSTS,
    &rugs::TEARS,
    &machines::CARE,
    &machines::PARTS,
    &machines::FAULTS,
];

/// Writes all tables.
///
/// # Errors
/// When the store cannot be read or a table not written.
pub fn write_tables(
    store: &(impl Store + Names),
    clock: &impl Clock,
    about: &About<'_>,
    sink: &mut impl TableSink,
) -> Result<(), ExportError> {
    let (now, zone) = (clock.now(), clock.zone());
    let book = Book::read(store)?;
    let ledger = book.ledger();
    let hours = HoursReport::of(&book.studio, &ledger, &zone);
    studio::studio(&book, about, sink)?;
    let names = if about.with_names { store.names()? } else { Vec::new() };
    studio::people(&book, &names, sink)?;
    machines::machines(&book, &hours, sink)?;
    running::bursts(&book, &ledger, sink)?;
    running::sessions(&book, &ledger, &zone, sink)?;
    rugs::rugs(&book, &hours, sink)?;
    rugs::costs(&book, &ledger, &hours, (now, &zone), sink)?;
    rugs::tears(&book, &ledger, sink)?;
    machines::care(&book, &ledger, sink)?;
    let running = machines::running(&book, &ledger, &zone);
    machines::parts(&book, &running, now, sink)?;
    machines::faults(&book, &running, now, sink)
}
