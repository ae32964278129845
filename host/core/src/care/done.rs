//! What care was given, when, and what the maker has still to say about it.

use serde::Serialize;
use shared_types::log::PressKind;
use shared_types::{LogId, LoggerId, MachineTag, RecordSeq, UtcMillis};

use super::fitted::{NewPart, new_parts};
use super::history::History;
use super::plan::{BelongsTo, CareTask, Task};
use super::run_pieces::{Moment, Place};
use super::tasks::template;
use crate::entries::{
    CareDone, CareLimitSet, CareSkipped, CareSnoozed, CareTaskAdded, CareTaskSwitched, Entry, EntryBody,
    EntryId, Finding, Harm, InForce, OilPointChanged, WorkChange,
};
use crate::records::log_records::{LogKey, LoggedEvent};
use crate::records::when::When;
use crate::sessions::ledger::Ledger;
use crate::studio::{MachineCard, Rug, Studio};

/// A care press is taken as answered by care that was given up to this time after it, in milliseconds; half a day: many note
/// in the evening what they did at noon.
pub const ANSWERED_WITHIN_MS: u64 = 43_200_000;
/// ... or up to this time before it, in milliseconds; half an hour. What was done in the morning is not what the button was
/// pressed for in the evening.
pub const ANSWERED_FROM_MS: i64 = 1_800_000;

/// How it is known that a task was done.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Evidence {
    /// The maker entered it.
    Entered,
    /// The button at the machine was held.
    Pressed,
    /// A commission came onto the frame, so the cloth was stretched.
    ClothPutOn,
    /// A new part was fitted, which the task looks after.
    PartFitted,
    /// Nothing says that it was ever done.
    Never,
}

/// When a task was last done.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct LastDone {
    /// How that is known.
    pub evidence: Evidence,
    /// When; of a task never done, since when the machine is in the studio.
    pub moment: Moment,
    /// What was seen, if that was said.
    pub finding: Option<Finding>,
}

impl LastDone {
    /// Whether a moment comes after it; a task never done was before everything.
    #[must_use]
    pub fn is_before(&self, at: UtcMillis) -> bool {
        self.evidence == Evidence::Never || self.moment.when.earliest().is_none_or(|done| at >= done)
    }
}

/// A putting off that holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Snooze<'a> {
    /// What the maker said.
    pub entry: &'a CareSnoozed,
    /// Run time until it ends, where it ends by run time. Milliseconds.
    pub run_left_ms: Option<u64>,
}

/// A care press of which nobody has said what was done.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct OpenQuestion {
    /// The logger.
    pub logger: LoggerId,
    /// Its log.
    pub log: LogId,
    /// The press.
    pub seq: RecordSeq,
    /// When it was.
    pub when: When,
}

/// All care of one machine, withdrawn entries left out.
#[derive(Clone, Debug, Default)]
pub struct CareNotes<'a> {
    done: Vec<(EntryId, &'a CareDone)>,
    new_parts: Vec<NewPart<'a>>,
    /// Limits that the maker set, in the order of entry.
    pub limits: Vec<&'a CareLimitSet>,
    /// Tasks of the maker's own, in the order of entry; of two with one name the later.
    pub own_tasks: Vec<&'a CareTaskAdded>,
    /// Tasks switched off and on, in the order of entry.
    pub switched: Vec<&'a CareTaskSwitched>,
    /// Changes of the points to be oiled, in the order of entry.
    pub points: Vec<&'a OilPointChanged>,
    snoozed: Vec<&'a CareSnoozed>,
    skipped: Vec<&'a CareSkipped>,
    pile_heights: Vec<Moment>,
    tears: Vec<Moment>,
    presses: Vec<(PressKind, Moment)>,
    put_on: Vec<UtcMillis>,
    /// Whether a cloth is on the frame, as far as the maker said; unknown without any commission.
    pub cloth_is_on: Option<bool>,
}

