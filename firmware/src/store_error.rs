//! Why the store did not do what was asked.

/// Errors of the store.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[non_exhaustive]
pub enum StoreError<E> {
    /// The flash driver failed.
    Flash(E),
    /// The layout does not fit the flash, or is none.
    Layout,
    /// There is no readable log, and none is made unasked.
    NoLog,
    /// Written several times, and never read back as written.
    NotKept,
    /// The record is longer than the longest that the contract allows.
    TooLong,
}

impl<E> From<E> for StoreError<E> {
    fn from(error: E) -> Self {
        Self::Flash(error)
    }
}

impl<E: core::fmt::Debug> core::fmt::Display for StoreError<E> {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        match self {
            Self::Flash(error) => write!(f, "the flash failed: {error:?}"),
            Self::Layout => f.write_str("the regions of the store do not fit the flash"),
            Self::NoLog => f.write_str("the flash holds no readable log"),
            Self::NotKept => f.write_str("the flash does not keep what is written to it"),
            Self::TooLong => f.write_str("the record is too long"),
        }
    }
}

impl<E: core::fmt::Debug> core::error::Error for StoreError<E> {}
