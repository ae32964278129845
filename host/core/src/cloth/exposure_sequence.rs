//! What a machine did on cloth, as a course of steps in the order in which they happened: running, tears, near-misses, re-tensioning.
//! The log gives such a course, and so does a simulation; every comparison starts from it.

use std::collections::BTreeMap;

use shared_types::log::PressKind;
use shared_types::{BootId, MachineTag, UptimeMillis, UtcMillis};

use super::harms::{HarmId, HarmRecord};
use super::speed_by::rate_in_tenths;
use crate::entries::{EntryBody, Harm, InForce, RETENSION, WorkChange};
use crate::records::bursts::Piece;
use crate::records::index::Index;
use crate::records::log_records::LoggedEvent;
use crate::sessions::holder::Holder;
use crate::sessions::ledger::{Ledger, LedgerLine, LedgerLog};
use crate::studio::{RugIndex, StrokeRatio, Studio};

/// A number for a piece or roll of cloth.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct LotIndex(Index);

impl LotIndex {
    /// This number.
    #[must_use]
    pub const fn of(number: usize) -> Self {
        Self(Index::of(number))
    }

    /// The number.
    #[must_use]
    pub const fn number(self) -> usize {
        self.0.place()
    }
}

/// A stretch of running at one place of the knob.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Ran {
    /// The rug on the frame.
    pub rug: Option<RugIndex>,
    /// Its cloth.
    pub lot: Option<LotIndex>,
    /// The knob's place, per mille of travel.
    pub knob: Option<u32>,
    /// Tenths of a stroke per second.
    pub rate: Option<u32>,
    /// Run time in milliseconds.
    pub run_ms: u64,
    /// Edges.
    pub edges: u64,
}

/// A tear or near-miss.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Hurt {
    /// Its name; none in a course that was made up.
    pub id: Option<HarmId>,
    /// Which of the two.
    pub harm: Harm,
    /// The rug.
    pub rug: Option<RugIndex>,
    /// The cloth.
    pub lot: Option<LotIndex>,
    /// The knob's place before it.
    pub knob: Option<u32>,
}

/// One step.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Step {
    /// The machine ran.
    Ran(Ran),
    /// The cloth was hurt.
    Hurt(Hurt),
    /// The cloth was tensioned again, or put on the frame.
    Tensioned,
}

/// A machine's course.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct ExposureSequence {
    /// In the order in which they happened, as far as that is known.
    pub steps: Vec<Step>,
    /// The cloth lots, by their numbers.
    pub lots: Vec<String>,
}

impl ExposureSequence {
    /// Gathers a machine's course from all logs, each log in its own order, the log that began first at first. What was entered
    /// by hand stands where its date puts it. Dry runs and test runs are left out: there is no cloth to tear.
    #[must_use]
    pub fn of(
        entries: &InForce<'_>,
        studio: &Studio,
        ledger: &Ledger<'_>,
        harms: &[HarmRecord],
        machine: MachineTag,
    ) -> Self {
        let mut lots = Lots::default();
        let own: Vec<&HarmRecord> =
            harms.iter().filter(|harm| harm.counts() && harm.machine == Some(machine)).collect();
        let mut logs: Vec<&LedgerLog<'_>> = ledger.logs.iter().collect();
        let began = |log: &LedgerLog<'_>| {
            let first = log.lines.iter().find(|line| line.machine == Some(machine));
            first.and_then(|line| line.when.latest())
        };
        logs.sort_by_key(|log| (began(log).unwrap_or(UtcMillis(i64::MAX)), log.facts.key));
        let steps = Vec::with_capacity(logs.iter().map(|log| log.facts.segments.len()).sum());
        let mut told = TellingLog { studio, machine, lots: &mut lots, steps, last: None };
        for log in logs {
            told.add(log, &own);
        }
        let by_log = told.steps;
        let entered = by_hand(entries, studio, &own, machine, &mut lots);
        Self { steps: merged(by_log, entered), lots: lots.names }
    }
}

/// Names of cloth to numbers.
#[derive(Debug, Default)]
struct Lots {
    names: Vec<String>,
}

impl Lots {
    fn index(&mut self, name: &str) -> LotIndex {
        let known = self.names.iter().position(|known| known.eq_ignore_ascii_case(name));
        LotIndex::of(known.unwrap_or_else(|| {
            self.names.push(name.to_owned());
            self.names.len() - 1
        }))
    }
}

/// Turns logs into dated steps.
struct TellingLog<'a> {
    studio: &'a Studio,
    machine: MachineTag,
    lots: &'a mut Lots,
    steps: Vec<(Option<UtcMillis>, Step)>,
    /// The rug of the last burst, and its lot.
    last: Option<(RugIndex, Option<LotIndex>)>,
}

