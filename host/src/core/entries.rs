//! What the maker tells the program. Entries are only ever added; a correction is an entry too, and the corrected one
//! stays visible.

use std::fmt;

use super::harm_answers::Answers;
use serde::{Deserialize, Serialize};
use shared_types::{LogId, LoggerId, MachineTag, RawAngle, RecordSeq, RunMillis, UtcMillis};

use super::costing::MachineCosts;
use super::heavy_use::{DutyRated, HeavyLimitSet};
use super::quote::SampleSquare;
use super::vibration::VibrationFigure;

/// The number of an entry, in the order of arrival.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub struct EntryId(pub i64);

/// One entry as it is kept.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Entry {
    /// Its number.
    pub id: EntryId,
    /// When it was entered, which may be long after what it tells of.
    pub entered_at: UtcMillis,
    /// What it says.
    pub body: EntryBody,
}

/// The name by which the maker calls a commission, for example "Fox". Compared without regard to case.
#[derive(Clone, Debug, Serialize, Deserialize)]
#[serde(transparent)]
pub struct RugName(pub String);

impl PartialEq for RugName {
    fn eq(&self, other: &Self) -> bool {
        self.0.to_lowercase() == other.0.to_lowercase()
    }
}

impl Eq for RugName {}

impl std::hash::Hash for RugName {
    fn hash<H: std::hash::Hasher>(&self, state: &mut H) {
        self.0.to_lowercase().hash(state);
    }
}

impl PartialOrd for RugName {
    fn partial_cmp(&self, other: &Self) -> Option<std::cmp::Ordering> {
        Some(self.cmp(other))
    }
}

impl Ord for RugName {
    fn cmp(&self, other: &Self) -> std::cmp::Ordering {
        self.0.to_lowercase().cmp(&other.0.to_lowercase())
    }
}

impl fmt::Display for RugName {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

/// What an entry says. New kinds are added at the end; a kind that was ever written is never renamed.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum EntryBody {
    /// A machine joins the studio.
    MachineAdded(MachineAdded),
    /// The knob's end marks were read.
    KnobMarked(KnobMarks),
    /// The number of magnets on the crank, or the gear ratio, was set right. Holds for all records, old ones too.
    EdgeRatioSet(EdgeRatio),
    /// A logger sits on a machine from a record on, until its next fitting.
    LoggerFitted(Fitting),
    /// A commission was taken.
    RugOrdered(RugOrdered),
    /// Work on a commission began, rested or ended.
    RugWork(RugWork),
    /// Some bursts belong to a commission, to care, or to nobody.
    BurstsAssigned(BurstsAssigned),
    /// Care was given.
    CareDone(CareDone),
    /// A care limit was changed by the maker.
    CareLimitSet(CareLimitSet),
    /// A tear or near-miss without the machine's button.
    TearNoted(TearNoted),
    /// More about a button press: which commission or cloth lot, and so on.
    PressAnswered(PressAnswered),
    /// A button was pressed by mistake.
    PressWithdrawn(PressWithdrawn),
    /// Hours written by hand, without a logger.
    HandHours(HandHours),
    /// An earlier entry was wrong; it stays visible but counts no more.
    Withdrawn {
        /// Which.
        entry: EntryId,
        /// Why, in the maker's words.
        reason: String,
    },
    /// What a machine costs.
    MachineCosts(MachineCosts),
    /// How strongly a machine vibrates, by its manufacturer or a measurement.
    VibrationFigure(VibrationFigure),
    /// How a machine's motor may be loaded.
    DutyRated(DutyRated),
    /// A limit of heavy use was changed by the maker.
    HeavyLimitSet(HeavyLimitSet),
    /// A sample square was tufted and timed.
    SampleSquare(SampleSquare),
}

/// What kind of pile a machine makes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Pile {
    /// Scissors cut every tuft.
    Cut,
    /// Loops stay whole.
    Loop,
    /// Either, by taking the scissors out.
    CutAndLoop,
}

/// A machine joins the studio.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct MachineAdded {
    /// Its number, from 1.
    pub machine: MachineTag,
    /// Its name.
    pub name: String,
    /// What it makes.
    pub pile: Pile,
    /// The owner's estimate of run time before any logger was fitted; kept apart in every sum.
    pub before_logger: Option<RunMillis>,
    /// Since when it is in the studio; care that was never done counts from here.
    pub since: UtcMillis,
}

