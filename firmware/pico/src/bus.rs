//! The two-wire bus with the knob's sensor and the clock chip, and its recovery.
//!
//! What can surprise: a sensor that was cut short in the middle of an answer goes on holding the data line, and no controller
//! starts while that line is low. Only clock pulses end it (UM10204, 3.1.16): nine at the most, and a STOP, made here on the pins
//! by hand. A transfer that comes to no end leaves the controller in the middle of it, so that is reset.

use embassy_embedded_hal::SetConfig;
use embassy_rp::i2c::{self, Async, I2c};
use embassy_rp::pac;
use embassy_rp::pac::i2c::regs::IcIntrMask;
use embassy_rp::peripherals::I2C0;
use embassy_time::{Duration, block_for, with_timeout};
use firmware::clock::{ClockError, ClockReading};
use firmware::clock_registers::{read_clock_async, set_clock_async};
use firmware::encoder::Encoder;
use firmware::knob::{KnobReading, KnobSource};
use shared_types::UtcMillis;

use super::facts;

/// The knob takes 0.6 ms at 100 kHz and the clock chip 1.3 ms; past this the bus is dead.
const TIMEOUT: Duration = Duration::from_millis(10);
/// Half a clock at 100 kHz.
const HALF_CLOCK: Duration = Duration::from_micros(5);
/// A byte and its acknowledgement.
const MOST_CLOCKS: u32 = 9;

/// Functions of the pins: "SIO" and "I2C" (RP2040 datasheet 2.19.2).
const BY_HAND: u8 = 5;
const OF_THE_CONTROLLER: u8 = 3;

const DATA: usize = 4;
const CLOCK: usize = 5;

type Controller = I2c<'static, I2C0, Async>;

/// The bus.
pub struct Bus(Controller);

impl Bus {
    /// A bus whose devices may be in the middle of something.
    pub const fn new(controller: Controller) -> Self {
        Self(controller)
    }

    /// Reads the knob; silent when nobody answers in time.
    pub async fn read_knob(&mut self, with_gain: bool) -> KnobReading {
        let answer = self.within_timeout(async |i2c| Encoder(i2c).sample(with_gain).await).await;
        answer.unwrap_or(KnobReading::Silent)
    }

    /// Reads the clock chip; silent when it does not answer in time.
    pub async fn read_clock(&mut self) -> ClockReading {
        self.within_timeout(async |i2c| read_clock_async(i2c).await).await.unwrap_or(ClockReading::Silent)
    }

    /// Sets the clock chip.
    pub async fn set_clock(&mut self, utc: UtcMillis) -> Result<(), ClockError> {
        let outcome = self.within_timeout(async |i2c| set_clock_async(i2c, utc).await).await;
        outcome.unwrap_or(Err(ClockError::Silent))
    }

    /// Frees the bus where it is held, and gives it to `talk` with a time limit.
    async fn within_timeout<T>(&mut self, talk: impl AsyncFnOnce(&mut Controller) -> T) -> Option<T> {
        if !is_high(DATA) {
            set_free();
        }
        let answer = with_timeout(TIMEOUT, talk(&mut self.0)).await.ok();
        if answer.is_none() {
            facts::note_bus_timeout();
            self.reset_controller();
        }
        answer
    }

    fn reset_controller(&mut self) {
        pac::RESETS.reset().modify(|held| held.set_i2c0(true));
        pac::RESETS.reset().modify(|held| held.set_i2c0(false));
        while !pac::RESETS.reset_done().read().i2c0() {}
        // A reset lets all of its interrupts through, and its driver is called by those alone that it asks for.
        pac::I2C0.ic_intr_mask().write_value(IcIntrMask(0));
        if self.0.set_config(&i2c::Config::default()).is_err() {
            defmt::error!("the bus does not take the settings that it had");
        }
    }
}

/// Clocks what is left of an answer out of whoever holds the data line, then says STOP.
fn set_free() {
    for pin in [CLOCK, DATA] {
        pull_low(pin, false);
        pac::SIO.gpio_out(0).value_clr().write_value(1 << pin);
        pac::IO_BANK0.gpio(pin).ctrl().write(|control| control.set_funcsel(BY_HAND));
    }
    for _ in 0..MOST_CLOCKS {
        if is_high(DATA) {
            break;
        }
        clock_low_for(HALF_CLOCK);
    }
    pull_low(CLOCK, true);
    pull_low(DATA, true);
    block_for(HALF_CLOCK);
    pull_low(CLOCK, false);
    block_for(HALF_CLOCK);
    pull_low(DATA, false);
    block_for(HALF_CLOCK);
    for pin in [CLOCK, DATA] {
        pac::IO_BANK0.gpio(pin).ctrl().write(|control| control.set_funcsel(OF_THE_CONTROLLER));
    }
}

fn clock_low_for(half: Duration) {
    pull_low(CLOCK, true);
    block_for(half);
    pull_low(CLOCK, false);
    block_for(half);
}

/// Drives a line low or lets it go; its pull-up does the rest.
fn pull_low(pin: usize, is_low: bool) {
    let enable = pac::SIO.gpio_oe(0);
    if is_low { enable.value_set().write_value(1 << pin) } else { enable.value_clr().write_value(1 << pin) }
}

fn is_high(pin: usize) -> bool {
    pac::SIO.gpio_in(0).read() & 1 << pin != 0
}
