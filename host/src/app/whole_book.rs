//! Everything in the store, read once for one answer.

use std::rc::Rc;

use super::ports::{Store, StoreError};
use host_core::care::Grounds;
use host_core::entries::{EntryBody, InForce};
use host_core::records::log_records::LogRecords;
use host_core::records::timeline::HeardAt;
use host_core::sessions::ledger::Ledger;
use host_core::studio::Studio;
use shared_types::UtcMillis;

/// The maker's entries and the loggers' records.
#[derive(Debug)]
pub struct Book {
    /// The entries in force.
    pub entries: InForce<'static>,
    /// What they say together.
    pub studio: Studio,
    /// The logs.
    pub logs: Rc<[LogRecords]>,
    /// When loggers were heard.
    pub heard: Vec<HeardAt>,
}

impl Book {
    /// Reads everything.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn read(store: &(impl Store + ?Sized)) -> Result<Self, StoreError> {
        let entries = store.entries()?;
        let heard = store.status_reports()?.into_iter();
        Ok(Self {
            studio: Studio::of(&entries),
            entries,
            logs: store.logs()?,
            heard: heard.map(|heard| HeardAt { log: heard.key, next: heard.next, at: heard.at }).collect(),
        })
    }

    /// The same, with one entry more: as it would be read if that were entered.
    #[must_use]
    pub fn with(mut self, entered_at: UtcMillis, body: EntryBody) -> Self {
        self.entries = self.entries.with(entered_at, body);
        self.studio = Studio::of(&self.entries);
        self
    }

    /// Dates and attributes all running.
    #[must_use]
    pub fn ledger(&self) -> Ledger<'_> {
        Ledger::of_heard(&self.studio, &self.logs, &self.heard)
    }

    /// What care is judged from.
    #[must_use]
    pub fn grounds<'book>(&'book self, ledger: &'book Ledger<'book>) -> Grounds<'book> {
        Grounds { entries: &self.entries, studio: &self.studio, ledger, heard: &self.heard }
    }

    /// Whether nothing was ever entered or pulled.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.studio.machines.is_empty()
            && self.studio.rugs.is_empty()
            && self.studio.worked.is_empty()
            && self.logs.iter().all(|log| log.segments.is_empty() && log.last_totals.edges.0 == 0)
    }
}
