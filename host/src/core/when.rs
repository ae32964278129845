//! When something happened, as far as it can be known.

use serde::{Deserialize, Serialize};
use shared_types::UtcMillis;

/// A moment, or the limits between which it must lie.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum When {
    /// Known from a clock reading in the same boot, to about a second.
    Dated(UtcMillis),
    /// Not before `earliest` and not after `latest`.
    Between {
        /// The first moment at which it can have happened.
        earliest: UtcMillis,
        /// The last moment at which it can have happened.
        latest: UtcMillis,
    },
    /// No limit on at least one side.
    Undated,
}

impl When {
    /// The first moment at which it can have happened, if there is one.
    #[must_use]
    pub const fn earliest(self) -> Option<UtcMillis> {
        match self {
            Self::Dated(at) => Some(at),
            Self::Between { earliest, .. } => Some(earliest),
            Self::Undated => None,
        }
    }

    /// The last moment at which it can have happened, if there is one.
    #[must_use]
    pub const fn latest(self) -> Option<UtcMillis> {
        match self {
            Self::Dated(at) => Some(at),
            Self::Between { latest, .. } => Some(latest),
            Self::Undated => None,
        }
    }
}
