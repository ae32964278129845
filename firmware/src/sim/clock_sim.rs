//! A battery-backed clock chip: whole seconds, its own drift, and a battery that can go flat.

use shared_types::UtcMillis;

use crate::clock::ClockReading;

/// The chip. Time comes from the simulation in milliseconds.
#[derive(Clone, Debug)]
pub struct ClockSim {
    set_to: i64,
    set_at_ms: u64,
    drift_ppm: i64,
    lost: bool,
    silent: bool,
}

impl ClockSim {
    /// A chip that was set to `utc` at moment `now_ms` and gains `drift_ppm` millionths.
    #[must_use]
    pub const fn new(utc: UtcMillis, now_ms: u64, drift_ppm: i64) -> Self {
        Self { set_to: utc.0, set_at_ms: now_ms, drift_ppm, lost: false, silent: false }
    }

    /// What it says at moment `now_ms`.
    #[must_use]
    pub fn read(&self, now_ms: u64) -> ClockReading {
        if self.silent {
            return ClockReading::Silent;
        }
        if self.lost {
            return ClockReading::Lost;
        }
        let passed = i64::try_from(now_ms.saturating_sub(self.set_at_ms)).unwrap_or(i64::MAX / 2);
        let gained = passed / 1_000 * self.drift_ppm / 1_000;
        let utc = self.set_to.saturating_add(passed).saturating_add(gained);
        ClockReading::Utc(UtcMillis(utc.div_euclid(1_000) * 1_000))
    }

    /// Sets it to the nearest second; it knows the time again.
    pub const fn set(&mut self, utc: UtcMillis, now_ms: u64) {
        self.set_to = (utc.0 + 500).div_euclid(1_000) * 1_000;
        self.set_at_ms = now_ms;
        self.lost = false;
    }

    /// Its battery goes flat.
    pub const fn lose_time(&mut self) {
        self.lost = true;
    }

    /// Its wire comes off, or is put back.
    pub const fn set_silent(&mut self, silent: bool) {
        self.silent = silent;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn it_counts_whole_seconds_and_drifts() {
        let chip = ClockSim::new(UtcMillis(1_000_000_000_000), 0, 20);
        assert_eq!(chip.read(1_999), ClockReading::Utc(UtcMillis(1_000_000_001_000)));
        // 20 millionths of a day of 86,400 s are 1.728 s.
        assert_eq!(chip.read(86_400_000), ClockReading::Utc(UtcMillis(1_000_086_401_000)));
    }

    #[test]
    fn a_flat_battery_is_told_until_it_is_set() {
        let mut chip = ClockSim::new(UtcMillis(0), 0, 0);
        chip.lose_time();
        assert_eq!(chip.read(5_000), ClockReading::Lost);
        chip.set(UtcMillis(7_700), 5_000);
        assert_eq!(chip.read(6_000), ClockReading::Utc(UtcMillis(9_000)));
    }
}
