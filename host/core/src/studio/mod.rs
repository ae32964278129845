//! The maker's entries read as a whole: machines, commissions, fittings, who was on the frame when. Withdrawn entries
//! are left out here and nowhere else.

use std::collections::{BTreeMap, BTreeSet, HashMap};

use serde::Serialize;
use shared_types::{MachineTag, RecordSeq, RunMillis, UtcMillis};
use strsim::levenshtein;
use thiserror::Error;

use crate::entries::{
    BurstsAssigned, DoubtAnswered, Drive, EdgeRatio, EntryBody, EntryId, InForce, KnobMarks, MachineAdded,
    MachineRested, OILING, Pile, RugName, RugOrdered, RugWork, WorkChange,
};
use crate::records::fittings::Fittings;
use crate::records::index::Index;
use crate::records::log_records::LogKey;
use loans::{Loan, loans};
use worked::{MotorShares, Worked};

/// How many edges make how many strokes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct StrokeRatio {
    edges: u32,
    strokes: u32,
}

impl StrokeRatio {
    /// One magnet on the crank: one edge is one stroke.
    pub const ONE: Self = Self { edges: 1, strokes: 1 };

    /// A ratio, if neither part is zero.
    #[must_use]
    pub const fn new(edges: u32, strokes: u32) -> Option<Self> {
        if edges == 0 || strokes == 0 { None } else { Some(Self { edges, strokes }) }
    }

    /// Whole strokes that so many edges are; a begun stroke does not count.
    #[must_use]
    pub fn strokes(self, edges: u64) -> u64 {
        let strokes = u128::from(edges) * u128::from(self.strokes) / u128::from(self.edges);
        u64::try_from(strokes).unwrap_or(u64::MAX)
    }

    /// The two parts: edges, strokes.
    #[must_use]
    pub const fn parts(self) -> (u32, u32) {
        (self.edges, self.strokes)
    }
}

/// A machine of the studio.
#[derive(Clone, Debug, PartialEq)]
pub struct MachineCard {
    /// Its number.
    pub tag: MachineTag,
    /// Its name.
    pub name: String,
    /// What it makes.
    pub pile: Pile,
    /// What moves its needle.
    pub drive: Drive,
    /// The owner's estimate of run time before any logger was fitted.
    pub before_logger: Option<RunMillis>,
    /// Since when it is in the studio.
    pub since: UtcMillis,
    /// Whether a logger board is on it, by its owner's word; none: not said.
    pub has_logger: Option<bool>,
    /// Whether it came second-hand, with parts of unknown age.
    pub is_second_hand: bool,
    /// Since when and why it is out of use; none: it is in use.
    pub resting: Option<Rest>,
    /// The knob's end marks; the last ones entered hold for all records.
    pub marks: Option<KnobMarks>,
    /// Edges to strokes; the last one entered holds for all records.
    pub ratio: StrokeRatio,
}

/// A machine out of use.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Rest {
    /// Since when, in milliseconds UTC.
    pub since_utc_ms: UtcMillis,
    /// Why, in the maker's words.
    pub reason: Option<String>,
}

/// The place of a commission in [`Studio::rugs`].
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct RugIndex(Index);

impl RugIndex {
    /// This place.
    #[must_use]
    pub const fn of(place: usize) -> Self {
        Self(Index::of(place))
    }

    /// The place.
    #[must_use]
    pub const fn place(self) -> usize {
        self.0.place()
    }
}

/// How a commission stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum RugState {
    /// Taken, not begun.
    Ordered,
    /// On the frame.
    OnTheFrame,
    /// Resting.
    Resting,
    /// Tufting is done.
    Finished,
    /// With whoever ordered it.
    Delivered,
}

impl RugState {
    /// Whether the tufting is done.
    #[must_use]
    pub const fn is_done(self) -> bool {
        matches!(self, Self::Finished | Self::Delivered)
    }
}

