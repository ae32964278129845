//! The flash as the rest of the logger sees it: records that stay, settings that stay, and who and when this is.

use core::ops::Range;

use embedded_storage::nor_flash::NorFlash;
use shared_types::link::LogState;
use shared_types::log::{Record, Settings};
use shared_types::{BootId, LoggerId, RecordSeq, Totals};

pub use crate::flash_log::ReadEnd;
use crate::flash_log::{FlashLog, FormatProgress, Ring, SECTOR_SIZE};
use crate::settings::{Kept, Slots};
use crate::split_mix::mixed;
pub use crate::store_error::StoreError;
use opening::{Started, continue_format, drawn_log, start};

mod opening;

/// Flash regions of settings and log. Both are whole sectors of [`SECTOR_SIZE`] bytes and do not overlap.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Layout {
    /// At least [`Layout::MIN_SETTINGS_SECTORS`].
    pub settings: Range<u32>,
    /// At least [`Layout::MIN_LOG_SECTORS`].
    pub log: Range<u32>,
}

impl Layout {
    /// One sector holds the settings in force while the other is erased.
    pub const MIN_SETTINGS_SECTORS: u32 = 2;
    /// One sector is written, one waits erased, one holds what was.
    pub const MIN_LOG_SECTORS: u32 = 3;

    /// Whether the regions are whole sectors, large enough and apart. Can be asked when the program is compiled.
    #[must_use]
    pub const fn is_sound(&self) -> bool {
        let apart = self.settings.end <= self.log.start || self.log.end <= self.settings.start;
        apart
            && holds_sectors(&self.settings, Self::MIN_SETTINGS_SECTORS)
            && holds_sectors(&self.log, Self::MIN_LOG_SECTORS)
    }

    /// Sectors of the log.
    #[must_use]
    pub const fn log_sectors(&self) -> u32 {
        self.log.end.saturating_sub(self.log.start) / SECTOR_SIZE
    }
}

const fn holds_sectors(region: &Range<u32>, at_least: u32) -> bool {
    region.start.is_multiple_of(SECTOR_SIZE)
        && region.end.is_multiple_of(SECTOR_SIZE)
        && region.start < region.end
        && (region.end - region.start) / SECTOR_SIZE >= at_least
}

/// Facts of the board at its start.
#[derive(Clone, Copy, Debug)]
pub struct StartFacts {
    /// The flash chip's own number, where it tells one. A new logger's identity is drawn from it and from `random`; a logger that
    /// has one keeps it.
    pub chip_id: Option<LoggerId>,
    /// Bits that nobody can foretell, for identities that must be drawn.
    pub random: u64,
}

/// Error counters since the store was opened.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct StoreCounters {
    /// Writes that did not read back as written and were done again elsewhere.
    pub failed_writes: u32,
    /// Entries in which a flipped bit was put right while reading.
    pub repaired: u32,
    /// Records of a newer firmware that were stepped over, at most in one sector.
    pub stepped_over: u32,
}

/// Owns the flash. Every call returns only when what it promises is in flash.
#[derive(Debug)]
pub struct Store<F> {
    flash: F,
    ring: Ring,
    slots: Slots,
    kept: Kept,
    log: Option<FlashLog>,
    /// A format under way.
    format: Option<FormatProgress>,
    random: u64,
    /// The number of this boot is safe, and the last writes of the previous boot are programmed again.
    committed: bool,
}

impl<F: NorFlash> Store<F> {
    /// Finds settings and log, and makes a log where the region is blank or its first making was cut. A log region that holds
    /// anything else stays as it is; see [`Store::log_state`]. Where settings and log stand, it only reads: a supply that comes and
    /// goes must not wear the flash out. The boot counts from [`Store::commit`] on.
    ///
    /// # Errors
    /// [`StoreError::Layout`]; otherwise only what the flash driver reports, or [`StoreError::NotKept`] when no sector
    /// keeps what is written. The flash comes back with it.
    pub fn open(mut flash: F, layout: Layout, facts: StartFacts) -> Result<Self, (StoreError<F::Error>, F)> {
        const {
            assert!(F::READ_SIZE == 1 && F::WRITE_SIZE == 1, "entries are as long as they are");
            assert!(F::ERASE_SIZE == SECTOR_SIZE as usize, "a sector is what one erase erases");
        }
        let fits =
            usize::try_from(layout.settings.end.max(layout.log.end)).is_ok_and(|end| end <= flash.capacity());
        if !layout.is_sound() || !fits {
            return Err((StoreError::Layout, flash));
        }
        let ring = Ring { start: layout.log.start, sectors: layout.log_sectors() };
        let found = match start(&mut flash, layout.settings, ring, facts) {
            Ok(found) => found,
            Err(error) => return Err((error, flash)),
        };
        let Started { slots, kept, log, format, is_new } = found;
        let random = facts.random;
        let mut store = Self { flash, ring, slots, kept, log, format, random, committed: false };
        if is_new && let Err(error) = store.begin() {
            return Err((error, store.flash));
        }
        Ok(store)
    }

