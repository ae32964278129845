//! Every tear and near-miss that is known, from the machine's buttons and from the maker's entries, with what is known of it.
//! Withdrawn ones stay in the list, marked, and count nowhere.

use std::collections::BTreeMap;
use std::fmt;

use serde::Serialize;
use shared_types::log::{Press, PressKind};
use shared_types::{MachineTag, RecordSeq, UtcMillis};

use super::before::before;
use super::speed_by::rate_in_tenths;
use crate::entries::harm_answers::{Answers, Question};
use crate::entries::{Entry, EntryBody, EntryId, Harm, InForce, RugName, TearDetails};
use crate::records::knob::PerMille;
use crate::records::log_records::{EventFact, LogKey, LoggedEvent};
use crate::records::when::When;
use crate::rugs::sheet::HarmCounts;
use crate::sessions::SESSION_GAP_MS;
use crate::sessions::attribution::active_at;
use crate::sessions::holder::{Attribution, Basis, Holder};
use crate::sessions::ledger::{Ledger, LedgerLine, LedgerLog};
use crate::studio::Studio;

/// What names a tear or near-miss for good.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum HarmId {
    /// A press at the machine.
    Press(LogKey, RecordSeq),
    /// An entry.
    Entry(EntryId),
}

impl fmt::Display for HarmId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Press(log, seq) => write!(f, "p{}-{:08x}", seq.0, log.log.0),
            Self::Entry(entry) => write!(f, "e{}", entry.0),
        }
    }
}

impl Serialize for HarmId {
    fn serialize<S: serde::Serializer>(&self, out: S) -> Result<S::Ok, S::Error> {
        out.collect_str(self)
    }
}

impl HarmId {
    /// Whether the maker may mean this one: its full name, or a press without the log's mark.
    #[must_use]
    pub fn is_meant_by(&self, word: &str) -> bool {
        let full = self.to_string();
        let word = word.trim();
        full.eq_ignore_ascii_case(word)
            || full.split_once('-').is_some_and(|(short, _)| short.eq_ignore_ascii_case(word))
    }
}

/// A tear or near-miss.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct HarmRecord {
    /// Its name.
    pub id: HarmId,
    /// Which of the two.
    pub harm: Harm,
    /// The machine.
    pub machine: Option<MachineTag>,
    /// When.
    pub when: When,
    /// The knob before it, per mille of travel.
    #[serde(rename = "knob_before_per_mille")]
    pub knob_before: Option<PerMille>,
    /// The rate before it, in tenths of a stroke per second.
    #[serde(rename = "rate_before_tenths_of_strokes_per_second")]
    pub rate_before: Option<u32>,
    /// The commission, said or assumed.
    pub rug: Option<RugName>,
    /// Whether the commission was worked out, from the burst before it or from what was on the frame, instead of being said.
    pub rug_is_assumed: bool,
    /// The cloth, if that was said, or the commission's.
    pub cloth_lot: Option<String>,
    /// Anything else.
    pub note: Option<String>,
    /// What else the maker knows of it.
    pub answers: Answers,
    /// What would help to know, at most two things; none for what was taken back.
    pub open_questions: Vec<Question>,
    /// Why it was taken back; none while it counts.
    pub withdrawn: Option<String>,
}

impl HarmRecord {
    /// Whether it counts.
    #[must_use]
    pub fn counts(&self) -> bool {
        self.withdrawn.is_none()
    }
}

/// All of them: presses in the order of logs and records, then entries in the order of entry.
#[must_use]
pub fn harms(entries: &InForce<'_>, studio: &Studio, ledger: &Ledger<'_>) -> Vec<HarmRecord> {
    let said = Said::of(entries);
    let mut harms = Vec::new();
    for log in &ledger.logs {
        for event in &log.facts.events {
            if let LoggedEvent::Press(press) = &event.what {
                harms.extend(pressed(studio, log, event, press, &said));
            }
        }
    }
    harms.extend(noted(entries, studio, ledger, &said));
    harms
}

/// What entries say about presses, and about what was noted by hand.
struct Said {
    answers: BTreeMap<HarmId, TearDetails>,
    withdrawn: BTreeMap<(LogKey, RecordSeq), String>,
}

impl Said {
    fn of(entries: &InForce<'_>) -> Self {
        let mut said = Self { answers: BTreeMap::new(), withdrawn: BTreeMap::new() };
        for entry in entries.iter() {
            match &entry.body {
                EntryBody::PressAnswered(answer) => {
                    let log = LogKey { logger: answer.logger, log: answer.log };
                    said.add(HarmId::Press(log, answer.seq), &answer.details);
                }
                EntryBody::TearAnswered(answer) => said.add(HarmId::Entry(answer.entry), &answer.details),
                EntryBody::PressWithdrawn(press) => {
                    let key = (LogKey { logger: press.logger, log: press.log }, press.seq);
                    said.withdrawn.insert(key, press.reason.clone());
                }
                _ => {}
            }
        }
        said
    }

    /// A later answer adds to an earlier one and replaces what it says anew.
    fn add(&mut self, id: HarmId, details: &TearDetails) {
        let known = self.answers.entry(id).or_default();
        *known = details.clone().or(known);
    }
}

