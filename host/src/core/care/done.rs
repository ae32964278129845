//! What care was given, when, and what the maker has still to say about it.

use serde::Serialize;
use shared_types::log::PressKind;
use shared_types::{LogId, LoggerId, MachineTag, RecordSeq, UtcMillis};

use super::history::{History, Moment, Place};
use super::plan::{BelongsTo, CareTask};
use crate::core::entries::{CareDone, CareLimitSet, Entry, EntryBody, Finding, WorkChange};
use crate::core::facts::{Happening, LogKey};
use crate::core::ledger::Ledger;
use crate::core::studio::{RugState, Studio, standing};
use crate::core::when::When;

/// A care press is taken as answered by care entered within this time of it, in milliseconds; half a day.
pub const ANSWERED_WITHIN_MS: u64 = 43_200_000;

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
pub struct CareNotes {
    done: Vec<CareDone>,
    /// Limits that the maker set, in the order of entry.
    pub limits: Vec<CareLimitSet>,
    presses: Vec<(PressKind, Moment)>,
    put_on: Vec<UtcMillis>,
    /// Whether a cloth is on the frame, as far as the maker said; unknown without any commission.
    pub cloth_is_on: Option<bool>,
}

impl CareNotes {
    /// Gathers them.
    #[must_use]
    pub fn of(entries: &[Entry], studio: &Studio, ledger: &Ledger<'_>, machine: MachineTag) -> Self {
        let mut notes = Self::default();
        for entry in standing(entries) {
            match &entry.body {
                EntryBody::CareDone(done) if done.machine == machine => notes.done.push(done.clone()),
                EntryBody::CareLimitSet(set) if set.machine == machine => notes.limits.push(set.clone()),
                _ => {}
            }
        }
        let here = |tag: Option<MachineTag>| tag.is_none() || tag == Some(machine);
        let works = || studio.rugs.iter().flat_map(|rug| &rug.work).filter(|work| here(work.machine));
        notes.put_on =
            works().filter(|work| work.change == WorkChange::Started).map(|work| work.at).collect();
        if works().next().is_some() {
            let on_frame = |rug: &crate::core::studio::Rug| {
                rug.state() == RugState::OnTheFrame && rug.work.last().is_some_and(|work| here(work.machine))
            };
            notes.cloth_is_on = Some(studio.rugs.iter().any(on_frame));
        }
        notes.presses = presses(studio, ledger, machine);
        notes
    }

    /// When a task was last done. Of several moments the one with the least run time since is the last.
    #[must_use]
    pub fn last(&self, task: &CareTask, history: &History, since: UtcMillis) -> LastDone {
        let entered = self
            .done
            .iter()
            .filter(|done| done.task.0.eq_ignore_ascii_case(task.name))
            .max_by_key(|done| done.at)
            .map(|done| LastDone {
                evidence: Evidence::Entered,
                moment: Moment::dated(done.at),
                finding: done.finding,
            });
        let mut candidates: Vec<LastDone> = entered.into_iter().collect();
        if task.belongs_to == BelongsTo::Cloth {
            let bare = |evidence, moment| LastDone { evidence, moment, finding: None };
            candidates.extend(self.last_retensions().map(|moment| bare(Evidence::Pressed, moment)));
            let put_on = self.put_on.iter().max().map(|at| bare(Evidence::ClothPutOn, Moment::dated(*at)));
            candidates.extend(put_on);
        }
        let never = LastDone { evidence: Evidence::Never, moment: Moment::dated(since), finding: None };
        let latest = |one: &LastDone| {
            let run = history.run_since(one.moment);
            (run.cautious_ms(), std::cmp::Reverse(one.moment.when.latest()))
        };
        candidates.into_iter().min_by_key(latest).unwrap_or(never)
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
        self.done.iter().any(|done| {
            earliest.0.saturating_sub(margin) <= done.at.0 && done.at.0 <= latest.0.saturating_add(margin)
        })
    }
}

fn presses(studio: &Studio, ledger: &Ledger<'_>, machine: MachineTag) -> Vec<(PressKind, Moment)> {
    let mut presses = Vec::new();
    for log in &ledger.logs {
        let key = log.facts.key;
        for event in &log.facts.events {
            let Happening::Press(press) = &event.what else { continue };
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
