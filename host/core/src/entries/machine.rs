//! Entries about a machine: what it is, how its knob and crank are read, which logger sits on it.

use serde::{Deserialize, Serialize};
use shared_types::{LogId, LoggerId, MachineTag, RawAngle, RecordSeq, RunMillis, UtcMillis};

use super::PersonTag;

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

/// What moves the needle of a machine.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Drive {
    /// A motor.
    #[default]
    Electric,
    /// Compressed air.
    Pneumatic,
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
    /// What moves its needle; entries from before there was a choice mean a motor.
    #[serde(default)]
    pub drive: Drive,
    /// Whether a logger board is on it, by its owner's word; none: not said.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub has_logger: Option<bool>,
    /// Whether it came second-hand, with parts of unknown age; none: not said.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub is_second_hand: Option<bool>,
}

impl MachineAdded {
    /// The name of a machine that was entered by itself, without a word of its maker.
    #[must_use]
    pub fn unsaid_name(machine: MachineTag) -> String {
        format!("Machine {}", machine.0)
    }
}

/// A machine was taken out of use, or back into use.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct MachineRested {
    /// The machine.
    pub machine: MachineTag,
    /// When.
    pub at: UtcMillis,
    /// Whether it is out of use from then on.
    pub rests: bool,
    /// Why, in the maker's words.
    pub reason: Option<String>,
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

/// How a reading came about.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum ReadingSource {
    /// What had been counted when it was entered, whatever moment it tells of: entries from before the others were known.
    #[default]
    WhenEntered,
    /// From the records, which reach to that moment.
    Log,
    /// From the records, which end before that moment; the machine may have run more by then.
    LogSoFar,
    /// The maker typed it.
    Typed,
    /// Nothing tells: no logger had been read.
    NotKnown,
}

/// A machine's reading at a moment: what its loggers had counted, with the owner's estimate before the logger left out, or
/// what the maker typed.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct MeterReading {
    /// Run time; at least so much where `run_at_most` is given; none where it is not known.
    pub run: Option<RunMillis>,
    /// Whole strokes; at least so many where `strokes_at_most` is given; none where they are not known.
    pub strokes: Option<u64>,
    /// The most run time that it can have been, where the moment falls into running whose date is not exact.
    #[serde(default)]
    pub run_at_most: Option<RunMillis>,
    /// The most whole strokes that it can have been.
    #[serde(default)]
    pub strokes_at_most: Option<u64>,
    /// How it came about.
    #[serde(default)]
    pub source: ReadingSource,
}

/// A machine was lent out.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct MachineLent {
    /// The machine.
    pub machine: MachineTag,
    /// The borrower.
    pub to: PersonTag,
    /// When.
    pub at: UtcMillis,
    /// The condition in which it left, in the maker's words.
    pub condition: Option<String>,
    /// What had been counted at that moment, as far as it was known when this was entered.
    pub reading: MeterReading,
}

/// A machine came back.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct MachineReturned {
    /// The machine.
    pub machine: MachineTag,
    /// When.
    pub at: UtcMillis,
    /// The condition in which it came back, in the maker's words.
    pub condition: Option<String>,
    /// What had been counted at that moment, as far as it was known when this was entered.
    pub reading: MeterReading,
}

#[cfg(test)]
mod tests {
    use crate::entries::EntryBody;

    #[test]
    fn a_machine_from_before_loggers_were_asked_for_is_written_back_byte_for_byte() {
        let kept = r#"{"kind":"machine_added","machine":1,"name":"Rosie","pile":"cut","before_logger":null,"since":7,"drive":"electric"}"#;
        let body: EntryBody = serde_json::from_str(kept).unwrap();
        assert!(matches!(&body, EntryBody::MachineAdded(of) if of.has_logger.is_none()));
        assert_eq!(serde_json::to_string(&body).unwrap(), kept);
    }

    #[test]
    fn what_was_said_of_a_logger_of_age_and_of_rest_is_read_back_as_it_was_written() {
        for kept in [
            r#"{"kind":"machine_added","machine":1,"name":"Rosie","pile":"cut","before_logger":null,"since":7,"drive":"electric","has_logger":false,"is_second_hand":true}"#,
            r#"{"kind":"machine_rested","machine":1,"at":7,"rests":true,"reason":"gear broken"}"#,
        ] {
            let body: EntryBody = serde_json::from_str(kept).unwrap();
            assert_eq!(serde_json::to_string(&body).unwrap(), kept);
        }
    }
}
