//! The logger: input samples in, records and lamp state out.
//!
//! The board calls [`Logger::sample`] at least every `SAMPLE_MS` while the needle moves, at the latest `IDLE_GAP_MS` after
//! a last edge, and every [`crate::buttons::BUTTON_SAMPLE_MS`] (or on an interrupt) while a button may be pressed. It takes the
//! time first, then the counter and the stamps, so that no edge is younger than the sample that tells it.

use embedded_storage::nor_flash::NorFlash;
use heapless::String;
use shared_types::limits::{IDLE_GAP_MS, MAX_BUILD_NAME};
use shared_types::log::{
    Anchor, ClockSource, Event, Fault, FaultChange, FirmwareVersion, Press, PressKind, Record, Settings,
    StartReason, Started,
};
use shared_types::{Edges, RawAngle, RunMillis, Totals, UptimeMillis};

use crate::burst::{Advance, Bursts, LEAST_KNOB_STEP};
use crate::buttons::Buttons;
use crate::clock::{CLOCK_EVERY_MS, ClockReading};
use crate::control::ControlDraw;
use crate::faults::{DebouncedFault, Faults};
use crate::knob::{JitterDetector, Knob, KnobReading};
use crate::lamp::{Lamp, LampMessage, after_care, after_retension};
use crate::needle::{Needle, NeedleSample, RateMonitor, RecentIncrease};
use crate::short_bursts::ShortBursts;
use crate::store::Store;
use crate::token_bucket::TokenBucket;
use crate::trace::TraceRing;
use crate::write_queue::WriteQueue;

mod orders;

/// Time without a failed write after which the flash fault ends. Milliseconds.
const FLASH_QUIET_MS: u64 = 60_000;

/// Retry period of settings that flash did not take. Milliseconds.
const SETTINGS_RETRY_MS: u64 = 10_000;

/// So often an implausible rate is told at once, and once more after each such time. Milliseconds.
const RATE_FAULTS_AT_ONCE: u32 = 8;
const RATE_FAULT_EVERY_MS: u64 = 600_000;

/// Facts of the board at its start.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct StartInfo {
    /// Why it started.
    pub reason: StartReason,
    /// The firmware's version.
    pub firmware: FirmwareVersion,
    /// The name of the build.
    pub build: String<MAX_BUILD_NAME>,
    /// Any number that differs from start to start; draws the moments of the controls.
    pub random: u64,
}

/// Diagnostic facts of the board, for [`shared_types::link::Diagnostics`]; its fields mean what they mean there.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct BoardFacts {
    /// The flash chip's own number.
    pub flash_id: Option<u64>,
    /// Size of the flash chip in bytes.
    pub flash_bytes: Option<u32>,
    /// The longest erase of one sector, in milliseconds.
    pub slowest_erase_ms: u32,
    /// Transfers on the two-wire bus that came to no end in time.
    pub bus_timeouts: u32,
    /// Starts by the watchdog or after a panic since power came on.
    pub resets_since_power_on: u32,
    /// The place of the last panic since power came on.
    pub last_panic: Option<u32>,
    /// Bytes of the stack that were never used.
    pub free_stack_bytes: Option<u32>,
}

/// One sample of all inputs.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Sample {
    /// Uptime now.
    pub now: UptimeMillis,
    /// The needle since the sample before.
    pub needle: NeedleSample,
    /// The knob.
    pub knob: KnobReading,
    /// The two buttons, true while pressed: near-miss or tear, care or re-tension.
    pub buttons: [bool; 2],
}

/// Faults of the inputs, debounced and rate-limited.
#[derive(Clone, Copy, Debug)]
struct InputFaults {
    /// Of appearances of an implausible rate. That it went is told to the moment, because the host doubts what ran meanwhile.
    rate: TokenBucket,
    stamps: DebouncedFault,
    counts: DebouncedFault,
    knob: DebouncedFault,
    shaking: DebouncedFault,
}

impl InputFaults {
    const fn new() -> Self {
        let none = DebouncedFault::new();
        let rate = TokenBucket::new(RATE_FAULTS_AT_ONCE, RATE_FAULT_EVERY_MS);
        Self { rate, stamps: none, counts: none, knob: none, shaking: none }
    }
}

