//! Verification of the chain, link by link, and against a head that was printed before.

use serde::Serialize;

use super::canonical::Fields;
use super::chain::Link;
use super::head::Head;

/// At most so many breaks are listed; all are counted.
const MOST_LISTED: usize = 100;

/// Content of a step.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(tag = "what", rename_all = "snake_case")]
pub enum Covers {
    /// One of the maker's entries.
    Entry {
        /// Its number.
        entry: i64,
    },
    /// How a logger stood when it was heard.
    Heard {
        /// Its number in the order of hearing.
        hearing: i64,
    },
    /// Records of one log that were kept together.
    Records {
        /// The logger and its log, by their hexadecimal names; empty when they cannot be told.
        log: String,
        /// Which: variant, first and last number, as they are noted in the chain.
        numbers: String,
    },
    /// Numbers that a logger no longer had.
    Gone {
        /// The logger and its log, by their hexadecimal names.
        log: String,
        /// The first number, and the one after the last.
        numbers: String,
    },
    /// That there is such a log.
    Log {
        /// The logger and its log, by their hexadecimal names.
        log: String,
    },
    /// Something that this program does not know.
    Unknown,
}

/// One step of the chain as it is stored.
#[derive(Clone, Debug)]
pub struct Step {
    /// Its place, from 1 on.
    pub position: u64,
    /// What it covers.
    pub covers: Covers,
    /// Its link; none when what is stored is no link.
    pub link: Option<Link>,
    /// The canonical bytes of what it covers, as it stands now; none when it is gone.
    pub content: Option<Fields>,
}

/// Why the chain does not hold at a place.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Why {
    /// What it covers was changed after it was kept, or its link was.
    Changed,
    /// What it covers is gone.
    Gone,
    /// The step itself is gone.
    StepGone,
    /// It was put in past the chain.
    PutInPastTheChain,
}

/// A place where the chain does not hold.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Break {
    /// The step; none for what is in no step.
    pub step: Option<u64>,
    /// What it covers; none for a step that is gone.
    pub covers: Option<Covers>,
    /// Why.
    pub why: Why,
}

/// Result of a comparison with a head that was printed before.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Against {
    /// Everything up to that head is as it was when it was printed.
    Holds,
    /// The head is found, but something before it does not fit.
    BrokenBefore,
    /// There is another link at its place: something before it was written anew.
    Rewritten,
    /// The chain is shorter than it was when the head was printed.
    Shorter,
    /// No step has that link.
    Unknown,
}

/// The answer of a check.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct ChainReport {
    /// Whether the whole chain holds.
    pub is_whole: bool,
    /// The head, to be kept or printed: number of steps, a dash, the last link.
    pub head: Head,
    /// Steps of the chain.
    pub steps: u64,
    /// Of them, entries.
    pub entries: u64,
    /// Of them, times that a logger was heard.
    pub heard: u64,
    /// Of them, groups of records that were kept together.
    pub record_groups: u64,
    /// Of them, ranges of numbers that a logger no longer had.
    pub gone: u64,
    /// Where it does not hold, in the order of the chain; at most a hundred.
    pub breaks: Vec<Break>,
    /// How many places there are altogether.
    pub breaks_found: u64,
    /// The head against which it was held.
    pub against: Option<Head>,
    /// How it stands against it.
    pub against_result: Option<Against>,
}

impl ChainReport {
    /// Whether the chain holds, and against the head, too, where there was one.
    #[must_use]
    pub fn is_fine(&self) -> bool {
        self.is_whole && self.against_result.is_none_or(|result| result == Against::Holds)
    }
}

/// Takes the steps one after the other.
#[derive(Clone, Debug)]
pub struct Checker {
    against: Option<Head>,
    /// The step at which the head was found, by its number or its link.
    found: Option<(u64, Option<Link>)>,
    first_break: Option<u64>,
    last: (u64, Option<Link>),
    report: ChainReport,
}

impl Checker {
    /// A check, against a head where there is one.
    #[must_use]
    pub fn new(against: Option<Head>) -> Self {
        let start = Head { steps: Some(0), link: Link::BEFORE_THE_FIRST };
        let is_at_start = against.is_some_and(|head| {
            head.steps == Some(0) || (head.steps.is_none() && head.link == Link::BEFORE_THE_FIRST)
        });
        Self {
            against,
            found: is_at_start.then_some((0, Some(start.link))),
            first_break: None,
            last: (0, Some(start.link)),
            report: ChainReport {
                is_whole: true,
                head: start,
                steps: 0,
                entries: 0,
                heard: 0,
                record_groups: 0,
                gone: 0,
                breaks: Vec::new(),
                breaks_found: 0,
                against,
                against_result: None,
            },
        }
    }

    /// Takes the next step in the order of places.
    pub fn step(&mut self, step: &Step) {
        let (before, previous) = self.last;
        let is_next = step.position == before.saturating_add(1);
        if !is_next {
            self.broken(Some(before.saturating_add(1)), None, Why::StepGone);
        }
        let covers = || Some(step.covers.clone());
        match &step.content {
            None => self.broken(Some(step.position), covers(), Why::Gone),
            // After a gap there is nothing to hold it against; the step that is gone was counted.
            Some(_) if !is_next => {}
            Some(content) => {
                // Held against the stored link before it, so that one change breaks one place.
                let fits = previous.map(|previous| Link::after(previous, step.position, content));
                if fits.is_none() || fits != step.link {
                    self.broken(Some(step.position), covers(), Why::Changed);
                }
            }
        }
        self.report.steps += 1;
        match step.covers {
            Covers::Entry { .. } => self.report.entries += 1,
            Covers::Heard { .. } => self.report.heard += 1,
            Covers::Records { .. } => self.report.record_groups += 1,
            Covers::Gone { .. } => self.report.gone += 1,
            Covers::Log { .. } | Covers::Unknown => {}
        }
        if let Some(head) = self.against {
            let is_it = head.steps.map_or(step.link == Some(head.link), |steps| steps == step.position);
            if is_it && self.found.is_none() {
                self.found = Some((step.position, step.link));
            }
        }
        self.last = (step.position, step.link);
    }

    /// Takes something that is in no step.
    pub fn outside(&mut self, covers: Covers) {
        self.broken(None, Some(covers), Why::PutInPastTheChain);
    }

    fn broken(&mut self, step: Option<u64>, covers: Option<Covers>, why: Why) {
        self.report.is_whole = false;
        self.report.breaks_found += 1;
        if let Some(step) = step {
            self.first_break = Some(self.first_break.map_or(step, |first| first.min(step)));
        }
        if self.report.breaks.len() < MOST_LISTED {
            self.report.breaks.push(Break { step, covers, why });
        }
    }

    /// The answer.
    #[must_use]
    pub fn finished(mut self) -> ChainReport {
        let (position, link) = self.last;
        self.report.head = Head { steps: Some(position), link: link.unwrap_or(Link::BEFORE_THE_FIRST) };
        self.report.against_result = self.against.map(|head| match self.found {
            None if head.steps.is_some() => Against::Shorter,
            None => Against::Unknown,
            Some((_, link)) if link != Some(head.link) => Against::Rewritten,
            Some((at, _)) if self.first_break.is_some_and(|first| first <= at) => Against::BrokenBefore,
            Some(_) => Against::Holds,
        });
        self.report
    }
}

#[cfg(test)]
#[path = "check_tests.rs"]
mod tests;