impl<'a> CareNotes<'a> {
    /// Gathers them.
    #[must_use]
    pub fn of(entries: &'a InForce<'a>, studio: &Studio, ledger: &Ledger<'_>, machine: MachineTag) -> Self {
        let mut notes = Self::default();
        for entry in entries.iter() {
            notes.take(entry, machine);
        }
        notes.new_parts = new_parts(entries, machine);
        let here = |tag: Option<MachineTag>| tag.is_none() || tag == Some(machine);
        let works = || studio.rugs.iter().flat_map(|rug| &rug.work).filter(|work| here(work.machine));
        notes.put_on =
            works().filter(|work| work.change == WorkChange::Started).map(|work| work.at).collect();
        if works().next().is_some() {
            // A rug that rests here may be worked on with another machine, so its own state does not tell.
            let on_frame =
                |rug: &Rug| rug.active_periods(Some(machine)).last().is_some_and(|(_, end)| end.is_none());
            notes.cloth_is_on = Some(studio.rugs.iter().any(on_frame));
        }
        notes.presses = presses(studio, ledger, machine);
        let pressed = notes.presses.iter().filter(|(kind, _)| *kind == PressKind::Tear);
        notes.tears.extend(pressed.map(|(_, moment)| *moment));
        notes
    }

    fn take(&mut self, entry: &'a Entry, machine: MachineTag) {
        match &entry.body {
            EntryBody::CareDone(done) if done.machine == machine => self.done.push((entry.id, done)),
            EntryBody::CareLimitSet(set) if set.machine == machine => self.limits.push(set),
            EntryBody::CareTaskAdded(own) if own.machine == machine => {
                self.own_tasks.retain(|before| !before.task.0.eq_ignore_ascii_case(&own.task.0));
                self.own_tasks.push(own);
            }
            EntryBody::CareTaskSwitched(switched) if switched.machine == machine => {
                self.switched.push(switched);
            }
            EntryBody::OilPointChanged(point) if point.machine == machine => self.points.push(point),
            EntryBody::CareSnoozed(snoozed) if snoozed.machine == machine => self.snoozed.push(snoozed),
            EntryBody::CareSkipped(skipped) if skipped.machine == machine => self.skipped.push(skipped),
            EntryBody::PileHeightSet(set) if set.machine == machine => {
                self.pile_heights.push(Moment::dated(set.at));
            }
            EntryBody::TearNoted(tear) if tear.machine == machine && tear.harm == Harm::Tear => {
                self.tears.push(Moment::dated(tear.at));
            }
            _ => {}
        }
    }

