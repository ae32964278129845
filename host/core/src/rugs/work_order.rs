//! In which order things can happen to a commission.

use shared_types::{MachineTag, UtcMillis};
use thiserror::Error;

use crate::entries::{EntryBody, InForce, RugName, RugWork, WorkChange};
use crate::studio::{Rug, Studio};

/// An order that was entered within so many milliseconds of its own date was probably not dated by the maker; one second.
const WRITTEN_DOWN_WITHIN_MS: u64 = 1_000;

/// Why a change of work cannot be.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum WorkProblem {
    /// It was not started at all.
    #[error("{rug} was never started")]
    NeverStarted {
        /// The commission.
        rug: String,
    },
    /// It was started, but not on that machine.
    #[error("{rug} was never started on machine {}", machine.0)]
    NeverStartedThere {
        /// The commission.
        rug: String,
        /// The machine.
        machine: MachineTag,
    },
    /// It was started only later.
    #[error("{rug} was started only later than that")]
    BeforeStart {
        /// The commission.
        rug: String,
    },
    /// The maker gave a later date for its order.
    #[error("{rug} was ordered only later than that")]
    BeforeOrder {
        /// The commission.
        rug: String,
    },
    /// It would be ordered after its first start.
    #[error("{rug} was started before that, so it cannot have been ordered only then")]
    OrderAfterStart {
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

/// When the order of a commission was written down, where work at a moment came before and the maker did not say when it
/// was ordered; none where the work came after.
///
/// # Errors
/// When the maker gave a later date for its order.
pub fn written_down_later(
    entries: &InForce<'_>,
    rug: &Rug,
    at: UtcMillis,
) -> Result<Option<UtcMillis>, WorkProblem> {
    let (name, ordered) = (&rug.order.rug, rug.order.at);
    if at >= ordered {
        Ok(None)
    } else if order_is_dated(entries, name, ordered) {
        Err(WorkProblem::BeforeOrder { rug: name.0.clone() })
    } else {
        Ok(Some(ordered))
    }
}

/// Whether the maker said when a commission was ordered. Left out, the date of an order is the moment of its entry, and
/// work may have begun long before it was written down.
fn order_is_dated(entries: &InForce<'_>, rug: &RugName, at: UtcMillis) -> bool {
    !entries.iter().any(|entry| {
        matches!(&entry.body, EntryBody::RugOrdered(order) if order.rug == *rug && order.at == at)
            && entry.entered_at.0.abs_diff(at.0) <= WRITTEN_DOWN_WITHIN_MS
    })
}

/// Whether a change can have happened to a commission at a moment, on a machine or on all. A start can come again: a rug
/// comes back to be mended.
///
/// # Errors
/// When it rests or ends before it was started, is delivered before it was finished or twice, or works on after it was
/// delivered without a new start.
pub fn check(
    rug: &Rug,
    change: WorkChange,
    machine: Option<MachineTag>,
    at: UtcMillis,
) -> Result<(), WorkProblem> {
    let name = || rug.order.rug.0.clone();
    let first = |wanted: WorkChange, here: &dyn Fn(&RugWork) -> bool| {
        rug.work.iter().filter(|work| work.change == wanted && here(work)).map(|work| work.at).min()
    };
    if change == WorkChange::Started {
        return Ok(());
    }
    let here = |work: &RugWork| machine.is_none() || work.machine.is_none() || work.machine == machine;
    match (first(WorkChange::Started, &here), machine) {
        (None, Some(machine)) if first(WorkChange::Started, &|_| true).is_some() => {
            return Err(WorkProblem::NeverStartedThere { rug: name(), machine });
        }
        (None, _) => return Err(WorkProblem::NeverStarted { rug: name() }),
        (Some(started), _) if at < started => return Err(WorkProblem::BeforeStart { rug: name() }),
        (Some(_), _) => {}
    }
    let by_then = rug.work.iter().rev().find(|work| work.at <= at && work.change != WorkChange::Paused);
    match (change, by_then.map(|work| work.change)) {
        (_, Some(WorkChange::Delivered)) => Err(WorkProblem::Delivered { rug: name() }),
        (WorkChange::Delivered, Some(WorkChange::Finished)) => Ok(()),
        (WorkChange::Delivered, _) => {
            let finished = first(WorkChange::Finished, &|_| true);
            if finished.is_some_and(|finished| at < finished) {
                Err(WorkProblem::BeforeFinish { rug: name() })
            } else {
                Err(WorkProblem::NotFinished { rug: name() })
            }
        }
        _ => Ok(()),
    }
}

/// The machines that are meant: the one, or all of them and those that no entry names.
fn meant(studio: &Studio, machine: Option<MachineTag>) -> Vec<Option<MachineTag>> {
    match machine {
        Some(machine) => vec![Some(machine)],
        None => studio.machines.iter().map(|card| Some(card.tag)).chain([None]).collect(),
    }
}

/// Whether a change says only what held already at that moment: on the frame again without having come off, off it twice,
/// finished twice.
#[must_use]
pub fn held_already(
    studio: &Studio,
    rug: &Rug,
    change: WorkChange,
    machine: Option<MachineTag>,
    at: UtcMillis,
) -> bool {
    let machines = meant(studio, machine);
    let is_on = |machine: &Option<MachineTag>| {
        let periods = rug.active_periods(*machine);
        periods.iter().any(|(start, end)| *start <= at && end.is_none_or(|end| at < end))
    };
    let last = rug.work.iter().rev().find(|work| work.at <= at).map(|work| work.change);
    match change {
        WorkChange::Started => machines.iter().all(is_on),
        WorkChange::Paused => !machines.iter().any(is_on),
        WorkChange::Finished => !machines.iter().any(is_on) && last == Some(WorkChange::Finished),
        WorkChange::Delivered => false,
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
    let machines = meant(studio, machine);
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
    use super::*;
    use crate::entries::WorkChange::{Delivered, Finished, Paused, Started};
    use crate::studio::RugState;
    use crate::test_facts::{HOUR, MONDAY_8, entries, entry_list, machine, rug, work};

    fn fox(changes: &[(WorkChange, i64)]) -> Rug {
        let changes = changes.iter().map(|(change, hour)| work("Fox", None, *change, MONDAY_8 + hour * HOUR));
        let studio = Studio::of(&entries([rug("Fox")].into_iter().chain(changes)));
        studio.rug("Fox").unwrap().clone()
    }

    fn asked(changes: &[(WorkChange, i64)], change: WorkChange, hour: i64) -> Result<(), WorkProblem> {
        check(&fox(changes), change, None, UtcMillis(MONDAY_8 + hour * HOUR))
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
    fn after_delivery_nothing_rests_or_ends_without_a_new_start() {
        let rug = || "Fox".to_owned();
        let delivered = [(Started, 0), (Finished, 5), (Delivered, 6)];
        for change in [Paused, Finished, Delivered] {
            assert_eq!(asked(&delivered, change, 7), Err(WorkProblem::Delivered { rug: rug() }));
            // One that was forgotten and is entered late.
            if change != Delivered {
                assert_eq!(asked(&delivered, change, 3), Ok(()));
            }
        }
        let mended = [(Started, 0), (Finished, 5), (Delivered, 6), (Started, 8)];
        assert_eq!(asked(&mended, Finished, 9), Ok(()));
    }

    #[test]
    fn what_was_started_on_one_machine_cannot_end_on_another() {
        let studio = Studio::of(&entries([
            machine(1),
            machine(2),
            rug("Fox"),
            work("Fox", Some(1), Started, MONDAY_8),
        ]));
        let asked = |machine: Option<u32>| {
            check(studio.rug("Fox").unwrap(), Paused, machine.map(MachineTag), UtcMillis(MONDAY_8 + HOUR))
        };
        assert_eq!(asked(Some(1)), Ok(()));
        assert_eq!(asked(None), Ok(()));
        let there = WorkProblem::NeverStartedThere { rug: "Fox".to_owned(), machine: MachineTag(2) };
        assert_eq!(asked(Some(2)), Err(there));
    }

    #[test]
    fn a_change_that_held_already_is_known() {
        let studio = Studio::of(&entries([machine(1)]));
        let held = |changes: &[(WorkChange, i64)], change, hour: i64| {
            held_already(&studio, &fox(changes), change, None, UtcMillis(MONDAY_8 + hour * HOUR))
        };
        let paused = [(Started, 0), (Paused, 4)];
        assert!(held(&paused, Started, 1) && !held(&paused, Started, 4));
        assert!(held(&paused, Paused, 5) && !held(&paused, Paused, 3));
        assert!(!held(&paused, Finished, 5), "what rests can end");
        assert!(held(&[(Started, 0), (Finished, 4)], Finished, 5));
    }

    #[test]
    fn an_order_without_a_date_of_its_own_is_known_by_its_entry() {
        let dated = |at: i64| {
            let mut entries = entry_list([rug("Fox"), rug("fox")]);
            for entry in &mut entries {
                let EntryBody::RugOrdered(order) = &mut entry.body else { continue };
                order.at = UtcMillis(at);
            }
            // The second corrects the size only, an hour later.
            entries[1].entered_at = UtcMillis(MONDAY_8 + HOUR);
            order_is_dated(&InForce::of(entries), &RugName("Fox".to_owned()), UtcMillis(at))
        };
        assert!(!dated(MONDAY_8) && !dated(MONDAY_8 - 999));
        assert!(dated(MONDAY_8 - 1_001));
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
