//! Entries about people. They hold a number only: names stand beside the entries, where they can be put right and erased.

use serde::{Deserialize, Serialize};
use shared_types::{LogId, LoggerId, MachineTag, RecordSeq, UtcMillis};

/// A person's number, from 1; it is never given again.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(transparent)]
pub struct PersonTag(pub u32);

/// Somebody works in the studio, or borrows from it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct PersonAdded {
    /// The person's number.
    pub person: PersonTag,
}

/// From a moment on, whoever is not named otherwise is this person.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct HandsAtWork {
    /// The machine; none: every machine.
    pub machine: Option<MachineTag>,
    /// The person; none: it is not known from then on.
    pub person: Option<PersonTag>,
    /// From when on.
    pub from: UtcMillis,
}

/// Some bursts were worked by a person. A later entry wins over an earlier one, and over [`HandsAtWork`].
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct HandsOfBursts {
    /// The logger.
    pub logger: LoggerId,
    /// Its log.
    pub log: LogId,
    /// First record number.
    pub first: RecordSeq,
    /// Last record number, included.
    pub last: RecordSeq,
    /// The person; none: it is not known.
    pub person: Option<PersonTag>,
}
