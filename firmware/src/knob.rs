//! The speed knob's angle, from a magnetic encoder of the AS5600 kind on the two-wire bus.
//!
//! One transfer reads STATUS (0x0B) and RAW ANGLE (0x0C, 0x0D), so that the angle and what the sensor says about it are of
//! one moment (data sheet v1-06, pages 13 and 18 to 20). RAW ANGLE, not ANGLE: the latter sticks near the wrap. This module only
//! ever reads: a wrong write can burn the sensor's settings for good. The ready-made driver was set aside because it
//! needs two transfers for this and carries the burn commands along.

use embedded_hal::i2c::I2c;
use embedded_hal_async::i2c::I2c as AsyncI2c;
use shared_types::RawAngle;
use shared_types::log::Fault;

/// The sensor's address on the bus.
pub const KNOB_ADDRESS: u8 = 0x36;
/// A fault counts, and has gone, after this many readings in a row. Until then the last good angle holds.
pub const READINGS_PER_CHANGE: u8 = 3;

const STATUS: u8 = 0x0B;
const GAIN: u8 = 0x1A;
const MAGNET_DETECTED: u8 = 0x20;
const MAGNET_TOO_WEAK: u8 = 0x10;
const MAGNET_TOO_STRONG: u8 = 0x08;

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
    /// The sensor did not answer, or contradicted itself.
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
            Self::Seen { magnet, .. } => match magnet {
                Magnet::Good => None,
                Magnet::Missing => Some(Fault::MagnetMissing),
                Magnet::TooWeak => Some(Fault::MagnetTooWeak),
                Magnet::TooStrong => Some(Fault::MagnetTooStrong),
            },
        }
    }

    const fn from_registers([status, high, low]: [u8; 3], gain: Option<u8>) -> Self {
        let detected = status & MAGNET_DETECTED != 0;
        let (weak, strong) = (status & MAGNET_TOO_WEAK != 0, status & MAGNET_TOO_STRONG != 0);
        let magnet = match (detected, weak, strong) {
            (_, true, true) => return Self::Silent,
            (_, false, true) => Magnet::TooStrong,
            (false, _, false) => Magnet::Missing,
            (true, true, false) => Magnet::TooWeak,
            (true, false, false) => Magnet::Good,
        };
        Self::Seen { angle: RawAngle::new(u16::from_be_bytes([high, low])), magnet, gain }
    }
}

/// Reads the knob over a blocking bus; `with_gain` asks for the gain too. A bus error reads as silent.
pub fn read_knob<B: I2c>(bus: &mut B, with_gain: bool) -> KnobReading {
    let mut registers = [0; 3];
    if bus.write_read(KNOB_ADDRESS, &[STATUS], &mut registers).is_err() {
        return KnobReading::Silent;
    }
    let mut gain = [0; 1];
    let asked = with_gain && bus.write_read(KNOB_ADDRESS, &[GAIN], &mut gain).is_ok();
    KnobReading::from_registers(registers, asked.then_some(gain[0]))
}

/// Reads the knob over an asynchronous bus, as [`read_knob`] does.
pub async fn read_knob_async<B: AsyncI2c>(bus: &mut B, with_gain: bool) -> KnobReading {
    let mut registers = [0; 3];
    if bus.write_read(KNOB_ADDRESS, &[STATUS], &mut registers).await.is_err() {
        return KnobReading::Silent;
    }
    let mut gain = [0; 1];
    let asked = with_gain && bus.write_read(KNOB_ADDRESS, &[GAIN], &mut gain).await.is_ok();
    KnobReading::from_registers(registers, asked.then_some(gain[0]))
}

/// Follows the readings: one bad one between good ones is no fault and does not cut a segment.
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
    pub fn look(&mut self, reading: KnobReading) {
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

#[cfg(test)]
#[allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::indexing_slicing,
    clippy::panic,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a test may stop at the first surprise"
)]
mod tests {
    use super::*;
    use core::future::Future;
    use core::pin::pin;
    use core::task::{Context, Poll, Waker};
    use embedded_hal::i2c::{ErrorKind, ErrorType, Operation};
    use embedded_hal_mock::eh1::i2c::{Mock, Transaction};
    use std::vec;
    use std::vec::Vec;

    fn seen(angle: u16, magnet: Magnet) -> KnobReading {
        KnobReading::Seen { angle: RawAngle::new(angle), magnet, gain: None }
    }

    // Status bits and byte order: AS5600 data sheet v1-06, pages 18 to 20.
    const CASES: [([u8; 3], Magnet, u16); 7] = [
        ([0x20, 0x0F, 0xFF], Magnet::Good, 4_095),
        ([0x27, 0x08, 0x00], Magnet::Good, 2_048),
        ([0x30, 0x00, 0x01], Magnet::TooWeak, 1),
        ([0x28, 0xF1, 0x23], Magnet::TooStrong, 0x123),
        ([0x00, 0x00, 0x00], Magnet::Missing, 0),
        ([0x10, 0x00, 0x00], Magnet::Missing, 0),
        ([0x08, 0x00, 0x00], Magnet::TooStrong, 0),
    ];

