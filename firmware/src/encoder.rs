//! The magnetic encoder of the AS5600 kind on the two-wire bus.
//!
//! One transfer reads STATUS (0x0B) and RAW ANGLE (0x0C, 0x0D), so that the angle and what the sensor says about it are of
//! one moment (data sheet v1-06, pages 13 and 18 to 20). RAW ANGLE, not ANGLE: the latter sticks near the wrap. This module only
//! ever reads: a wrong write can burn the sensor's settings for good. The ready-made driver was set aside because it
//! needs two transfers for this and carries the burn commands along.

use embedded_hal::i2c::I2c;
use embedded_hal_async::i2c::I2c as AsyncI2c;
use shared_types::RawAngle;

use crate::knob::{KnobReading, KnobSource, Magnet};

/// The sensor's address on the bus.
pub const KNOB_ADDRESS: u8 = 0x36;

const STATUS: u8 = 0x0B;
const GAIN: u8 = 0x1A;
const MAGNET_DETECTED: u8 = 0x20;
const MAGNET_TOO_WEAK: u8 = 0x10;
const MAGNET_TOO_STRONG: u8 = 0x08;

/// The encoder on a bus that is lent for a look.
#[derive(Debug)]
pub struct Encoder<'bus, B>(pub &'bus mut B);

impl<B: AsyncI2c> KnobSource for Encoder<'_, B> {
    async fn sample(&mut self, with_gain: bool) -> KnobReading {
        read_knob_async(self.0, with_gain).await
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
    from_registers(registers, asked.then_some(gain[0]))
}

/// Reads the knob over an asynchronous bus, as [`read_knob`] does.
pub async fn read_knob_async<B: AsyncI2c>(bus: &mut B, with_gain: bool) -> KnobReading {
    let mut registers = [0; 3];
    if bus.write_read(KNOB_ADDRESS, &[STATUS], &mut registers).await.is_err() {
        return KnobReading::Silent;
    }
    let mut gain = [0; 1];
    let asked = with_gain && bus.write_read(KNOB_ADDRESS, &[GAIN], &mut gain).await.is_ok();
    from_registers(registers, asked.then_some(gain[0]))
}

const fn from_registers([status, high, low]: [u8; 3], gain: Option<u8>) -> KnobReading {
    let detected = status & MAGNET_DETECTED != 0;
    let (weak, strong) = (status & MAGNET_TOO_WEAK != 0, status & MAGNET_TOO_STRONG != 0);
    let magnet = match (detected, weak, strong) {
        (_, true, true) => return KnobReading::Silent,
        (_, false, true) => Magnet::TooStrong,
        (false, _, false) => Magnet::Missing,
        (true, true, false) => Magnet::TooWeak,
        (true, false, false) => Magnet::Good,
    };
    KnobReading::Seen { angle: RawAngle::new(u16::from_be_bytes([high, low])), magnet, gain }
}

#[cfg(test)]
mod tests {
    use super::*;
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
        let mut encoder = Encoder(&mut bus);
        let mut reading = pin!(encoder.sample(true));
        let Poll::Ready(reading) = reading.as_mut().poll(&mut Context::from_waker(Waker::noop())) else {
            panic!("the bus never makes anybody wait");
        };
        let expected =
            KnobReading::Seen { angle: RawAngle::new(0xABC), magnet: Magnet::Good, gain: Some(64) };
        assert_eq!(reading, expected);
    }
}