/// The logger, generic over the flash it writes to.
#[derive(Debug)]
pub struct Logger<F: NorFlash> {
    write_queue: WriteQueue<F>,
    info: StartInfo,
    settings: Settings,
    settings_unsaved: bool,
    settings_failed_at: Option<UptimeMillis>,
    now: UptimeMillis,
    needle: Needle,
    rate: RateMonitor,
    stamps_alone: RecentIncrease,
    counts_alone: RecentIncrease,
    knob: Knob,
    shaking: JitterDetector,
    input_faults: InputFaults,
    bursts: Bursts,
    short_bursts: ShortBursts,
    trace: TraceRing,
    control: ControlDraw,
    buttons: Buttons,
    lamp: Lamp,
    faults: Faults,
    edges_since_start: u32,
    clock_asked_at: Option<UptimeMillis>,
    confirmed_presses: u32,
    failed_writes: u32,
    flash_failed_at: Option<UptimeMillis>,
    prepared: bool,
    board: BoardFacts,
}

impl<F: NorFlash> Logger<F> {
    /// Starts on an opened store: records that it started, and the settings in force. They may wait for as long as nothing else is
    /// worth a record, see `write_queue`.
    pub fn start(store: Store<F>, info: StartInfo, now: UptimeMillis) -> Self {
        let settings = store.settings();
        let control = ControlDraw::new(info.random);
        let mut logger = Self {
            write_queue: WriteQueue::new(store),
            info,
            settings,
            settings_unsaved: false,
            settings_failed_at: None,
            now,
            needle: Needle::new(),
            rate: RateMonitor::new(),
            stamps_alone: RecentIncrease::new(),
            counts_alone: RecentIncrease::new(),
            knob: Knob::new(),
            shaking: JitterDetector::new(),
            input_faults: InputFaults::new(),
            bursts: Bursts::new(),
            short_bursts: ShortBursts::new(),
            trace: TraceRing::new(),
            control,
            buttons: Buttons::new(),
            lamp: Lamp::new(),
            faults: Faults::new(),
            edges_since_start: 0,
            clock_asked_at: None,
            confirmed_presses: 0,
            failed_writes: 0,
            flash_failed_at: None,
            prepared: false,
            board: BoardFacts::default(),
        };
        let started = Started {
            reason: logger.info.reason,
            firmware: logger.info.firmware,
            totals: logger.write_queue.store().totals(),
        };
        #[cfg(feature = "defmt")]
        defmt::info!("started: {} {} {}", logger.write_queue.store().boot(), started, settings);
        logger.keep(now, Event::Started(started));
        logger.keep(now, Event::Settings(settings));
        logger.update_flash_faults(now);
        logger
    }

    /// Takes one sample and tells whether the lamp is to be lit.
    pub fn sample(&mut self, sample: &Sample) -> bool {
        let now = sample.now.max(self.now);
        self.now = now;
        let [dated_late, moved] = self.needle.update(now, &sample.needle);
        self.knob.update(sample.knob);
        let angle = self.knob.angle();
        // What the sample before had left open comes first; then, with or without edges, this one.
        for moved in dated_late.into_iter().map(Some).chain([moved]) {
            let advance = self.bursts.update(now, moved, angle, self.settings.knob_step);
            self.take_running(now, angle, &advance);
            if let Some(moved) = moved {
                self.rate.take(&moved);
            }
        }
        if let Some(short) = self.short_bursts.update(now, self.bursts.open_run_ms()) {
            self.keep(short.start, Event::Segment(short.segment));
        }
        self.update_input_faults(now, sample.knob);
        for kind in self.buttons.update(now, sample.buttons).into_iter().flatten() {
            self.take_press(now, kind);
        }
        self.write_queue.retry(now);
        if self.is_still(now) {
            self.work_while_still(now);
        }
        self.update_flash_faults(now);
        self.lamp_message(now).is_lit(now)
    }

    /// What the lamp says at this moment.
    #[must_use]
    pub fn lamp_message(&self, now: UptimeMillis) -> LampMessage {
        let fault = self.faults.needs_attention() || self.write_queue.has_no_log();
        self.lamp.message(now, self.total_run(), &self.settings.limits, fault)
    }

    /// Whether the clock chip should be read now: at the start, after it was set, and hourly, but never while the needle
    /// moves, because reading it may hold up the samples.
    #[must_use]
    pub fn wants_clock(&self, now: UptimeMillis) -> bool {
        !self.bursts.is_running()
            && self.clock_asked_at.is_none_or(|at| now.0.saturating_sub(at.0) >= CLOCK_EVERY_MS)
    }

