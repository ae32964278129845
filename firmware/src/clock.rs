//! The battery-backed clock chip, of the DS3231 kind. Its reading is only logged; nothing here computes with it.

use ds323x::{DateTimeAccess, Ds323x, NaiveDate, NaiveDateTime, NaiveTime};
use embedded_hal::i2c::I2c;
use shared_types::UtcMillis;

/// The first moment that the chip can hold: 2000-01-01T00:00:00Z.
pub const CLOCK_FROM: UtcMillis = UtcMillis(946_684_800_000);
/// The first moment that is refused as a mistake: 2100-01-01T00:00:00Z.
pub const CLOCK_TO: UtcMillis = UtcMillis(4_102_444_800_000);
/// Time from one reading to the next. Milliseconds of uptime.
pub const CLOCK_EVERY_MS: u64 = 3_600_000;

/// Reading of the clock chip.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum ClockReading {
    /// The time, in whole seconds.
    Utc(UtcMillis),
    /// It answers, but has stood still since it was last set, or tells no possible date: its battery is flat or new.
    Lost,
    /// It does not answer.
    Silent,
}

/// Errors of setting the clock chip.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[non_exhaustive]
pub enum ClockError {
    /// Before [`CLOCK_FROM`], or not before [`CLOCK_TO`].
    OutOfRange,
    /// It does not answer.
    Silent,
}

impl core::fmt::Display for ClockError {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.write_str(match self {
            Self::OutOfRange => "the time is outside the years 2000 to 2099",
            Self::Silent => "the clock chip does not answer",
        })
    }
}

impl core::error::Error for ClockError {}

/// Whether a moment is one that the clock chip can be set to.
#[must_use]
pub fn is_settable(utc: UtcMillis) -> bool {
    (CLOCK_FROM..CLOCK_TO).contains(&utc)
}

/// Reads the clock chip over a blocking bus. Meant for the start and for once an hour, not between samples.
pub fn read_clock<B: I2c>(bus: &mut B) -> ClockReading {
    let mut chip = Ds323x::new_ds3231(bus);
    match chip.has_been_stopped() {
        Ok(false) => {}
        Ok(true) => return ClockReading::Lost,
        Err(_) => return ClockReading::Silent,
    }
    match chip.datetime() {
        Ok(civil) => {
            let utc = UtcMillis(civil.and_utc().timestamp_millis());
            if is_settable(utc) { ClockReading::Utc(utc) } else { ClockReading::Lost }
        }
        Err(ds323x::Error::Comm(_)) => ClockReading::Silent,
        Err(_) => ClockReading::Lost,
    }
}

/// Sets the clock chip to the nearest whole second and clears its has-stood-still flag.
///
/// # Errors
/// [`ClockError::OutOfRange`] without touching the chip, or [`ClockError::Silent`]; then the flag still stands.
pub fn set_clock<B: I2c>(bus: &mut B, utc: UtcMillis) -> Result<(), ClockError> {
    if !is_settable(utc) {
        return Err(ClockError::OutOfRange);
    }
    let seconds = utc.0.saturating_add(500) / 1_000;
    let civil = civil(seconds).ok_or(ClockError::OutOfRange)?;
    let mut chip = Ds323x::new_ds3231(bus);
    chip.set_datetime(&civil).map_err(|_| ClockError::Silent)?;
    chip.clear_has_been_stopped_flag().map_err(|_| ClockError::Silent)
}

/// The chip's driver speaks civil time without a zone; ours is always UTC.
fn civil(unix_seconds: i64) -> Option<NaiveDateTime> {
    const DAY: i64 = 86_400;
    /// Day number of 1970-01-01, counted from 0001-01-01 as day 1 in the proleptic Gregorian calendar.
    const EPOCH: i64 = 719_163;
    let day = i32::try_from(unix_seconds.div_euclid(DAY).checked_add(EPOCH)?).ok()?;
    let second = u32::try_from(unix_seconds.rem_euclid(DAY)).ok()?;
    let date = NaiveDate::from_num_days_from_ce_opt(day)?;
    Some(NaiveDateTime::new(date, NaiveTime::from_num_seconds_from_midnight_opt(second, 0)?))
}

#[cfg(test)]
mod tests {
    use super::*;
    use embedded_hal::i2c::ErrorKind;
    use embedded_hal_mock::eh1::i2c::{Mock, Transaction};
    use std::vec;
    use std::vec::Vec;

    // Registers of the DS3231 by its data sheet, figure 1: seconds to year from 0x00 in packed decimals, status at 0x0F with the
    // oscillator-stop flag in bit 7 and the 32 kHz output in bit 3.
    fn reading(status: u8, civil: [u8; 7]) -> Vec<Transaction> {
        vec![
            Transaction::write_read(0x68, vec![0x0F], vec![status]),
            Transaction::write_read(0x68, vec![0x00], civil.to_vec()),
        ]
    }

    #[test]
    fn a_running_chip_tells_utc() {
        // 2026-03-14 15:09:26 UTC is 1773500966 by `date -u -d '2026-03-14 15:09:26' +%s`.
        let mut bus = Mock::new(&reading(0x08, [0x26, 0x09, 0x15, 0x07, 0x14, 0x03, 0x26]));
        assert_eq!(read_clock(&mut bus), ClockReading::Utc(UtcMillis(1_773_500_966_000)));
        bus.done();
    }

    #[test]
    fn a_chip_that_stood_still_is_lost_and_its_time_is_not_even_read() {
        let mut bus = Mock::new(&[Transaction::write_read(0x68, vec![0x0F], vec![0x88])]);
        assert_eq!(read_clock(&mut bus), ClockReading::Lost);
        bus.done();
    }

    #[test]
    fn impossible_dates_are_lost_and_never_panic() {
        for civil in
            [[0xFF; 7], [0, 0, 0, 1, 0, 0, 0], [0, 0, 0x3F, 1, 1, 1, 0x26], [0, 0, 0, 1, 0x30, 2, 0x26]]
        {
            let mut bus = Mock::new(&reading(0, civil));
            assert_eq!(read_clock(&mut bus), ClockReading::Lost, "{civil:x?}");
            bus.done();
        }
    }

    #[test]
    fn a_chip_that_does_not_answer_is_silent() {
        let mut bus =
            Mock::new(&[Transaction::write_read(0x68, vec![0x0F], vec![0]).with_error(ErrorKind::Other)]);
        assert_eq!(read_clock(&mut bus), ClockReading::Silent);
        bus.done();
    }

    #[test]
    fn setting_writes_civil_time_and_clears_the_flag() {
        // 2028-02-29 23:59:59.6 UTC: 1835481599600 by `date`; the nearest second is 2028-03-01 00:00:00, a Wednesday (4th
        // day of the driver's week).
        let mut bus = Mock::new(&[
            Transaction::write(0x68, vec![0x00, 0x00, 0x00, 0x00, 0x04, 0x01, 0x03, 0x28]),
            Transaction::write(0x68, vec![0x0F, 0x0B]),
        ]);
        assert_eq!(set_clock(&mut bus, UtcMillis(1_835_481_599_600)), Ok(()));
        bus.done();
    }

    #[test]
    fn moments_that_no_host_can_mean_are_refused_without_touching_the_chip() {
        for utc in [i64::MIN, -1, 0, CLOCK_FROM.0 - 1, CLOCK_TO.0, i64::MAX] {
            let mut bus = Mock::new(&[]);
            assert_eq!(set_clock(&mut bus, UtcMillis(utc)), Err(ClockError::OutOfRange), "{utc}");
            bus.done();
        }
    }
}