    /// The tasks of a machine: the plan's, and the maker's own. A task of the maker's with the name of one of the plan's takes
    /// its place.
    #[must_use]
    pub fn tasks(&self, machine: &MachineCard) -> Vec<Task<'a>> {
        let is_own = |name: &str| self.own_tasks.iter().any(|own| own.task.0.eq_ignore_ascii_case(name));
        let of_plan =
            template(machine.pile, machine.drive).filter(|task| !is_own(task.name)).map(of_plan_task);
        of_plan.chain(self.own_tasks.iter().map(|own| Task::of_maker(own))).collect()
    }

    /// How often a task was noted as done.
    #[must_use]
    pub fn times_done(&self, task: &str) -> u64 {
        let done = self.done.iter().filter(|(_, done)| done.task.0.eq_ignore_ascii_case(task));
        u64::try_from(done.count()).unwrap_or(u64::MAX)
    }

    /// Whether the maker wants a task at all.
    #[must_use]
    pub fn is_on(&self, task: &str) -> bool {
        let last = self.switched.iter().rfind(|switched| switched.task.0.eq_ignore_ascii_case(task));
        last.is_none_or(|switched| switched.on)
    }

    /// Tears that may have come after a moment.
    #[must_use]
    pub fn tears_since(&self, last: &LastDone) -> u64 {
        count_since(&self.tears, last)
    }

    /// Changes of the pile height after a moment.
    #[must_use]
    pub fn pile_heights_since(&self, last: &LastDone) -> u64 {
        count_since(&self.pile_heights, last)
    }

    /// How often a task was left out since it was last done, and the last time of these.
    #[must_use]
    pub fn skipped_since(&self, task: &str, last: &LastDone) -> (u64, Option<&'a CareSkipped>) {
        let since: Vec<&CareSkipped> = self
            .skipped
            .iter()
            .copied()
            .filter(|skipped| skipped.task.0.eq_ignore_ascii_case(task))
            .filter(|skipped| last.is_before(skipped.at))
            .collect();
        let count = u64::try_from(since.len()).unwrap_or(u64::MAX);
        (count, since.into_iter().max_by_key(|skipped| skipped.at))
    }

    /// The putting off that holds now: the last one of the task since it was done, until the first of its limits is reached.
    #[must_use]
    pub fn snooze(
        &self,
        task: &str,
        last: &LastDone,
        history: &History,
        now: UtcMillis,
    ) -> Option<Snooze<'a>> {
        let entry = self.snoozed.iter().rfind(|snoozed| snoozed.task.0.eq_ignore_ascii_case(task))?;
        let ran = history.run_since(Moment::dated(entry.at)).cautious_ms();
        let run_left_ms = entry.for_run.map(|run| run.0.saturating_sub(ran));
        let holds = last.is_before(entry.at)
            && run_left_ms.is_none_or(|left| left > 0)
            && entry.until.is_none_or(|until| now < until);
        holds.then_some(Snooze { entry, run_left_ms })
    }

    /// When a task was last done. Of several moments the one with the least run time since is the last.
    #[must_use]
    pub fn last(&self, task: &Task<'_>, history: &History, since: UtcMillis) -> LastDone {
        let entered = self
            .done
            .iter()
            .filter(|(_, done)| done.task.0.eq_ignore_ascii_case(task.name))
            .max_by_key(|(_, done)| done.at)
            .map(|(_, done)| LastDone {
                evidence: Evidence::Entered,
                moment: Moment::dated(done.at),
                finding: done.finding,
            });
        let mut candidates: Vec<LastDone> = entered.into_iter().collect();
        let bare = |evidence, moment| LastDone { evidence, moment, finding: None };
        let fitted = self.new_parts.iter().filter(|new| task.part == Some(new.part.0.as_str()));
        let newest = fitted.map(|new| new.at).max();
        candidates.extend(newest.map(|at| bare(Evidence::PartFitted, Moment::dated(at))));
        if task.belongs_to == BelongsTo::Cloth {
            candidates.extend(self.last_retensions().map(|moment| bare(Evidence::Pressed, moment)));
            let put_on = self.put_on.iter().max().map(|at| bare(Evidence::ClothPutOn, Moment::dated(*at)));
            candidates.extend(put_on);
        }
        let never = LastDone { evidence: Evidence::Never, moment: Moment::dated(since), finding: None };
        let latest = |one: &LastDone| {
            let run = history.run_since(one.moment);
            (run.cautious_ms(), std::cmp::Reverse(one.moment.when.latest()))
        };
        match candidates[..] {
            [] => never,
            [only] => only,
            _ => candidates.into_iter().min_by_key(latest).unwrap_or(never),
        }
    }

    /// The entry that says that a task was last done; none where no entry but a button or the cloth does.
    #[must_use]
    pub fn entry_of(&self, task: &Task<'_>, last: &LastDone) -> Option<EntryId> {
        let at = last.moment.when.earliest()?;
        match last.evidence {
            Evidence::Entered => self
                .done
                .iter()
                .rfind(|(_, done)| done.at == at && done.task.0.eq_ignore_ascii_case(task.name))
                .map(|(entry, _)| *entry),
            Evidence::PartFitted => self
                .new_parts
                .iter()
                .rfind(|new| new.at == at && task.part == Some(new.part.0.as_str()))
                .map(|new| new.entry),
            Evidence::Pressed | Evidence::ClothPutOn | Evidence::Never => None,
        }
    }

    /// The entry by which a task was noted at most so long before or after a moment; the last of several.
    #[must_use]
    pub fn done_near(&self, task: &str, at: UtcMillis, within_ms: u64) -> Option<EntryId> {
        let is_near =
            |done: &CareDone| done.task.0.eq_ignore_ascii_case(task) && done.at.0.abs_diff(at.0) <= within_ms;
        self.done.iter().rfind(|(_, done)| is_near(done)).map(|(entry, _)| *entry)
    }

    /// New parts on the machine, in the order of time.
    #[must_use]
    pub fn new_parts(&self) -> &[NewPart<'a>] {
        &self.new_parts
    }

    /// The last re-tension press of each log; the order within a log is known without any clock.
    fn last_retensions(&self) -> impl Iterator<Item = Moment> + '_ {
        let pressed: Vec<Moment> = self
            .presses
            .iter()
            .filter(|(kind, _)| *kind == PressKind::Retension)
            .map(|(_, moment)| *moment)
            .collect();
        let log = |moment: &Moment| moment.place.map(|place| place.log);
        let last: Vec<Moment> = pressed
            .chunk_by(|one, next| log(one) == log(next))
            .filter_map(|of_log| of_log.last().copied())
            .collect();
        last.into_iter()
    }

    /// Care presses without an answer, the newest last. They set no task back: it is not known what was done.
    #[must_use]
    pub fn open_questions(&self) -> Vec<OpenQuestion> {
        self.presses
            .iter()
            .filter(|(kind, moment)| *kind == PressKind::CareDone && !self.is_answered(*moment))
            .filter_map(|(_, moment)| {
                let place = moment.place?;
                let LogKey { logger, log } = place.log;
                Some(OpenQuestion { logger, log, seq: place.seq, when: moment.when })
            })
            .collect()
    }

    fn is_answered(&self, press: Moment) -> bool {
        let margin = i64::try_from(ANSWERED_WITHIN_MS).unwrap_or(i64::MAX);
        let (Some(earliest), Some(latest)) = (press.when.earliest(), press.when.latest()) else {
            return false;
        };
        let done = self.done.iter().map(|(_, done)| done.at);
        done.chain(self.new_parts.iter().map(|new| new.at)).any(|done| {
            earliest.0.saturating_sub(ANSWERED_FROM_MS) <= done.0 && done.0 <= latest.0.saturating_add(margin)
        })
    }
}

