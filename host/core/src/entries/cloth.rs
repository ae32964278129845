//! Entries about harm to the cloth: tears and near-misses, and what is known of them.

use serde::{Deserialize, Serialize};
use shared_types::{LogId, LoggerId, MachineTag, RecordSeq, UtcMillis};

use super::amount::Money;
use super::harm_answers::Answers;
use super::{EntryId, RugName};

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
    /// Where the knob stood before it, per mille of its travel, if that was said afterwards.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub knob_per_mille: Option<u16>,
}

impl TearDetails {
    /// These details, and where they are silent the earlier ones.
    #[must_use]
    pub fn or(self, earlier: &Self) -> Self {
        Self {
            rug: self.rug.or_else(|| earlier.rug.clone()),
            cloth_lot: self.cloth_lot.or_else(|| earlier.cloth_lot.clone()),
            note: self.note.or_else(|| earlier.note.clone()),
            answers: self.answers.or(earlier.answers),
            knob_per_mille: self.knob_per_mille.or(earlier.knob_per_mille),
        }
    }
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

/// More about a tear or near-miss that was noted without the machine's button.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct TearAnswered {
    /// The entry that noted it.
    pub entry: EntryId,
    /// What else is known.
    pub details: TearDetails,
}

/// What a tear and an hour cost the maker, in the maker's own currency. What is not said keeps what was said before.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct TearCosts {
    /// What a tear costs: cloth, yarn and work lost, the mending.
    pub tear: Option<Money>,
    /// What an hour of the maker's time is worth.
    pub hour: Option<Money>,
}

/// The highest place of the knob that the maker wants to run at; the lamp and `heavy` mind the same one. The last entry counts.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct CeilingSet {
    /// The machine.
    pub machine: MachineTag,
    /// Per mille of the knob's travel; none takes the ceiling away.
    pub knob_per_mille: Option<u16>,
    /// Whether the program had proposed it.
    pub was_proposed: bool,
}