    /// Takes a reading of the clock chip: an anchor, or a fault.
    pub fn clock_reading(&mut self, now: UptimeMillis, reading: ClockReading) {
        self.clock_asked_at = Some(now);
        if let ClockReading::Utc(utc) = reading {
            self.keep(now, Event::Anchor(Anchor { utc, source: ClockSource::ClockChip }));
        }
        self.note_fault(now, Fault::ClockSilent, reading == ClockReading::Silent);
        self.note_fault(now, Fault::ClockLost, reading == ClockReading::Lost);
    }

    /// Lifetime totals as recorded: the sum of all segments that are safe in flash.
    #[must_use]
    pub fn totals(&self) -> Totals {
        self.write_queue.store().totals()
    }

    /// Whether a burst is under way: the board must look at least every `SAMPLE_MS`.
    #[must_use]
    pub const fn is_running(&self) -> bool {
        self.bursts.is_running()
    }

    /// Takes what only the board knows, whenever it has changed.
    pub const fn note_board(&mut self, facts: BoardFacts) {
        self.board = facts;
    }

    /// What the board has told of itself so far.
    #[must_use]
    pub const fn board_facts(&self) -> BoardFacts {
        self.board
    }

    /// The faults present.
    #[must_use]
    pub const fn faults(&self) -> &Faults {
        &self.faults
    }

    /// Gives the store back, for example to simulate what a cut leaves of the logger: nothing but its flash.
    pub fn into_store(self) -> Store<F> {
        self.write_queue.into_store()
    }

    /// Lifetime run time with what is not written yet.
    fn total_run(&self) -> RunMillis {
        let short = self.short_bursts.waiting_run_ms();
        let unwritten =
            self.bursts.open_run_ms().saturating_add(short).saturating_add(self.write_queue.waiting_run_ms());
        self.totals().plus(RunMillis(unwritten), Edges(0)).run
    }

    fn take_running(&mut self, now: UptimeMillis, angle: Option<RawAngle>, advance: &Advance) {
        self.edges_since_start = self.edges_since_start.saturating_add(advance.edges);
        if advance.edges > 0 || advance.ran_ms > 0 {
            self.trace.add(advance.ran_ms, advance.edges, advance.begins, angle);
        }
        self.lamp.ran(advance.ran_ms, angle, self.settings.limits.ceiling);
        let step = self.settings.knob_step.max(LEAST_KNOB_STEP);
        for closed in advance.closed.into_iter().flatten() {
            for segment in self.short_bursts.take(now, closed, step).into_iter().flatten() {
                self.keep(segment.start, Event::Segment(segment.segment));
            }
        }
        if self.control.passes(advance.ran_ms) {
            self.keep(now, Event::Control(self.trace.snapshot()));
        }
    }

    /// What ran before a press, a fitting or a greeting stands before it in the log, too.
    pub(crate) fn write_short_bursts(&mut self) {
        if let Some(short) = self.short_bursts.take_waiting() {
            self.keep(short.start, Event::Segment(short.segment));
        }
    }

    fn update_input_faults(&mut self, now: UptimeMillis, knob: KnobReading) {
        let mismatches = self.needle.mismatches();
        let when = |fault, is_seen: bool| is_seen.then_some(fault);
        let is_implausible = self.rate.is_implausible(now);
        let stamps = when(Fault::StampsAlone, self.stamps_alone.update(now, mismatches.stamps_alone));
        let counts = when(Fault::CountsAlone, self.counts_alone.update(now, mismatches.counts_alone));
        let step = self.settings.knob_step.max(LEAST_KNOB_STEP);
        let shaking = when(Fault::KnobShakes, self.shaking.update(knob, step));
        let input_faults = &mut self.input_faults;
        let rate = is_implausible && (self.faults.has(Fault::ImplausibleRate) || input_faults.rate.take(now));
        let told = [
            when(Fault::ImplausibleRate, rate),
            input_faults.stamps.update(now, stamps),
            input_faults.counts.update(now, counts),
            input_faults.knob.update(now, self.knob.fault()),
            input_faults.shaking.update(now, shaking),
        ];
        for fault in Fault::ALL.into_iter().filter(|fault| fault.is_input_fault()) {
            self.note_fault(now, fault, told.contains(&Some(fault)));
        }
    }

