//! The needle: a hardware counter that misses nothing, and an interrupt on the same signal that says when.
//!
//! The counter is PWM slice 7 counting rising edges at its B pin. It goes on while flash is erased and interrupts are
//! off; the stamps do not. So the count is the truth, and the stamps only date it.

use core::cell::Cell;

use embassy_executor::InterruptExecutor;
use embassy_rp::gpio::Input;
use embassy_rp::interrupt;
use embassy_rp::interrupt::{InterruptExt, Priority};
use embassy_rp::pwm::Pwm;
use embassy_sync::blocking_mutex::CriticalSectionMutex;
use firmware::needle::NeedleSample;
use shared_types::UptimeMillis;

use super::{WAKE, uptime};

static STAMPS: CriticalSectionMutex<Cell<Option<(UptimeMillis, UptimeMillis)>>> =
    CriticalSectionMutex::new(Cell::new(None));
static ABOVE_THE_REST: InterruptExecutor = InterruptExecutor::new();

// An interrupt that no peripheral uses, so that edges are stamped while the rest of the firmware computes.
#[allow(unsafe_code, reason = "the executor asks for it: this interrupt, and nothing else, may poll it")]
#[interrupt]
unsafe fn SWI_IRQ_1() {
    // SAFETY: called from its own interrupt alone, which `NeedleCounter::new` lets through only when it starts the executor.
    unsafe { ABOVE_THE_REST.on_interrupt() }
}

#[embassy_executor::task]
async fn stamp_edges(mut pin: Input<'static>) {
    loop {
        pin.wait_for_rising_edge().await;
        let now = uptime();
        STAMPS.lock(|stamps| {
            let first = stamps.get().map_or(now, |(first, _)| first);
            stamps.set(Some((first, now)));
        });
        WAKE.signal(());
    }
}

/// The needle's counter and its stamps.
pub struct NeedleCounter {
    counter: Pwm<'static>,
}

impl NeedleCounter {
    /// Starts counting and stamping.
    pub fn new(counter: Pwm<'static>, stamped: Input<'static>) -> Self {
        interrupt::SWI_IRQ_1.set_priority(Priority::P2);
        let spawner = ABOVE_THE_REST.start(interrupt::SWI_IRQ_1);
        match stamp_edges(stamped) {
            Ok(task) => spawner.spawn(task),
            Err(error) => defmt::error!("edges are not stamped: {}", error),
        }
        Self { counter }
    }

    /// Where the counter stands, and the stamps since the last call.
    pub fn sample(&self) -> NeedleSample {
        let (count, stamps) = STAMPS.lock(|stamps| (self.counter.counter(), stamps.take()));
        NeedleSample {
            count,
            first_edge_at: stamps.map(|(first, _)| first),
            last_edge_at: stamps.map(|(_, last)| last),
        }
    }
}
