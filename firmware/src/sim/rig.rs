//! A simulated machine with the real firmware on it.
//!
//! The rig moves the needle, samples the inputs as a board does, and lets the firmware write to a simulated flash chip that
//! keeps its content over power cuts. Time passes only inside its calls; resting is skipped through in large steps.

use std::vec::Vec;

use heapless::String;
use shared_types::limits::{IDLE_GAP_MS, SAMPLE_MS};
use shared_types::log::{Fault, FirmwareVersion, PressKind, StartReason};
use shared_types::{LoggerId, RawAngle, UptimeMillis, UtcMillis};

use super::clock_sim::ClockSim;
use super::needle_sim::{NeedleSim, Truth};
use super::nor::{Nor, SECTOR};
pub use super::wires::{KnobHealth, StampTrouble};
use super::wires::{KnobWire, NeedleWire, WiredNeedle};
use crate::buttons::{BUTTON_SAMPLE_MS, DEBOUNCE_MS, HOLD_MS};
use crate::lamp::LampMessage;
use crate::link_server::{LinkServer, REPLY_BYTES};
use crate::logger::{Logger, Sample, StartInfo};
use crate::needle::NeedleSource;
use crate::split_mix::SplitMix64;
use crate::store::{Layout, StartFacts, Store};

/// Rest is sampled this often. Milliseconds.
const REST_STEP_MS: u64 = 60_000;
/// How long a finger stays on a button for a tap. Milliseconds.
const TAP_MS: u64 = 160;
const SETTINGS_SECTORS: u32 = 2;

/// How the machine and its logger are made.
#[derive(Clone, Debug)]
pub struct RigSetup {
    /// Decides everything that looks random.
    pub seed: u64,
    /// The real time at which the simulation begins.
    pub utc: UtcMillis,
    /// The flash chip's unique number.
    pub chip_id: LoggerId,
    /// Sectors of 4 KiB for the log.
    pub log_sectors: u32,
    /// Drift of the clock chip in millionths; none: no chip is fitted.
    pub clock_drift_ppm: Option<i64>,
    /// The knob's end marks, slow and fast; the angle runs upwards from one to the other, over the wrap if need be.
    pub knob_marks: (RawAngle, RawAngle),
    /// The needle's speed at the end marks, in thousandths of a stroke per second.
    pub speed_marks: (u32, u32),
    /// What is wrong with the needle's stamps from the start.
    pub stamp_trouble: StampTrouble,
}

impl Default for RigSetup {
    fn default() -> Self {
        Self {
            seed: 1,
            // 2026-03-02T08:00:00Z, a Monday.
            utc: UtcMillis(1_772_438_400_000),
            chip_id: LoggerId(0x0B5E_55ED),
            log_sectors: 256,
            clock_drift_ppm: Some(2),
            knob_marks: (RawAngle::new(3_600), RawAngle::new(2_000)),
            speed_marks: (6_000, 30_000),
            stamp_trouble: StampTrouble::default(),
        }
    }
}

#[derive(Debug)]
struct Powered {
    logger: Logger<Nor>,
    link: LinkServer,
    boot_at_ms: u64,
    wire: NeedleWire,
}

/// The machine, its logger and the world's time. Begins without power.
#[derive(Debug)]
pub struct Rig {
    setup: RigSetup,
    needle: NeedleSim,
    rng: SplitMix64,
    clock: Option<ClockSim>,
    powered: Option<Powered>,
    /// The chip, while the logger does not hold it.
    flash: Option<Nor>,
    knob: RawAngle,
    knob_wire: KnobWire,
    stamp_trouble: StampTrouble,
    /// For what is wrong only, so that the same machine works with and without it.
    fault_rng: SplitMix64,
    buttons: [bool; 2],
    tag: u32,
    drag_permille: u32,
    lamp_lit: bool,
    last_edge_ms: Option<u64>,
    power_will_go: bool,
    edges: Vec<u64>,
}

impl Rig {
    /// A machine with a blank logger that has no power yet.
    #[must_use]
    pub fn new(setup: RigSetup) -> Self {
        let mut rng = SplitMix64::new(setup.seed);
        let sectors = usize::try_from(SETTINGS_SECTORS + setup.log_sectors).unwrap_or(usize::MAX);
        Self {
            needle: NeedleSim::new(rng.next_u64()),
            clock: setup.clock_drift_ppm.map(|ppm| ClockSim::new(setup.utc, 0, ppm)),
            powered: None,
            flash: Some(Nor::new(sectors, rng.next_u64())),
            knob: setup.knob_marks.0,
            knob_wire: KnobWire::default(),
            stamp_trouble: setup.stamp_trouble,
            fault_rng: SplitMix64::new(setup.seed ^ 0x7472_6F75_626C_6501),
            buttons: [false; 2],
            tag: 0,
            drag_permille: 0,
            lamp_lit: false,
            last_edge_ms: None,
            power_will_go: false,
            edges: Vec::new(),
            rng,
            setup,
        }
    }