/// The angles at the two ends of the knob's travel.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct KnobMarks {
    /// The machine.
    pub machine: MachineTag,
    /// The angle at the slow end.
    pub slow: RawAngle,
    /// The angle at the fast end.
    pub fast: RawAngle,
    /// Whether the angle grows from slow to fast, over the wrap where `fast` is smaller.
    pub rising: bool,
}

/// How many edges make how many strokes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct EdgeRatio {
    /// The machine.
    pub machine: MachineTag,
    /// This many edges ...
    pub edges: u32,
    /// ... are this many strokes.
    pub strokes: u32,
}

/// A logger sits on a machine.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Fitting {
    /// The machine.
    pub machine: MachineTag,
    /// The logger.
    pub logger: LoggerId,
    /// Its log.
    pub log: LogId,
    /// The first record made on this machine.
    pub from: RecordSeq,
}

/// A commission.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct RugOrdered {
    /// Its name.
    pub rug: RugName,
    /// Width in millimetres.
    pub width_mm: Option<u32>,
    /// Height in millimetres.
    pub height_mm: Option<u32>,
    /// The piece or roll of cloth, as the maker marks it.
    pub cloth_lot: Option<String>,
    /// When it was taken.
    pub at: UtcMillis,
}

/// What happened to the work on a commission.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum WorkChange {
    /// On the frame and being worked on. Starting one commission does not end another.
    Started,
    /// Off the frame, or resting.
    Paused,
    /// Done with tufting.
    Finished,
}

/// Work on a commission began, rested or ended.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct RugWork {
    /// Which.
    pub rug: RugName,
    /// On which machine; none: on any.
    pub machine: Option<MachineTag>,
    /// What happened.
    pub change: WorkChange,
    /// When.
    pub at: UtcMillis,
}

/// To whom bursts belong.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Owner {
    /// A commission.
    Rug(RugName),
    /// Dry runs and test runs.
    Care,
    /// Nobody: taken back to unassigned.
    Nobody,
}

/// How an assignment came about.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Certainty {
    /// The maker moved these bursts.
    Explicit,
    /// The maker said yes to what the program assumed.
    Confirmed,
}

/// Some bursts belong to a commission, to care, or to nobody. A later entry wins over an earlier one.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct BurstsAssigned {
    /// The logger.
    pub logger: LoggerId,
    /// Its log.
    pub log: LogId,
    /// First record number.
    pub from: RecordSeq,
    /// Last record number, included.
    pub to: RecordSeq,
    /// Whose they are.
    pub owner: Owner,
    /// How it came about.
    pub certainty: Certainty,
}

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

/// Two kinds of harm to the cloth, never added to each other.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Harm {
    /// The cloth tore.
    Tear,
    /// A pulled thread, a snag, an opened weave.
    NearMiss,
}

/// What may be known about a tear or near-miss. All of it is optional; unknown stays unknown.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct TearDetails {
    /// On which commission.
    pub rug: Option<RugName>,
    /// In which cloth.
    pub cloth_lot: Option<String>,
    /// Anything else.
    pub note: Option<String>,
    /// What else the maker knows; entries from before there were such answers have none.
    #[serde(default)]
    pub answers: Answers,
}

/// A tear or near-miss without the machine's button.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct TearNoted {
    /// Which of the two.
    pub harm: Harm,
    /// The machine.
    pub machine: MachineTag,
    /// When.
    pub at: UtcMillis,
    /// The knob's position, per mille of its travel, if the maker saw it.
    pub knob_per_mille: Option<u16>,
    /// What else is known.
    pub details: TearDetails,
}

/// More about a press.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct PressAnswered {
    /// The logger.
    pub logger: LoggerId,
    /// Its log.
    pub log: LogId,
    /// The press.
    pub seq: RecordSeq,
    /// What else is known.
    pub details: TearDetails,
}

/// A button was pressed by mistake.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct PressWithdrawn {
    /// The logger.
    pub logger: LoggerId,
    /// Its log.
    pub log: LogId,
    /// The press.
    pub seq: RecordSeq,
    /// Why, in the maker's words.
    pub reason: String,
}

/// Hours written by hand. They stand beside what was measured, never inside it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct HandHours {
    /// The machine.
    pub machine: MachineTag,
    /// The commission.
    pub rug: Option<RugName>,
    /// When it was.
    pub at: UtcMillis,
    /// Time during which the motor ran; only this reaches care.
    pub run: Option<RunMillis>,
    /// Time at the frame, in milliseconds.
    pub tufting_ms: Option<u64>,
    /// The knob's position, per mille of its travel.
    pub knob_per_mille: Option<u16>,
}