    /// Keeps an identity before it is told to anybody, and begins a log where nothing need be erased for it, so that a first start
    /// need not wait for a pause.
    fn begin(&mut self) -> Result<(), StoreError<F::Error>> {
        self.commit()?;
        if self.format.is_some_and(|format| format.is_nearly_done(&self.ring)) {
            self.format_unreadable()?;
        }
        Ok(())
    }

    /// Makes the running boot's number safe, so that no later boot has it, and programs the last writes of the previous boot again. To be
    /// called before the number is told; whatever writes or reads records calls it by itself. True when a sector of the settings was
    /// erased for it; later calls do nothing.
    ///
    /// # Errors
    /// As [`Store::append`], except that no log is needed.
    pub fn commit(&mut self) -> Result<bool, StoreError<F::Error>> {
        if self.committed { Ok(false) } else { self.keep(self.kept.settings) }
    }

    /// Whether the running boot's number is safe.
    #[must_use]
    pub const fn is_committed(&self) -> bool {
        self.committed
    }

    /// Writes a slot with these settings, the number of the boot, and what the log has given out.
    fn keep(&mut self, settings: Settings) -> Result<bool, StoreError<F::Error>> {
        if let Some(log) = self.log.as_mut() {
            log.refresh(&mut self.flash)?;
        }
        let kept = self.kept_now(settings);
        let erased = self.slots.write(&mut self.flash, &kept)?;
        self.kept = kept;
        self.committed = true;
        Ok(erased)
    }

    /// Which logger this is.
    #[must_use]
    pub const fn logger(&self) -> LoggerId {
        self.kept.logger
    }

    /// The running boot. Not to be told before [`Store::commit`]: until then the next start may have the same number.
    #[must_use]
    pub const fn boot(&self) -> BootId {
        self.kept.boot
    }

    /// The state of the log.
    #[must_use]
    pub fn log_state(&self) -> LogState {
        match (&self.log, &self.format) {
            (Some(log), _) => log.state(),
            (None, Some(format)) => LogState::Formatting { sectors_left: format.sectors_left(&self.ring) },
            (None, None) => LogState::Unreadable,
        }
    }

    /// Lifetime totals. Without a readable log they stand still: counting without recording is not possible.
    #[must_use]
    pub fn totals(&self) -> Totals {
        self.log.as_ref().map_or(self.kept.totals, FlashLog::totals)
    }

    /// The settings in force.
    #[must_use]
    pub const fn settings(&self) -> Settings {
        self.kept.settings
    }

    /// Whether records were overwritten before they were acknowledged.
    #[must_use]
    pub fn overran(&self) -> bool {
        self.log.as_ref().is_some_and(FlashLog::overran)
    }

    /// Error counters since the start.
    #[must_use]
    pub fn counters(&self) -> StoreCounters {
        self.log.as_ref().map_or_else(StoreCounters::default, |log| StoreCounters {
            failed_writes: log.failed_writes(),
            repaired: log.repaired(),
            stepped_over: log.stepped_over(),
        })
    }

    /// Writes one record. On `Ok` it is in flash and has been read back; a segment has been added to the totals.
    ///
    /// # Errors
    /// [`StoreError::NoLog`] without a readable log, [`StoreError::NotKept`] when several sectors in a row fail, and what
    /// the flash driver reports; the record may then be there or not, and the next one gets another number.
    pub fn append(&mut self, record: &Record) -> Result<RecordSeq, StoreError<F::Error>> {
        self.ready_log()?;
        self.log.as_mut().ok_or(StoreError::NoLog)?.append(&mut self.flash, record)
    }

