//! In which order things can happen to a commission.

use shared_types::{MachineTag, UtcMillis};
use thiserror::Error;

use super::entries::WorkChange;
use super::studio::{Rug, Studio};

/// Why a change of work cannot be.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum WorkProblem {
    /// It was not started at all.
    #[error("{rug} was never started")]
    NeverStarted {
        /// The commission.
        rug: String,
    },
    /// It was started only later.
    #[error("{rug} was started only later than that")]
    BeforeStart {
        /// The commission.
        rug: String,
    },
    /// Its tufting is not done.
    #[error("{rug} is not finished yet, so it cannot have been delivered")]
    NotFinished {
        /// The commission.
        rug: String,
    },
    /// It was finished only later.
    #[error("{rug} was finished only later than that")]
    BeforeFinish {
        /// The commission.
        rug: String,
    },
    /// It was delivered before.
    #[error("{rug} was delivered already")]
    Delivered {
        /// The commission.
        rug: String,
    },
}

/// Whether a change can have happened to a commission at a moment. A start always can: a rug comes back to be mended.
///
/// # Errors
/// When it rests or ends before it was started, or is delivered before it was finished.
pub fn check(rug: &Rug, change: WorkChange, at: UtcMillis) -> Result<(), WorkProblem> {
    let name = || rug.order.rug.0.clone();
    let first = |wanted: WorkChange| {
        rug.work.iter().filter(move |work| work.change == wanted).map(|work| work.at).min()
    };
    if change == WorkChange::Started {
        return Ok(());
    }
    match first(WorkChange::Started) {
        None => return Err(WorkProblem::NeverStarted { rug: name() }),
        Some(started) if at < started => return Err(WorkProblem::BeforeStart { rug: name() }),
        Some(_) => {}
    }
    if change != WorkChange::Delivered {
        return Ok(());
    }
    let by_then = rug.work.iter().rev().find(|work| work.at <= at && work.change != WorkChange::Paused);
    match by_then.map(|work| work.change) {
        Some(WorkChange::Finished) => Ok(()),
        Some(WorkChange::Delivered) => Err(WorkProblem::Delivered { rug: name() }),
        _ if first(WorkChange::Finished).is_some_and(|finished| at < finished) => {
            Err(WorkProblem::BeforeFinish { rug: name() })
        }
        _ => Err(WorkProblem::NotFinished { rug: name() }),
    }
}

