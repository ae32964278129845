//! Position and faults of the speed knob, from one of two sources.
//!
//! Usually a magnet on the knob with an [`Encoder`](crate::encoder::Encoder) over it; for a machine with a separate low-voltage dial, that dial's voltage
//! ([`Dial`](crate::dial::Dial)). Both give twelve raw bits. An angle goes round; a voltage does not, and a sound dial never comes near 0 or 4095.

use core::future::Future;

use shared_types::RawAngle;
use shared_types::log::Fault;

/// A fault counts, and has gone, after this many readings in a row. Until then the last good angle holds.
pub const READINGS_PER_CHANGE: u8 = 3;

/// A sensor of the knob's position.
pub trait KnobSource {
    /// Takes one sample; `with_gain` asks a sensor that has one for its gain too. May wait for a bus; the board sets the time limit.
    fn sample(&mut self, with_gain: bool) -> impl Future<Output = KnobReading>;
}

/// What the sensor says about its magnet.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Magnet {
    /// Seen, and neither too weak nor too strong: the angle is valid.
    Good,
    /// Not seen.
    Missing,
    /// Seen, but too weak or too far away.
    TooWeak,
    /// Too strong or too near.
    TooStrong,
}

/// One reading of the knob.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum KnobReading {
    /// The source did not answer, or contradicted itself.
    Silent,
    /// It answered.
    Seen {
        /// The angle; to be believed only with a good magnet.
        angle: RawAngle,
        /// What it says about its magnet.
        magnet: Magnet,
        /// Its gain, 0 to 255 (to 128 at 3.3 V), when it was asked: middle values mean a well-placed magnet.
        gain: Option<u8>,
    },
    /// A dial's voltage lies below its travel.
    DialTooLow,
    /// A dial's voltage lies above its travel.
    DialTooHigh,
}

impl KnobReading {
    /// A valid reading, for boards and simulations that know what they have.
    #[must_use]
    pub const fn good(angle: RawAngle) -> Self {
        Self::Seen { angle, magnet: Magnet::Good, gain: None }
    }

    const fn fault(self) -> Option<Fault> {
        match self {
            Self::Silent => Some(Fault::KnobSilent),
            Self::DialTooLow => Some(Fault::DialTooLow),
            Self::DialTooHigh => Some(Fault::DialTooHigh),
            Self::Seen { magnet, .. } => match magnet {
                Magnet::Good => None,
                Magnet::Missing => Some(Fault::MagnetMissing),
                Magnet::TooWeak => Some(Fault::MagnetTooWeak),
                Magnet::TooStrong => Some(Fault::MagnetTooStrong),
            },
        }
    }
}

/// Debounces readings: a single bad reading is no fault and splits no segment.
#[derive(Clone, Copy, Debug, Default)]
pub struct Knob {
    angle: Option<RawAngle>,
    fault: Option<Fault>,
    gain: Option<u8>,
    differing: u8,
}

impl Knob {
    /// A knob that has not been read yet.
    #[must_use]
    pub const fn new() -> Self {
        Self { angle: None, fault: None, gain: None, differing: 0 }
    }

    /// Takes one reading.
    pub fn update(&mut self, reading: KnobReading) {
        let fault = reading.fault();
        if fault == self.fault {
            self.differing = 0;
        } else {
            self.differing = self.differing.saturating_add(1);
        }
        if self.differing >= READINGS_PER_CHANGE {
            self.fault = fault;
            self.differing = 0;
        }
        if let KnobReading::Seen { angle, gain, .. } = reading {
            self.gain = gain.or(self.gain);
            if fault.is_none() {
                self.angle = Some(angle);
            }
        }
        if self.fault.is_some() {
            self.angle = None;
        }
    }

    /// The angle; none before the first good reading and while there is a fault.
    #[must_use]
    pub const fn angle(&self) -> Option<RawAngle> {
        self.angle
    }

    /// The last gain that the sensor told.
    #[must_use]
    pub const fn gain(&self) -> Option<u8> {
        self.gain
    }

    /// The fault that is present, one at most.
    #[must_use]
    pub const fn fault(&self) -> Option<Fault> {
        self.fault
    }
}

/// A jump to and fro counts for so much, a quiet reading takes one away: of readings about fifty milliseconds apart.
const JUMP: u16 = 16;
/// From here on the knob shakes, until nothing is left.
const SHAKES_AT: u16 = 256;
/// A knob that shook for long is called quiet again after so many quiet readings.
const SHAKES_MOST: u16 = 600;

