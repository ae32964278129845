//! Requests of the host.

use embedded_storage::nor_flash::NorFlash;
use shared_types::link::Live;
use shared_types::link::{Diagnostics, LoggerStatus, Refusal};
use shared_types::log::{Anchor, ClockSource, Event, RECORD_VERSION, Settings};
use shared_types::{MachineTag, UptimeMillis, UtcMillis};

use super::Logger;
use crate::store::Store;

impl<F: NorFlash> Logger<F> {
    /// Makes the running boot's number safe, so that it may be told, and with it what waited for that. To be called before any
    /// request is answered. Returns whether the number is safe.
    pub fn commit(&mut self, now: UptimeMillis) -> bool {
        // A flash that fails is given its rest, however often somebody asks.
        if self.write_queue.is_failing() {
            self.write_queue.retry(now);
        } else {
            self.write_queue.flush(now);
        }
        self.write_queue.store().is_committed()
    }

    /// Identity and state. Discloses the running boot: see [`Logger::commit`].
    #[must_use]
    pub fn status(&self, now: UptimeMillis) -> LoggerStatus {
        let store = self.write_queue.store();
        LoggerStatus {
            record_version: RECORD_VERSION,
            firmware: self.info.firmware,
            build: self.info.build.clone(),
            logger: store.logger(),
            log: store.log_state(),
            boot: store.boot(),
            uptime: now,
            totals: store.totals(),
            settings: self.settings,
            faults: self.faults.bits(),
        }
    }

    /// The last sample of the inputs.
    #[must_use]
    pub const fn live(&self, now: UptimeMillis) -> Live {
        Live {
            uptime: now,
            edges_since_start: self.edges_since_start,
            angle: self.knob.angle(),
            gain: self.knob.gain(),
            faults: self.faults.bits(),
        }
    }

    /// Counters since the start, for diagnosis.
    #[must_use]
    pub fn diagnostics(&self) -> Diagnostics {
        let trouble = self.write_queue.store().counters();
        let board = self.board;
        let mismatches = self.needle.mismatches();
        Diagnostics {
            flash_id: board.flash_id,
            flash_bytes: board.flash_bytes,
            slowest_erase_ms: board.slowest_erase_ms,
            failed_writes: trouble.failed_writes,
            repaired_bits: trouble.repaired,
            stamps_alone: mismatches.stamps_alone,
            counts_alone: mismatches.counts_alone,
            bus_timeouts: board.bus_timeouts,
            reason: self.info.reason,
            resets_since_power_on: board.resets_since_power_on,
            last_panic: board.last_panic,
            free_stack_bytes: board.free_stack_bytes,
        }
    }

    /// Uses these settings from now on.
    ///
    /// # Errors
    /// [`Refusal::NoLog`] without a readable log; [`Refusal::FlashFailed`] when they are in force but not yet safe. They are
    /// tried again in the next pause.
    pub fn apply(&mut self, now: UptimeMillis, settings: Settings) -> Result<(), Refusal> {
        self.must_have_a_log()?;
        self.write_short_bursts();
        self.settings = settings;
        safe(self.save_settings(now))
    }

    /// Notes that the logger now sits on this machine.
    ///
    /// # Errors
    /// As [`Logger::apply`].
    pub fn fit(&mut self, now: UptimeMillis, machine: MachineTag) -> Result<(), Refusal> {
        self.must_have_a_log()?;
        self.write_short_bursts();
        self.settings.machine = machine;
        let settings_safe = self.save_settings(now);
        let fitting_safe = self.keep(now, Event::Fitted(machine));
        safe(settings_safe && fitting_safe)
    }

    /// Takes the host's clock as an anchor. Setting the clock chip is the board's work; it will be asked to read it again.
    ///
    /// # Errors
    /// [`Refusal::NoLog`] without a readable log; [`Refusal::FlashFailed`] when the anchor is not yet safe.
    pub fn set_clock(&mut self, now: UptimeMillis, utc: UtcMillis) -> Result<(), Refusal> {
        self.clock_asked_at = None;
        self.must_have_a_log()?;
        safe(self.keep(now, Event::Anchor(Anchor { utc, source: ClockSource::Host })))
    }

    /// Begins to throw an unreadable log away. Sector by sector, in pauses, [`Logger::sample`] goes on with it; until it is done
    /// there is no log. What waited for a log is written to the new one.
    ///
    /// # Errors
    /// [`Refusal::LogIsReadable`] while there is a log; [`Refusal::FlashFailed`] when the flash does not take the new one.
    pub fn format_unreadable(&mut self) -> Result<(), Refusal> {
        if !self.write_queue.has_no_log() {
            return Err(Refusal::LogIsReadable);
        }
        if !self.write_queue.store().is_formatting() {
            self.write_queue.store_mut().format_unreadable().map_err(|_| Refusal::FlashFailed)?;
        }
        Ok(())
    }

    /// The store, for reading records and for moving the acknowledged cursor.
    pub const fn store_mut(&mut self) -> &mut Store<F> {
        self.write_queue.store_mut()
    }

    fn must_have_a_log(&self) -> Result<(), Refusal> {
        if self.write_queue.has_no_log() { Err(Refusal::NoLog) } else { Ok(()) }
    }
}

const fn safe(is_safe: bool) -> Result<(), Refusal> {
    if is_safe { Ok(()) } else { Err(Refusal::FlashFailed) }
}
