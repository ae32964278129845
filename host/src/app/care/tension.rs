//! How long the cloth on the frame has been tight.

use shared_types::MachineTag;
use shared_types::link::{LogState, LoggerStatus};

use crate::app::ports::{Clock, Store, StoreError};
use crate::app::whole_book::Book;
use host_core::care::tension::HeardTotal;
use host_core::care::{ClothTension, care_of};
use host_core::records::log_records::LogKey;

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

/// The cloth on the frame as the book tells of it, and the logger's total up to which the book counts.
#[derive(Clone, Copy, Debug)]
pub struct ClothWatched {
    tension: ClothTension,
    heard: HeardTotal,
}

impl ClothWatched {
    /// Of the machine on which a logger sits. None without a rug on the frame, and of a log that was never pulled.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn of(
        store: &impl Store,
        clock: &impl Clock,
        status: &LoggerStatus,
    ) -> Result<Option<Self>, StoreError> {
        let LogState::Ready { log, .. } = status.log else { return Ok(None) };
        let key = LogKey { logger: status.logger, log };
        let reports = store.status_reports()?;
        let heard = reports
            .iter()
            .filter(|report| report.key == key)
            .map(|report| HeardTotal { run: report.totals.run, at: report.at })
            .max_by_key(|heard| (heard.run, heard.at));
        let Some(heard) = heard else { return Ok(None) };
        let tension = cloth_tension(store, clock, status.settings.machine)?;
        Ok(tension.map(|tension| Self { tension, heard }))
    }

    /// Run time since it was tightened, as the logger stands now.
    #[must_use]
    pub fn now(&self, status: &LoggerStatus) -> ClothTension {
        self.tension.with_running(self.heard, status.totals.run, &status.settings.limits)
    }
}
