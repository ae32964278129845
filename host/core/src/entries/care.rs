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
    /// The other limits; entries from before there were such have none.
    #[serde(default)]
    pub more: MoreLimits,
}

/// Further limits of the maker's own; `None` keeps what was, zero or false switches off.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(default)]
pub struct MoreLimits {
    /// Strokes between two times.
    pub every_strokes: Option<u64>,
    /// Sessions between two times.
    pub every_sessions: Option<u32>,
    /// Days of standing still.
    pub idle_days: Option<u32>,
    /// Whether every tear asks for it.
    pub after_tear: Option<bool>,
    /// Whether every change of the pile height asks for it.
    pub after_pile_height: Option<bool>,
}

/// A care task was put off. It is not done by that; it is asked for again when either limit is reached.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct CareSnoozed {
    /// The machine.
    pub machine: MachineTag,
    /// The task.
    pub task: CareTaskName,
    /// When it was put off.
    pub at: UtcMillis,
    /// For so much run time.
    pub for_run: Option<RunMillis>,
    /// Until this moment.
    pub until: Option<UtcMillis>,
    /// Why, in the maker's words.
    pub reason: String,
}

/// A care task was left out this time. It counts as not done.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct CareSkipped {
    /// The machine.
    pub machine: MachineTag,
    /// The task.
    pub task: CareTaskName,
    /// When.
    pub at: UtcMillis,
    /// Why, in the maker's words.
    pub reason: Option<String>,
}

/// A care task of the maker's own. Of two with the same name the later one counts.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct CareTaskAdded {
    /// The machine.
    pub machine: MachineTag,
    /// Its name.
    pub task: CareTaskName,
    /// What is done.
    pub what: String,
    /// What to mind.
    pub caution: Option<String>,
    /// What goes on the points.
    pub lubricant: Option<String>,
    /// Run time between two times.
    pub every_run: Option<RunMillis>,
    /// Days between two times.
    pub every_days: Option<u32>,
    /// The other limits.
    #[serde(default)]
    pub more: MoreLimits,
}

/// A care task was switched off, or on again.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct CareTaskSwitched {
    /// The machine.
    pub machine: MachineTag,
    /// The task.
    pub task: CareTaskName,
    /// Whether it is on from now on.
    pub on: bool,
    /// Why, in the maker's words.
    pub reason: Option<String>,
}

/// What goes on a point.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Lubricant {
    /// Light, clear sewing-machine oil.
    Oil,
    /// Gear grease.
    Grease,
    /// Something else, in the maker's or the manual's words.
    Other(String),
}

/// What changed about a point.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum OilPointChange {
    /// The maker added it.
    Added(Lubricant),
    /// It has another name.
    Renamed(String),
    /// It gets something else.
    Gets(Lubricant),
    /// This machine has no such point.
    Removed,
}

/// A point to be oiled was changed.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct OilPointChanged {
    /// The machine.
    pub machine: MachineTag,
    /// The point, by the name that it had.
    pub point: String,
    /// What changed.
    pub change: OilPointChange,
}

/// The pile height of a machine was changed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct PileHeightSet {
    /// The machine.
    pub machine: MachineTag,
    /// Tenths of a millimetre.
    pub tenths_mm: u32,
    /// When.
    pub at: UtcMillis,
}

/// The task of the cloth on the frame.
pub const RETENSION: &str = "re-tension";

/// The task that is followed by a dry run.
pub const OILING: &str = "oiling";

/// The task that comes before oiling.
pub const BRUSH_OUT: &str = "brush-out";

/// The greasing of closed gears.
pub const GEAR_GREASE: &str = "gear-grease";
