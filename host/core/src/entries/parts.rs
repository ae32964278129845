//! Entries about parts that wear and faults of the machine itself.

use serde::{Deserialize, Serialize};
use shared_types::{MachineTag, UtcMillis};

use super::{EntryId, SpareName};

/// What kind of part, for example "needle" or "carbon-brushes": small letters, hyphens for blanks.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(transparent)]
pub struct PartName(pub String);

/// The kinds that every machine has.
pub const USUAL_PARTS: [&str; 4] = ["needle", "scissors", "belt", "carbon-brushes"];

impl PartName {
    /// A name as the maker typed it.
    #[must_use]
    pub fn of(typed: &str) -> Self {
        let words: Vec<String> = typed.split_whitespace().map(str::to_lowercase).collect();
        Self(words.join("-"))
    }
}

/// Why a part was taken off. Only wear ends its life for the statistics; everything else says that it would have lasted
/// longer.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum TakenOff {
    /// It was worn out.
    WornOut,
    /// It struck something hard: a staple, the frame, a gripper strip.
    Strike,
    /// Another accident: dropped, bent, broken by hand.
    Accident,
    /// It is lost.
    Lost,
    /// It still worked, but its time seemed to have come.
    Precaution,
    /// It is still good and may be fitted again.
    StillGood,
}

/// A part was fitted.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct PartFitted {
    /// On which machine.
    pub machine: MachineTag,
    /// Which part.
    pub part: PartName,
    /// The maker's mark on it, if it has one. The same mark fitted again is the same part.
    pub serial: Option<String>,
    /// When.
    pub at: UtcMillis,
    /// Anything else.
    pub note: Option<String>,
    /// The spare in the drawer that it was; one of it is gone. None where no such spare is kept, or none was used.
    #[serde(default)]
    pub from_stock: Option<SpareName>,
    /// The entry that took off the part before it, where both were said at once; they are taken back together.
    #[serde(default)]
    pub off_entry: Option<EntryId>,
}

/// A part was taken off.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct PartTakenOff {
    /// From which machine.
    pub machine: MachineTag,
    /// Which part.
    pub part: PartName,
    /// Its mark, where several of the kind are on the machine.
    pub serial: Option<String>,
    /// When.
    pub at: UtcMillis,
    /// Why.
    pub why: TakenOff,
    /// Anything else.
    pub note: Option<String>,
}

/// Something on the machine failed at work and was mended. Faults of the logger's own sensors are records of the logger and
/// never this.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct MachineFault {
    /// The machine.
    pub machine: MachineTag,
    /// What failed, in the maker's words.
    pub what: String,
    /// When.
    pub at: UtcMillis,
    /// What was done about it.
    pub mended: Option<String>,
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::entries::EntryBody;

    #[test]
    fn a_fitting_from_before_stock_was_kept_took_nothing_out_of_it() {
        let kept = r#"{"kind":"part_fitted","machine":1,"part":"needle","serial":null,"at":7,"note":null}"#;
        let EntryBody::PartFitted(fitted) = serde_json::from_str(kept).unwrap() else { unreachable!() };
        assert_eq!((fitted.from_stock, fitted.off_entry, fitted.at), (None, None, UtcMillis(7)));
    }
}
