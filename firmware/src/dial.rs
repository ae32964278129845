//! The voltage of a separate low-voltage dial, through the board's own converter.
//!
//! The dial hangs between the converter's supply and ground with a resistor at either end, and a weak resistor pulls its
//! middle wire down (`WIRING.md` says which). So a sound dial keeps away from both ends of the scale, and what lies there is a wire: an
//! open middle or supply wire, or one that touches ground, reads too low; an open ground wire, or a middle wire that touches
//! the supply, reads too high. By the wiring's values, in steps of 4096 to the whole supply:
//!
//! | | slow end | fast end |
//! |---|---|---|
//! | dial of 10 kOhm between two of 2.2 kOhm | 626 | 3469 |
//! | the same 20 % smaller, or larger | 726, 549 | 3369, 3546 |
//! | ground wire open, 220 kOhm to ground | 3880 | 4055 |
//! | middle or supply wire open, 1 uA of leakage in the pin's worst case | up to 273 | |

use shared_types::RawAngle;

use crate::knob::{KnobReading, KnobSource};

/// The lowest step that a sound dial gives.
pub const LOWEST_SOUND: u16 = 400;
/// The highest step that a sound dial gives.
pub const HIGHEST_SOUND: u16 = 3_700;
/// Conversions to one look. Their mean has a quarter of the noise of one.
pub const CONVERSIONS_PER_SAMPLE: u16 = 16;

const _: () = assert!(CONVERSIONS_PER_SAMPLE * 4_095 / CONVERSIONS_PER_SAMPLE == 4_095, "the sum fits");

/// A dial whose voltage `convert` turns into 12 bits; none when the converter failed.
#[derive(Debug)]
pub struct Dial<C>(pub C);

impl<C: FnMut() -> Option<u16>> Dial<C> {
    /// Looks once. One conversion outside of the travel is enough to distrust the look: a loose wire touches now and then.
    pub fn read(&mut self) -> KnobReading {
        let (mut sum, mut lowest, mut highest) = (0, u16::MAX, 0);
        for _ in 0..CONVERSIONS_PER_SAMPLE {
            let Some(step) = (self.0)() else { return KnobReading::Silent };
            let step = step.min(RawAngle::STEPS - 1);
            sum += step;
            lowest = lowest.min(step);
            highest = highest.max(step);
        }
        if lowest < LOWEST_SOUND {
            KnobReading::DialTooLow
        } else if highest > HIGHEST_SOUND {
            KnobReading::DialTooHigh
        } else {
            KnobReading::good(RawAngle::new((sum + CONVERSIONS_PER_SAMPLE / 2) / CONVERSIONS_PER_SAMPLE))
        }
    }
}

impl<C: FnMut() -> Option<u16>> KnobSource for Dial<C> {
    async fn sample(&mut self, _with_gain: bool) -> KnobReading {
        self.read()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::knob::Knob;
    use core::future::Future;
    use core::pin::pin;
    use core::task::{Context, Poll, Waker};
    use shared_types::log::Fault;

    fn steady(step: u16) -> KnobReading {
        Dial(|| Some(step)).read()
    }

    #[test]
    fn the_voltage_is_taken_raw_in_twelve_bits_from_end_to_end_of_a_sound_dial() {
        // By the wiring's values: 2.2 / 14.4 and 12.2 / 14.4 of 4095 are 626 and 3469.
        for step in [400, 626, 2_048, 3_469, 3_700] {
            assert_eq!(steady(step), KnobReading::good(RawAngle::new(step)));
        }
    }

    #[test]
    fn an_open_or_shorted_wire_is_told_by_the_end_at_which_it_lies() {
        // By the wiring's values: a middle wire on ground 0, an open one with the pin's leakage 1 uA x 220 kOhm / 3.3 V x 4095
        // = 273; an open ground wire 220 / (220 + 12.2) and 220 / (220 + 2.2) of 4095, a middle wire on the supply 4095.
        for step in [0, 273, 399] {
            assert_eq!(steady(step), KnobReading::DialTooLow, "{step}");
        }
        for step in [3_701, 3_880, 4_055, 4_095] {
            assert_eq!(steady(step), KnobReading::DialTooHigh, "{step}");
        }
    }

    #[test]
    fn sixteen_conversions_make_one_look_and_their_mean_counts() {
        let mut turns = 0;
        let reading = Dial(|| {
            turns += 1;
            Some(if turns % 4 == 0 { 2_003 } else { 1_999 })
        })
        .read();
        // Four of 2,003 and twelve of 1,999 are 2,000 on average.
        assert_eq!((reading, turns), (KnobReading::good(RawAngle::new(2_000)), 16));
    }

    #[test]
    fn one_touch_of_a_loose_wire_spoils_the_look_though_its_mean_looks_sound() {
        let mut turns = 0;
        let mut once = |odd: u16| {
            turns = 0;
            Dial(|| {
                turns += 1;
                Some(if turns == 7 { odd } else { 2_000 })
            })
            .read()
        };
        assert_eq!(once(0), KnobReading::DialTooLow);
        assert_eq!(once(4_095), KnobReading::DialTooHigh);
        assert_eq!(once(1_000), KnobReading::good(RawAngle::new(1_938)), "31,000 / 16, rounded");
    }

    #[test]
    fn a_converter_that_fails_is_a_silent_knob() {
        let mut turns = 0;
        let reading = Dial(|| {
            turns += 1;
            (turns < 5).then_some(2_000)
        })
        .read();
        assert_eq!(reading, KnobReading::Silent);
    }

    #[test]
    fn a_wire_that_comes_off_is_a_fault_after_three_looks_and_gone_after_three_good_ones() {
        let mut knob = Knob::new();
        knob.update(steady(1_500));
        let off = [steady(100), steady(100), steady(100)];
        for reading in off {
            assert_eq!((knob.angle(), knob.fault()), (Some(RawAngle::new(1_500)), None));
            knob.update(reading);
        }
        assert_eq!((knob.angle(), knob.fault()), (None, Some(Fault::DialTooLow)));
        // From one fault straight into the other.
        for _ in 0..3 {
            knob.update(steady(4_000));
        }
        assert_eq!((knob.angle(), knob.fault()), (None, Some(Fault::DialTooHigh)));
        for _ in 0..3 {
            assert_eq!(knob.angle(), None);
            knob.update(steady(1_600));
        }
        assert_eq!((knob.angle(), knob.fault()), (Some(RawAngle::new(1_600)), None));
    }

    #[test]
    fn the_dial_stands_behind_the_same_trait_as_the_encoder_and_never_waits() {
        let mut dial = Dial(|| Some(1_234));
        let mut reading = pin!(dial.sample(true));
        let Poll::Ready(reading) = reading.as_mut().poll(&mut Context::from_waker(Waker::noop())) else {
            panic!("a dial never makes anybody wait");
        };
        assert_eq!(reading, KnobReading::good(RawAngle::new(1_234)));
    }
}
