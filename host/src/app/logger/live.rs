//! Live values of the inputs, and calibration of the knob's two ends.

use std::collections::VecDeque;

use serde::Serialize;
use shared_types::link::{Live, LoggerStatus};
use shared_types::log::Fault;
use shared_types::{MachineTag, RawAngle};

use crate::app::ports::{Logger, LoggerError, Store, StoreError};
use host_core::care::ClothTension;
use host_core::entries::KnobMarks;
use host_core::records::knob::{self, PerMille};
use host_core::studio::{StrokeRatio, Studio};

/// The rate is told over about this long, in milliseconds: at five strokes a second that is a handful of strokes.
const RATE_OVER_MS: u64 = 1_000;
/// From one question for the lifetime total to the next, in milliseconds of uptime; the cloth is told in minutes.
const TOTAL_EVERY_MS: u64 = 5_000;
/// Readings of the angle for one end mark; odd, so that one of them is in the middle.
const READINGS: usize = 5;
/// The knob stands still when these readings lie no further apart than this, in steps of a turn (about 2 degrees).
const STILL_WITHIN: u16 = 24;

/// One sample of the inputs.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LiveSample {
    /// The logger's uptime, in milliseconds.
    pub uptime_ms: u64,
    /// Passes of the magnet since the logger started.
    pub edges_since_start: u32,
    /// Strokes counted since the first look.
    pub strokes_counted: u64,
    /// Strokes per second over the last second; null at the first look, and when the logger has just started again.
    pub strokes_per_second: Option<f64>,
    /// The knob's angle, 0 to 4095; null while it cannot be read.
    pub angle_steps: Option<u16>,
    /// The knob between its two ends, 0 to 1000; null while these were not read.
    pub knob_per_mille: Option<u16>,
    /// The gain of the knob's sensor, 0 to 255, where it was asked: middle values mean a well-placed magnet.
    pub knob_gain: Option<u8>,
    /// The faults present.
    pub faults: Vec<Fault>,
    /// How long the cloth on the frame has been tight; null without a rug on the frame.
    pub cloth: Option<ClothTension>,
}

/// All looks of one run.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LiveReport {
    /// The logger, as sixteen hexadecimal digits.
    pub logger: String,
    /// The looks, oldest first.
    pub samples: Vec<LiveSample>,
}

/// What turns edges into strokes and angles into places of the knob.
#[derive(Clone, Copy, Debug)]
pub struct Scale {
    ratio: StrokeRatio,
    marks: Option<KnobMarks>,
}

impl Scale {
    /// Of a machine of which nothing was entered: every edge is a stroke.
    pub const UNKNOWN: Self = Self { ratio: StrokeRatio::ONE, marks: None };

    /// As the maker entered it for a machine.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn of(store: &impl Store, machine: MachineTag) -> Result<Self, StoreError> {
        let studio = Studio::of(&store.entries()?);
        let card = studio.machines.iter().find(|card| card.tag == machine);
        Ok(card.map_or(Self::UNKNOWN, |card| Self { ratio: card.ratio, marks: card.marks }))
    }
}

/// Looks again and again, with the cloth on the frame where it is told of, tells every look, and ends when `go_on` says so; `go_on` also waits from one look to the next.
///
/// # Errors
/// When the logger stops answering.
pub fn watch(
    logger: &mut dyn Logger,
    scale: Scale,
    cloth: Option<&dyn Fn(&LoggerStatus) -> ClothTension>,
    tell: &mut dyn FnMut(&LiveSample),
    go_on: &mut dyn FnMut() -> bool,
) -> Result<Vec<LiveSample>, LoggerError> {
    let mut samples = Vec::new();
    let mut before = VecDeque::new();
    let (mut last_edges, mut edges) = (None, 0_u64);
    let (mut tension, mut total_at) = (None, None);
    loop {
        let live = logger.live()?;
        let is_old = total_at.is_none_or(|at: u64| live.uptime.0.abs_diff(at) >= TOTAL_EVERY_MS);
        if let Some(cloth) = cloth.filter(|_| is_old) {
            tension = Some(cloth(&logger.status()?));
            total_at = Some(live.uptime.0);
        }
        // A logger that has started again counts from nothing.
        let new = last_edges
            .map_or(0, |last| live.edges_since_start.checked_sub(last).unwrap_or(live.edges_since_start));
        edges += u64::from(new);
        last_edges = Some(live.edges_since_start);
        let sample = LiveSample {
            uptime_ms: live.uptime.0,
            edges_since_start: live.edges_since_start,
            strokes_counted: scale.ratio.strokes(edges),
            strokes_per_second: strokes_per_second(&mut before, &live, scale.ratio),
            angle_steps: live.angle.map(RawAngle::steps),
            knob_per_mille: live
                .angle
                .zip(scale.marks)
                .and_then(|(angle, marks)| knob::place(&marks, angle))
                .map(|place| place.per_mille.get()),
            knob_gain: live.gain,
            faults: Fault::of_bits(live.faults).collect(),
            cloth: tension,
        };
        tell(&sample);
        samples.push(sample);
        if !go_on() {
            return Ok(samples);
        }
    }
}

