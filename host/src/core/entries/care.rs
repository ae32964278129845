//! Entries about care: what was done, what was seen, the maker's own limits.

use serde::{Deserialize, Serialize};
use shared_types::{MachineTag, RunMillis, UtcMillis};

/// The name of a care task, for example "oiling".
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(transparent)]
pub struct CareTaskName(pub String);

/// What was seen while caring for the machine.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Finding {
    /// Nothing to see.
    Clean,
    /// Lint in the scissor channel or elsewhere.
    Lint,
    /// Grey-black oil on the wipe.
    GreyBlackOil,
    /// A black mark on the yarn.
    BlackMarkOnYarn,
    /// A clear oil spot on the yarn.
    ClearOilSpot,
}

/// Care was given.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct CareDone {
    /// The machine.
    pub machine: MachineTag,
    /// What was done.
    pub task: CareTaskName,
    /// When.
    pub at: UtcMillis,
    /// What was seen.
    pub finding: Option<Finding>,
    /// Anything else.
    pub note: Option<String>,
}

/// The maker's own limits for a care task; `None` keeps the plan's start value, zero switches the limit off.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct CareLimitSet {
    /// The machine.
    pub machine: MachineTag,
    /// The task.
    pub task: CareTaskName,
    /// Run time between two times.
    pub every_run: Option<RunMillis>,
    /// Days between two times.
    pub every_days: Option<u32>,
}
