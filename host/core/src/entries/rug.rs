//! Entries about commissions: what was ordered, when it was worked on, whose the running is.

use std::fmt;

use serde::{Deserialize, Serialize};
use shared_types::{LogId, LoggerId, MachineTag, RecordSeq, RunMillis, UtcMillis};

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

/// A commission goes by another name from now on. What was said of it by an earlier name, and what is said by one later,
/// counts to it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct RugRenamed {
    /// Its name before.
    pub rug: RugName,
    /// Its name from now on.
    pub now: RugName,
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
    /// With whoever ordered it.
    Delivered,
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

/// What the maker said of doubtful running.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum DoubtAnswer {
    /// The machine was at work.
    Real,
    /// It was not: noise, or rest.
    NotReal,
    /// Nothing yet, though its commission went out: it stays out of the commission.
    LeftOpen,
}

/// Whether doubtful bursts were real work. Of two answers about a burst the later one counts; bursts that nobody doubts are
/// not touched by it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct DoubtAnswered {
    /// The logger.
    pub logger: LoggerId,
    /// Its log.
    pub log: LogId,
    /// First record number.
    pub from: RecordSeq,
    /// Last record number, included.
    pub to: RecordSeq,
    /// What was said.
    pub answer: DoubtAnswer,
}
