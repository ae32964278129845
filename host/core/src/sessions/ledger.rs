//! Every burst of every log with its date, its machine and whose it is: what hours, sessions, care and tears start
//! from.
//!
//! Doubtful bursts are set apart here and nowhere else: what reads [`LedgerLog::lines`] never sees one that does not count.

use shared_types::{MachineTag, RecordSeq};

use super::attribution::Attributor;
use super::doubt::{Doubt, Judge, Judgement};
use super::holder::{Attribution, Basis, Holder};
use crate::entries::{DoubtAnswer, EntryId};
use crate::records::bursts::{self, Burst};
use crate::records::log_records::LogRecords;
use crate::records::timeline::{HeardAt, Timeline};
use crate::records::when::When;
use crate::studio::{RugState, Studio};

/// A burst and what is known of it.
#[derive(Clone, Debug)]
pub struct LedgerLine {
    /// The burst.
    pub burst: Burst,
    /// When it began.
    pub when: When,
    /// The machine; none while the logger sat on none.
    pub machine: Option<MachineTag>,
    /// To whom it is counted, and why.
    pub attribution: Attribution,
}

/// How a doubtful burst stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, serde::Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Standing {
    /// Nobody has said yet; it counts nowhere.
    Open,
    /// Counted, because the maker gave it to somebody, confirmed it or delivered its commission; nobody has said yet.
    Questioned,
    /// Real work, said the maker; it counts as any other.
    Real,
    /// No work, said the maker; it counts nowhere.
    NotReal,
}

impl Standing {
    /// Whether it counts as any other burst.
    #[must_use]
    pub const fn counts(self) -> bool {
        matches!(self, Self::Questioned | Self::Real)
    }

    /// Whether the maker is to be asked.
    #[must_use]
    pub const fn is_to_check(self) -> bool {
        matches!(self, Self::Open | Self::Questioned)
    }
}

/// A burst that is doubted.
#[derive(Clone, Debug)]
pub struct DoubtfulLine {
    /// The burst, and to whom it is or would be counted.
    pub line: LedgerLine,
    /// Why it is doubted.
    pub doubt: Doubt,
    /// How it stands.
    pub standing: Standing,
    /// The entry that says so.
    pub answer: Option<EntryId>,
}

/// One log's part of the ledger.
#[derive(Debug)]
pub struct LedgerLog<'facts> {
    /// What the logger reported.
    pub facts: &'facts LogRecords,
    /// How its moments are dated.
    pub timeline: Timeline,
    /// Its bursts that count, in the order of their numbers.
    pub lines: Vec<LedgerLine>,
    /// Its bursts that are doubted, in the order of their numbers; those that count all the same stand in `lines` too.
    pub doubtful: Vec<DoubtfulLine>,
    /// Its bursts that count and ran as steadily as the mains hums; only a hint.
    pub steady: Vec<LedgerLine>,
}

/// All logs.
#[derive(Debug)]
pub struct Ledger<'facts> {
    /// In the order of the facts.
    pub logs: Vec<LedgerLog<'facts>>,
}

impl<'facts> Ledger<'facts> {
    /// Dates and attributes everything and believes every record: for tests of other things than doubt, which tell a long run
    /// in one record.
    #[cfg(test)]
    #[must_use]
    pub fn of(studio: &Studio, logs: &'facts [LogRecords]) -> Self {
        let believed = |facts| LedgerLog::of(studio, facts, &[], |_, _| Judgement::default());
        Self { logs: logs.iter().map(believed).collect() }
    }

    /// Dates, attributes and doubts everything; when loggers were heard limits what no clock reading dates.
    #[must_use]
    pub fn of_heard(studio: &Studio, logs: &'facts [LogRecords], heard: &[HeardAt]) -> Self {
        let judged = |facts| {
            let judge = Judge::of(facts);
            LedgerLog::of(studio, facts, heard, |burst, machine| judge.judge(burst, || studio.ratio(machine)))
        };
        Self { logs: logs.iter().map(judged).collect() }
    }
}

