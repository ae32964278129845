//! Which faults are present, and one record for each that appears or goes.

use shared_types::UptimeMillis;
use shared_types::log::{Fault, FaultChange};

/// How long a fault must have been away before it is told that it went: at once the first time, longer each time it comes back. So a
/// loose plug makes about ten records in its worst hour. Milliseconds.
const AWAY_MS: [u64; 4] = [0, 60_000, 300_000, 1_800_000];
/// A fault that comes back within this long is the same trouble. Milliseconds.
const SAME_TROUBLE_MS: u64 = 1_800_000;

/// The set of faults present. Starts empty with every boot.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub struct Faults {
    present: u16,
}

impl Faults {
    /// No faults.
    #[must_use]
    pub const fn new() -> Self {
        Self { present: 0 }
    }

    /// Says whether `fault` is present now; returns the change when that is new.
    pub fn set(&mut self, fault: Fault, present: bool) -> Option<FaultChange> {
        if self.has(fault) == present {
            return None;
        }
        self.present ^= fault.bit();
        Some(FaultChange { fault, present })
    }

    /// Whether `fault` is present.
    #[must_use]
    pub fn has(&self, fault: Fault) -> bool {
        self.present & fault.bit() != 0
    }

    /// The set as the link tells it: see [`Fault::bit`].
    #[must_use]
    pub const fn bits(&self) -> u16 {
        self.present
    }

    /// Whether somebody should look. A silent clock chip is no reason: a logger without one works, its machine hours are exact, and
    /// the host says what is missing. Nor are stray pulses that were found and set aside.
    #[must_use]
    pub fn needs_attention(&self) -> bool {
        let can_wait = [Fault::ClockSilent, Fault::StampsAlone, Fault::CountsAlone];
        self.present & !can_wait.into_iter().fold(0, |bits, fault| bits | fault.bit()) != 0
    }
}

/// Debounces one cause that shows as one of several faults or none, so that an intermittent fault cannot fill the log.
#[derive(Clone, Copy, Debug, Default)]
pub struct DebouncedFault {
    told: Option<Fault>,
    seen: Option<Fault>,
    seen_since: UptimeMillis,
    went_at: Option<UptimeMillis>,
    /// The faults that this trouble has shown as, see [`Fault::bit`].
    shown: u16,
    returns: usize,
}

impl DebouncedFault {
    /// No trouble.
    #[must_use]
    pub const fn new() -> Self {
        Self { told: None, seen: None, seen_since: UptimeMillis(0), went_at: None, shown: 0, returns: 0 }
    }

    /// Takes what is seen now and returns what is to be told. A fault appears at once; that it went, or became another one, is
    /// told when it has stayed so for long enough.
    pub fn update(&mut self, now: UptimeMillis, seen: Option<Fault>) -> Option<Fault> {
        if seen != self.seen {
            self.seen = seen;
            self.seen_since = now;
        }
        let lasted = now.0.saturating_sub(self.seen_since.0);
        let is_steady = AWAY_MS.get(self.returns).is_none_or(|away| lasted >= *away);
        match (self.told, seen) {
            (None, Some(fault)) => {
                if self.went_at.is_none_or(|at| now.0.saturating_sub(at.0) >= SAME_TROUBLE_MS) {
                    self.shown = 0;
                    self.returns = 0;
                }
                self.tell(fault);
            }
            (Some(_), None) if is_steady => {
                self.went_at = Some(now);
                self.told = None;
            }
            (Some(told), Some(other)) if told != other && is_steady => self.tell(other),
            _ => {}
        }
        self.told
    }

    fn tell(&mut self, fault: Fault) {
        if self.shown & fault.bit() != 0 {
            self.returns = (self.returns + 1).min(AWAY_MS.len() - 1);
        }
        self.shown |= fault.bit();
        self.told = Some(fault);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_appearance_and_recovery_is_told_once() {
        let mut faults = Faults::new();
        let fault = Fault::KnobSilent;
        assert_eq!(faults.set(fault, false), None);
        assert_eq!(faults.set(fault, true), Some(FaultChange { fault, present: true }));
        assert_eq!(faults.set(fault, true), None);
        assert_eq!(faults.set(fault, false), Some(FaultChange { fault, present: false }));
        assert_eq!(faults.bits(), 0);
    }

    #[test]
    fn a_silent_clock_and_stray_pulses_do_not_light_the_lamp() {
        let mut faults = Faults::new();
        for fault in [Fault::ClockSilent, Fault::StampsAlone, Fault::CountsAlone] {
            faults.set(fault, true);
        }
        assert!(!faults.needs_attention());
        faults.set(Fault::ClockLost, true);
        assert!(faults.needs_attention());
    }

    fn changes(seen: impl Fn(u64) -> Option<Fault>, until_ms: u64) -> std::vec::Vec<(u64, Option<Fault>)> {
        let mut steady = DebouncedFault::new();
        let (mut told, mut all) = (None, std::vec::Vec::new());
        for ms in (0..until_ms).step_by(50) {
            let now = steady.update(UptimeMillis(ms), seen(ms));
            if now != told {
                told = now;
                all.push((ms, now));
            }
        }
        all
    }

    #[test]
    fn a_fault_that_comes_once_comes_and_goes_at_once() {
        let fault = Some(Fault::KnobSilent);
        let seen = |ms| if (1_000..5_000).contains(&ms) { fault } else { None };
        assert_eq!(changes(seen, 60_000), [(1_000, fault), (5_000, None)]);
    }

    #[test]
    fn one_that_comes_back_goes_only_after_a_while_that_grows() {
        let fault = Some(Fault::KnobSilent);
        // There for a second in every twenty, twice; then gone for good.
        let seen = |ms| if ms < 30_000 && ms % 20_000 < 1_000 { fault } else { None };
        assert_eq!(changes(seen, 200_000), [(0, fault), (1_000, None), (20_000, fault), (81_000, None)]);
    }

    #[test]
    fn whatever_comes_and_goes_makes_a_dozen_changes_in_its_worst_hour() {
        let (a, b) = (Some(Fault::KnobSilent), Some(Fault::MagnetMissing));
        for period in [100, 1_000, 30_000, 61_000, 122_000, 301_000, 650_000] {
            let comes = |ms| if ms % period < period / 2 { a } else { None };
            let changes_kind = |ms| if ms % period < period / 2 { a } else { b };
            // A change of kind is two records: one went, another came.
            assert!(changes(comes, 3_600_000).len() <= 12, "every {period} ms");
            assert!(changes(changes_kind, 3_600_000).len() <= 6, "every {period} ms");
        }
    }
}