/// A commission.
#[derive(Clone, Debug, PartialEq)]
pub struct Rug {
    /// What was ordered.
    pub order: RugOrdered,
    /// What happened to it, in the order of time.
    pub work: Vec<RugWork>,
    /// The names that it had before; they find it too.
    pub former_names: Vec<RugName>,
}

impl Rug {
    /// How it stands after everything that was entered. A rug that rests on one machine is on the frame while it is
    /// being worked on with another.
    #[must_use]
    pub fn state(&self) -> RugState {
        let Some(last) = self.work.last() else { return RugState::Ordered };
        let elsewhere = last.machine.is_some()
            && self.work.iter().any(|work| {
                work.machine != last.machine
                    && self.active_periods(work.machine).last().is_some_and(|(_, end)| end.is_none())
            });
        match last.change {
            WorkChange::Delivered => RugState::Delivered,
            WorkChange::Started => RugState::OnTheFrame,
            WorkChange::Paused | WorkChange::Finished if elsewhere => RugState::OnTheFrame,
            WorkChange::Paused => RugState::Resting,
            WorkChange::Finished => RugState::Finished,
        }
    }

    /// When it was being worked on with a machine: from a start, included, to the next pause or end, excluded; an
    /// open end is none. What was entered without a machine holds for every machine; bursts of no known machine see
    /// only that.
    #[must_use]
    pub fn active_periods(&self, machine: Option<MachineTag>) -> Vec<(UtcMillis, Option<UtcMillis>)> {
        let mut periods = Vec::new();
        let mut since = None;
        for work in self.work.iter().filter(|work| work.machine.is_none() || work.machine == machine) {
            match (work.change, since) {
                (WorkChange::Started, None) => since = Some(work.at),
                (WorkChange::Paused | WorkChange::Finished | WorkChange::Delivered, Some(start)) => {
                    if start < work.at {
                        periods.push((start, Some(work.at)));
                    }
                    since = None;
                }
                (WorkChange::Started, Some(_)) | (_, None) => {}
            }
        }
        periods.extend(since.map(|start| (start, None)));
        periods
    }
}

/// A name that no commission has.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[error("there is no rug called {name}")]
pub struct UnknownRug {
    /// What was asked for.
    pub name: String,
    /// Names that look like it, the nearest first; may be empty.
    pub nearest: Vec<String>,
    /// All names, in the order in which they were entered.
    pub known: Vec<String>,
}

/// Everything that the maker told, as it stands now.
#[derive(Clone, Debug, Default)]
pub struct Studio {
    /// The machines in the order of their numbers.
    pub machines: Vec<MachineCard>,
    /// The commissions in the order in which they were entered.
    pub rugs: Vec<Rug>,
    /// Which logger sat where.
    pub fittings: Fittings,
    /// Whose bursts are whose, in the order of entry.
    pub assignments: Vec<BurstsAssigned>,
    /// What was said of doubtful bursts, in the order of entry.
    pub doubt_answers: Vec<(EntryId, DoubtAnswered)>,
    /// Sessions that were typed in, in the order of entry.
    pub worked: Vec<Worked>,
    /// How long the motor runs in an hour at the frame.
    pub motor_shares: MotorShares,
    /// When which machine was oiled, as the maker entered it, in the order of entry.
    pub oilings: Vec<(MachineTag, UtcMillis)>,
    /// When which machine was lent out, in the order of entry; what ran meanwhile is not in here.
    pub loans: Vec<Loan>,
    /// Presses that were mistakes.
    pub withdrawn_presses: BTreeSet<(LogKey, RecordSeq)>,
    /// Where each commission stands in `rugs`.
    places: HashMap<RugName, RugIndex>,
}

