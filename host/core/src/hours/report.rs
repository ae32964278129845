//! Machine hours per commission.
//!
//! One equation holds for every machine, to the millisecond and the edge: total = commissions + care + unassigned +
//! undated + doubtful + not recorded. The owner's estimate before fitting and hours written by hand stand beside it.

use std::collections::{BTreeMap, BTreeSet};

use jiff::civil::Date;
use jiff::tz::TimeZone;
use serde::Serialize;
use shared_types::{MachineTag, RecordSeq};

use super::entered::Entered;
use crate::records::bursts::Burst;
use crate::records::fittings::FittingConflict;
use crate::records::not_recorded::{self, Loss};
use crate::records::timeline::ClockJump;
use crate::sessions::holder::{Basis, Holder};
use crate::sessions::ledger::{DoubtfulLine, Ledger, LedgerLog, Standing};
use crate::sessions::{self, Session, typed};
use crate::studio::worked::Worked;
use crate::studio::{RugIndex, Studio};

/// Sums over a set of bursts.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Sum {
    /// Motor moving, in milliseconds.
    pub run_time_ms: u64,
    /// Needle edges.
    pub edges: u64,
    /// Whole strokes that these edges are; rounded down once, here.
    pub strokes: u64,
    /// Continuous runs.
    pub bursts: u64,
    /// Sessions in which at least one of the bursts lies.
    pub sessions: u64,
}

impl Sum {
    const fn without(self, entered: Entered) -> Self {
        Self {
            run_time_ms: self.run_time_ms.saturating_sub(entered.run_time_ms),
            sessions: self.sessions.saturating_sub(entered.sessions),
            ..self
        }
    }
}

/// A commission's machine hours on one machine.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct RugHours {
    /// Its name.
    pub rug: String,
    /// Counted to it by the calendar alone.
    pub assumed: Sum,
    /// Counted to it because the maker said so.
    pub confirmed: Sum,
    /// Typed in by the maker.
    pub entered: Entered,
    /// All together; the strokes are the counted ones.
    pub total: Sum,
    /// The local day of its first dated session.
    #[serde(serialize_with = "crate::entries::day_as_text")]
    pub first_day: Option<Date>,
    /// The local day of its last dated session.
    #[serde(serialize_with = "crate::entries::day_as_text")]
    pub last_day: Option<Date>,
}

/// Running that no firmware can have measured from a machine at work; it stands outside commissions and care until the
/// maker says that it was real.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Doubtful {
    /// Nobody has said yet, and said not to be real, together.
    #[serde(flatten)]
    pub sum: Sum,
    /// The part of it of which the maker has said nothing yet.
    pub to_check: Sum,
    /// The part of it that the maker said was no work.
    pub set_aside: Sum,
    /// Doubted, but counted above, because the maker had given it to somebody, confirmed or delivered it before; no part of
    /// this sum.
    pub questioned: Sum,
}

/// What the logger counted but no record tells of.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
pub struct NotRecorded {
    /// Motor moving, in milliseconds.
    pub run_time_ms: u64,
    /// Needle edges.
    pub edges: u64,
    /// Whole strokes that these edges are.
    pub strokes: u64,
    /// Whether some log holds more than its logger says it ever recorded; the records count then.
    pub records_exceed_totals: bool,
}

/// Hours written by hand; they stand beside what was measured.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct HandSum {
    /// The commission; none where the maker named none.
    pub rug: Option<String>,
    /// Motor moving, in milliseconds.
    pub run_time_ms: u64,
    /// At the frame, in milliseconds.
    pub tufting_time_ms: u64,
    /// Entries.
    pub entries: u64,
}

/// One machine's hours.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct MachineHours {
    /// Its number; none for loggers that sat on no machine.
    pub machine: Option<u32>,
    /// Its name.
    pub name: Option<String>,
    /// Whether it has no logger board.
    pub is_without_logger: bool,
    /// The owner's estimate of run time before any logger was fitted, in milliseconds.
    pub before_logger_run_time_ms: Option<u64>,
    /// Per commission, in the order in which they were taken.
    pub rugs: Vec<RugHours>,
    /// Dry runs and test runs.
    pub care: Sum,
    /// Counted to nobody.
    pub unassigned: Sum,
    /// The part of `unassigned` that ran in the studio.
    pub unassigned_here: Sum,
    /// The part of `unassigned` that ran while the machine was lent out.
    pub unassigned_while_lent: Sum,
    /// Cannot be counted to anybody, because it cannot be told when it was.
    pub undated: Sum,
    /// Doubted, and counted to nobody.
    pub doubtful: Doubtful,
    /// Ran as steadily as the mains hums, at a rate that a machine can have; counted above. Only a hint.
    pub steady_as_mains: Sum,
    /// Counted by the logger, without a record.
    pub not_recorded: NotRecorded,
    /// Commissions, care, unassigned, undated, doubtful and not recorded together, counted and typed in.
    pub total: Sum,
    /// The machine's whole life, as far as it is known: `total`, and what it ran before by its owner's estimate, in
    /// milliseconds.
    pub life_run_time_ms: u64,
    /// The part of `total` that was typed in.
    pub entered: Entered,
    /// The part of `care` that was typed in.
    pub entered_care: Entered,
    /// The part of `unassigned` that was typed in.
    pub entered_unassigned: Entered,
    /// Written by hand, apart.
    pub by_hand: Vec<HandSum>,
}