/// A task of the plan among tasks that live no longer than the entries.
fn of_plan_task<'a>(task: &'static CareTask) -> Task<'a> {
    *task
}

fn count_since(moments: &[Moment], last: &LastDone) -> u64 {
    let since = moments
        .iter()
        .filter(|moment| last.evidence == Evidence::Never || may_be_after(**moment, last.moment));
    u64::try_from(since.count()).unwrap_or(u64::MAX)
}

/// Whether one moment may lie after another; within one log the order of records tells.
fn may_be_after(event: Moment, moment: Moment) -> bool {
    match (event.place, moment.place) {
        (Some(event), Some(place)) if event.log == place.log => event.seq > place.seq,
        _ => event.when.latest().zip(moment.when.earliest()).is_none_or(|(event, at)| event > at),
    }
}

fn presses(studio: &Studio, ledger: &Ledger<'_>, machine: MachineTag) -> Vec<(PressKind, Moment)> {
    let mut presses = Vec::new();
    for log in &ledger.logs {
        let key = log.facts.key;
        for event in &log.facts.events {
            let LoggedEvent::Press(press) = &event.what else { continue };
            let stands = !studio.withdrawn_presses.contains(&(key, event.seq));
            if stands && studio.fittings.machine_of(key, event.seq) == Some(machine) {
                let place = Place { log: key, seq: event.seq, boot: event.boot, at: event.at };
                let when = log.timeline.when(event.boot, event.at);
                presses.push((press.kind, Moment { when, place: Some(place) }));
            }
        }
    }
    presses
}
