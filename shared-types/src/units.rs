//! One newtype for each quantity that crosses the link, so that no two of them can be swapped.

use serde::{Deserialize, Serialize};

macro_rules! quantity {
    ($(#[$doc:meta])* $name:ident($inner:ty)) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
        #[cfg_attr(feature = "defmt", derive(defmt::Format))]
        #[serde(transparent)]
        pub struct $name(pub $inner);
    };
}

quantity!(
    /// Needle edges seen by the hardware counter. A count of 64 bits outlives any machine.
    /// The host turns edges into strokes with the machine's ratio.
    Edges(u64)
);
quantity!(
    /// Milliseconds during which the needle moved, from a first edge to a last edge.
    RunMillis(u64)
);
quantity!(
    /// Milliseconds since the logger was powered. Starts at zero with every boot and never jumps.
    UptimeMillis(u64)
);
quantity!(
    /// Milliseconds since 1970-01-01T00:00:00Z without leap seconds. Logged, never computed with, by the firmware.
    UtcMillis(i64)
);
quantity!(
    /// The identity of one logger: the flash chip's unique number, or one drawn at the first start where it has none.
    LoggerId(u64)
);
quantity!(
    /// Drawn when a log is formatted, so that records of a re-formatted log are not taken for the old ones.
    LogId(u32)
);
quantity!(
    /// How many times this logger has started; the first start is number 1.
    BootId(u32)
);
quantity!(
    /// The number of a record within its log. Never wraps, never repeats; a gap means that records are gone.
    RecordSeq(u32)
);
quantity!(
    /// The host's number for a machine, kept by the logger so that a moved logger can be noticed. Zero: not fitted.
    MachineTag(u32)
);

/// The knob's angle as its sensor gives it: 0 to 4095 for one turn, with the zero wherever the magnet was glued.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[serde(transparent)]
pub struct RawAngle(u16);

impl RawAngle {
    /// Steps in one turn of a 12-bit encoder.
    pub const STEPS: u16 = 4096;

    /// Takes the low 12 bits, as the sensor's data sheet asks.
    #[must_use]
    pub const fn new(raw: u16) -> Self {
        Self(raw & (Self::STEPS - 1))
    }

    /// The angle in steps, 0 to 4095.
    #[must_use]
    pub const fn steps(self) -> u16 {
        self.0
    }

    /// The shortest way between two angles in steps, 0 to 2048, across the wrap where that is shorter.
    #[must_use]
    pub const fn distance(self, other: Self) -> u16 {
        let apart = self.0.abs_diff(other.0) % Self::STEPS;
        if apart > Self::STEPS / 2 { Self::STEPS - apart } else { apart }
    }

    /// The shortest way from this angle to `other` in steps, -2048 to 2048; upwards where it is positive.
    #[must_use]
    pub const fn signed_way(self, other: Self) -> i16 {
        let way = self.distance(other).cast_signed();
        let is_up = other.0.wrapping_sub(self.0) % Self::STEPS <= Self::STEPS / 2;
        if is_up { way } else { -way }
    }
}

/// Lifetime totals of one logger: what all its records together hold. Neither part ever goes down.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Totals {
    /// Run time of every segment ever recorded.
    pub run: RunMillis,
    /// Edges of every segment ever recorded.
    pub edges: Edges,
}

impl Totals {
    /// Adds one segment, stopping at the largest number instead of wrapping.
    #[must_use]
    pub const fn plus(self, run: RunMillis, edges: Edges) -> Self {
        Self {
            run: RunMillis(self.run.0.saturating_add(run.0)),
            edges: Edges(self.edges.0.saturating_add(edges.0)),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_angle_keeps_twelve_bits() {
        // AS5600 data sheet v1-06: RAW ANGLE bytes 0x0F 0xFF are 4095; the high byte's upper nibble is not angle.
        assert_eq!(RawAngle::new(0xFFFF).steps(), 4095);
    }

    #[test]
    fn the_distance_takes_the_short_way_over_the_wrap() {
        assert_eq!(RawAngle::new(4090).distance(RawAngle::new(6)), 12);
        assert_eq!(RawAngle::new(6).distance(RawAngle::new(4090)), 12);
        assert_eq!(RawAngle::new(0).distance(RawAngle::new(2048)), 2048);
        assert_eq!(RawAngle::new(7).distance(RawAngle::new(7)), 0);
        assert_eq!(RawAngle::new(4090).signed_way(RawAngle::new(6)), 12);
        assert_eq!(RawAngle::new(6).signed_way(RawAngle::new(4090)), -12);
    }
}
