//! Two buttons, two meanings each: press and hold.
//!
//! A hold is told as soon as it has lasted long enough, while the finger is still down, so that the lamp can answer it; a press is
//! told on release. Time decides, not the number of looks, so the board may look at any pace: every
//! [`BUTTON_SAMPLE_MS`] for the shortest taps, or on an interrupt.

use shared_types::UptimeMillis;
use shared_types::limits::SAMPLE_MS;
use shared_types::log::PressKind;

/// A level counts once it has held this long. Milliseconds; contacts of small push buttons settle within about 10.
pub const DEBOUNCE_MS: u64 = 20;
/// A press that lasts this long is a hold. Milliseconds.
pub const HOLD_MS: u64 = 800;
/// Looking this often finds every tap that a finger can make. Milliseconds; taps shorter than 50 ms are rare.
pub const BUTTON_SAMPLE_MS: u64 = 20;

const _: () = assert!(DEBOUNCE_MS < SAMPLE_MS as u64, "two looks at a button while sewing must be enough");
const _: () = assert!(HOLD_MS >= 8 * SAMPLE_MS as u64, "a tap must not become a hold between two samples");
const _: () = assert!(BUTTON_SAMPLE_MS + DEBOUNCE_MS < 50, "a tap of 50 ms must be seen twice");

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Push {
    Press,
    Hold,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Phase {
    /// Down since before the first look, or already told as a hold: counts for nothing until it is up.
    Spent,
    Up,
    Down {
        since: UptimeMillis,
    },
}

#[derive(Clone, Copy, Debug)]
struct Button {
    phase: Phase,
    /// Since when the level differs from the one that counts.
    differs_since: Option<UptimeMillis>,
}

impl Button {
    const fn new() -> Self {
        Self { phase: Phase::Spent, differs_since: None }
    }

    fn update(&mut self, now: UptimeMillis, pressed: bool) -> Option<Push> {
        let counts_as_down = self.phase != Phase::Up;
        if pressed == counts_as_down {
            self.differs_since = None;
            return self.hold(now);
        }
        let since = *self.differs_since.get_or_insert(now);
        if now.0.saturating_sub(since.0) < DEBOUNCE_MS {
            return None;
        }
        self.differs_since = None;
        let before = self.phase;
        if pressed {
            self.phase = Phase::Down { since };
            return self.hold(now);
        }
        self.phase = Phase::Up;
        match before {
            Phase::Down { since: down } if since.0.saturating_sub(down.0) >= HOLD_MS => Some(Push::Hold),
            Phase::Down { .. } => Some(Push::Press),
            Phase::Spent | Phase::Up => None,
        }
    }

    fn hold(&mut self, now: UptimeMillis) -> Option<Push> {
        match self.phase {
            Phase::Down { since } if now.0.saturating_sub(since.0) >= HOLD_MS => {
                self.phase = Phase::Spent;
                Some(Push::Hold)
            }
            _ => None,
        }
    }
}

/// The two buttons.
#[derive(Clone, Copy, Debug)]
pub struct Buttons {
    first: Button,
    second: Button,
}

impl Default for Buttons {
    fn default() -> Self {
        Self::new()
    }
}

impl Buttons {
    /// Buttons that have not been looked at yet.
    #[must_use]
    pub const fn new() -> Self {
        Self { first: Button::new(), second: Button::new() }
    }

    /// Takes the levels of both buttons, true while pressed, and tells what was pressed: of each button one thing at most.
    pub fn update(&mut self, now: UptimeMillis, [first, second]: [bool; 2]) -> [Option<PressKind>; 2] {
        [
            self.first.update(now, first).map(|push| match push {
                Push::Press => PressKind::NearMiss,
                Push::Hold => PressKind::Tear,
            }),
            self.second.update(now, second).map(|push| match push {
                Push::Press => PressKind::CareDone,
                Push::Hold => PressKind::Retension,
            }),
        ]
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;
    use std::vec;
    use std::vec::Vec;

    /// Levels as (from this moment on, pressed) and looks every `every` ms until `end`.
    fn presses(levels: &[(u64, bool)], every: u64, end: u64) -> Vec<(u64, PressKind)> {
        let mut buttons = Buttons::new();
        let mut told = Vec::new();
        for now in (0..=end).step_by(usize::try_from(every).unwrap()) {
            let pressed = levels.iter().rev().find(|(from, _)| *from <= now).is_some_and(|level| level.1);
            for kind in buttons.update(UptimeMillis(now), [pressed, false]).into_iter().flatten() {
                told.push((now, kind));
            }
        }
        told
    }

    #[test]
    fn a_tap_is_told_on_release() {
        assert_eq!(presses(&[(100, true), (300, false)], 10, 2_000), [(320, PressKind::NearMiss)]);
    }

    #[test]
    fn a_hold_is_told_at_once_and_its_release_tells_nothing() {
        assert_eq!(presses(&[(100, true), (5_000, false)], 10, 9_000), [(900, PressKind::Tear)]);
    }

    #[test]
    fn the_threshold_between_press_and_hold_is_exact() {
        assert_eq!(presses(&[(100, true), (899, false)], 1, 2_000)[0].1, PressKind::NearMiss);
        assert_eq!(presses(&[(100, true), (900, false)], 1, 2_000)[0].1, PressKind::Tear);
    }

    #[test]
    fn a_button_that_is_down_at_the_start_says_nothing_until_it_was_up() {
        assert_eq!(presses(&[(0, true), (3_000, false)], 10, 4_000), []);
        let again = presses(&[(0, true), (3_000, false), (3_500, true), (3_600, false)], 10, 5_000);
        assert_eq!(again, [(3_620, PressKind::NearMiss)]);
    }

    #[test]
    fn the_second_button_speaks_of_care_and_of_the_cloth() {
        let mut buttons = Buttons::new();
        let mut told = Vec::new();
        for now in (0..5_000).step_by(20) {
            let pressed = (100..300).contains(&now) || (1_000..2_000).contains(&now);
            told.extend(buttons.update(UptimeMillis(now), [false, pressed]).into_iter().flatten());
        }
        assert_eq!(told, [PressKind::CareDone, PressKind::Retension]);
    }

    #[test]
    fn a_spike_shorter_than_the_debounce_is_nothing() {
        assert_eq!(presses(&[(100, true), (119, false)], 1, 1_000), []);
    }

    proptest! {
        #![proptest_config(ProptestConfig { cases: 200, failure_persistence: None, rng_seed: prop::test_runner::RngSeed::Fixed(0x6E65_6564), ..ProptestConfig::default() })]

        #[test]
        fn bouncing_contacts_make_one_press_of_one_tap(
            down in prop::collection::vec(1..8_u64, 0..6),
            up in prop::collection::vec(1..8_u64, 0..6),
            length in 60..700_u64,
        ) {
            let mut levels = vec![(0, false), (100, true)];
            let mut bounce = |from: u64, gaps: &[u64]| {
                let (mut now, mut level) = (from, levels.last().unwrap().1);
                for gap in gaps.iter().chain(if gaps.len() % 2 == 1 { &[1_u64][..] } else { &[] }) {
                    now += gap;
                    level = !level;
                    levels.push((now, level));
                }
                now
            };
            let settled = bounce(100, &down);
            let release = settled + length;
            levels.push((release, false));
            let mut bounce = |from: u64, gaps: &[u64]| {
                let (mut now, mut level) = (from, false);
                for gap in gaps.iter().chain(if gaps.len() % 2 == 1 { &[1_u64][..] } else { &[] }) {
                    now += gap;
                    level = !level;
                    levels.push((now, level));
                }
            };
            bounce(release, &up);
            let told: Vec<_> = presses(&levels, 1, 3_000).into_iter().map(|it| it.1).collect();
            prop_assert_eq!(told, vec![PressKind::NearMiss]);
        }
    }
}
