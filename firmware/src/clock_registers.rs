//! The clock chip over a bus that is waited for.
//!
//! The chip's driver only knows a bus that blocks, and a chip that holds the bus would block with it for ever. So the transfers
//! are made here, where a time limit can end them, and the driver works on a copy of the registers.

use core::convert::Infallible;

use embedded_hal::i2c::{ErrorType, I2c, Operation};
use embedded_hal_async::i2c::I2c as AsyncI2c;
use heapless::Vec;
use shared_types::UtcMillis;

use crate::clock::{ClockError, ClockReading, read_clock, set_clock};

/// The chip's address on the bus.
pub const CLOCK_ADDRESS: u8 = 0x68;
/// Seconds to year, and the status (data sheet of the DS3231, figure 1).
const TIME: u8 = 0x00;
const TIME_BYTES: usize = 7;
const STATUS: u8 = 0x0F;
const REGISTERS: usize = 0x13;

/// Reads the clock chip. The caller sets the time limit; two transfers of 14 bytes in all.
pub async fn read_clock_async<B: AsyncI2c>(bus: &mut B) -> ClockReading {
    let mut copy = Copy::default();
    for (from, count) in [(STATUS, 1), (TIME, TIME_BYTES)] {
        let registers = copy.registers.get_mut(usize::from(from)..).and_then(|rest| rest.get_mut(..count));
        let answer = bus.write_read(CLOCK_ADDRESS, &[from], registers.unwrap_or_default()).await;
        if answer.is_err() {
            return ClockReading::Silent;
        }
    }
    read_clock(&mut copy)
}

/// Sets the clock chip as [`set_clock`] does. The caller sets the time limit; two transfers of 12 bytes in all.
///
/// # Errors
/// As [`set_clock`].
pub async fn set_clock_async<B: AsyncI2c>(bus: &mut B, utc: UtcMillis) -> Result<(), ClockError> {
    let mut copy = Copy::default();
    set_clock(&mut copy, utc)?;
    for written in &copy.written {
        bus.write(CLOCK_ADDRESS, written).await.map_err(|_| ClockError::Silent)?;
    }
    Ok(())
}

/// The chip's registers as they were read, and what its driver wants written, in order.
#[derive(Default)]
struct Copy {
    pointer: u8,
    registers: [u8; REGISTERS],
    written: Vec<Vec<u8, { TIME_BYTES + 1 }>, 2>,
}

impl ErrorType for Copy {
    type Error = Infallible;
}

impl I2c for Copy {
    fn transaction(&mut self, _: u8, operations: &mut [Operation<'_>]) -> Result<(), Infallible> {
        for operation in operations {
            match operation {
                Operation::Write([pointer]) => self.pointer = *pointer,
                Operation::Write(bytes) => {
                    // What the driver writes fits; the test of setting would miss what did not.
                    self.written.push(Vec::from_slice(bytes).unwrap_or_default()).unwrap_or_default();
                }
                Operation::Read(bytes) => {
                    let from = self.registers.iter().skip(usize::from(self.pointer));
                    bytes.iter_mut().zip(from).for_each(|(byte, register)| *byte = *register);
                }
            }
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use core::pin::pin;
    use core::task::{Context, Poll, Waker};
    use embedded_hal::i2c::ErrorKind;
    use embedded_hal_mock::eh1::i2c::{Mock, Transaction};
    use std::vec;

    /// The blocking mock, which never makes anybody wait.
    struct Prompt<'mock>(&'mock mut Mock);

    impl ErrorType for Prompt<'_> {
        type Error = ErrorKind;
    }

    impl AsyncI2c for Prompt<'_> {
        async fn transaction(
            &mut self,
            address: u8,
            operations: &mut [Operation<'_>],
        ) -> Result<(), ErrorKind> {
            match operations {
                [Operation::Write(bytes)] => self.0.write(address, bytes),
                [Operation::Write(bytes), Operation::Read(answer)] => {
                    self.0.write_read(address, bytes, answer)
                }
                other => panic!("no driver needs {other:?}"),
            }
        }
    }

    fn done<T>(future: impl Future<Output = T>) -> T {
        let mut future = pin!(future);
        match future.as_mut().poll(&mut Context::from_waker(Waker::noop())) {
            Poll::Ready(value) => value,
            Poll::Pending => panic!("this bus never makes anybody wait"),
        }
    }

    fn reading(status: u8, civil: [u8; 7]) -> ClockReading {
        let mut bus = Mock::new(&[
            Transaction::write_read(0x68, vec![0x0F], vec![status]),
            Transaction::write_read(0x68, vec![0x00], civil.to_vec()),
        ]);
        let reading = done(read_clock_async(&mut Prompt(&mut bus)));
        bus.done();
        reading
    }

    #[test]
    fn what_is_read_means_what_the_blocking_driver_makes_of_it() {
        // 2026-03-14 15:09:26 UTC is 1773500966 by `date -u -d '2026-03-14 15:09:26' +%s`; bit 7 of the status: it stood still.
        let civil = [0x26, 0x09, 0x15, 0x07, 0x14, 0x03, 0x26];
        assert_eq!(reading(0x08, civil), ClockReading::Utc(UtcMillis(1_773_500_966_000)));
        assert_eq!(reading(0x88, civil), ClockReading::Lost);
        assert_eq!(reading(0x08, [0xFF; 7]), ClockReading::Lost);
    }

    #[test]
    fn a_chip_that_does_not_answer_is_silent_at_either_transfer() {
        let refused = |transaction: Transaction| transaction.with_error(ErrorKind::Other);
        let status = Transaction::write_read(0x68, vec![0x0F], vec![0]);
        let time = Transaction::write_read(0x68, vec![0x00], vec![0; 7]);
        for transfers in [vec![refused(status.clone())], vec![status, refused(time)]] {
            let mut bus = Mock::new(&transfers);
            assert_eq!(done(read_clock_async(&mut Prompt(&mut bus))), ClockReading::Silent);
            bus.done();
        }
    }

    #[test]
    fn setting_writes_the_time_and_then_clears_the_flag() {
        // As in the test of the blocking driver: 2028-02-29 23:59:59.6 UTC becomes 2028-03-01 00:00:00.
        let time = Transaction::write(0x68, vec![0x00, 0x00, 0x00, 0x00, 0x04, 0x01, 0x03, 0x28]);
        let flag = Transaction::write(0x68, vec![0x0F, 0x0B]);
        let mut bus = Mock::new(&[time.clone(), flag]);
        assert_eq!(done(set_clock_async(&mut Prompt(&mut bus), UtcMillis(1_835_481_599_600))), Ok(()));
        bus.done();
        // Without the time the flag must go on saying that there is none.
        let mut bus = Mock::new(&[time.with_error(ErrorKind::Other)]);
        let outcome = done(set_clock_async(&mut Prompt(&mut bus), UtcMillis(1_835_481_599_600)));
        assert_eq!(outcome, Err(ClockError::Silent));
        bus.done();
    }

    #[test]
    fn a_moment_that_no_host_can_mean_is_refused_without_touching_the_chip() {
        let mut bus = Mock::new(&[]);
        assert_eq!(done(set_clock_async(&mut Prompt(&mut bus), UtcMillis(0))), Err(ClockError::OutOfRange));
        bus.done();
    }
}