    /// The real time.
    #[must_use]
    pub fn utc(&self) -> UtcMillis {
        UtcMillis(self.setup.utc.0.saturating_add(i64::try_from(self.needle.now_ms()).unwrap_or(i64::MAX)))
    }

    /// The logger's uptime; zero without power.
    #[must_use]
    pub fn uptime(&self) -> UptimeMillis {
        self.powered
            .as_ref()
            .map_or(UptimeMillis(0), |powered| UptimeMillis(self.needle.now_ms() - powered.boot_at_ms))
    }

    /// What the needle really did.
    #[must_use]
    pub const fn truth(&self) -> &Truth {
        self.needle.truth()
    }

    /// Whether the logger has power.
    #[must_use]
    pub const fn is_powered(&self) -> bool {
        self.powered.is_some()
    }

    /// The logger, while it has power.
    #[must_use]
    pub fn logger(&self) -> Option<&Logger<Nor>> {
        self.powered.as_ref().map(|powered| &powered.logger)
    }

    /// The logger, to be asked or ordered without the link.
    pub fn logger_mut(&mut self) -> Option<&mut Logger<Nor>> {
        self.powered.as_mut().map(|powered| &mut powered.logger)
    }

    /// The flash chip, while the logger has no power.
    pub const fn flash_mut(&mut self) -> Option<&mut Nor> {
        self.flash.as_mut()
    }

    /// The clock chip, where one is fitted.
    pub const fn clock_mut(&mut self) -> Option<&mut ClockSim> {
        self.clock.as_mut()
    }

    /// What the lamp says; dark without power.
    #[must_use]
    pub fn lamp(&self) -> LampMessage {
        let now = self.uptime();
        self.logger().map_or(LampMessage::Dark, |logger| logger.lamp_message(now))
    }

    /// Whether the lamp was lit at the last sample.
    #[must_use]
    pub const fn lamp_is_lit(&self) -> bool {
        self.lamp_lit
    }

    /// The knob's angle at a place in its travel: 0 at the slow end mark, 1000 at the fast one.
    #[must_use]
    pub fn knob_at(&self, permille: u16) -> RawAngle {
        let (slow, _) = self.setup.knob_marks;
        let steps = u32::from(self.travel()) * u32::from(permille.min(1_000)) / 1_000;
        RawAngle::new(slow.steps().wrapping_add(u16::try_from(steps).unwrap_or(0)))
    }

    /// Turns the knob.
    pub const fn turn_knob(&mut self, angle: RawAngle) {
        self.knob = angle;
    }

    /// Makes the knob's sensor fail, or mends it.
    pub const fn set_knob_health(&mut self, health: KnobHealth) {
        self.knob_wire.health = health;
    }

    /// Makes the knob's reading shake by about so many steps (one standard deviation) around its place.
    pub const fn set_knob_noise(&mut self, deviation: u32) {
        self.knob_wire.noise = deviation;
    }

    /// Makes the needle's stamps go wrong, or right again.
    pub const fn set_stamp_trouble(&mut self, trouble: StampTrouble) {
        self.stamp_trouble = trouble;
    }

    /// Says for what the machine works from now on; only the truth hears it.
    pub const fn set_tag(&mut self, tag: u32) {
        self.tag = tag;
    }

    /// By how much a dirty or dry machine runs slower at the same setting, in thousandths.
    pub const fn set_drag(&mut self, permille: u32) {
        self.drag_permille = permille;
    }

    /// Sets the levels of both buttons, true while pressed, for the samples to come.
    pub const fn set_buttons(&mut self, pressed: [bool; 2]) {
        self.buttons = pressed;
    }

    /// Gives the logger power at real time `utc`, or now where that has passed. Returns whether it started: it does not where
    /// the flash was set to fail during the start.
    pub fn power_on(&mut self, utc: UtcMillis) -> bool {
        self.start_on_flash(utc, None)
    }

    /// As [`Rig::power_on`], but the power will go by itself after so many steps of the flash chip: bytes programmed and parts of
    /// sectors erased. Returns false when it went during the start.
    pub fn power_on_until(&mut self, utc: UtcMillis, flash_steps: u64) -> bool {
        self.start_on_flash(utc, Some(flash_steps))
    }

