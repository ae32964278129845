//! The wires between the machine and its logger, and what can be wrong with them.

use std::vec::Vec;

use shared_types::{RawAngle, UptimeMillis};

use crate::knob::{KnobReading, Magnet};
use crate::needle::{NeedleSample, NeedleSource};
use crate::split_mix::SplitMix64;

/// What is wrong with the knob's sensor.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum KnobHealth {
    /// Nothing.
    #[default]
    Good,
    /// Its magnet.
    Magnet(Magnet),
    /// Its wire.
    Silent,
    /// Its plug: it answers about every other time.
    Loose,
}

/// What is wrong with the needle's stamps. Counts are always right, but may come one sample late.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct StampTrouble {
    /// Of the edges that fall at the very moment of a sample, so many in a thousand are counted in it and stamped in the next, or the
    /// other way round.
    pub apart_permille: u64,
    /// So many edges in a thousand are counted and never stamped.
    pub missing_permille: u64,
    /// At so many samples in a thousand a pulse is stamped that nothing was counted for.
    pub stray_permille: u64,
}

/// From the needle's sensor to the counter and to whatever stamps.
#[derive(Clone, Debug)]
pub(crate) struct NeedleWire {
    plugged_at_ms: u64,
    count: u16,
    sampled_ms: u64,
    /// Of an edge that the last sample told by half: its stamp, where that comes late.
    late_stamp: Option<u64>,
    /// Or its count.
    late_count: bool,
}

impl NeedleWire {
    pub(crate) const fn plugged_at(now_ms: u64) -> Self {
        Self { plugged_at_ms: now_ms, count: 0, sampled_ms: now_ms, late_stamp: None, late_count: false }
    }
}

/// A needle's wire at one moment, with the edges that came over it since the last sample.
#[derive(Debug)]
pub(crate) struct WiredNeedle<'a> {
    pub(crate) wire: &'a mut NeedleWire,
    pub(crate) edges: &'a [u64],
    pub(crate) now_ms: u64,
    pub(crate) trouble: StampTrouble,
    pub(crate) rng: &'a mut SplitMix64,
}

impl NeedleSource for WiredNeedle<'_> {
    /// As far as count and stamps come with this sample.
    fn sample(&mut self) -> (UptimeMillis, NeedleSample) {
        let (wire, now_ms, trouble) = (&mut *self.wire, self.now_ms, self.trouble);
        let mut happens = |permille: u64| permille > 0 && self.rng.below(1_000) < permille;
        let since = core::mem::replace(&mut wire.sampled_ms, now_ms);
        let mut count = self.edges.len() + usize::from(core::mem::take(&mut wire.late_count));
        let mut stamps: Vec<u64> = wire.late_stamp.take().into_iter().collect();
        stamps.extend(self.edges.iter().copied().filter(|_| !happens(trouble.missing_permille)));
        if self.edges.last() == Some(&now_ms)
            && stamps.last() == Some(&now_ms)
            && happens(trouble.apart_permille)
        {
            if happens(500) {
                wire.late_stamp = stamps.pop();
            } else {
                count -= 1;
                wire.late_count = true;
            }
        }
        if now_ms > since && happens(trouble.stray_permille) {
            stamps.push(since + 1 + self.rng.below(now_ms - since));
        }
        wire.count = wire.count.wrapping_add(u16::try_from(count).unwrap_or(u16::MAX));
        let uptime = |ms: u64| UptimeMillis(ms.saturating_sub(wire.plugged_at_ms));
        let sample = NeedleSample {
            count: wire.count,
            first_edge_at: stamps.iter().min().copied().map(uptime),
            last_edge_at: stamps.iter().max().copied().map(uptime),
            too_short: 0,
        };
        (uptime(now_ms), sample)
    }
}

/// From the knob's sensor to the logger.
#[derive(Clone, Debug, Default)]
pub(crate) struct KnobWire {
    pub(crate) health: KnobHealth,
    /// One standard deviation, in steps.
    pub(crate) noise: u32,
}

impl KnobWire {
    /// One reading of a knob at `angle`; `own_noise` of 0 to 2 is the sensor's own, a step down or up.
    pub(crate) fn read(&self, angle: RawAngle, own_noise: u16, rng: &mut SplitMix64) -> KnobReading {
        let mut steps = angle.steps().wrapping_add(own_noise).wrapping_sub(1);
        if self.noise > 0 {
            // Nearly normal: the sum of twelve even draws.
            let sum: u64 = (0..12).map(|_| rng.below(1_001)).sum();
            let shift = (i64::try_from(sum).unwrap_or(6_000) - 6_000) * i64::from(self.noise) / 1_000;
            steps = steps.wrapping_add_signed(i16::try_from(shift).unwrap_or(0));
        }
        let angle = RawAngle::new(steps);
        match self.health {
            KnobHealth::Good => KnobReading::good(angle),
            KnobHealth::Magnet(magnet) => KnobReading::Seen { angle, magnet, gain: None },
            KnobHealth::Silent => KnobReading::Silent,
            KnobHealth::Loose if rng.below(2) == 0 => KnobReading::Silent,
            KnobHealth::Loose => KnobReading::good(angle),
        }
    }
}

#[cfg(test)]
#[path = "wires_tests.rs"]
mod tests;