impl MachineHours {
    /// All that was counted, in milliseconds, without what was typed in.
    #[must_use]
    pub const fn counted_run_time_ms(&self) -> u64 {
        self.total.run_time_ms.saturating_sub(self.entered.run_time_ms)
    }

    /// Every sum without what was typed in.
    #[must_use]
    pub fn counted(mut self) -> Self {
        self.total = self.total.without(self.entered);
        self.life_run_time_ms = self.life_run_time_ms.saturating_sub(self.entered.run_time_ms);
        self.care = self.care.without(self.entered_care);
        self.unassigned = self.unassigned.without(self.entered_unassigned);
        self.unassigned_here = self.unassigned_here.without(self.entered_unassigned);
        for rug in &mut self.rugs {
            rug.total = rug.total.without(rug.entered);
        }
        self
    }
}

/// The answer of `hours`.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct HoursReport {
    /// The machines in the order of their numbers.
    pub machines: Vec<MachineHours>,
    /// Hours of loggers that sat on no machine; none when there are none.
    pub no_machine: Option<MachineHours>,
    /// Clock readings that cannot both be right.
    pub clock_jumps: Vec<ClockJump>,
    /// Machines that claim the same records.
    pub fitting_conflicts: Vec<FittingConflict>,
    /// Records that are kept but cannot be read by this program.
    pub unreadable_records: u64,
    /// Record numbers of which two different contents were received.
    pub conflicting_records: u64,
}

impl HoursReport {
    /// Adds everything up. `zone` is the maker's.
    #[must_use]
    pub fn of(studio: &Studio, ledger: &Ledger<'_>, zone: &TimeZone) -> Self {
        let mut tallies: BTreeMap<Option<MachineTag>, Tally> =
            studio.machines.iter().map(|machine| (Some(machine.tag), Tally::default())).collect();
        for log in &ledger.logs {
            for session in sessions::of_log(log, zone) {
                tallies.entry(session.machine).or_default().add_session(log, &session);
            }
            for doubtful in &log.doubtful {
                tallies.entry(doubtful.line.machine).or_default().add_doubtful(doubtful);
            }
            for line in &log.steady {
                tallies.entry(line.machine).or_default().steady.add_burst(&line.burst);
            }
            for loss in not_recorded::of_log(log.facts, &studio.fittings) {
                tallies.entry(loss.machine).or_default().add_loss(&loss);
            }
        }
        for session in &studio.worked {
            tallies.entry(Some(session.said.machine)).or_default().add_typed(studio, session, zone);
        }
        let mut machines: Vec<MachineHours> = Vec::new();
        let mut no_machine = None;
        for (machine, tally) in tallies {
            let hours = tally.into_hours(studio, machine);
            if machine.is_some() {
                machines.push(hours);
            } else if hours.total != Sum::default() || hours.not_recorded.records_exceed_totals {
                no_machine = Some(hours);
            }
        }
        Self {
            machines,
            no_machine,
            clock_jumps: ledger.logs.iter().flat_map(|log| log.timeline.jumps().iter().copied()).collect(),
            fitting_conflicts: studio.fittings.conflicts().to_vec(),
            unreadable_records: ledger.logs.iter().map(|log| log.facts.unreadable).sum(),
            conflicting_records: ledger.logs.iter().map(|log| count(log.facts.conflicting.len())).sum(),
        }
    }

    /// Machine run time of each commission on all machines, in milliseconds.
    #[must_use]
    pub fn run_times(&self) -> BTreeMap<&str, u64> {
        let mut times: BTreeMap<&str, u64> = BTreeMap::new();
        for hours in self.all().flat_map(|machine| &machine.rugs) {
            let sum = times.entry(hours.rug.as_str()).or_default();
            *sum = sum.saturating_add(hours.total.run_time_ms);
        }
        times
    }

