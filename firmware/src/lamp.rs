//! One lamp, three messages and an answer, told apart by rhythm: a colour says nothing to many eyes and in lint.
//!
//! | message | rhythm |
//! |---|---|
//! | look when you stop | one short flash every two seconds |
//! | re-tension | two short flashes every two seconds |
//! | finish this line, then stop | five long flashes every two seconds, without a pause |
//! | saved | steady for one second |
//!
//! Never more than three flashes in a second: faster ones can bring on a fit (the limit of the web's accessibility guidelines, WCAG
//! 2.3.1). And never a word to stop at once: a needle that is jerked out in the middle of a line tears the cloth.

use shared_types::log::{Ceiling, Limits};
use shared_types::{RawAngle, RunMillis, UptimeMillis};

/// The knob must be above the ceiling for this long, in milliseconds of running, before the lamp speaks of it.
pub const CEILING_MS: u64 = 3_000;
/// How long the lamp confirms a press. Milliseconds.
pub const SAVED_MS: u64 = 1_000;

const FLASH_MS: u64 = 100;
const PAUSE_MS: u64 = 150;
const PERIOD_MS: u64 = 2_000;
/// Half a period of the message that leaves no pause, in milliseconds.
pub const STOP_HALF_MS: u64 = 200;

const _: () =
    assert!(2 * FLASH_MS + PAUSE_MS < PERIOD_MS / 2, "two flashes must read as a pair, then a pause");

/// Message of the lamp.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum LampMessage {
    /// Nothing.
    #[default]
    Dark,
    /// Care is due, the knob is above the ceiling, or the logger has a fault.
    LookWhenYouStop,
    /// Care is long overdue: finish the line, then stop. The lamp only asks.
    StopAfterLine,
    /// The cloth wants tensioning again.
    Retension,
    /// The press is safe.
    Saved,
}

impl LampMessage {
    /// Whether the lamp is lit at this moment.
    #[must_use]
    pub const fn is_lit(self, now: UptimeMillis) -> bool {
        let phase = now.0 % PERIOD_MS;
        match self {
            Self::Dark => false,
            Self::LookWhenYouStop => phase < FLASH_MS,
            Self::Retension => {
                phase < FLASH_MS || (phase >= FLASH_MS + PAUSE_MS && phase < 2 * FLASH_MS + PAUSE_MS)
            }
            Self::StopAfterLine => phase % (2 * STOP_HALF_MS) < STOP_HALF_MS,
            Self::Saved => true,
        }
    }
}

/// State of the lamp between samples.
#[derive(Clone, Copy, Debug, Default)]
pub struct Lamp {
    saved_at: Option<UptimeMillis>,
    above_ceiling_ms: u64,
}

impl Lamp {
    /// A lamp that has nothing to say.
    #[must_use]
    pub const fn new() -> Self {
        Self { saved_at: None, above_ceiling_ms: 0 }
    }

    /// A press is safe in flash: say so.
    pub const fn confirm(&mut self, now: UptimeMillis) {
        self.saved_at = Some(now);
    }

    /// Takes some running at an angle. Running below the ceiling takes the message back; standing still does not, so
    /// that it is still there when the maker stops and looks.
    pub fn ran(&mut self, ran_ms: u64, angle: Option<RawAngle>, ceiling: Option<Ceiling>) {
        match (angle, ceiling) {
            (Some(angle), Some(ceiling)) if is_above(ceiling, angle) => {
                self.above_ceiling_ms = self.above_ceiling_ms.saturating_add(ran_ms);
            }
            _ if ran_ms > 0 || ceiling.is_none() => self.above_ceiling_ms = 0,
            _ => {}
        }
    }

    /// What to say now: the answer to a press first, then the most urgent message. Re-tensioning goes before *look when
    /// you stop* because a press ends it, while a fault may stay for days.
    #[must_use]
    pub fn message(&self, now: UptimeMillis, total: RunMillis, limits: &Limits, fault: bool) -> LampMessage {
        let reached = |limit: Option<RunMillis>| limit.is_some_and(|limit| total >= limit);
        if self.saved_at.is_some_and(|at| now.0.saturating_sub(at.0) < SAVED_MS) {
            LampMessage::Saved
        } else if reached(limits.stop_at) {
            LampMessage::StopAfterLine
        } else if reached(limits.retension_at) {
            LampMessage::Retension
        } else if reached(limits.look_at) || fault || self.above_ceiling_ms >= CEILING_MS {
            LampMessage::LookWhenYouStop
        } else {
            LampMessage::Dark
        }
    }
}

/// The limits after a care press: *look* and *stop* were about that care, so they rest until the host sets new ones.
#[must_use]
pub const fn after_care(limits: Limits) -> Limits {
    Limits { look_at: None, stop_at: None, ..limits }
}

/// The limits after the cloth was tensioned again at lifetime run time `total`.
#[must_use]
pub fn after_retension(limits: Limits, total: RunMillis) -> Limits {
    let next = limits.retension_every.map(|every| RunMillis(total.0.saturating_add(every.0)));
    Limits { retension_at: next, ..limits }
}