/// The other commissions that are on a machine at the same time as this one, from a moment until it comes off again;
/// running then is counted to none of them. A machine of none stands for all.
#[must_use]
pub fn at_the_same_time(
    studio: &Studio,
    rug: &Rug,
    machine: Option<MachineTag>,
    from: UtcMillis,
) -> Vec<String> {
    let machines: Vec<Option<MachineTag>> = match machine {
        Some(machine) => vec![Some(machine)],
        None => studio.machines.iter().map(|card| Some(card.tag)).chain([None]).collect(),
    };
    let meets = |other: &Rug| {
        machines.iter().any(|machine| {
            let theirs = other.active_periods(*machine);
            rug.active_periods(*machine).iter().filter(|(_, end)| end.is_none_or(|end| end > from)).any(
                |(start, end)| {
                    let start = (*start).max(from);
                    theirs
                        .iter()
                        .any(|(from, to)| end.is_none_or(|end| *from < end) && to.is_none_or(|to| start < to))
                },
            )
        })
    };
    let others = studio.rugs.iter().filter(|other| other.order.rug != rug.order.rug);
    others.filter(|other| meets(other)).map(|other| other.order.rug.0.clone()).collect()
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, reason = "a test may stop at the first surprise")]
    use super::super::entries::WorkChange::{Delivered, Finished, Paused, Started};
    use super::super::studio::RugState;
    use super::super::test_facts::{HOUR, MONDAY_8, entries, machine, rug, work};
    use super::*;

    fn fox(changes: &[(WorkChange, i64)]) -> Rug {
        let changes = changes.iter().map(|(change, hour)| work("Fox", None, *change, MONDAY_8 + hour * HOUR));
        let studio = Studio::of(&entries([rug("Fox")].into_iter().chain(changes)));
        studio.rug("Fox").unwrap().clone()
    }

    fn asked(changes: &[(WorkChange, i64)], change: WorkChange, hour: i64) -> Result<(), WorkProblem> {
        check(&fox(changes), change, UtcMillis(MONDAY_8 + hour * HOUR))
    }

    #[test]
    fn nothing_ends_before_it_began() {
        let rug = || "Fox".to_owned();
        assert_eq!(asked(&[], Finished, 1), Err(WorkProblem::NeverStarted { rug: rug() }));
        assert_eq!(asked(&[(Started, 2)], Finished, 1), Err(WorkProblem::BeforeStart { rug: rug() }));
        assert_eq!(asked(&[(Started, 2)], Paused, 1), Err(WorkProblem::BeforeStart { rug: rug() }));
        assert_eq!(asked(&[(Started, 2)], Finished, 2), Ok(()));
        assert_eq!(asked(&[], Started, 0), Ok(()));
    }

    #[test]
    fn only_what_was_finished_by_then_can_be_delivered_and_only_once() {
        let rug = || "Fox".to_owned();
        let finished = [(Started, 0), (Finished, 5)];
        assert_eq!(asked(&[(Started, 0)], Delivered, 6), Err(WorkProblem::NotFinished { rug: rug() }));
        assert_eq!(asked(&finished, Delivered, 4), Err(WorkProblem::BeforeFinish { rug: rug() }));
        assert_eq!(asked(&finished, Delivered, 5), Ok(()));
        let delivered = [(Started, 0), (Finished, 5), (Delivered, 6)];
        assert_eq!(asked(&delivered, Delivered, 7), Err(WorkProblem::Delivered { rug: rug() }));
        let mended = [(Started, 0), (Finished, 5), (Delivered, 6), (Started, 8)];
        assert_eq!(asked(&mended, Delivered, 9), Err(WorkProblem::NotFinished { rug: rug() }));
        assert_eq!(fox(&delivered).state(), RugState::Delivered);
    }

    #[test]
    fn rugs_meet_only_on_a_machine_that_both_are_on_at_one_time() {
        let on = |name, machine, change, hour: i64| work(name, machine, change, MONDAY_8 + hour * HOUR);
        let studio = Studio::of(&entries([
            machine(1),
            machine(2),
            rug("Fox"),
            rug("Owl"),
            rug("Hen"),
            on("Fox", Some(1), Started, 0),
            on("Fox", Some(1), Paused, 4),
            on("Owl", Some(2), Started, 0),
            on("Hen", None, Started, 3),
        ]));
        let met = |name: &str, machine: Option<u32>, hour: i64| {
            let rug = studio.rug(name).unwrap();
            at_the_same_time(&studio, rug, machine.map(MachineTag), UtcMillis(MONDAY_8 + hour * HOUR))
        };
        assert_eq!(met("Fox", Some(1), 0), ["Hen"], "Hen comes at three, Fox goes at four");
        assert!(met("Fox", Some(1), 4).is_empty());
        assert_eq!(met("Owl", Some(2), 0), ["Hen"]);
        assert_eq!(met("Hen", None, 3), ["Fox", "Owl"]);
    }

    #[test]
    fn a_rug_that_rests_on_one_machine_is_on_the_frame_while_another_works_on_it() {
        let state = |changes: Vec<(Option<u32>, WorkChange)>| {
            let changes = (0..)
                .zip(changes)
                .map(|(hour, (on, change))| work("Fox", on, change, MONDAY_8 + hour * HOUR));
            Studio::of(&entries([machine(1), machine(2), rug("Fox")].into_iter().chain(changes)))
                .rug("Fox")
                .unwrap()
                .state()
        };
        let two = vec![(Some(1), Started), (Some(2), Started), (Some(1), Paused)];
        assert_eq!(state(two.clone()), RugState::OnTheFrame);
        assert_eq!(state([two.clone(), vec![(Some(2), Paused)]].concat()), RugState::Resting);
        assert_eq!(state([two, vec![(None, Finished)]].concat()), RugState::Finished);
    }
}
