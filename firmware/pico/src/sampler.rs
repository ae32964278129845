//! The sampling loop: samples the inputs, updates the logger, sets the lamp, feeds the watchdog.
//!
//! What can surprise: a two-wire bus whose lines are held down never comes to an end. Every transfer has a time limit, and none is
//! under way while the logger is locked: the cable is answered and the needle is told, whatever a sensor does.

use embassy_futures::select::{select, select3};
use embassy_rp::adc::{self, Adc};
use embassy_rp::gpio::Input;
use embassy_rp::watchdog::Watchdog;
use embassy_sync::blocking_mutex::raw::CriticalSectionRawMutex;
use embassy_sync::signal::Signal;
use embassy_time::{Duration, Instant, Timer};
use firmware::dial::Dial;
use firmware::knob::{KnobReading, KnobSource};
use firmware::logger::Sample;
use firmware::needle::NeedleSource;
use shared_types::limits::{IDLE_GAP_MS, SAMPLE_MS};
use shared_types::{UptimeMillis, UtcMillis};

use super::bus::Bus;
use super::needle::NeedleCounter;
use super::{SharedLogger, WAKE, WATCHDOG_TIMEOUT, lamp, reset_reason, uptime};

/// Between samples while the needle moves, or has just moved, and while the lamp speaks.
const WHILE_RUNNING: Duration = Duration::from_millis(SAMPLE_MS as u64);
/// Between samples while a finger is on a button.
const WHILE_PRESSED: Duration = Duration::from_millis(20);
/// Between samples while nothing happens: short enough to meet the start of every flash of the lamp, 100 ms long.
const WHILE_IDLE: Duration = Duration::from_millis(90);
/// The lamp's longest rhythm, with a margin: lit within this time means that it speaks.
const LAMP_SPEAKS: Duration = Duration::from_millis(2_500);
/// A finger is on a button this long after its level changed.
const FINGER_STAYS: Duration = Duration::from_millis(100);
/// The needle counts as moving for this long after an edge.
const NEEDLE_MOVES: Duration = Duration::from_millis(IDLE_GAP_MS as u64 + 2 * SAMPLE_MS as u64);
/// The gain of the knob's sensor hardly changes: it is asked at every 32nd reading.
const GAIN_EVERY: u32 = 32;
/// After this much good running a stop is not one of a row any more.
const RUNS_WELL: Duration = Duration::from_secs(60);

/// The clock chip's new time, and at which uptime it was that time. A later order replaces an earlier one.
pub static SET_CHIP: Signal<CriticalSectionRawMutex, (UtcMillis, UptimeMillis)> = Signal::new();

/// Inputs of the loop, and the watchdog that it feeds.
pub struct Inputs {
    pub needle: NeedleCounter,
    /// Where the knob is one; otherwise an encoder on the bus.
    pub dial: Option<BoardDial>,
    pub bus: Bus,
    /// Pressed when low.
    pub buttons: [Input<'static>; 2],
    pub watchdog: Watchdog,
}

/// A dial on a pin of the converter.
pub struct BoardDial {
    pub converter: Adc<'static, adc::Blocking>,
    pub channel: adc::Channel<'static>,
}

impl BoardDial {
    /// 12 bits, after 2 us; none when the converter failed.
    fn convert(&mut self) -> Option<u16> {
        self.converter.blocking_read(&mut self.channel).ok()
    }
}

impl Inputs {
    async fn read_knob(&mut self, turn: u32) -> KnobReading {
        let with_gain = turn.is_multiple_of(GAIN_EVERY);
        match &mut self.dial {
            Some(dial) => Dial(|| dial.convert()).sample(with_gain).await,
            None => self.bus.read_knob(with_gain).await,
        }
    }

    /// Tells the logger what there is, and shows what it says. Returns whether it wants to know the clock chip's time.
    async fn tell(&mut self, knob: KnobReading, logger: &SharedLogger, pace: &mut Pace) -> bool {
        let mut logger = logger.lock().await;
        let (now, needle) = self.needle.sample();
        let buttons = self.pressed();
        let is_lit = logger.sample(&Sample { now, needle, knob, buttons });
        lamp::show(logger.lamp_message(now), is_lit);
        pace.note(needle.count, buttons, is_lit);
        logger.wants_clock(now)
    }