fn pressed(
    studio: &Studio,
    log: &LedgerLog<'_>,
    event: &EventFact,
    press: &Press,
    said: &Said,
) -> Option<HarmRecord> {
    let harm = match press.kind {
        PressKind::Tear => Harm::Tear,
        PressKind::NearMiss => Harm::NearMiss,
        PressKind::CareDone | PressKind::Retension => return None,
    };
    let key = (log.facts.key, event.seq);
    let machine = studio.fittings.machine_of(key.0, event.seq);
    let details = said.answers.get(&HarmId::Press(key.0, key.1)).cloned().unwrap_or_default();
    let ran = before(&press.trace, studio.marks(machine));
    let rug = details.rug.clone().or_else(|| rug_of_burst_before(studio, log, event));
    let withdrawn = said.withdrawn.get(&key).cloned();
    Some(HarmRecord {
        id: HarmId::Press(key.0, key.1),
        harm,
        machine,
        when: log.timeline.when(event.boot, event.at),
        // What was measured counts before what was seen.
        knob_before: ran.knob.or(details.knob_per_mille.and_then(PerMille::new)),
        rate_before: rate_in_tenths(ran.edges, ran.run_ms, studio.ratio(machine)),
        rug_is_assumed: details.rug.is_none() && rug.is_some(),
        cloth_lot: details.cloth_lot.or_else(|| lot_of(studio, rug.as_ref())),
        answers: details.answers,
        open_questions: open(details.answers, rug.is_some(), withdrawn.is_some()),
        rug,
        note: details.note,
        withdrawn,
    })
}

/// The commission of the last burst that had begun by then; a burst's own records come after a press during it.
fn rug_of_burst_before(studio: &Studio, log: &LedgerLog<'_>, event: &EventFact) -> Option<RugName> {
    let begun = |line: &LedgerLine| (line.burst.boot, line.burst.at) <= (event.boot, event.at);
    let line = log.lines.get(log.lines.partition_point(begun).checked_sub(1)?)?;
    match line.attribution.holder {
        Holder::Rug(index) => studio.rug_at(index).map(|rug| rug.order.rug.clone()),
        Holder::Care | Holder::Unassigned | Holder::Undated => None,
    }
}

fn open(answers: Answers, rug_is_known: bool, is_withdrawn: bool) -> Vec<Question> {
    if is_withdrawn { Vec::new() } else { answers.open(rug_is_known) }
}

fn lot_of(studio: &Studio, rug: Option<&RugName>) -> Option<String> {
    let index = rug.and_then(|rug| studio.rug_index(rug))?;
    studio.rug_at(index).and_then(|rug| rug.order.cloth_lot.clone())
}

/// The commission of a tear that was noted by hand, by the rule of the bursts: that of the machine's last burst before it in the
/// same session, moved and confirmed ones included; else the only one that was active at that moment.
fn rug_at(studio: &Studio, ledger: &Ledger<'_>, machine: MachineTag, at: UtcMillis) -> Option<RugName> {
    let session_gap = i64::try_from(SESSION_GAP_MS).unwrap_or(i64::MAX);
    let lines = ledger.logs.iter().flat_map(|log| &log.lines).filter(|line| line.machine == Some(machine));
    let begun = lines.filter_map(|line| {
        let When::Dated(start) = line.when else { return None };
        let run = i64::try_from(line.burst.run.0).unwrap_or(i64::MAX);
        let end = start.0.saturating_add(run).saturating_add(session_gap);
        (start <= at && at.0 <= end).then_some((start, line))
    });
    let holder = match begun.max_by_key(|(start, _)| *start).map(|(_, line)| line.attribution) {
        Some(Attribution { holder: holder @ Holder::Rug(_), .. }) => holder,
        Some(Attribution { holder, basis: Basis::Explicit | Basis::Confirmed }) if holder != Holder::Care => {
            holder
        }
        _ => active_at(studio, machine, When::Dated(at)).holder,
    };
    match holder {
        Holder::Rug(index) => studio.rug_at(index).map(|rug| rug.order.rug.clone()),
        Holder::Care | Holder::Unassigned | Holder::Undated => None,
    }
}

fn noted(entries: &InForce<'_>, studio: &Studio, ledger: &Ledger<'_>, said: &Said) -> Vec<HarmRecord> {
    let record = |entry: &Entry| {
        let EntryBody::TearNoted(noted) = &entry.body else { return None };
        let id = HarmId::Entry(entry.id);
        let details = match said.answers.get(&id) {
            Some(answered) => answered.clone().or(&noted.details),
            None => noted.details.clone(),
        };
        let withdrawn = entries.withdrawal(entry.id).map(|by| by.reason.to_owned());
        let knob = details.knob_per_mille.or(noted.knob_per_mille);
        let rug = details.rug.clone().or_else(|| rug_at(studio, ledger, noted.machine, noted.at));
        Some(HarmRecord {
            id,
            harm: noted.harm,
            machine: Some(noted.machine),
            when: When::Dated(noted.at),
            knob_before: knob.and_then(PerMille::new),
            rate_before: None,
            rug_is_assumed: details.rug.is_none() && rug.is_some(),
            open_questions: open(details.answers, rug.is_some(), withdrawn.is_some()),
            cloth_lot: details.cloth_lot.or_else(|| lot_of(studio, rug.as_ref())),
            rug,
            note: details.note,
            answers: details.answers,
            withdrawn,
        })
    };
    entries.all_named_now().iter().filter_map(record).collect()
}

/// Sorts by when, what cannot be dated first.
pub fn sort_by_time(harms: &mut [HarmRecord]) {
    harms.sort_by_key(|harm| harm.when.earliest().or(harm.when.latest()).unwrap_or(UtcMillis(i64::MIN)));
}

/// Tears and near-misses on one commission.
#[must_use]
pub fn counts_on(harms: &[HarmRecord], rug: &RugName) -> HarmCounts {
    let mut counts = HarmCounts::default();
    for harm in harms.iter().filter(|harm| harm.counts() && harm.rug.as_ref() == Some(rug)) {
        match harm.harm {
            Harm::Tear => counts.tears += 1,
            Harm::NearMiss => counts.near_misses += 1,
        }
    }
    counts
}