/// Whether an angle lies in the arc that runs upwards from `from` to `to`, over the wrap where `to` is smaller.
fn is_above(ceiling: Ceiling, angle: RawAngle) -> bool {
    // Wrapping and masking, because a setting that came over the link may hold more than twelve bits.
    let upwards = |to: RawAngle| RawAngle::new(to.steps().wrapping_sub(ceiling.from.steps())).steps();
    upwards(angle) <= upwards(ceiling.to)
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::vec::Vec;

    const LIMITS: Limits = Limits {
        look_at: Some(RunMillis(1_000)),
        stop_at: Some(RunMillis(3_000)),
        retension_at: Some(RunMillis(2_000)),
        retension_every: Some(RunMillis(700)),
        ceiling: None,
    };

    fn message(total: u64, limits: &Limits) -> LampMessage {
        Lamp::new().message(UptimeMillis(0), RunMillis(total), limits, false)
    }

    #[test]
    fn limits_are_absolute_totals_and_the_most_urgent_wins() {
        for (total, expected) in [
            (999, LampMessage::Dark),
            (1_000, LampMessage::LookWhenYouStop),
            (1_999, LampMessage::LookWhenYouStop),
            (2_000, LampMessage::Retension),
            (2_999, LampMessage::Retension),
            (3_000, LampMessage::StopAfterLine),
        ] {
            assert_eq!(message(total, &LIMITS), expected, "at {total} ms");
        }
    }

    #[test]
    fn care_rests_look_and_stop_and_leaves_the_cloth_alone() {
        let limits = after_care(LIMITS);
        assert_eq!(message(1_500, &limits), LampMessage::Dark);
        assert_eq!(message(9_000, &limits), LampMessage::Retension);
    }

    #[test]
    fn tensioning_again_sets_the_next_time() {
        let limits = after_retension(after_care(LIMITS), RunMillis(2_300));
        assert_eq!(message(2_999, &limits), LampMessage::Dark);
        assert_eq!(message(3_000, &limits), LampMessage::Retension);
        let once = after_retension(Limits { retension_every: None, ..LIMITS }, RunMillis(2_300));
        assert_eq!(once.retension_at, None);
    }

    #[test]
    fn the_answer_to_a_press_covers_everything_for_a_second() {
        let mut lamp = Lamp::new();
        lamp.confirm(UptimeMillis(5_000));
        let at = |now| lamp.message(UptimeMillis(now), RunMillis(9_000), &LIMITS, true);
        assert_eq!(at(5_999), LampMessage::Saved);
        assert_eq!(at(6_000), LampMessage::StopAfterLine);
    }

    #[test]
    fn three_running_seconds_above_the_ceiling_ask_for_a_look_until_it_runs_below() {
        let ceiling = Some(Ceiling { from: RawAngle::new(4_000), to: RawAngle::new(200) });
        let none = Limits::default();
        let says = |lamp: &Lamp| lamp.message(UptimeMillis(0), RunMillis(0), &none, false);
        let mut lamp = Lamp::new();
        lamp.ran(2_999, Some(RawAngle::new(100)), ceiling);
        assert_eq!(says(&lamp), LampMessage::Dark);
        lamp.ran(1, Some(RawAngle::new(4_000)), ceiling);
        assert_eq!(says(&lamp), LampMessage::LookWhenYouStop);
        lamp.ran(0, Some(RawAngle::new(3_000)), ceiling);
        assert_eq!(says(&lamp), LampMessage::LookWhenYouStop);
        lamp.ran(50, Some(RawAngle::new(3_999)), ceiling);
        assert_eq!(says(&lamp), LampMessage::Dark);
    }

    #[test]
    fn the_arc_above_the_ceiling_goes_over_the_wrap() {
        let ceiling = Ceiling { from: RawAngle::new(4_000), to: RawAngle::new(200) };
        for (angle, above) in
            [(3_999, false), (4_000, true), (4_095, true), (0, true), (200, true), (201, false)]
        {
            assert_eq!(is_above(ceiling, RawAngle::new(angle)), above, "{angle}");
        }
    }

    #[test]
    fn no_message_flashes_more_than_three_times_in_any_second() {
        for message in [LampMessage::LookWhenYouStop, LampMessage::Retension, LampMessage::StopAfterLine] {
            let lit: Vec<bool> = (0..6_000).map(|ms| message.is_lit(UptimeMillis(ms))).collect();
            let begins: Vec<bool> = lit.windows(2).map(|pair| !pair[0] && pair[1]).collect();
            let most =
                begins.windows(1_000).map(|second| second.iter().filter(|begin| **begin).count()).max();
            assert!(most.is_some_and(|most| (1..=3).contains(&most)), "{message:?}: {most:?}");
        }
    }

    #[test]
    fn every_message_has_its_own_rhythm() {
        // Flashes in two seconds, seen every 10 ms: the rhythm as an eye takes it.
        let flashes = |message: LampMessage| {
            let lit: Vec<bool> = (0..201).map(|it| message.is_lit(UptimeMillis(9_990 + it * 10))).collect();
            lit.windows(2).filter(|pair| !pair[0] && pair[1]).count()
        };
        assert_eq!(flashes(LampMessage::Dark), 0);
        assert_eq!(flashes(LampMessage::LookWhenYouStop), 1);
        assert_eq!(flashes(LampMessage::Retension), 2);
        assert_eq!(flashes(LampMessage::StopAfterLine), 5);
        assert_eq!(flashes(LampMessage::Saved), 0);
        assert!(LampMessage::Saved.is_lit(UptimeMillis(0)));
    }
}