impl<'facts> LedgerLog<'facts> {
    fn of(
        studio: &Studio,
        facts: &'facts LogRecords,
        heard: &[HeardAt],
        judge: impl Fn(&Burst, Option<MachineTag>) -> Judgement,
    ) -> Self {
        let timeline = Timeline::of_heard(facts, heard);
        let joined = bursts::join(&facts.segments);
        let attributor = Attributor::of(studio, facts, &joined, &timeline);
        let mut lines = Vec::with_capacity(joined.len());
        let (mut doubtful, mut steady) = (Vec::new(), Vec::new());
        let mut dates = timeline.in_order();
        for burst in joined {
            let when = dates.when(burst.boot, burst.at);
            let machine = studio.fittings.machine_of(facts.key, burst.first);
            let attribution = attributor.attribute(&burst, machine, when);
            let judgement = judge(&burst, machine);
            let line = LedgerLine { burst, when, machine, attribution };
            if let Some(doubt) = judgement.doubt {
                let (standing, answer) = standing(studio, facts, &line);
                if standing.counts() {
                    lines.push(line.clone());
                }
                doubtful.push(DoubtfulLine { line, doubt, standing, answer });
                continue;
            }
            if judgement.is_steady {
                steady.push(line.clone());
            }
            lines.push(line);
        }
        Self { facts, timeline, lines, doubtful, steady }
    }

    /// All bursts, those that do not count last.
    pub fn every_line(&self) -> impl Iterator<Item = &LedgerLine> {
        let apart = self.doubtful.iter().filter(|doubtful| !doubtful.standing.counts());
        self.lines.iter().chain(apart.map(|doubtful| &doubtful.line))
    }

    /// The same log as if everything that nobody has spoken of yet were real; none where there is nothing of the kind.
    #[must_use]
    pub fn as_if_real(&self) -> Option<Self> {
        let open: Vec<LedgerLine> = self.open().map(|doubtful| doubtful.line.clone()).collect();
        if open.is_empty() {
            return None;
        }
        let mut lines = self.lines.clone();
        lines.extend(open);
        lines.sort_by_key(|line| line.burst.first);
        let timeline = self.timeline.clone();
        Some(Self { facts: self.facts, timeline, lines, doubtful: Vec::new(), steady: Vec::new() })
    }

    /// Doubtful bursts that count nowhere because nobody has spoken of them yet.
    pub fn open(&self) -> impl Iterator<Item = &DoubtfulLine> {
        self.doubtful.iter().filter(|doubtful| doubtful.standing == Standing::Open)
    }
}

/// The last answer decides. Without one, what the maker gave away, confirmed or delivered before anybody doubted it stays.
fn standing(studio: &Studio, facts: &LogRecords, line: &LedgerLine) -> (Standing, Option<EntryId>) {
    let is_about = |from: RecordSeq, to: RecordSeq| (from..=to).contains(&line.burst.first);
    let answer = studio.doubt_answers.iter().rev().find(|(_, answered)| {
        answered.logger == facts.key.logger
            && answered.log == facts.key.log
            && is_about(answered.from, answered.to)
    });
    let Attribution { holder, basis } = line.attribution;
    let is_claimed = matches!(basis, Basis::Explicit | Basis::Confirmed)
        && matches!(holder, Holder::Rug(_) | Holder::Care);
    let is_delivered = || match holder {
        Holder::Rug(rug) => studio.rug_at(rug).is_some_and(|rug| rug.state() == RugState::Delivered),
        Holder::Care | Holder::Unassigned | Holder::Undated => false,
    };
    let standing = match answer.map(|(_, answered)| answered.answer) {
        Some(DoubtAnswer::Real) => Standing::Real,
        Some(DoubtAnswer::NotReal) => Standing::NotReal,
        _ if is_claimed => Standing::Questioned,
        Some(DoubtAnswer::LeftOpen) => Standing::Open,
        None if is_delivered() => Standing::Questioned,
        None => Standing::Open,
    };
    (standing, answer.map(|(entry, _)| *entry))
}

#[cfg(test)]
#[path = "ledger_tests.rs"]
mod tests;
