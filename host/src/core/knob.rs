//! From a raw angle to a place between the knob's two end marks.

use serde::{Deserialize, Serialize};
use shared_types::RawAngle;

use super::entries::KnobMarks;

/// A place on the knob's travel: 0 is the slow end, 1000 the fast end.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(transparent)]
pub struct PerMille(u16);

impl PerMille {
    /// The fast end.
    pub const FULL: Self = Self(1000);

    /// A place, if it is on the travel.
    #[must_use]
    pub const fn new(per_mille: u16) -> Option<Self> {
        if per_mille <= Self::FULL.0 { Some(Self(per_mille)) } else { None }
    }

    /// The number, 0 to 1000.
    #[must_use]
    pub const fn get(self) -> u16 {
        self.0
    }
}

/// Where the knob stood.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct KnobPlace {
    /// The place on its travel; for an angle outside the marks, the nearer end.
    pub per_mille: PerMille,
    /// Whether the angle was outside the marks: the magnet slipped, or the marks were read too close together.
    pub outside: bool,
}

/// Places an angle between the marks, over the wrap of the encoder, rising or falling. None when both marks are the
/// same angle.
#[must_use]
pub fn place(marks: &KnobMarks, angle: RawAngle) -> Option<KnobPlace> {
    let from_slow = |to: RawAngle| {
        let (low, high) = if marks.rising { (marks.slow, to) } else { (to, marks.slow) };
        (u32::from(high.steps()) + u32::from(RawAngle::STEPS) - u32::from(low.steps()))
            % u32::from(RawAngle::STEPS)
    };
    let travel = from_slow(marks.fast);
    if travel == 0 {
        return None;
    }
    let way = from_slow(angle);
    if way <= travel {
        let per_mille = (way * 1000 + travel / 2) / travel;
        return Some(KnobPlace { per_mille: PerMille(u16::try_from(per_mille).ok()?), outside: false });
    }
    let past_fast = way - travel;
    let before_slow = u32::from(RawAngle::STEPS) - way;
    let per_mille = if past_fast <= before_slow { PerMille::FULL } else { PerMille(0) };
    Some(KnobPlace { per_mille, outside: true })
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, reason = "a test may stop at the first surprise")]
    use super::*;
    use proptest::prelude::*;
    use shared_types::MachineTag;

    fn marks(slow: u16, fast: u16, rising: bool) -> KnobMarks {
        KnobMarks { machine: MachineTag(1), slow: RawAngle::new(slow), fast: RawAngle::new(fast), rising }
    }

    fn at(marks: &KnobMarks, angle: u16) -> (u16, bool) {
        let place = place(marks, RawAngle::new(angle)).unwrap();
        (place.per_mille.get(), place.outside)
    }

    #[test]
    fn the_marks_are_the_ends_and_the_middle_is_in_the_middle() {
        // By hand: 1000 to 3000 is a travel of 2000 steps, so a step is half a per mille.
        let rising = marks(1000, 3000, true);
        assert_eq!([1000, 1500, 2000, 3000].map(|angle| at(&rising, angle).0), [0, 250, 500, 1000]);
        let falling = marks(3000, 1000, false);
        assert_eq!([3000, 2500, 2000, 1000].map(|angle| at(&falling, angle).0), [0, 250, 500, 1000]);
    }

    #[test]
    fn the_travel_may_lead_over_the_wrap() {
        // By hand: from 3900 up to 100 over 4096 are 296 steps; 4048 is 148 of them, 0 is 196 (662 per mille).
        let rising = marks(3900, 100, true);
        assert_eq!([3900, 4048, 0, 100].map(|angle| at(&rising, angle).0), [0, 500, 662, 1000]);
        // Downwards from 100 to 3900: 0 is 100 of 296 steps, 338 per mille.
        let falling = marks(100, 3900, false);
        assert_eq!([100, 0, 4048, 3900].map(|angle| at(&falling, angle).0), [0, 338, 500, 1000]);
    }

    #[test]
    fn an_angle_outside_the_marks_is_held_at_the_nearer_end_and_told() {
        let rising = marks(1000, 3000, true);
        assert_eq!(at(&rising, 3001), (1000, true));
        assert_eq!(at(&rising, 999), (0, true));
        // The free arc runs from 3000 over 4096 to 1000; its middle is 4048.
        assert_eq!(at(&rising, 4048), (1000, true));
        assert_eq!(at(&rising, 4049), (0, true));
    }

    #[test]
    fn equal_marks_place_nothing() {
        assert_eq!(place(&marks(5, 5, true), RawAngle::new(5)), None);
    }

    proptest! {
        #[test]
        fn turning_the_magnet_or_the_direction_changes_nothing(slow in 0u16..4096, travel in 1u16..4096, way in 0u16..4096) {
            let rising = marks(0, travel, true);
            let turned = marks(slow, slow.wrapping_add(travel), true);
            let mirrored = marks(slow, slow.wrapping_sub(travel), false);
            let expected = place(&rising, RawAngle::new(way));
            prop_assert_eq!(place(&turned, RawAngle::new(slow.wrapping_add(way))), expected);
            prop_assert_eq!(place(&mirrored, RawAngle::new(slow.wrapping_sub(way))), expected);
        }
    }
}
