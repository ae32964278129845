//! Entering machines: number and name, the knob's end marks, edges to strokes, which logger sits where.

use serde::Serialize;
use shared_types::{MachineTag, RawAngle, RunMillis};

use super::error::MachineError;
use crate::app::logger::{KnobEnds, loggers_on};
use crate::app::ports::{Clock, Store};
use crate::app::typed::choose_machine;
use crate::app::typed::dates::Given;
use crate::app::typed::error::RequestError;
use crate::app::typed::names::checked_name;
use crate::app::whole_book::Book;
use host_core::entries::{Drive, EdgeRatio, EntryBody, KnobMarks, MachineAdded, PersonTag, Pile};
use host_core::stats::HOUR_MS;
use host_core::studio::loans::{Loan, loans};
use host_core::studio::{MachineCard, Rest, Studio};

/// The end marks of a knob are at least this far apart, in steps of a turn (about 18 degrees); a real knob turns
/// through more than half a turn.
const SHORTEST_TRAVEL: u16 = 205;
/// No crank has more magnets, and no gear train counts more edges per stroke.
const MOST_EDGES: u32 = 1_000;
/// The longest estimate that a hand machine can have behind it, in hours.
const MOST_HOURS_BEFORE: u32 = 50_000;

/// A machine to be entered.
#[derive(Clone, Debug)]
pub struct NewMachine {
    /// Its name.
    pub name: String,
    /// What it makes.
    pub pile: Pile,
    /// What moves its needle.
    pub drive: Drive,
    /// The owner's estimate of run time so far, in hours.
    pub hours_before: Option<u32>,
    /// Since when it is in the studio; none: from today on.
    pub since: Option<Given>,
    /// Whether a logger board is on it; none: not said.
    pub has_logger: Option<bool>,
    /// Whether it came second-hand, with parts of unknown age; none: not said.
    pub is_second_hand: Option<bool>,
}

/// A machine that was entered.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct AddedReport {
    /// What was entered.
    #[serde(flatten)]
    pub added: MachineAdded,
    /// The only machine before it, where that had entered itself and nobody named it: perhaps the same one.
    pub unnamed: Option<MachineTag>,
}

/// The only machine there is, where it entered itself when its logger was read and nobody named it.
#[must_use]
pub fn unnamed(studio: &Studio) -> Option<&MachineCard> {
    match studio.machines.as_slice() {
        [only] if only.name == MachineAdded::unsaid_name(only.tag) => Some(only),
        _ => None,
    }
}

/// Enters a machine.
///
/// # Errors
/// When the name is empty, too long or taken, the estimate is beyond any machine's life or contradicts its age, or the store
/// fails.
pub fn add(store: &mut impl Store, clock: &impl Clock, new: NewMachine) -> Result<AddedReport, MachineError> {
    let name = checked_name("the machine's name", &new.name)?;
    let before_logger = new.hours_before.map(hours_before).transpose()?;
    let entries = store.entries()?;
    let studio = Studio::of(&entries);
    check_is_free(&studio, &name, None)?;
    let machine = entries.next_machine();
    let added = MachineAdded {
        machine,
        name,
        pile: new.pile,
        before_logger,
        since: new.since.map_or_else(|| clock.now(), |since| since.start(clock)),
        drive: new.drive,
        has_logger: new.has_logger,
        is_second_hand: new.is_second_hand,
    };
    check_age(&added)?;
    store.add_entry(clock.now(), &EntryBody::MachineAdded(added.clone()))?;
    Ok(AddedReport { added, unnamed: unnamed(&studio).map(|card| card.tag) })
}

/// Refuses a machine that is new and second-hand at once.
pub(super) fn check_age(added: &MachineAdded) -> Result<(), MachineError> {
    let is_new = added.before_logger.is_some_and(|before| before.0 == 0);
    match added.is_second_hand {
        Some(true) if is_new => Err(MachineError::NewAndSecondHand(added.name.clone())),
        _ => Ok(()),
    }
}

/// The owner's estimate in the unit of the records.
pub(super) fn hours_before(hours: u32) -> Result<RunMillis, RequestError> {
    if hours > MOST_HOURS_BEFORE {
        return Err(RequestError::OutOfRange {
            what: "the estimate of hours before",
            range: "0 to 50000",
            given: hours.to_string(),
        });
    }
    Ok(RunMillis(u64::from(hours) * HOUR_MS))
}

/// Refuses a name that another machine than `but` has.
pub(super) fn check_is_free(
    studio: &Studio,
    name: &str,
    but: Option<MachineTag>,
) -> Result<(), MachineError> {
    let same = |card: &&MachineCard| card.name.to_lowercase() == name.to_lowercase() && Some(card.tag) != but;
    match studio.machines.iter().find(same) {
        Some(card) => Err(MachineError::NameTaken { machine: card.tag.0, name: card.name.clone() }),
        None => Ok(()),
    }
}

