//! Precautions that the store takes on its flash, by name.

use embedded_storage::nor_flash::NorFlash;

/// One precaution.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub enum Safeguard {
    /// A sector is used only when a finished erase left its mark, however blank it looks.
    CleanMark,
    /// The bit that makes an entry count is programmed last, on its own.
    FinishLast,
    /// What was written is read back and compared.
    ReadBack,
    /// Numbers that a torn record may have had are never given out again.
    SequenceSkip,
    /// A single flipped bit is put right where the check and the records behind it agree on it.
    BitRepair,
    /// After a start, what the last boot wrote last is programmed once more, because a cut may have left it half programmed.
    Refresh,
}

/// Flash that a store can own.
pub trait GuardedFlash: NorFlash {
    /// Whether the store takes a precaution on this flash. It always does; the simulated chip of the power cuts alone answers
    /// otherwise, to show that they find what is missing.
    fn takes(&self, _: Safeguard) -> bool {
        true
    }
}
