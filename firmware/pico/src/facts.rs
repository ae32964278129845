//! Diagnostic counters of the board.

use embassy_time::{Duration, Instant};
use firmware::logger::BoardFacts;
use portable_atomic::{AtomicU32, Ordering};

use super::{reset_reason, stack};

static SLOWEST_ERASE_MS: AtomicU32 = AtomicU32::new(0);
static BUS_TIMEOUTS: AtomicU32 = AtomicU32::new(0);
/// The second of uptime, from 1, in which the stack was last looked through. That takes 0.2 ms, too long for each of a pull's requests.
static LOOKED_AT_S: AtomicU32 = AtomicU32::new(0);

/// A sector's erase has taken so long.
pub fn note_erase(took: Duration) {
    // Up to the next millisecond: an erase that took place is never told as none.
    let took_ms = u32::try_from(took.as_micros().div_ceil(1_000)).unwrap_or(u32::MAX);
    SLOWEST_ERASE_MS.fetch_max(took_ms, Ordering::Relaxed);
}

/// A transfer on the two-wire bus came to no end in time.
pub fn note_bus_timeout() {
    BUS_TIMEOUTS.fetch_add(1, Ordering::Relaxed);
}

/// As they are now; what is not found here stays as it was known.
pub fn now(known: BoardFacts) -> BoardFacts {
    let history = reset_reason::history();
    BoardFacts {
        slowest_erase_ms: SLOWEST_ERASE_MS.load(Ordering::Relaxed),
        bus_timeouts: BUS_TIMEOUTS.load(Ordering::Relaxed),
        resets_since_power_on: history.resets,
        last_panic: history.last_panic,
        free_stack_bytes: if is_new_second() { stack::never_used_bytes() } else { known.free_stack_bytes },
        ..known
    }
}

fn is_new_second() -> bool {
    let second = u32::try_from(Instant::now().as_secs() + 1).unwrap_or(u32::MAX);
    LOOKED_AT_S.swap(second, Ordering::Relaxed) != second
}
