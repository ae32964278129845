//! Entries about sessions that the maker typed in, without a logger.

use serde::{Deserialize, Serialize};
use shared_types::{MachineTag, RunMillis, UtcMillis};

use super::{Certainty, EntryId, HandHours, Owner, PersonTag, RugName};

/// A session at the frame, typed in.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct SessionNoted {
    /// The machine.
    pub machine: MachineTag,
    /// The commission; none: the one on the frame then.
    pub rug: Option<RugName>,
    /// Who worked, where that was said.
    pub person: Option<PersonTag>,
    /// When it began; noon where only the day is known.
    pub at: UtcMillis,
    /// Whether only the day is known.
    pub is_day: bool,
    /// Time at the frame, in milliseconds.
    pub frame_ms: Option<u64>,
    /// Time during which the motor ran, where that was said.
    pub run: Option<RunMillis>,
    /// The knob's position, per mille of its travel, where that was noted.
    pub knob_per_mille: Option<u16>,
    /// The entry with which it was timed from its beginning.
    pub begun: Option<EntryId>,
}

impl From<&HandHours> for SessionNoted {
    /// What older entries say of one.
    fn from(hours: &HandHours) -> Self {
        Self {
            machine: hours.machine,
            rug: hours.rug.clone(),
            person: None,
            at: hours.at,
            is_day: false,
            frame_ms: hours.tufting_ms,
            run: hours.run,
            knob_per_mille: hours.knob_per_mille,
            begun: None,
        }
    }
}

/// Work at the frame began; the session is noted when it ends.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct SessionBegun {
    /// The machine.
    pub machine: MachineTag,
    /// The commission; none: the one on the frame then.
    pub rug: Option<RugName>,
    /// Who works, where that was said.
    pub person: Option<PersonTag>,
    /// When.
    pub at: UtcMillis,
}

/// Whose a session is that was typed in.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct SessionAssigned {
    /// The entry of the session.
    pub session: EntryId,
    /// Whose.
    pub owner: Owner,
    /// Whether the maker moved it or said yes to it.
    pub certainty: Certainty,
}

/// Who worked a session that was typed in.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct HandsOfSession {
    /// The entry of the session.
    pub session: EntryId,
    /// The person; none: it is not known.
    pub person: Option<PersonTag>,
}

/// How long the motor runs in an hour at the frame.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct MotorShareSet {
    /// The machine; none: each machine of which nothing else is said.
    pub machine: Option<MachineTag>,
    /// Milliseconds of running in an hour, up to 3,600,000.
    pub run_ms_per_hour: u32,
    /// How that is known.
    pub source: MotorShareSource,
}

/// How the share is known for which the motor runs.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum MotorShareSource {
    /// The start value: nobody has said anything.
    Assumed,
    /// The maker said so.
    Said,
    /// The logger counted it in the sessions before.
    Counted,
}