    fn start_on_flash(&mut self, utc: UtcMillis, flash_steps: Option<u64>) -> bool {
        self.pass_until(utc);
        let Some(mut flash) = self.flash.take() else { return true };
        flash.power_on();
        self.power_will_go = flash_steps.is_some();
        if let Some(steps) = flash_steps {
            flash.cut_after(steps);
        }
        let random = self.rng.next_u64();
        let facts = StartFacts { chip_id: Some(self.setup.chip_id), random };
        match Store::open(flash, layout(self.setup.log_sectors), facts) {
            Ok(store) => {
                self.start(store, random);
                self.is_powered()
            }
            Err((_, flash)) => {
                self.flash = Some(flash);
                false
            }
        }
    }

    fn start(&mut self, store: Store<Nor>, random: u64) {
        let info = StartInfo {
            reason: StartReason::PowerOn,
            firmware: FirmwareVersion { major: 0, minor: 1, patch: 0 },
            build: String::try_from("bench").unwrap_or_default(),
            random,
        };
        let logger = Logger::start(store, info, UptimeMillis(0));
        let boot_at_ms = self.needle.now_ms();
        self.powered = Some(Powered {
            logger,
            link: LinkServer::new(),
            boot_at_ms,
            wire: NeedleWire::plugged_at(boot_at_ms),
        });
        self.needle.power_changed();
        self.sample(&[]);
    }

    /// Takes the logger's power away at once. The machine has its own supply and is not touched.
    pub fn power_cut(&mut self) {
        if let Some(powered) = self.powered.take() {
            self.flash = Some(powered.logger.into_store().into_flash());
            self.needle.power_changed();
            self.lamp_lit = false;
        }
    }

    /// Holds the trigger for `ms` milliseconds, releases it and waits until the needle stands. `knob` says where the knob stands
    /// so many milliseconds after the trigger was pulled. Works without power too; then only the truth hears of it.
    pub fn run_trigger(&mut self, ms: u64, knob: impl FnMut(u64) -> RawAngle) {
        self.hold_trigger(ms, knob);
        self.coast();
    }

    /// Holds the trigger for `ms` milliseconds and cuts the logger's power at that moment, with the needle moving; then the
    /// trigger is released.
    pub fn run_trigger_and_cut(&mut self, ms: u64, knob: impl FnMut(u64) -> RawAngle) {
        self.hold_trigger(ms, knob);
        self.power_cut();
        self.coast();
    }

    fn hold_trigger(&mut self, ms: u64, mut knob: impl FnMut(u64) -> RawAngle) {
        let mut done = 0;
        while done < ms {
            let step = u64::from(SAMPLE_MS).min(ms - done);
            self.knob = knob(done);
            self.step(step, self.drive());
            done += step;
        }
    }

    fn coast(&mut self) {
        while self.needle.is_moving() {
            self.step(u64::from(SAMPLE_MS), 0);
        }
    }

    /// Lets `ms` milliseconds pass with the trigger released.
    pub fn idle(&mut self, ms: u64) {
        let end = self.needle.now_ms() + ms;
        if self.powered.is_none() {
            self.needle.rest_until(end);
            return;
        }
        if let Some(last) = self.last_edge_ms {
            // As the contract asks: a look when the burst is over, and one more to use the pause.
            for look in [last + u64::from(IDLE_GAP_MS), last + u64::from(IDLE_GAP_MS + SAMPLE_MS)] {
                self.rest_and_sample(look.min(end));
            }
        }
        while self.needle.now_ms() < end {
            self.rest_and_sample(end.min(self.needle.now_ms() + REST_STEP_MS));
        }
    }

    /// As [`Rig::idle`], but looks at everything as often as a board at rest does, every 90 ms.
    pub fn idle_looking(&mut self, ms: u64) {
        let end = self.needle.now_ms() + ms;
        while self.needle.now_ms() < end {
            self.rest_and_sample(end.min(self.needle.now_ms() + 90));
        }
    }

    /// As [`Rig::idle`], until a real time.
    pub fn idle_until(&mut self, utc: UtcMillis) {
        let ms = utc.0.saturating_sub(self.utc().0);
        self.idle(u64::try_from(ms).unwrap_or(0));
    }