    /// Keeps other settings. On `Ok` they are in flash; until then the old ones stand.
    ///
    /// # Errors
    /// As [`Store::append`], except that no log is needed.
    pub fn change_settings(&mut self, settings: Settings) -> Result<(), StoreError<F::Error>> {
        self.keep(settings).map(|_| ())
    }

    /// To be called while the needle stands still: erases the next sector, if need be. At most one sector is erased, which
    /// blocks for as long as the chip takes; true when one was. An append erases only if this was never called.
    ///
    /// # Errors
    /// What the flash driver reports.
    pub fn prepare_while_still(&mut self) -> Result<bool, StoreError<F::Error>> {
        if self.log.is_none() {
            return Ok(false);
        }
        self.commit()?;
        self.log.as_mut().map_or(Ok(false), |log| log.prepare(&mut self.flash))
    }

    /// Reads records from the number `from` on, oldest first. A record for which `visit` answers false was not taken and
    /// ends the reading.
    ///
    /// # Errors
    /// [`StoreError::NoLog`] and what the flash driver reports.
    pub fn read_from(
        &mut self,
        from: RecordSeq,
        visit: &mut dyn FnMut(RecordSeq, &Record) -> bool,
    ) -> Result<ReadEnd, StoreError<F::Error>> {
        self.ready_log()?;
        self.log.as_mut().ok_or(StoreError::NoLog)?.read_from(&mut self.flash, from, visit)
    }

    /// Keeps that everything below is safe elsewhere. Erases nothing; never moves back, nor past the end.
    ///
    /// # Errors
    /// As [`Store::append`].
    pub fn acknowledge(&mut self, below: RecordSeq) -> Result<(), StoreError<F::Error>> {
        self.ready_log()?;
        self.log.as_mut().ok_or(StoreError::NoLog)?.acknowledge(&mut self.flash, below)
    }

    /// Makes a new log in place of one that cannot be read, one step for each call: the first notes in the settings that
    /// it is wanted, each other empties one sector, the last begins the log. Erases one sector of the log at most, and one
    /// of the settings in the first and last. True when there is a readable log. Until then the log is being made; a start after
    /// a cut goes on, see [`Store::is_formatting`].
    ///
    /// # Errors
    /// As [`Store::append`].
    pub fn format_unreadable(&mut self) -> Result<bool, StoreError<F::Error>> {
        if self.log.is_some() {
            return Ok(true);
        }
        self.commit()?;
        if self.format.is_some() {
            let Self { flash, slots, kept, ring, format, .. } = self;
            self.log = continue_format(flash, slots, kept, *ring, format)?;
            return Ok(self.log.is_some());
        }
        self.random = mixed(self.random ^ u64::from(self.kept.boot.0));
        let log = Some(drawn_log(self.random));
        let kept = Kept { log, formatting: true, next: RecordSeq(0), ..self.kept };
        self.slots.write(&mut self.flash, &kept)?;
        self.kept = kept;
        self.format = Some(FormatProgress::begin());
        Ok(false)
    }

    /// Whether a new log is being made, and [`Store::format_unreadable`] must be called again until it is.
    #[must_use]
    pub const fn is_formatting(&self) -> bool {
        self.format.is_some()
    }

    /// The flash, for tests.
    #[cfg(feature = "sim")]
    #[must_use]
    pub const fn flash(&self) -> &F {
        &self.flash
    }

    /// The flash, for tests.
    #[cfg(feature = "sim")]
    pub const fn flash_mut(&mut self) -> &mut F {
        &mut self.flash
    }

    /// Gives the flash back.
    #[must_use]
    pub fn into_flash(self) -> F {
        self.flash
    }

    /// Refuses without a log; otherwise nothing stands in the way of writing to it.
    fn ready_log(&mut self) -> Result<(), StoreError<F::Error>> {
        if self.log.is_none() {
            return Err(StoreError::NoLog);
        }
        self.commit().map(|_| ())
    }

    fn kept_now(&self, settings: Settings) -> Kept {
        let next = self.log.as_ref().map_or(self.kept.next, FlashLog::next_seq);
        Kept { settings, next, totals: self.totals(), ..self.kept }
    }
}

#[cfg(all(test, feature = "sim"))]
#[path = "store_tests.rs"]
mod tests;
