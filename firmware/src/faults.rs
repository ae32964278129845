//! Which faults are present, and one record for each that appears or goes.

use shared_types::log::{Fault, FaultChange};

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

    /// Whether somebody should look. A silent clock chip alone is no reason: a logger without one works, its machine hours
    /// are exact, and the host says what is missing.
    #[must_use]
    pub fn ask_for_a_look(&self) -> bool {
        self.present & !Fault::ClockSilent.bit() != 0
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
    fn a_silent_clock_alone_does_not_light_the_lamp() {
        let mut faults = Faults::new();
        faults.set(Fault::ClockSilent, true);
        assert!(!faults.ask_for_a_look());
        faults.set(Fault::ClockLost, true);
        assert!(faults.ask_for_a_look());
    }
}