    /// A finger on the right button for as long as it takes; the needle rests. Ends 100 ms after the button is up.
    pub fn press(&mut self, kind: PressKind) {
        let (buttons, ms) = match kind {
            PressKind::NearMiss => ([true, false], TAP_MS),
            PressKind::Tear => ([true, false], HOLD_MS + 4 * DEBOUNCE_MS),
            PressKind::CareDone => ([false, true], TAP_MS),
            PressKind::Retension => ([false, true], HOLD_MS + 4 * DEBOUNCE_MS),
        };
        // A finger needs a moment, so the logger has seen the button up.
        for (pressed, ms) in [([false; 2], 60), (buttons, ms), ([false; 2], 100)] {
            self.buttons = pressed;
            let end = self.needle.now_ms() + ms;
            while self.needle.now_ms() < end {
                self.rest_and_sample(end.min(self.needle.now_ms() + BUTTON_SAMPLE_MS));
            }
        }
    }

    /// Bytes on the link to the logger, and what it answers; nothing without power.
    pub fn link(&mut self, bytes: &[u8]) -> Vec<u8> {
        let (now, now_ms) = (self.uptime(), self.needle.now_ms());
        let mut answer = Vec::new();
        let Some(powered) = self.powered.as_mut() else { return answer };
        let mut out = [0; REPLY_BYTES];
        for byte in bytes {
            let Some(outcome) = powered.link.take(&mut powered.logger, now, *byte, &mut out) else {
                continue;
            };
            answer.extend(out.iter().take(outcome.reply_len));
            if let (Some(utc), Some(clock)) = (outcome.set_chip, self.clock.as_mut()) {
                clock.set(utc, now_ms);
            }
        }
        answer
    }

    fn pass_until(&mut self, utc: UtcMillis) {
        if self.powered.is_none() {
            self.idle_until(utc);
        }
    }

    fn travel(&self) -> u16 {
        let (slow, fast) = self.setup.knob_marks;
        RawAngle::new(fast.steps().wrapping_sub(slow.steps())).steps().max(1)
    }

    /// What the motor is driven to at the knob's angle, in thousandths of a stroke per second.
    fn drive(&self) -> u32 {
        let (slow, fast) = self.setup.speed_marks;
        let turned = self.knob.steps().wrapping_sub(self.setup.knob_marks.0.steps());
        let turned = u64::from(RawAngle::new(turned).steps().min(self.travel()));
        let added = u64::from(fast.saturating_sub(slow)) * turned / u64::from(self.travel());
        let full = u64::from(slow) + added;
        let left = full * u64::from(1_000_u32.saturating_sub(self.drag_permille)) / 1_000;
        u32::try_from(left).unwrap_or(u32::MAX)
    }

    fn step(&mut self, ms: u64, drive: u32) {
        let mut edges = core::mem::take(&mut self.edges);
        edges.clear();
        self.needle.advance(ms, drive, self.powered.is_some(), self.tag, &mut edges);
        self.last_edge_ms = edges.last().copied().or(self.last_edge_ms);
        self.sample(&edges);
        self.edges = edges;
    }

    fn rest_and_sample(&mut self, until_ms: u64) {
        if until_ms >= self.needle.now_ms() {
            self.needle.rest_until(until_ms);
            self.sample(&[]);
        }
    }

    /// One sample of all inputs, and of the clock chip when the logger wants it.
    fn sample(&mut self, edges: &[u64]) {
        let noise = u16::try_from(self.rng.below(3)).unwrap_or(0);
        let knob = self.knob_wire.read(self.knob, noise, &mut self.fault_rng);
        let now_ms = self.needle.now_ms();
        let Some(powered) = self.powered.as_mut() else { return };
        let (now, needle) = WiredNeedle {
            wire: &mut powered.wire,
            edges,
            now_ms,
            trouble: self.stamp_trouble,
            rng: &mut self.fault_rng,
        }
        .sample();
        self.lamp_lit = powered.logger.sample(&Sample { now, needle, knob, buttons: self.buttons });
        if let Some(clock) = self.clock.as_ref()
            && powered.logger.wants_clock(now)
        {
            powered.logger.clock_reading(now, clock.read(now_ms));
        }
        // With the power about to go, a write that failed means that it has gone.
        if self.power_will_go && powered.logger.faults().has(Fault::FlashWrite) {
            self.power_cut();
        }
    }
}

fn layout(log_sectors: u32) -> Layout {
    let sector = u32::try_from(SECTOR).unwrap_or(u32::MAX);
    let log_at = SETTINGS_SECTORS * sector;
    Layout { settings: 0..log_at, log: log_at..log_at + log_sectors * sector }
}

#[cfg(test)]
#[path = "rig_tests.rs"]
mod tests;
