//! Diagnostic counters of a logger since its start.

use serde::Serialize;
use shared_types::limits::LONGEST_ERASE_MS;
use shared_types::link::Diagnostics;
use shared_types::log::StartReason;

use crate::app::ports::{Logger, LoggerError};

/// Free stack below this is little, in bytes. A start value from memory.
pub const LITTLE_STACK_BYTES: u32 = 1_024;

/// Why a logger last started.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Restart {
    /// Power came on.
    PowerOn,
    /// Its program hung and was ended.
    Hung,
    /// Its program stopped itself.
    Stopped,
    /// It was asked to.
    Requested,
}

/// What a logger had to put up with.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct LoggerDiagnostics {
    /// The flash chip's own number, as sixteen hexadecimal digits.
    pub flash_id: Option<String>,
    /// Size of the flash chip as it says itself, in bytes.
    pub flash_bytes: Option<u32>,
    /// The longest erase of one sector since the start, in milliseconds; zero when there was none.
    pub slowest_erase_ms: u32,
    /// Writes that did not read back as written and were done again elsewhere.
    pub failed_writes: u32,
    /// Entries of the log in which a flipped bit was put right while reading.
    pub repaired_bits: u32,
    /// Pulses of the needle's sensor that were stamped and not counted.
    pub stamps_alone: u32,
    /// Pulses of the needle's sensor that were counted and not stamped.
    pub counts_alone: u32,
    /// Transfers to the knob's sensor or the clock chip that came to no end in time.
    pub bus_timeouts: u32,
    /// Why it last started.
    pub restart: Restart,
    /// Starts since power came on because its program hung or stopped itself.
    pub resets_since_power_on: u32,
    /// Where its program last stopped itself since power came on: a number that names the spot.
    pub last_panic: Option<u32>,
    /// Bytes of the stack that were never used since the start.
    pub free_stack_bytes: Option<u32>,
}

impl LoggerDiagnostics {
    /// As the logger told it.
    #[must_use]
    pub fn of(told: &Diagnostics) -> Self {
        let (restart, place) = match told.reason {
            StartReason::PowerOn => (Restart::PowerOn, None),
            StartReason::Watchdog => (Restart::Hung, None),
            StartReason::Panic { place } => (Restart::Stopped, Some(place)),
            StartReason::Requested => (Restart::Requested, None),
        };
        Self {
            flash_id: told.flash_id.map(|id| format!("{id:016x}")),
            flash_bytes: told.flash_bytes,
            slowest_erase_ms: told.slowest_erase_ms,
            failed_writes: told.failed_writes,
            repaired_bits: told.repaired_bits,
            stamps_alone: told.stamps_alone,
            counts_alone: told.counts_alone,
            bus_timeouts: told.bus_timeouts,
            restart,
            resets_since_power_on: told.resets_since_power_on,
            last_panic: told.last_panic.or(place),
            free_stack_bytes: told.free_stack_bytes,
        }
    }

    /// Whether its memory takes longer to erase than a sound chip does.
    #[must_use]
    pub const fn is_memory_worn(&self) -> bool {
        self.slowest_erase_ms > LONGEST_ERASE_MS
    }

    /// Whether its program hung or stopped itself since power came on.
    #[must_use]
    pub const fn has_restarted(&self) -> bool {
        self.resets_since_power_on > 0 || matches!(self.restart, Restart::Hung | Restart::Stopped)
    }

    /// Whether its program was short of memory.
    #[must_use]
    pub fn is_stack_short(&self) -> bool {
        self.free_stack_bytes.is_some_and(|free| free < LITTLE_STACK_BYTES)
    }

    /// Whether something in it needs looking after. A bit that was put right and a stray pulse or two do not.
    #[must_use]
    pub fn is_trouble(&self) -> bool {
        self.is_memory_worn()
            || self.failed_writes > 0
            || self.bus_timeouts > 0
            || self.has_restarted()
            || self.is_stack_short()
    }
}

/// Asks a logger what it had to put up with; none where its firmware does not tell.
///
/// # Errors
/// When it does not answer.
pub fn ask(logger: &mut dyn Logger) -> Result<Option<LoggerDiagnostics>, LoggerError> {
    match logger.diagnostics() {
        Ok(told) => Ok(Some(LoggerDiagnostics::of(&told))),
        Err(LoggerError::Refused(_)) => Ok(None),
        Err(error) => Err(error),
    }
}