impl Studio {
    /// Puts the entries together.
    #[must_use]
    pub fn of(entries: &InForce<'_>) -> Self {
        let mut studio = Self::default();
        let mut marks: BTreeMap<MachineTag, KnobMarks> = BTreeMap::new();
        let mut ratios: BTreeMap<MachineTag, StrokeRatio> = BTreeMap::new();
        let mut work: Vec<&RugWork> = Vec::new();
        let mut fittings = Vec::new();
        let mut rests: Vec<&MachineRested> = Vec::new();
        for entry in entries.iter() {
            match &entry.body {
                EntryBody::MachineAdded(added) => studio.add_machine(added),
                EntryBody::KnobMarked(marked) => {
                    marks.insert(marked.machine, *marked);
                }
                EntryBody::EdgeRatioSet(EdgeRatio { machine, edges, strokes }) => {
                    ratios.extend(StrokeRatio::new(*edges, *strokes).map(|ratio| (*machine, ratio)));
                }
                EntryBody::LoggerFitted(fitting) => fittings.push(fitting),
                EntryBody::MachineRested(rested) => rests.push(rested),
                EntryBody::RugOrdered(order) => studio.add_rug(order),
                EntryBody::RugWork(change) => work.push(change),
                EntryBody::BurstsAssigned(assigned) => studio.assignments.push(assigned.clone()),
                EntryBody::DoubtAnswered(answered) => studio.doubt_answers.push((entry.id, *answered)),
                EntryBody::CareDone(done) if done.task.0.eq_ignore_ascii_case(OILING) => {
                    studio.oilings.push((done.machine, done.at));
                }
                EntryBody::PressWithdrawn(press) => {
                    let log = LogKey { logger: press.logger, log: press.log };
                    studio.withdrawn_presses.insert((log, press.seq));
                }
                // Care, cloth, costs and the like read their own kinds where they are judged.
                _ => {}
            }
        }
        studio.fittings = Fittings::of(fittings);
        studio.loans = loans(entries);
        (studio.worked, studio.motor_shares) = worked::worked(entries);
        for machine in &mut studio.machines {
            machine.marks = marks.get(&machine.tag).copied();
            machine.ratio = ratios.get(&machine.tag).copied().unwrap_or(StrokeRatio::ONE);
        }
        studio.add_former_names(entries);
        rests.sort_by_key(|rested| rested.at);
        for rested in rests {
            studio.rest(rested);
        }
        // A stable sort: of two changes at the same moment the one entered later has the last word.
        work.sort_by_key(|change| change.at);
        for change in work {
            let place = studio.places.get(&change.rug);
            if let Some(rug) = place.and_then(|place| studio.rugs.get_mut(place.place())) {
                rug.work.push(change.clone());
            }
        }
        studio
    }

    fn add_machine(&mut self, added: &MachineAdded) {
        let card = MachineCard {
            tag: added.machine,
            name: added.name.clone(),
            pile: added.pile,
            drive: added.drive,
            before_logger: added.before_logger,
            since: added.since,
            has_logger: added.has_logger,
            is_second_hand: added.is_second_hand == Some(true),
            resting: None,
            marks: None,
            ratio: StrokeRatio::ONE,
        };
        match self.machines.binary_search_by_key(&card.tag, |machine| machine.tag) {
            Ok(there) => {
                if let Some(machine) = self.machines.get_mut(there) {
                    *machine = card;
                }
            }
            Err(place) => self.machines.insert(place, card),
        }
    }

    fn rest(&mut self, rested: &MachineRested) {
        if let Some(machine) = self.machines.iter_mut().find(|machine| machine.tag == rested.machine) {
            let rest = || Rest { since_utc_ms: rested.at, reason: rested.reason.clone() };
            machine.resting = rested.rests.then(rest);
        }
    }

    fn add_rug(&mut self, order: &RugOrdered) {
        let new = RugIndex::of(self.rugs.len());
        let place = *self.places.entry(order.rug.clone()).or_insert(new);
        match self.rugs.get_mut(place.place()) {
            Some(rug) => rug.order = order.clone(),
            None => self.rugs.push(Rug { order: order.clone(), work: Vec::new(), former_names: Vec::new() }),
        }
    }

