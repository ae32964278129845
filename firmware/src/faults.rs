//! Which faults are present, and one record for each that appears or goes.

use shared_types::log::{Fault, FaultChange};

/// Every fault, in the order of its bit.
const ALL: [Fault; 9] = [
    Fault::MagnetMissing,
    Fault::MagnetTooWeak,
    Fault::MagnetTooStrong,
    Fault::KnobSilent,
    Fault::ClockSilent,
    Fault::ClockLost,
    Fault::ImplausibleRate,
    Fault::LogOverrun,
    Fault::FlashWrite,
];

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
        self.present ^= bit(fault);
        Some(FaultChange { fault, present })
    }

    /// Whether `fault` is present.
    #[must_use]
    pub fn has(&self, fault: Fault) -> bool {
        self.present & bit(fault) != 0
    }

    /// The set as the link tells it: bit n stands for the n-th of [`Fault`].
    #[must_use]
    pub const fn bits(&self) -> u16 {
        self.present
    }

    /// Whether somebody should look. A silent clock chip alone is no reason: a logger without one works, its machine hours
    /// are exact, and the host says what is missing.
    #[must_use]
    pub fn ask_for_a_look(&self) -> bool {
        self.present & !bit(Fault::ClockSilent) != 0
    }
}

fn bit(fault: Fault) -> u16 {
    ALL.iter().position(|it| *it == fault).map_or(0, |place| 1 << place)
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
    fn the_bits_stand_in_the_order_of_the_contract() {
        // postcard writes an enum as the number of its variant: the outside account of the order.
        for fault in ALL {
            let mut bytes = [0; 4];
            let number = postcard::to_slice(&fault, &mut bytes).unwrap()[0];
            let mut faults = Faults::new();
            faults.set(fault, true);
            assert_eq!(faults.bits(), 1 << number, "{fault:?}");
        }
        assert!(postcard::from_bytes::<Fault>(&[ALL.len() as u8]).is_err(), "a fault without a bit");
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
