//! The logger's board: an RP2040, or an RP2350, with a Hall switch, a magnetic encoder, a clock chip, two buttons and a lamp.
//!
//! Only pins, buses, flash and USB are here; what is counted, kept and answered is decided in the `firmware` library. Which
//! wire goes where stands in `WIRING.md` beside this crate.
#![no_std]
#![no_main]

mod bus;
mod cable;
mod chip;
mod facts;
mod flash;
mod lamp;
mod layout;
mod needle;
mod reset_reason;
mod sampler;
mod stack;

use defmt_rtt as _;
use embassy_executor::{SpawnError, SpawnToken, Spawner};
use embassy_rp::adc::{self, Adc};
use embassy_rp::bind_interrupts;
use embassy_rp::clocks::RoscRng;
use embassy_rp::flash::Flash;
use embassy_rp::gpio::{Input, Level, Output, Pull};
use embassy_rp::i2c::{self, I2c};
use embassy_rp::pac;
use embassy_rp::peripherals::{I2C0, USB};
use embassy_rp::pwm::{InputMode, Pwm};
use embassy_rp::usb::{Driver, InterruptHandler};
use embassy_rp::watchdog::Watchdog;
use embassy_sync::blocking_mutex::raw::{CriticalSectionRawMutex, NoopRawMutex};
use embassy_sync::mutex::Mutex;
use embassy_sync::signal::Signal;
use embassy_time::{Duration, Instant, Timer};
use firmware::lamp::STOP_HALF_MS;
use firmware::logger::{BoardFacts, Logger, StartInfo};
use firmware::store::{Layout, StartFacts, Store};
use heapless::String;
use shared_types::limits::MAX_BUILD_NAME;
use shared_types::log::{FirmwareVersion, StartReason};
use shared_types::{LoggerId, UptimeMillis};
use static_cell::StaticCell;

use self::bus::Bus;
use self::chip::BUILD;
use self::flash::Chip;
use self::needle::NeedleCounter;
use self::sampler::{BoardDial, Inputs};

bind_interrupts!(struct Interrupts {
    USBCTRL_IRQ => InterruptHandler<USB>;
    I2C0_IRQ => i2c::InterruptHandler<I2C0>;
});

/// The whole logger on this board.
pub type BoardLogger = Logger<Chip>;
/// The logger as the two tasks that use it share it. Neither ever awaits while it holds it.
pub type SharedLogger = Mutex<NoopRawMutex, BoardLogger>;

/// Wakes the sampling loop before its time: there is a clock to be set.
pub static WAKE: Signal<CriticalSectionRawMutex, ()> = Signal::new();

/// A firmware that does not sample for this long is reset. Above the longest that a start or a flash operation takes.
pub const WATCHDOG_TIMEOUT: Duration = Duration::from_secs(8);

/// Half-periods of the lamp before a logger without working flash tries again.
const BLINKS: u32 = 600;

/// This firmware's version, as in the manifest.
const VERSION: FirmwareVersion = FirmwareVersion {
    major: number(env!("CARGO_PKG_VERSION_MAJOR")),
    minor: number(env!("CARGO_PKG_VERSION_MINOR")),
    patch: number(env!("CARGO_PKG_VERSION_PATCH")),
};
const _: () = assert!(VERSION.major != NO_NUMBER && VERSION.minor != NO_NUMBER && VERSION.patch != NO_NUMBER);
const NO_NUMBER: u8 = u8::MAX;

const fn number(digits: &str) -> u8 {
    match u8::from_str_radix(digits, 10) {
        Ok(number) => number,
        Err(_) => NO_NUMBER,
    }
}

const _: () = assert!(BUILD.len() <= MAX_BUILD_NAME, "the build's name must fit");

/// Milliseconds since power came on or the last reset.
pub fn uptime() -> UptimeMillis {
    UptimeMillis(Instant::now().as_millis())
}