    /// The moment of a press is when it is understood: a tap when the finger lifts, a hold when it has lasted.
    fn take_press(&mut self, now: UptimeMillis, kind: PressKind) {
        let still_ms = match self.bursts.still_ms(now) {
            Some(still) if still < u64::from(IDLE_GAP_MS) => 0,
            Some(still) => u32::try_from(still).unwrap_or(u32::MAX),
            None => u32::MAX,
        };
        #[cfg(feature = "defmt")]
        defmt::info!("press: {} after {} ms still", kind, still_ms);
        self.write_short_bursts();
        self.keep(now, Event::Press(Press { kind, still_ms, trace: self.trace.snapshot() }));
        let limits = match kind {
            PressKind::CareDone => after_care(self.settings.limits),
            PressKind::Retension => after_retension(self.settings.limits, self.total_run()),
            PressKind::NearMiss | PressKind::Tear => return,
        };
        // In force at once; saved in the next pause, because that erases a sector.
        self.settings_unsaved |= limits != self.settings.limits;
        self.settings.limits = limits;
    }

    fn is_still(&self, now: UptimeMillis) -> bool {
        !self.bursts.is_running()
            && self.bursts.still_ms(now).is_none_or(|still| still >= u64::from(IDLE_GAP_MS))
    }

    fn work_while_still(&mut self, now: UptimeMillis) {
        if !self.write_queue.store().is_committed() {
            return;
        }
        // A try erases a sector or two, so one that failed rests for a while.
        let rested = self.settings_failed_at.is_none_or(|at| now.0.saturating_sub(at.0) >= SETTINGS_RETRY_MS);
        if self.settings_unsaved && rested {
            self.save_settings(now);
        } else if self.write_queue.store().is_formatting() {
            // A failed step is tried again in the next look.
            if self.write_queue.store_mut().format_unreadable().unwrap_or(false) {
                self.prepared = false;
                self.write_queue.flush(now);
            }
        } else if !self.prepared && !self.write_queue.has_no_log() {
            // A failed erase shows as a failed write when the sector is needed; until then there is nothing to report.
            self.prepared = !self.write_queue.store_mut().prepare_while_still().unwrap_or(false);
        }
    }

    /// Saves the settings in force and records them. Returns whether both are safe.
    fn save_settings(&mut self, now: UptimeMillis) -> bool {
        self.settings_unsaved = self.write_queue.store_mut().change_settings(self.settings).is_err();
        self.settings_failed_at = self.settings_unsaved.then_some(now);
        !self.settings_unsaved && self.keep(now, Event::Settings(self.settings))
    }

    fn note_fault(&mut self, now: UptimeMillis, fault: Fault, present: bool) {
        if let Some(change) = self.faults.set(fault, present) {
            self.tell_change(now, change);
        }
    }

    fn tell_change(&mut self, now: UptimeMillis, change: FaultChange) {
        #[cfg(feature = "defmt")]
        defmt::warn!("fault: {}", change);
        self.keep(now, Event::Fault(change));
    }

    /// What the writes of this look have shown: whether flash takes them, whether old records had to go, whether a press
    /// has become safe.
    fn update_flash_faults(&mut self, now: UptimeMillis) {
        // The store writes elsewhere what did not read back; that it had to is worth knowing all the same.
        let failed_writes = self.write_queue.store().counters().failed_writes;
        if self.write_queue.is_failing() || failed_writes != self.failed_writes {
            self.failed_writes = failed_writes;
            self.flash_failed_at = Some(now);
        }
        let quiet = |at: UptimeMillis| now.0.saturating_sub(at.0) >= FLASH_QUIET_MS;
        self.flash_failed_at = self.flash_failed_at.filter(|at| !quiet(*at));
        self.note_fault(now, Fault::FlashWrite, self.flash_failed_at.is_some());
        self.note_fault(now, Fault::LogOverrun, self.write_queue.store().overran());
        let saved = self.write_queue.saved_presses();
        if saved != self.confirmed_presses {
            self.confirmed_presses = saved;
            self.lamp.confirm(now);
        }
    }

    /// Records something and returns whether it, and all before it, is safe in flash.
    fn keep(&mut self, at: UptimeMillis, event: Event) -> bool {
        self.prepared = false;
        let record = Record { boot: self.write_queue.store().boot(), at, event };
        self.write_queue.write(self.now, record)
    }
}

#[cfg(all(test, feature = "sim"))]
#[path = "logger_tests.rs"]
mod tests;
