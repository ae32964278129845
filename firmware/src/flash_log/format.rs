//! Formatting of the log region, one sector a step: erasing all at once would block for some twenty seconds.

use embedded_storage::nor_flash::NorFlash;
use shared_types::{BootId, LogId, LoggerId, Totals, UptimeMillis};

use super::delta_base::DeltaBase;
use super::entry::first_chain;
use super::ring::{Ring, last_written};
use super::sector::{ENTRIES_END, Header, SECTOR_SIZE};
use super::{FlashLog, StoreError};

/// Parameters of a new log.
#[derive(Clone, Copy, Debug)]
pub(crate) struct FormatParams {
    pub(crate) logger: LoggerId,
    pub(crate) log: LogId,
    pub(crate) boot: BootId,
    pub(crate) totals: Totals,
}

/// Progress of a format.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct FormatProgress {
    /// The next sector to check.
    next: u32,
}

impl FormatProgress {
    /// Nothing is done yet.
    pub(crate) const fn begin() -> Self {
        Self { next: 1 }
    }

    /// For a blank region: no sector needs checking.
    pub(crate) const fn of_blank(ring: &Ring) -> Self {
        Self { next: ring.sectors.saturating_add(1) }
    }

    /// Whether only the first header is left to write.
    pub(crate) const fn is_nearly_done(&self, ring: &Ring) -> bool {
        self.next > ring.sectors
    }

    /// Sectors not yet checked.
    pub(crate) const fn sectors_left(&self, ring: &Ring) -> u32 {
        (ring.sectors + 1).saturating_sub(self.next)
    }

    /// Empties one sector, or, when all are empty, begins the log in the first. Erases one sector at most.
    pub(crate) fn step<F: NorFlash>(
        &mut self,
        flash: &mut F,
        ring: Ring,
        params: FormatParams,
    ) -> Result<Option<FlashLog>, StoreError<F::Error>> {
        if self.is_nearly_done(&ring) {
            return FlashLog::begin(flash, ring, params).map(Some);
        }
        let address = ring.address(self.next);
        if last_written(flash, address, address + SECTOR_SIZE)?.is_some() {
            flash.erase(address, address + SECTOR_SIZE)?;
        }
        self.next += 1;
        Ok(None)
    }
}

impl FlashLog {
    /// Begins a log in the first sector of a region that holds none.
    fn begin<F: NorFlash>(
        flash: &mut F,
        ring: Ring,
        params: FormatParams,
    ) -> Result<Self, StoreError<F::Error>> {
        let head = Header {
            logger: params.logger,
            log: params.log,
            number: 0,
            first_seq: 0,
            previous_end: 0,
            previous_chain: first_chain(params.log, 0),
            acknowledged: 0,
            boot: params.boot,
            uptime: UptimeMillis(0),
            totals: params.totals,
            formatted_with: params.totals,
        };
        let mut log = Self {
            ring,
            head,
            last_tried: 0,
            offset: ENTRIES_END,
            closed: true,
            end_seq: 0,
            end_chain: head.previous_chain,
            chain: head.previous_chain,
            next_seq: 0,
            base: DeltaBase::at_head(params.boot, UptimeMillis(0)),
            totals: params.totals,
            acknowledged: 0,
            oldest: head,
            clean: None,
            place: None,
            failed_writes: 0,
            repaired: 0,
            stepped_over: 0,
            pending_refresh: None,
        };
        log.open_next(flash)?;
        log.oldest = log.head;
        Ok(log)
    }
}