    fn add_former_names(&mut self, entries: &InForce<'_>) {
        for (former, now) in entries.renames().former() {
            let Some(place) = self.rug_index(now) else { continue };
            self.places.insert(former.clone(), place);
            if let Some(rug) = self.rugs.get_mut(place.place()) {
                rug.former_names.push(former.clone());
            }
        }
    }

    /// A machine by its number.
    #[must_use]
    pub fn machine(&self, tag: MachineTag) -> Option<&MachineCard> {
        self.machines.iter().find(|machine| machine.tag == tag)
    }

    /// Whether a machine has no logger board: its owner said so, and none was ever fitted to it.
    #[must_use]
    pub fn is_without_logger(&self, tag: MachineTag) -> bool {
        self.machine(tag).is_some_and(|machine| machine.has_logger == Some(false))
            && !self.fittings.was_ever_on(tag)
    }

    /// Whether there are machines among these, and none of them has a logger board.
    pub fn are_without_logger<'a>(&self, machines: impl IntoIterator<Item = &'a MachineCard>) -> bool {
        let mut machines = machines.into_iter().map(|machine| self.is_without_logger(machine.tag)).peekable();
        machines.peek().is_some() && machines.all(|is_without| is_without)
    }

    /// Edges to strokes of a machine; one to one where nothing was said.
    #[must_use]
    pub fn ratio(&self, machine: Option<MachineTag>) -> StrokeRatio {
        machine.and_then(|tag| self.machine(tag)).map_or(StrokeRatio::ONE, |machine| machine.ratio)
    }

    /// The knob's end marks of a machine.
    #[must_use]
    pub fn marks(&self, machine: Option<MachineTag>) -> Option<&KnobMarks> {
        machine.and_then(|tag| self.machine(tag)).and_then(|machine| machine.marks.as_ref())
    }

    /// A commission's place.
    #[must_use]
    pub fn rug_index(&self, name: &RugName) -> Option<RugIndex> {
        self.places.get(name).copied()
    }

    /// A commission by its place.
    #[must_use]
    pub fn rug_at(&self, index: RugIndex) -> Option<&Rug> {
        self.rugs.get(index.place())
    }

    /// A commission by the name that the maker typed.
    ///
    /// # Errors
    /// When there is none; names the nearest ones.
    pub fn rug(&self, name: &str) -> Result<&Rug, UnknownRug> {
        let wanted = RugName(name.trim().to_owned());
        self.rug_index(&wanted).and_then(|place| self.rug_at(place)).ok_or_else(|| {
            let names: Vec<&str> = self.rugs.iter().map(|rug| rug.order.rug.0.as_str()).collect();
            let known = names.iter().map(|name| (*name).to_owned()).collect();
            UnknownRug { name: wanted.0.clone(), nearest: nearest_names(&wanted.0, &names), known }
        })
    }
}

/// The names that look like a word, the nearest first, at most five.
#[must_use]
pub fn nearest_names(word: &str, names: &[&str]) -> Vec<String> {
    let word = word.to_lowercase();
    let mut ranked: Vec<(usize, &str)> = names
        .iter()
        .filter_map(|name| {
            let lower = name.to_lowercase();
            let apart = levenshtein(&word, &lower);
            // Half of the letters; two at least, so that two swapped letters in a name of three still count.
            let near = apart <= (word.chars().count().max(lower.chars().count()) / 2).max(2)
                || (!word.is_empty() && lower.contains(&word));
            near.then_some((apart, *name))
        })
        .collect();
    ranked.sort_by_key(|(apart, _)| *apart);
    ranked.into_iter().map(|(_, name)| name.to_owned()).take(5).collect()
}

pub mod loans;
#[cfg(test)]
#[path = "studio_tests.rs"]
mod tests;
pub mod worked;