    /// Only one machine, or only one commission (by its name as ordered) beside each machine's own sums.
    #[must_use]
    pub fn narrowed(mut self, machine: Option<MachineTag>, rug: Option<&str>) -> Self {
        if let Some(tag) = machine {
            self.machines.retain(|hours| hours.machine == Some(tag.0));
            self.no_machine = None;
        }
        if let Some(name) = rug {
            for hours in self.machines.iter_mut().chain(&mut self.no_machine) {
                hours.rugs.retain(|rug| rug.rug == name);
                hours.by_hand.retain(|sum| sum.rug.as_deref() == Some(name));
            }
        }
        self
    }

    /// All machines and, last, no machine.
    pub fn all(&self) -> impl Iterator<Item = &MachineHours> {
        self.machines.iter().chain(&self.no_machine)
    }
}

fn count(length: usize) -> u64 {
    u64::try_from(length).unwrap_or(u64::MAX)
}

/// A growing sum, with the sessions it touches.
#[derive(Debug, Default)]
struct Growing {
    run_time_ms: u64,
    edges: u64,
    bursts: u64,
    sessions: BTreeSet<(usize, RecordSeq)>,
}

impl Growing {
    /// Adds one burst outside all sessions.
    fn add_burst(&mut self, burst: &Burst) {
        self.run_time_ms = self.run_time_ms.saturating_add(burst.run.0);
        self.edges = self.edges.saturating_add(burst.edges);
        self.bursts = self.bursts.saturating_add(1);
    }

    fn finished(&self, studio: &Studio, machine: Option<MachineTag>) -> Sum {
        Sum {
            run_time_ms: self.run_time_ms,
            edges: self.edges,
            strokes: studio.ratio(machine).strokes(self.edges),
            bursts: self.bursts,
            sessions: count(self.sessions.len()),
        }
    }

    fn absorb(&mut self, other: &Self) {
        self.run_time_ms = self.run_time_ms.saturating_add(other.run_time_ms);
        self.edges = self.edges.saturating_add(other.edges);
        self.bursts = self.bursts.saturating_add(other.bursts);
        self.sessions.extend(&other.sessions);
    }
}

#[derive(Debug, Default)]
struct RugTally {
    assumed: Growing,
    confirmed: Growing,
    typed: Growing,
    entered: Entered,
    days: BTreeSet<Date>,
}

#[derive(Debug, Default)]
struct Tally {
    sessions_seen: usize,
    rugs: BTreeMap<RugIndex, RugTally>,
    care: Growing,
    unassigned_here: Growing,
    while_lent: Growing,
    undated: Growing,
    to_check: Growing,
    set_aside: Growing,
    questioned: Growing,
    steady: Growing,
    lost: NotRecorded,
    entered: Entered,
    entered_care: Entered,
    entered_unassigned: Entered,
}

impl Tally {
    fn add_session(&mut self, log: &LedgerLog<'_>, session: &Session) {
        self.sessions_seen += 1;
        let name = (self.sessions_seen, session.first);
        for part in session.parts(log) {
            let growing = match part.attribution.holder {
                Holder::Care => &mut self.care,
                Holder::Unassigned if part.attribution.basis == Basis::LentOut => &mut self.while_lent,
                Holder::Unassigned => &mut self.unassigned_here,
                Holder::Undated => &mut self.undated,
                Holder::Rug(rug) => {
                    let tally = self.rugs.entry(rug).or_default();
                    tally.days.extend(session.day);
                    match part.attribution.basis {
                        Basis::Explicit | Basis::Confirmed => &mut tally.confirmed,
                        _ => &mut tally.assumed,
                    }
                }
            };
            growing.run_time_ms = growing.run_time_ms.saturating_add(part.run.0);
            growing.edges = growing.edges.saturating_add(part.edges);
            growing.bursts = growing.bursts.saturating_add(part.bursts);
            growing.sessions.insert(name);
        }
    }

    fn add_typed(&mut self, studio: &Studio, session: &Worked, zone: &TimeZone) {
        self.sessions_seen += 1;
        let (growing, entered) = match typed::attribution(studio, session).holder {
            Holder::Rug(rug) => {
                let tally = self.rugs.entry(rug).or_default();
                tally.days.extend(sessions::local_day(session.said.at, zone));
                (&mut tally.typed, &mut tally.entered)
            }
            Holder::Care => (&mut self.care, &mut self.entered_care),
            Holder::Unassigned | Holder::Undated => (&mut self.unassigned_here, &mut self.entered_unassigned),
        };
        growing.run_time_ms = growing.run_time_ms.saturating_add(session.run_ms);
        growing.sessions.insert((self.sessions_seen, RecordSeq(0)));
        entered.add(session);
        self.entered.add(session);
    }

    fn add_doubtful(&mut self, doubtful: &DoubtfulLine) {
        let growing = match doubtful.standing {
            Standing::Open => &mut self.to_check,
            Standing::NotReal => &mut self.set_aside,
            Standing::Questioned => &mut self.questioned,
            Standing::Real => return,
        };
        growing.add_burst(&doubtful.line.burst);
    }