/// Detects readings that alternate or drop out, as opposed to a knob that is turned.
#[derive(Clone, Copy, Debug, Default)]
pub struct JitterDetector {
    before: Option<RawAngle>,
    /// Whether the last jump went upwards.
    went_up: Option<bool>,
    score: u16,
    shakes: bool,
}

impl JitterDetector {
    /// A knob that has not been read yet.
    #[must_use]
    pub const fn new() -> Self {
        Self { before: None, went_up: None, score: 0, shakes: false }
    }

    /// Takes one reading and tells whether the knob shakes; a jump is more than `knob_step` steps.
    pub fn update(&mut self, reading: KnobReading, knob_step: u16) -> bool {
        let angle = match reading {
            KnobReading::Seen { angle, magnet: Magnet::Good, .. } => Some(angle),
            _ => None,
        };
        let jumped = match (self.before, angle) {
            (Some(before), Some(angle)) if before.distance(angle) > knob_step => {
                let up = before.signed_way(angle) > 0;
                self.went_up.replace(up).is_some_and(|before| before != up)
            }
            (Some(_), Some(_)) => false,
            (before, angle) => before.is_some() != angle.is_some(),
        };
        self.before = angle;
        self.score = if jumped {
            self.score.saturating_add(JUMP).min(SHAKES_MOST)
        } else {
            self.score.saturating_sub(1)
        };
        self.shakes = self.score >= SHAKES_AT || (self.shakes && self.score > 0);
        self.shakes
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn seen(angle: u16, magnet: Magnet) -> KnobReading {
        KnobReading::Seen { angle: RawAngle::new(angle), magnet, gain: None }
    }

    #[test]
    fn two_bad_readings_hold_the_angle_and_the_third_is_a_fault() {
        let mut knob = Knob::new();
        assert_eq!(knob.angle(), None);
        knob.update(seen(100, Magnet::Good));
        assert_eq!(knob.angle(), Some(RawAngle::new(100)));
        knob.update(KnobReading::Silent);
        knob.update(KnobReading::Silent);
        assert_eq!((knob.angle(), knob.fault()), (Some(RawAngle::new(100)), None));
        knob.update(KnobReading::Silent);
        assert_eq!((knob.angle(), knob.fault()), (None, Some(Fault::KnobSilent)));
        knob.update(seen(200, Magnet::Good));
        knob.update(seen(200, Magnet::Good));
        assert_eq!((knob.angle(), knob.fault()), (None, Some(Fault::KnobSilent)));
        knob.update(seen(200, Magnet::Good));
        assert_eq!((knob.angle(), knob.fault()), (Some(RawAngle::new(200)), None));
    }

    #[test]
    fn an_angle_without_a_good_magnet_is_never_believed() {
        let mut knob = Knob::new();
        for _ in 0..5 {
            knob.update(seen(100, Magnet::TooWeak));
            assert_eq!(knob.angle(), None);
        }
        assert_eq!(knob.fault(), Some(Fault::MagnetTooWeak));
    }

    fn shakes(mut readings: impl Iterator<Item = KnobReading>) -> bool {
        let mut shaking = JitterDetector::new();
        readings.any(|reading| shaking.update(reading, 24))
    }

    #[test]
    fn a_hand_that_turns_the_knob_shakes_nothing_however_fast_it_goes() {
        // From end to end and back in two seconds each way, for ten minutes.
        let turned = (0..12_000_u16).map(|look| {
            let place = look % 80;
            good(if place < 40 { place * 50 } else { (80 - place) * 50 })
        });
        assert!(!shakes(turned));
    }

    #[test]
    fn a_reading_that_jumps_and_a_plug_that_comes_and_goes_shake() {
        assert!(shakes((0..200).map(|look| good(if look % 2 == 0 { 4_080 } else { 20 }))), "over the wrap");
        assert!(
            !shakes((0..2_000).map(|look| good(if look % 2 == 0 { 4_090 } else { 18 }))),
            "24 is no jump"
        );
        assert!(shakes((0..200).map(|look| if look % 4 < 2 { good(7) } else { KnobReading::Silent })));
        assert!(!shakes((0..2_000).map(|look| if look < 9 { good(7) } else { KnobReading::Silent })), "gone");
    }

    fn good(steps: u16) -> KnobReading {
        KnobReading::good(RawAngle::new(steps))
    }
}
