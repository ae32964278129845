//! The precautions of the store, by name. They are always taken; only a test bench can leave one out, to show that its
//! power cuts would notice.

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
    /// Every sector carries its header twice.
    SecondHeader,
    /// Settings alternate between two sectors, so that the old ones stand until the new ones do.
    SecondSlot,
    /// Numbers that a torn record may have had are never given out again.
    SequenceSkip,
    /// A single flipped bit is put right where the check and the records behind it agree on it.
    BitRepair,
    /// A sector's headers are overwritten before it is erased, so that a cut erase cannot leave it half true.
    RetireFirst,
    /// After a start, what the last boot wrote last is programmed once more, because a cut may have left it half programmed.
    Refresh,
}

/// Which precautions are taken: all of them, outside a test bench.
#[derive(Clone, Copy, Debug, Default)]
pub struct Safeguards {
    #[cfg(feature = "sim")]
    off: Option<Safeguard>,
}

impl Safeguards {
    /// Leaves one precaution out.
    #[cfg(feature = "sim")]
    #[must_use]
    pub const fn without(safeguard: Safeguard) -> Self {
        Self { off: Some(safeguard) }
    }

    #[cfg(feature = "sim")]
    pub(crate) fn take(self, safeguard: Safeguard) -> bool {
        self.off != Some(safeguard)
    }

    #[cfg(not(feature = "sim"))]
    #[expect(clippy::unused_self, reason = "the bench's counterpart looks at itself")]
    pub(crate) const fn take(self, _: Safeguard) -> bool {
        true
    }
}