    /// Sets the clock chip at a whole second, and reads it when that is wanted. One that is about to be set is not read before: what
    /// it says then is old, and would be the last word for an hour.
    async fn serve_clock_chip(
        &mut self,
        order: &mut Option<ClockOrder>,
        wants_clock: bool,
        logger: &SharedLogger,
    ) {
        if let Some(order) = order.take_if(|order| order.is_at_whole_second())
            && let Err(error) = self.bus.set_clock(order.utc_now()).await
        {
            defmt::warn!("the clock chip was not set: {}", error);
        }
        if wants_clock && order.is_none() {
            let reading = self.bus.read_clock().await;
            logger.lock().await.clock_reading(uptime(), reading);
        }
    }

    fn pressed(&self) -> [bool; 2] {
        let [first, second] = &self.buttons;
        [first.is_low(), second.is_low()]
    }

    /// Waits for `pace`, or less: until a button moves, and until [`WAKE`] unless the needle is known to move.
    async fn rest(&mut self, pace: Duration, is_running: bool) {
        let [first, second] = &mut self.buttons;
        let buttons = select(first.wait_for_any_edge(), second.wait_for_any_edge());
        // Either way round a time limit that passes and an event that comes mean the same: look again.
        if is_running {
            select(Timer::after(pace), buttons).await;
        } else {
            select3(Timer::after(pace), buttons, WAKE.wait()).await;
        }
    }
}

/// How soon to look again.
#[derive(Default)]
struct Pace {
    count: u16,
    pressed: [bool; 2],
    moved_at: Option<Instant>,
    finger_at: Option<Instant>,
    lit_at: Option<Instant>,
}

impl Pace {
    fn note(&mut self, count: u16, pressed: [bool; 2], is_lit: bool) {
        let now = Instant::now();
        if count != self.count {
            self.moved_at = Some(now);
        }
        if pressed != self.pressed {
            self.finger_at = Some(now);
        }
        if is_lit {
            self.lit_at = Some(now);
        }
        (self.count, self.pressed) = (count, pressed);
    }

    fn is_running(&self) -> bool {
        is_within(self.moved_at, NEEDLE_MOVES)
    }

    fn next(&self) -> Duration {
        if self.pressed != [false; 2] || is_within(self.finger_at, FINGER_STAYS) {
            WHILE_PRESSED
        } else if self.is_running() || is_within(self.lit_at, LAMP_SPEAKS) {
            WHILE_RUNNING
        } else {
            WHILE_IDLE
        }
    }
}

fn is_within(moment: Option<Instant>, span: Duration) -> bool {
    moment.is_some_and(|moment| moment.elapsed() < span)
}

/// A clock chip to be set. It counts whole seconds from the moment it is written, so that moment is the start of one.
struct ClockOrder {
    utc: UtcMillis,
    at: UptimeMillis,
}

impl ClockOrder {
    fn utc_now(&self) -> UtcMillis {
        let passed = uptime().0.saturating_sub(self.at.0);
        UtcMillis(self.utc.0.saturating_add_unsigned(passed))
    }

    fn until_whole_second(&self) -> Duration {
        Duration::from_millis(1_000 - self.utc_now().0.rem_euclid(1_000).unsigned_abs())
    }

    fn is_at_whole_second(&self) -> bool {
        self.utc_now().0.rem_euclid(1_000) < WHILE_PRESSED.as_millis().cast_signed()
    }
}

/// Samples for ever.
#[embassy_executor::task]
pub async fn keep_sampling(mut inputs: Inputs, logger: &'static SharedLogger) {
    let mut pace = Pace::default();
    let mut clock_order: Option<ClockOrder> = None;
    let mut turn = 0_u32;
    loop {
        inputs.needle.prepare();
        let knob = inputs.read_knob(turn).await;
        let wants_clock = inputs.tell(knob, logger, &mut pace).await;
        clock_order = SET_CHIP.try_take().map(|(utc, at)| ClockOrder { utc, at }).or(clock_order);
        inputs.serve_clock_chip(&mut clock_order, wants_clock, logger).await;
        inputs.watchdog.feed(WATCHDOG_TIMEOUT);
        if Instant::now() > Instant::MIN + RUNS_WELL {
            reset_reason::forget_resets();
        }
        turn = turn.wrapping_add(1);
        let until_order = clock_order.as_ref().map_or(WHILE_IDLE, ClockOrder::until_whole_second);
        inputs.rest(pace.next().min(until_order), pace.is_running()).await;
    }
}
