//! When something happened, as far as it can be known.

use serde::ser::SerializeStruct;
use serde::{Serialize, Serializer};
use shared_types::UtcMillis;

/// A moment, or the limits between which it must lie.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
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

/// As its two limits, which are one and the same number where the moment is known.
impl Serialize for When {
    fn serialize<S: Serializer>(&self, out: S) -> Result<S::Ok, S::Error> {
        let mut limits = out.serialize_struct("When", 2)?;
        limits.serialize_field("earliest_utc_ms", &self.earliest())?;
        limits.serialize_field("latest_utc_ms", &self.latest())?;
        limits.end()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_moment_is_written_as_its_limits() {
        let written = |when: When| serde_json::to_string(&when).unwrap();
        assert_eq!(written(When::Dated(UtcMillis(5))), r#"{"earliest_utc_ms":5,"latest_utc_ms":5}"#);
        let (earliest, latest) = (UtcMillis(5), UtcMillis(9));
        assert_eq!(written(When::Between { earliest, latest }), r#"{"earliest_utc_ms":5,"latest_utc_ms":9}"#);
        assert_eq!(written(When::Undated), r#"{"earliest_utc_ms":null,"latest_utc_ms":null}"#);
    }
}