/// The rate from the oldest look of the last second to this one.
fn strokes_per_second(before: &mut VecDeque<Live>, live: &Live, ratio: StrokeRatio) -> Option<f64> {
    if before.back().is_some_and(|last| live.uptime < last.uptime) {
        before.clear();
    }
    before.push_back(*live);
    while before.get(1).is_some_and(|second| live.uptime.0 - second.uptime.0 >= RATE_OVER_MS) {
        before.pop_front();
    }
    let first = before.front()?;
    let passed_ms = live.uptime.0 - first.uptime.0;
    let edges = live.edges_since_start.saturating_sub(first.edges_since_start);
    let (per_edges, strokes) = ratio.parts();
    let per_edge = f64::from(strokes) / f64::from(per_edges);
    // Exact up to 2^53 ms.
    #[expect(clippy::cast_precision_loss, reason = "about a second")]
    let seconds = passed_ms as f64 / 1_000.0;
    (passed_ms > 0).then(|| f64::from(edges) * per_edge / seconds)
}

/// Why the angle was not read.
#[derive(Debug, thiserror::Error)]
pub enum KnobUnread {
    /// The logger does not answer.
    #[error(transparent)]
    Logger(#[from] LoggerError),
    /// Its sensor sees no angle.
    #[error("the logger cannot read the knob")]
    NoAngle {
        /// The faults of the knob that are present.
        faults: Vec<Fault>,
    },
    /// It was being turned.
    #[error("the knob was still being turned")]
    Turning,
}

/// Reads the angle of a knob that stands still: the middle of a few readings. `wait` passes the time between them.
///
/// # Errors
/// When it cannot be read, or does not stand still.
pub fn still_angle(logger: &mut dyn Logger, wait: &mut dyn FnMut()) -> Result<RawAngle, KnobUnread> {
    let mut readings: Vec<RawAngle> = Vec::with_capacity(READINGS);
    while readings.len() < READINGS {
        let live = logger.live()?;
        let Some(angle) = live.angle else {
            let faults = Fault::of_bits(live.faults).filter(|fault| fault.is_of_the_knob());
            return Err(KnobUnread::NoAngle { faults: faults.collect() });
        };
        readings.push(angle);
        wait();
    }
    // The middle one is where the sum of distances is smallest, which also holds over the wrap.
    let sum = |angle: &RawAngle| readings.iter().map(|other| u32::from(angle.distance(*other))).sum::<u32>();
    let middle = readings.iter().min_by_key(|angle| sum(angle)).copied();
    middle
        .filter(|middle| readings.iter().all(|angle| angle.distance(*middle) <= STILL_WITHIN))
        .ok_or(KnobUnread::Turning)
}

/// The ends of the travel, and its direction from the angle at about half way.
#[must_use]
pub fn ends(slow: RawAngle, half_way: RawAngle, fast: RawAngle) -> KnobEnds {
    let upwards = |to: RawAngle| RawAngle::new(to.steps().wrapping_sub(slow.steps())).steps();
    KnobEnds {
        slow: u32::from(slow.steps()),
        fast: u32::from(fast.steps()),
        // Going up from the slow end, half way comes before the fast end.
        falling: upwards(half_way) > upwards(fast),
    }
}

/// The ends of a knob's travel as they were read.
#[derive(Clone, Copy, Debug)]
pub struct KnobEnds {
    /// The angle at the slow end, in steps of a turn.
    pub slow: u32,
    /// The angle at the fast end, in steps of a turn.
    pub fast: u32,
    /// Whether the angle falls from slow to fast.
    pub falling: bool,
}

impl KnobEnds {
    /// Where an angle lies between them; none where both are the same.
    #[must_use]
    pub fn place(self, angle: RawAngle) -> Option<PerMille> {
        let end = |steps: u32| u16::try_from(steps).ok().map(RawAngle::new);
        let (slow, fast) = (end(self.slow)?, end(self.fast)?);
        let marks = KnobMarks { machine: MachineTag(0), slow, fast, rising: !self.falling };
        knob::place(&marks, angle).map(|place| place.per_mille)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn falling(slow: u16, half_way: u16, fast: u16) -> bool {
        ends(RawAngle::new(slow), RawAngle::new(half_way), RawAngle::new(fast)).falling
    }

    #[test]
    fn half_way_tells_in_which_direction_the_knob_turns_over_the_wrap_too() {
        assert!(!falling(1_000, 2_000, 3_000));
        assert!(falling(3_000, 2_000, 1_000));
        // By hand: from 3,500 upwards over 4,095 to 500 are 1,096 steps, half of them end at 4,048.
        assert!(!falling(3_500, 4_048, 500));
        assert!(falling(500, 4_048, 3_500));
        // The long way round: from 500 up to 3,500 through 2,000, not down over the wrap.
        assert!(!falling(500, 2_000, 3_500));
    }
}