impl TellingLog<'_> {
    fn add(&mut self, log: &LedgerLog<'_>, harms: &[&HarmRecord]) {
        let mut between = self.between(log, harms);
        between.sort_by_key(|(boot, at, _)| (*boot, *at));
        let mut between = between.into_iter().peekable();
        let mut before: Option<&LedgerLine> = None;
        let machine = Some(self.machine);
        let (marks, ratio) = (self.studio.marks(machine), self.studio.ratio(machine));
        for line in log.lines.iter().filter(|line| line.machine == machine) {
            before = Some(line);
            // A press during a burst comes, by its uptime, before the later pieces of the burst.
            let rug = match line.attribution.holder {
                Holder::Care => continue,
                Holder::Rug(rug) => Some(rug),
                Holder::Unassigned | Holder::Undated => None,
            };
            let lot = rug.and_then(|rug| self.lot_of(rug));
            for piece in line.burst.pieces(&log.facts.segments, marks) {
                while let Some((_, _, step)) =
                    between.next_if(|(boot, at, _)| (*boot, *at) < (line.burst.boot, piece.at))
                {
                    self.steps.push((line.when.earliest(), step));
                }
                self.steps.push((line.when.earliest(), Step::Ran(ran(&piece, rug, lot, ratio))));
            }
        }
        let end = before.and_then(|line| line.when.earliest());
        self.steps.extend(between.map(|(_, _, step)| (end, step)));
    }

    fn between(&mut self, log: &LedgerLog<'_>, harms: &[&HarmRecord]) -> Vec<(BootId, UptimeMillis, Step)> {
        let mut harms_by_seq: BTreeMap<u32, &HarmRecord> = BTreeMap::new();
        for harm in harms {
            if let HarmId::Press(key, seq) = harm.id
                && key == log.facts.key
            {
                harms_by_seq.insert(seq.0, harm);
            }
        }
        let mut found = Vec::new();
        for event in &log.facts.events {
            let step = match &event.what {
                LoggedEvent::Press(press) if press.kind == PressKind::Retension => {
                    let here = self.studio.fittings.machine_of(log.facts.key, event.seq);
                    let counts = here == Some(self.machine)
                        && !self.studio.withdrawn_presses.contains(&(log.facts.key, event.seq));
                    counts.then_some(Step::Tensioned)
                }
                LoggedEvent::Press(_) => {
                    harms_by_seq.get(&event.seq.0).map(|harm| Step::Hurt(hurt(self.studio, harm, self.lots)))
                }
                _ => None,
            };
            found.extend(step.map(|step| (event.boot, event.at, step)));
        }
        found
    }

    fn lot_of(&mut self, rug: RugIndex) -> Option<LotIndex> {
        if let Some((last, lot)) = self.last
            && last == rug
        {
            return lot;
        }
        let name = self.studio.rug_at(rug).and_then(|rug| rug.order.cloth_lot.as_deref());
        let lot = name.map(|name| self.lots.index(name));
        self.last = Some((rug, lot));
        lot
    }
}

fn ran(piece: &Piece, rug: Option<RugIndex>, lot: Option<LotIndex>, ratio: StrokeRatio) -> Ran {
    let periods = u64::from(piece.edges).saturating_sub(u64::from(!piece.continues));
    Ran {
        rug,
        lot,
        knob: piece.knob.map(|place| u32::from(place.per_mille.get())),
        rate: rate_in_tenths(periods, piece.run.0, ratio),
        run_ms: piece.run.0,
        edges: u64::from(piece.edges),
    }
}

fn hurt(studio: &Studio, harm: &HarmRecord, lots: &mut Lots) -> Hurt {
    Hurt {
        id: Some(harm.id),
        harm: harm.harm,
        rug: harm.rug.as_ref().and_then(|rug| studio.rug_index(rug)),
        lot: harm.cloth_lot.as_deref().map(|name| lots.index(name)),
        knob: harm.knob_before.map(|knob| u32::from(knob.get())),
    }
}

/// What was entered by hand, in the order of its dates.
fn by_hand(
    entries: &InForce<'_>,
    studio: &Studio,
    harms: &[&HarmRecord],
    machine: MachineTag,
    lots: &mut Lots,
) -> Vec<(UtcMillis, Step)> {
    let mut entered: Vec<(UtcMillis, Step)> = Vec::new();
    for harm in harms.iter().filter(|harm| matches!(harm.id, HarmId::Entry(_))) {
        if let Some(at) = harm.when.earliest() {
            entered.push((at, Step::Hurt(hurt(studio, harm, lots))));
        }
    }
    for entry in entries.iter() {
        match &entry.body {
            EntryBody::CareDone(done) if done.machine == machine && done.task.0 == RETENSION => {
                entered.push((done.at, Step::Tensioned));
            }
            EntryBody::RugWork(work)
                if work.change == WorkChange::Started && work.machine.is_none_or(|on| on == machine) =>
            {
                entered.push((work.at, Step::Tensioned));
            }
            _ => {}
        }
    }
    entered.sort_by_key(|(at, _)| *at);
    entered
}

/// Puts what was entered by hand where its date belongs: after the last step that had begun by then.
fn merged(by_log: Vec<(Option<UtcMillis>, Step)>, entered: Vec<(UtcMillis, Step)>) -> Vec<Step> {
    if entered.is_empty() {
        return by_log.into_iter().map(|(_, step)| step).collect();
    }
    let mut steps = Vec::with_capacity(by_log.len() + entered.len());
    let mut entered = entered.into_iter().peekable();
    for (began, step) in by_log {
        while let Some((_, step)) = entered.next_if(|(at, _)| began.is_some_and(|began| *at < began)) {
            steps.push(step);
        }
        steps.push(step);
    }
    steps.extend(entered.map(|(_, step)| step));
    steps
}
