//! Is the machine slowing down?

use shared_types::{MachineTag, UtcMillis};

use super::ports::{Clock, Store};
use super::typed::choose_machine::machine;
use super::typed::dates::Given;
use super::typed::error::RequestError;
use super::whole_book::Book;
use host_core::entries::{self, Entry, EntryBody, InForce};
use host_core::sessions::ledger::Ledger;
use host_core::slowing::{Asked, SlowingReport, slowing_report};
use host_core::studio::MachineCard;

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
    let ledger = book.ledger();
    let card = machine(&book.studio, number)?;
    let since = since.map(|since| since.start(clock));
    Ok(of_machine(&book, &ledger, card, clock, since))
}

/// Draws both charts of a machine from its first record.
pub(super) fn slowing_of(
    book: &Book,
    ledger: &Ledger<'_>,
    card: &MachineCard,
    clock: &impl Clock,
) -> SlowingReport {
    of_machine(book, ledger, card, clock, None)
}

fn of_machine(
    book: &Book,
    ledger: &Ledger<'_>,
    card: &MachineCard,
    clock: &impl Clock,
    since: Option<UtcMillis>,
) -> SlowingReport {
    slowing_report(Asked {
        studio: &book.studio,
        ledger,
        card,
        zone: &clock.zone(),
        now: clock.now(),
        since,
        last_care: last_care(&book.entries, card.tag),
    })
}

/// When the machine was last cleaned, oiled, or given a new part. Stretching the cloth is no care of the machine.
fn last_care(entries: &InForce<'_>, tag: MachineTag) -> Option<UtcMillis> {
    let at = |entry: &Entry| match &entry.body {
        EntryBody::CareDone(done) if done.machine == tag && done.task.0 != entries::RETENSION => {
            Some(done.at)
        }
        EntryBody::PartFitted(fitted) if fitted.machine == tag => Some(fitted.at),
        _ => None,
    };
    entries.iter().filter_map(at).max()
}