    #[test]
    fn one_transfer_reads_status_and_raw_angle_and_nothing_is_ever_written() {
        // The mock fails on any transfer that is not listed, a bare write among them.
        let transfers: Vec<_> = CASES
            .iter()
            .map(|(bytes, ..)| Transaction::write_read(0x36, vec![0x0B], bytes.to_vec()))
            .collect();
        let mut bus = Mock::new(&transfers);
        for (bytes, magnet, angle) in CASES {
            assert_eq!(read_knob(&mut bus, false), seen(angle, magnet), "{bytes:x?}");
        }
        bus.done();
    }

    #[test]
    fn the_gain_is_read_when_asked() {
        let mut bus = Mock::new(&[
            Transaction::write_read(0x36, vec![0x0B], vec![0x20, 0x01, 0x00]),
            Transaction::write_read(0x36, vec![0x1A], vec![77]),
        ]);
        let reading = read_knob(&mut bus, true);
        let expected = KnobReading::Seen { angle: RawAngle::new(256), magnet: Magnet::Good, gain: Some(77) };
        assert_eq!(reading, expected);
        bus.done();
    }

    #[test]
    fn a_bus_error_and_a_contradiction_read_as_silent() {
        let mut bus = Mock::new(&[
            Transaction::write_read(0x36, vec![0x0B], vec![0, 0, 0]).with_error(ErrorKind::Other),
            Transaction::write_read(0x36, vec![0x0B], vec![0xFF, 0xFF, 0xFF]),
        ]);
        assert_eq!(read_knob(&mut bus, false), KnobReading::Silent);
        // A bus stuck high answers with ones: too weak and too strong at once.
        assert_eq!(read_knob(&mut bus, false), KnobReading::Silent);
        bus.done();
    }

    /// A sensor that answers at once, and refuses everything but the two reads.
    struct ReadOnlyBus;

    impl ErrorType for ReadOnlyBus {
        type Error = ErrorKind;
    }

    impl AsyncI2c for ReadOnlyBus {
        async fn transaction(
            &mut self,
            address: u8,
            operations: &mut [Operation<'_>],
        ) -> Result<(), ErrorKind> {
            match operations {
                [Operation::Write([0x0B]), Operation::Read(bytes)] if address == 0x36 => {
                    bytes.copy_from_slice(&[0x20, 0x0A, 0xBC]);
                    Ok(())
                }
                [Operation::Write([0x1A]), Operation::Read(bytes)] if address == 0x36 => {
                    bytes.copy_from_slice(&[64]);
                    Ok(())
                }
                _ => Err(ErrorKind::Other),
            }
        }
    }

    #[test]
    fn the_asynchronous_reader_reads_the_same() {
        let mut bus = ReadOnlyBus;
        let mut reading = pin!(read_knob_async(&mut bus, true));
        let Poll::Ready(reading) = reading.as_mut().poll(&mut Context::from_waker(Waker::noop())) else {
            panic!("the bus never makes anybody wait");
        };
        let expected =
            KnobReading::Seen { angle: RawAngle::new(0xABC), magnet: Magnet::Good, gain: Some(64) };
        assert_eq!(reading, expected);
    }

    #[test]
    fn two_bad_readings_hold_the_angle_and_the_third_is_a_fault() {
        let mut knob = Knob::new();
        assert_eq!(knob.angle(), None);
        knob.look(seen(100, Magnet::Good));
        assert_eq!(knob.angle(), Some(RawAngle::new(100)));
        knob.look(KnobReading::Silent);
        knob.look(KnobReading::Silent);
        assert_eq!((knob.angle(), knob.fault()), (Some(RawAngle::new(100)), None));
        knob.look(KnobReading::Silent);
        assert_eq!((knob.angle(), knob.fault()), (None, Some(Fault::KnobSilent)));
        knob.look(seen(200, Magnet::Good));
        knob.look(seen(200, Magnet::Good));
        assert_eq!((knob.angle(), knob.fault()), (None, Some(Fault::KnobSilent)));
        knob.look(seen(200, Magnet::Good));
        assert_eq!((knob.angle(), knob.fault()), (Some(RawAngle::new(200)), None));
    }

    #[test]
    fn an_angle_without_a_good_magnet_is_never_believed() {
        let mut knob = Knob::new();
        for _ in 0..5 {
            knob.look(seen(100, Magnet::TooWeak));
            assert_eq!(knob.angle(), None);
        }
        assert_eq!(knob.fault(), Some(Fault::MagnetTooWeak));
    }
}