    fn doubtful(&self, studio: &Studio, machine: Option<MachineTag>) -> (Growing, Doubtful) {
        let mut both = Growing::default();
        both.absorb(&self.to_check);
        both.absorb(&self.set_aside);
        let doubtful = Doubtful {
            sum: both.finished(studio, machine),
            to_check: self.to_check.finished(studio, machine),
            set_aside: self.set_aside.finished(studio, machine),
            questioned: self.questioned.finished(studio, machine),
        };
        (both, doubtful)
    }

    fn add_loss(&mut self, loss: &Loss) {
        self.lost.run_time_ms = self.lost.run_time_ms.saturating_add(loss.run.0);
        self.lost.edges = self.lost.edges.saturating_add(loss.edges.0);
        self.lost.records_exceed_totals |= loss.records_exceed_totals;
    }

    fn into_hours(self, studio: &Studio, machine: Option<MachineTag>) -> MachineHours {
        let mut unassigned = Growing::default();
        unassigned.absorb(&self.unassigned_here);
        unassigned.absorb(&self.while_lent);
        let (both_doubtful, doubtful) = self.doubtful(studio, machine);
        let mut all = Growing::default();
        for part in [&self.care, &unassigned, &self.undated, &both_doubtful] {
            all.absorb(part);
        }
        let mut rugs = Vec::new();
        for (index, tally) in &self.rugs {
            let mut both = Growing::default();
            both.absorb(&tally.assumed);
            both.absorb(&tally.confirmed);
            both.absorb(&tally.typed);
            all.absorb(&both);
            rugs.push(RugHours {
                rug: studio.rug_at(*index).map(|rug| rug.order.rug.0.clone()).unwrap_or_default(),
                assumed: tally.assumed.finished(studio, machine),
                confirmed: tally.confirmed.finished(studio, machine),
                entered: tally.entered,
                total: both.finished(studio, machine),
                first_day: tally.days.first().copied(),
                last_day: tally.days.last().copied(),
            });
        }
        all.run_time_ms = all.run_time_ms.saturating_add(self.lost.run_time_ms);
        all.edges = all.edges.saturating_add(self.lost.edges);
        let card = machine.and_then(|tag| studio.machine(tag));
        let before = card.and_then(|card| card.before_logger).map(|run| run.0);
        MachineHours {
            machine: machine.map(|tag| tag.0),
            name: card.map(|card| card.name.clone()),
            is_without_logger: machine.is_some_and(|tag| studio.is_without_logger(tag)),
            before_logger_run_time_ms: before,
            life_run_time_ms: all.run_time_ms.saturating_add(before.unwrap_or(0)),
            rugs,
            care: self.care.finished(studio, machine),
            unassigned: unassigned.finished(studio, machine),
            unassigned_here: self.unassigned_here.finished(studio, machine),
            unassigned_while_lent: self.while_lent.finished(studio, machine),
            undated: self.undated.finished(studio, machine),
            doubtful,
            steady_as_mains: self.steady.finished(studio, machine),
            not_recorded: NotRecorded {
                strokes: studio.ratio(machine).strokes(self.lost.edges),
                ..self.lost
            },
            total: all.finished(studio, machine),
            entered: self.entered,
            entered_care: self.entered_care,
            entered_unassigned: self.entered_unassigned,
            by_hand: by_hand(studio, machine),
        }
    }
}

/// Sessions that were typed in for a machine, per commission; the commission's name as it was ordered.
fn by_hand(studio: &Studio, machine: Option<MachineTag>) -> Vec<HandSum> {
    let mut sums: Vec<HandSum> = Vec::new();
    for session in studio.worked.iter().filter(|session| Some(session.said.machine) == machine) {
        let rug = match typed::attribution(studio, session).holder {
            Holder::Rug(rug) => studio.rug_at(rug).map(|rug| rug.order.rug.0.clone()),
            Holder::Care | Holder::Unassigned | Holder::Undated => None,
        };
        let place = sums.iter().position(|sum| sum.rug == rug).unwrap_or_else(|| {
            sums.push(HandSum { rug, ..HandSum::default() });
            sums.len() - 1
        });
        if let Some(sum) = sums.get_mut(place) {
            sum.run_time_ms = sum.run_time_ms.saturating_add(session.run_ms);
            sum.tufting_time_ms = sum.tufting_time_ms.saturating_add(session.said.frame_ms.unwrap_or(0));
            sum.entries += 1;
        }
    }
    sums
}

#[cfg(test)]
#[path = "report_tests.rs"]
mod tests;

#[cfg(test)]
#[path = "property_tests.rs"]
mod property_tests;
