//! What a logger has to write in a studio: bursts, presses, traces, and now and then something else.

use firmware::split_mix::SplitMix64;
use heapless::Vec;
use shared_types::log::{
    Ceiling, Event, Limits, Press, PressKind, Record, Segment, Settings, Trace, TraceStep,
};
use shared_types::{BootId, MachineTag, RawAngle, RunMillis, UptimeMillis};

/// Median and spread of the model: bursts of 6 s, gaps of 4 s, lognormal with a sigma of 0.8.
const BURST_MEDIAN_MS: f64 = 6_000.0;
const GAP_MEDIAN_MS: f64 = 4_000.0;
const SIGMA: f64 = 0.8;
/// A knob that is mostly still: it moves before one burst in eight.
const BURSTS_PER_KNOB_TURN: u64 = 8;
const BURSTS_PER_CONTROL: u64 = 30;

/// A maker at work, record by record.
#[derive(Clone, Debug)]
pub struct Work {
    rng: SplitMix64,
    uptime: u64,
    angle: u16,
    left_of_burst: u64,
    /// Bursts begun so far.
    pub bursts: u64,
    control_due: bool,
}

impl Work {
    /// Starts at a seed.
    #[must_use]
    pub const fn new(seed: u64) -> Self {
        let rng = SplitMix64::new(seed);
        Self { rng, uptime: 0, angle: 1_200, left_of_burst: 0, bursts: 0, control_due: false }
    }

    /// The logger started again.
    pub const fn restart(&mut self) {
        self.uptime = 0;
        self.left_of_burst = 0;
    }

    /// The next record of a day without presses: segments of bursts, and control traces.
    pub fn next(&mut self, boot: BootId) -> Record {
        if std::mem::take(&mut self.control_due) {
            let trace = self.trace();
            return Record { boot, at: UptimeMillis(self.uptime), event: Event::Control(trace) };
        }
        let continues = self.left_of_burst > 0;
        if !continues {
            self.bursts += 1;
            self.uptime += self.lognormal(GAP_MEDIAN_MS).max(600);
            self.left_of_burst = self.lognormal(BURST_MEDIAN_MS).max(100);
            self.control_due = self.rng.one_in(BURSTS_PER_CONTROL);
            if self.rng.one_in(BURSTS_PER_KNOB_TURN) {
                self.angle = 900 + self.rng.below(1_500) as u16;
            }
        }
        // Running is closed after 9.8 s (limits.rs), at the sample that follows.
        let run = self.left_of_burst.min(9_800 + self.rng.below(50));
        self.left_of_burst -= run;
        let edges = (run as f64 / 1_000.0 * self.strokes_per_second()) as u32 + u32::from(!continues);
        let segment =
            Segment { run: RunMillis(run), edges, angle: Some(RawAngle::new(self.angle)), continues };
        let at = UptimeMillis(self.uptime);
        self.uptime += run;
        Record { boot, at, event: Event::Segment(segment) }
    }

    /// Any record that a logger may write, presses often.
    pub fn anything(&mut self, boot: BootId) -> Record {
        match self.rng.below(10) {
            0 | 1 => {
                self.uptime += 1 + self.rng.below(5_000);
                let kind = [PressKind::NearMiss, PressKind::Tear, PressKind::CareDone, PressKind::Retension]
                    [self.rng.below(4) as usize];
                let press = Press { kind, still_ms: self.rng.below(9_000) as u32, trace: self.trace() };
                Record { boot, at: UptimeMillis(self.uptime), event: Event::Press(press) }
            }
            2 => {
                self.uptime += 1 + self.rng.below(5_000);
                let event = Event::Settings(self.settings());
                Record { boot, at: UptimeMillis(self.uptime), event }
            }
            _ => self.next(boot),
        }
    }

    /// Settings like no others before.
    pub fn settings(&mut self) -> Settings {
        let limits = Limits {
            look_at: Some(RunMillis(self.rng.below(1 << 40))),
            retension_every: Some(RunMillis(7_200_000)),
            ceiling: Some(Ceiling { from: RawAngle::new(3_000), to: RawAngle::new(3_500) }),
            ..Limits::default()
        };
        Settings { machine: MachineTag(self.rng.next_u64() as u32), knob_step: 24, limits }
    }

    /// Five to thirty-five strokes a second over the knob's travel, give or take two in a hundred.
    fn strokes_per_second(&mut self) -> f64 {
        let at_angle = 5.0 + (f64::from(self.angle) - 900.0) / 50.0;
        at_angle * (0.98 + 0.04 * self.rng.uniform())
    }

    fn trace(&mut self) -> Trace {
        let mut steps = Vec::new();
        for _ in 0..20 {
            let edges = (self.strokes_per_second() / 2.0 + self.rng.uniform()) as u16;
            let shaken = if self.rng.one_in(4) { self.rng.below(9) as u16 } else { 0 };
            let angle = Some(RawAngle::new(self.angle + shaken));
            steps.push(TraceStep { edges, angle }).unwrap();
        }
        Trace { newest_ms: 1 + self.rng.below(500) as u16, steps }
    }

    fn lognormal(&mut self, median_ms: f64) -> u64 {
        (median_ms * (SIGMA * self.rng.normal()).exp()) as u64
    }
}