#[embassy_executor::main]
async fn main(spawner: Spawner) {
    stack::paint();
    let p = embassy_rp::init(embassy_rp::config::Config::default());
    let reason = reset_reason::start_reason();
    let mut watchdog = Watchdog::new(p.WATCHDOG);
    watchdog.start(WATCHDOG_TIMEOUT);
    wait_if_it_keeps_stopping(&mut watchdog).await;

    let witness = Pwm::new_input(p.PWM_SLICE7, p.PIN_15, Pull::Up, InputMode::RisingEdge, Default::default());
    // Older boards join GP14 to it, whose pull-down is on after a reset and would work against the pull-up.
    pac::PADS_BANK0.gpio(14).modify(|pad| pad.set_pde(false));
    let needle = NeedleCounter::new(witness, p.PIO0, p.DMA_CH0, p.DMA_CH1);
    lamp::wire(Output::new(p.PIN_25, Level::Low));
    // A wire from GP22 to ground says that the knob is a dial on GP26. Looked at once, long after the pull-up is on.
    let strap = Input::new(p.PIN_22, Pull::Up);
    let Some((logger, id)) = start_logger(Chip::new(Flash::new_blocking(p.FLASH)), reason) else {
        return blink_and_start_again(watchdog).await;
    };
    static LOGGER: StaticCell<SharedLogger> = StaticCell::new();
    let logger: &'static SharedLogger = LOGGER.init(Mutex::new(logger));

    let dial = strap.is_low().then(|| BoardDial {
        converter: Adc::new_blocking(p.ADC, adc::Config::default()),
        channel: adc::Channel::new_pin(p.PIN_26, Pull::None),
    });
    let inputs = Inputs {
        needle,
        dial,
        bus: Bus::new(I2c::new_async(p.I2C0, p.PIN_5, p.PIN_4, Interrupts, i2c::Config::default())),
        buttons: [Input::new(p.PIN_16, Pull::Up), Input::new(p.PIN_17, Pull::Up)],
        watchdog,
    };
    let (device, port) = cable::plug(Driver::new(p.USB, Interrupts), id);
    start(spawner, sampler::keep_sampling(inputs, logger));
    start(spawner, cable::run_device(device));
    start(spawner, cable::serve(port, logger));
}

/// Starts a task. It fails only for a second task of one kind, and there is one of each.
fn start<S>(spawner: Spawner, task: Result<SpawnToken<S>, SpawnError>) {
    match task {
        Ok(task) => spawner.spawn(task),
        Err(error) => defmt::error!("a task was not started: {}", error),
    }
}

/// A firmware that stops again and again right after its start must not push the log out with records of its starts.
async fn wait_if_it_keeps_stopping(watchdog: &mut Watchdog) {
    for _ in 0..reset_reason::wait_before_start_s() {
        Timer::after_secs(1).await;
        watchdog.feed(WATCHDOG_TIMEOUT);
    }
}

/// None when the flash keeps nothing: a logger without it has nowhere to put an hour.
fn start_logger(mut chip: Chip, reason: StartReason) -> Option<(BoardLogger, LoggerId)> {
    let mut random = RoscRng;
    let (chip_id, flash_bytes) = (chip.unique_id(), chip.size());
    let facts = StartFacts { chip_id, random: random.next_u64() };
    let places = Layout { settings: layout::SETTINGS, log: layout::LOG };
    let store = match Store::open(chip, places, facts) {
        Ok(store) => store,
        Err((error, _)) => {
            defmt::error!("no store: {}", error);
            return None;
        }
    };
    let id = store.logger();
    let info = StartInfo {
        reason,
        firmware: VERSION,
        build: String::try_from(BUILD).unwrap_or_default(),
        random: random.next_u64(),
    };
    let mut logger = Logger::start(store, info, uptime());
    let flash_id = chip_id.map(|id| id.0);
    logger.note_board(BoardFacts { flash_id, flash_bytes, ..logger.board_facts() });
    Some((logger, id))
}

/// Asks for help in the rhythm of *finish this line, then stop* for a while, then tries again.
async fn blink_and_start_again(mut watchdog: Watchdog) {
    for _ in 0..BLINKS {
        Timer::after_millis(STOP_HALF_MS).await;
        lamp::toggle();
        watchdog.feed(WATCHDOG_TIMEOUT);
    }
    watchdog.trigger_reset();
}