/// Enters the angles at the ends of the knob's travel, 0 to 4095. Holds for all records, old ones too.
///
/// # Errors
/// When an angle is beyond 4095, the marks are too close together, or the machine is not clear.
pub fn calibrate(
    store: &mut impl Store,
    clock: &impl Clock,
    machine: Option<u32>,
    ends: KnobEnds,
) -> Result<KnobMarks, RequestError> {
    let studio = Studio::of(&store.entries()?);
    let machine = choose_machine::machine(&studio, machine)?.tag;
    let angle = |what, steps: u32| match u16::try_from(steps) {
        Ok(steps) if steps < RawAngle::STEPS => Ok(RawAngle::new(steps)),
        _ => Err(RequestError::OutOfRange { what, range: "0 to 4095", given: steps.to_string() }),
    };
    let slow = angle("the angle at the slow end", ends.slow)?;
    let fast = angle("the angle at the fast end", ends.fast)?;
    if slow.distance(fast) < SHORTEST_TRAVEL {
        return Err(RequestError::OutOfRange {
            what: "the distance between the two ends",
            range: "at least 205 steps (18 degrees)",
            given: format!("{} steps", slow.distance(fast)),
        });
    }
    let marks = KnobMarks { machine, slow, fast, rising: !ends.falling };
    store.add_entry(clock.now(), &EntryBody::KnobMarked(marks))?;
    Ok(marks)
}

/// Enters how many edges make how many strokes. Holds for all records, old ones too.
///
/// # Errors
/// When a number is not 1 to 1000, or the machine is not clear.
pub fn set_ratio(
    store: &mut impl Store,
    clock: &impl Clock,
    machine: Option<u32>,
    edges: u32,
    strokes: u32,
) -> Result<EdgeRatio, RequestError> {
    let studio = Studio::of(&store.entries()?);
    let machine = choose_machine::machine(&studio, machine)?.tag;
    for (what, number) in [("the number of edges", edges), ("the number of strokes", strokes)] {
        if !(1..=MOST_EDGES).contains(&number) {
            return Err(RequestError::OutOfRange { what, range: "1 to 1000", given: number.to_string() });
        }
    }
    let ratio = EdgeRatio { machine, edges, strokes };
    store.add_entry(clock.now(), &EntryBody::EdgeRatioSet(ratio))?;
    Ok(ratio)
}

/// One machine in the list.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct MachineLine {
    /// Its number.
    pub machine: u32,
    /// Its name.
    pub name: String,
    /// What it makes.
    pub pile: Pile,
    /// What moves its needle.
    pub drive: Drive,
    /// Since when it is in the studio, in milliseconds UTC.
    pub since_utc_ms: i64,
    /// The owner's estimate of run time before any logger was fitted, in milliseconds.
    pub before_logger_run_time_ms: Option<u64>,
    /// Edges that make `strokes` strokes.
    pub edges: u32,
    /// Strokes that `edges` edges make.
    pub strokes: u32,
    /// The knob's end marks, if they were read.
    pub knob_marks: Option<MarksLine>,
    /// The loggers that sit on it now, by identity in hexadecimal.
    pub loggers: Vec<String>,
    /// Whether it has a logger board: one was fitted once, or its owner said so; null: not said.
    pub has_logger: Option<bool>,
    /// Whether it came second-hand, with parts of unknown age.
    pub is_second_hand: bool,
    /// Since when and why it is out of use; null: it is in use.
    pub resting: Option<Rest>,
    /// The number of the person to whom it is lent now; none: it is here.
    pub lent_to: Option<PersonTag>,
}

/// The knob's end marks.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct MarksLine {
    /// Angle at the slow end, in steps of 4096 to a turn.
    pub slow_steps: u16,
    /// Angle at the fast end, in steps of 4096 to a turn.
    pub fast_steps: u16,
    /// Whether the angle grows from slow to fast.
    pub rising: bool,
}

/// The answer of `machine list`.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct MachineList {
    /// The machines in the order of their numbers.
    pub machines: Vec<MachineLine>,
    /// Loggers that sit on no machine, by identity in hexadecimal.
    pub loggers_on_no_machine: Vec<String>,
}

/// Lists the machines.
///
/// # Errors
/// When the store cannot be read.
pub fn list(store: &impl Store) -> Result<MachineList, RequestError> {
    let book = Book::read(store)?;
    let on = |machine: Option<MachineTag>| loggers_on(&book, machine);
    let away: Vec<Loan> = loans(&book.entries).into_iter().filter(Loan::is_away).collect();
    let line = |machine: &MachineCard| {
        let (edges, strokes) = machine.ratio.parts();
        MachineLine {
            machine: machine.tag.0,
            name: machine.name.clone(),
            pile: machine.pile,
            drive: machine.drive,
            since_utc_ms: machine.since.0,
            before_logger_run_time_ms: machine.before_logger.map(|run| run.0),
            edges,
            strokes,
            knob_marks: machine.marks.map(|marks| MarksLine {
                slow_steps: marks.slow.steps(),
                fast_steps: marks.fast.steps(),
                rising: marks.rising,
            }),
            loggers: on(Some(machine.tag)),
            has_logger: match book.studio.is_without_logger(machine.tag) {
                true => Some(false),
                false if book.studio.fittings.was_ever_on(machine.tag) => Some(true),
                false => machine.has_logger,
            },
            is_second_hand: machine.is_second_hand,
            resting: machine.resting.clone(),
            lent_to: away.iter().find(|loan| loan.machine == machine.tag).map(|loan| loan.to),
        }
    };
    Ok(MachineList {
        machines: book.studio.machines.iter().map(line).collect(),
        loggers_on_no_machine: on(None),
    })
}
