//! From a raw angle to a place between the knob's two end marks.

use serde::{Deserialize, Serialize};
use shared_types::RawAngle;
use shared_types::log::Ceiling;

use crate::entries::KnobMarks;

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

/// The arc of angles at which the knob stands higher than `per_mille` of its travel, for the lamp: exactly those that [`place`]
/// places higher, the angles past the fast end that belong to it included. None where no angle is higher.
#[must_use]
pub fn arc_above(marks: &KnobMarks, per_mille: u32) -> Option<Ceiling> {
    let turn = u32::from(RawAngle::STEPS);
    let travel = match (marks.rising, marks.slow.steps(), marks.fast.steps()) {
        (true, slow, fast) | (false, fast, slow) => (u32::from(fast) + turn - u32::from(slow)) % turn,
    };
    if travel == 0 || per_mille >= u32::from(PerMille::FULL.get()) {
        return None;
    }
    // A way of `first` steps is the first that rounds to more; half of the arc outside the travel belongs to the fast end.
    let first = ((2 * per_mille + 1) * travel).div_ceil(2 * 1000);
    let last = (turn + travel) / 2;
    let at = |way: u32| {
        let slow = u32::from(marks.slow.steps());
        let steps = if marks.rising { slow + way } else { slow + 2 * turn - way };
        u16::try_from(steps % turn).ok().map(RawAngle::new)
    };
    let (from, to) = if marks.rising { (at(first)?, at(last)?) } else { (at(last)?, at(first)?) };
    Some(Ceiling { from, to })
}

#[cfg(test)]
mod tests {
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

    /// A dial's voltage in place of an angle, by the wiring page: 549 to 3546 of 4095 steps for the whole travel at most, and
    /// from 400 to 3700 what is believed at all.
    #[test]
    fn a_dial_that_does_not_go_round_is_placed_over_all_that_it_can_give_rising_and_falling() {
        for (slow, fast, rising) in [(549, 3_546, true), (3_546, 549, false), (726, 3_369, true)] {
            let marks = marks(slow, fast, rising);
            let mut before = None;
            for step in 400..=3_700_u16 {
                let (place, outside) = at(&marks, step);
                let is_between = (slow.min(fast)..=slow.max(fast)).contains(&step);
                assert_eq!(outside, !is_between, "{step}");
                let goes_on =
                    before.is_none_or(|before| if rising { before <= place } else { before >= place });
                assert!(goes_on, "{step} is {place} after {before:?}: it wrapped");
                before = Some(place);
            }
            assert_eq!((at(&marks, slow).0, at(&marks, fast).0), (0, 1000));
            let (lowest, highest) = if rising { (0, 1000) } else { (1000, 0) };
            assert_eq!((at(&marks, 400).0, at(&marks, 3_700).0), (lowest, highest));
        }
    }

    #[test]
    fn the_arc_above_a_ceiling_runs_past_the_fast_end_so_that_a_trembling_sensor_stays_in_it() {
        // By hand: 1000 to 3000 is a travel of 2000 steps; 1801 steps and more round to over 900 per mille. Of the 2096 steps
        // outside half belong to the fast end: up to 3000 + 1048.
        let arc = arc_above(&marks(1000, 3000, true), 900).unwrap();
        assert_eq!((arc.from.steps(), arc.to.steps()), (2_801, 4_048));
        // Mirrored: from 3000 down to 1000.
        let arc = arc_above(&marks(3000, 1000, false), 900).unwrap();
        assert_eq!((arc.from.steps(), arc.to.steps()), (4_048, 1_199));
        assert_eq!(arc_above(&marks(1000, 3000, true), 1000), None);
        assert_eq!(arc_above(&marks(5, 5, true), 500), None);
    }

    proptest! {
        #[test]
        fn the_arc_above_holds_exactly_what_is_placed_higher(
            slow in 0u16..4096, fast in 0u16..4096, rising: bool, ceiling in 0u32..1000, angle in 0u16..4096,
        ) {
            prop_assume!(slow != fast);
            let marks = marks(slow, fast, rising);
            let arc = arc_above(&marks, ceiling).unwrap();
            let upwards = |to: u16| to.wrapping_sub(arc.from.steps()) % 4096;
            let is_in = upwards(angle) <= upwards(arc.to.steps());
            prop_assert_eq!(is_in, u32::from(at(&marks, angle).0) > ceiling, "{:?}", arc);
        }

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
