//! Run time since the cloth on the frame was last tightened, and how much is left until it wants tightening again.
//!
//! The book counts to the last pull. What ran since is told by the logger's lifetime total, and a re-tension press since by the
//! limit that its lamp counts to: a press moves it to the total of that moment plus the interval.

use serde::Serialize;
use shared_types::log::Limits;
use shared_types::{MachineTag, RunMillis, UtcMillis};

use super::done::Evidence;
use super::lamp::run_left_ms;
use super::plan::BelongsTo;
use super::report::MachineCare;

/// Run time since the cloth on a machine's frame was last tightened.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct ClothTension {
    /// The machine's number.
    pub machine: MachineTag,
    /// How it is known that it was tightened.
    pub tightened_by: Evidence,
    /// When that was, at the latest; null where no clock tells.
    pub tightened_latest_utc_ms: Option<UtcMillis>,
    /// Run time since that is certain, in milliseconds.
    pub run_time_since_at_least_ms: u64,
    /// Run time since at most, in milliseconds; this decides.
    pub run_time_since_at_most_ms: u64,
    /// Run time from one tightening to the next, in milliseconds; null where the maker switched that limit off.
    pub limit_run_time_ms: Option<u64>,
    /// Run time left, in milliseconds; zero when the cloth wants tightening now, null where no run time brings that about.
    pub remaining_run_time_ms: Option<u64>,
}

/// Lifetime run time of a logger as it was last heard: up to there the book counts.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct HeardTotal {
    /// The total.
    pub run: RunMillis,
    /// When it was heard.
    pub at: UtcMillis,
}

impl ClothTension {
    /// As the book tells it. None where no rug is known to be on the frame, re-tension is switched off, or nobody knows since
    /// when the cloth is tight.
    #[must_use]
    pub fn of(care: &MachineCare<'_>, machine: MachineTag) -> Option<Self> {
        if care.notes.cloth_is_on != Some(true) {
            return None;
        }
        let due = care.dues.iter().find(|due| due.planned.task.belongs_to == BelongsTo::Cloth)?;
        let last = due.planned.last;
        if last.evidence == Evidence::Never {
            return None;
        }
        let run = due.used.run;
        Some(Self {
            machine,
            tightened_by: last.evidence,
            tightened_latest_utc_ms: last.moment.when.latest(),
            run_time_since_at_least_ms: run.at_least_ms.saturating_add(run.by_hand_ms),
            run_time_since_at_most_ms: run.cautious_ms(),
            limit_run_time_ms: due.planned.limits.run_time_ms,
            remaining_run_time_ms: run_left_ms(due, 1000),
        })
    }

    /// Whether it wants tightening now.
    #[must_use]
    pub fn is_wanted(&self) -> bool {
        self.remaining_run_time_ms == Some(0)
    }

    /// The same with what the logger counted since it was last heard: its lifetime total now, and the limits of its lamp.
    #[must_use]
    pub fn with_running(self, heard: HeardTotal, total: RunMillis, limits: &Limits) -> Self {
        if let Some(pressed_at) = self.pressed_since(heard, total, limits) {
            let since = total.0.saturating_sub(pressed_at);
            return Self {
                tightened_by: Evidence::Pressed,
                tightened_latest_utc_ms: None,
                run_time_since_at_least_ms: since,
                run_time_since_at_most_ms: since,
                remaining_run_time_ms: self.limit_run_time_ms.map(|limit| limit.saturating_sub(since)),
                ..self
            };
        }
        let ran = total.0.saturating_sub(heard.run.0);
        // Of a tightening that was entered after the last pull nobody knows how much of that running lies before it.
        let is_later = self.tightened_latest_utc_ms.is_some_and(|at| at > heard.at);
        let certain = if is_later { 0 } else { ran };
        Self {
            run_time_since_at_least_ms: self.run_time_since_at_least_ms.saturating_add(certain),
            run_time_since_at_most_ms: self.run_time_since_at_most_ms.saturating_add(ran),
            remaining_run_time_ms: self.remaining_run_time_ms.map(|left| left.saturating_sub(ran)),
            ..self
        }
    }

    /// The lifetime run time at which the re-tension button was pressed after the last pull.
    fn pressed_since(&self, heard: HeardTotal, total: RunMillis, limits: &Limits) -> Option<u64> {
        // A pull sets the lamp at most one interval ahead, unless the maker put the task off: then the limit tells nothing.
        if self.remaining_run_time_ms.zip(self.limit_run_time_ms).is_some_and(|(left, limit)| left > limit) {
            return None;
        }
        let (at, every) = limits.retension_at.zip(limits.retension_every)?;
        at.0.checked_sub(every.0).filter(|pressed| *pressed > heard.run.0 && *pressed <= total.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::MINUTE_MS;

    const HEARD: HeardTotal = HeardTotal { run: RunMillis(1_000 * MINUTE_MS), at: UtcMillis(500) };

    /// Ten of fifteen minutes, tightened before the last pull.
    const TEN: ClothTension = ClothTension {
        machine: MachineTag(1),
        tightened_by: Evidence::ClothPutOn,
        tightened_latest_utc_ms: Some(UtcMillis(400)),
        run_time_since_at_least_ms: 9 * MINUTE_MS,
        run_time_since_at_most_ms: 10 * MINUTE_MS,
        limit_run_time_ms: Some(15 * MINUTE_MS),
        remaining_run_time_ms: Some(5 * MINUTE_MS),
    };

    fn limits(at_minutes: u64) -> Limits {
        Limits {
            retension_at: Some(RunMillis(at_minutes * MINUTE_MS)),
            retension_every: Some(RunMillis(15 * MINUTE_MS)),
            ..Limits::default()
        }
    }

    fn minutes(tension: ClothTension) -> (u64, u64, Option<u64>) {
        let of = |ms: u64| ms / MINUTE_MS;
        let ClothTension { run_time_since_at_least_ms, run_time_since_at_most_ms, .. } = tension;
        (of(run_time_since_at_least_ms), of(run_time_since_at_most_ms), tension.remaining_run_time_ms.map(of))
    }

    fn at(tension: ClothTension, total_minutes: u64, limits: &Limits) -> ClothTension {
        tension.with_running(HEARD, RunMillis(total_minutes * MINUTE_MS), limits)
    }

    #[test]
    fn what_ran_since_the_pull_is_added_until_the_cloth_wants_tightening() {
        // By hand: 10 min at the pull, the lamp set to 1,005 min, of 15.
        assert_eq!(minutes(at(TEN, 1_004, &limits(1_005))), (13, 14, Some(1)));
        let wanted = at(TEN, 1_007, &limits(1_005));
        assert_eq!(minutes(wanted), (16, 17, Some(0)));
        assert!(wanted.is_wanted() && !at(TEN, 1_004, &limits(1_005)).is_wanted());
        assert_eq!(
            minutes(at(TEN, 900, &limits(1_005))),
            (9, 10, Some(5)),
            "a total that went back adds nothing"
        );
    }

    #[test]
    fn a_press_after_the_pull_begins_anew_and_the_lamp_s_limit_tells_when_it_was() {
        // Pressed at 1,004 min: the lamp then counts to 1,019.
        let pressed = at(TEN, 1_006, &limits(1_019));
        assert_eq!((minutes(pressed), pressed.tightened_by), ((2, 2, Some(13)), Evidence::Pressed));
        // A limit that cannot come from a press so far is none.
        assert_eq!(minutes(at(TEN, 1_006, &limits(1_030))), (15, 16, Some(0)));
        assert_eq!(minutes(at(TEN, 1_002, &Limits::default())), (11, 12, Some(3)));
    }

    #[test]
    fn what_is_put_off_is_no_press_and_a_tightening_entered_after_the_pull_makes_the_running_uncertain() {
        // Put off for 120 min of running: the lamp counts to 1,120.
        let put_off = ClothTension { remaining_run_time_ms: Some(120 * MINUTE_MS), ..TEN };
        assert_eq!(minutes(at(put_off, 1_110, &limits(1_120))), (119, 120, Some(10)));
        let entered = ClothTension {
            tightened_latest_utc_ms: Some(UtcMillis(600)),
            run_time_since_at_least_ms: 0,
            run_time_since_at_most_ms: 0,
            remaining_run_time_ms: Some(15 * MINUTE_MS),
            ..TEN
        };
        assert_eq!(minutes(at(entered, 1_004, &limits(1_005))), (0, 4, Some(11)));
    }

    #[test]
    fn without_a_limit_only_the_running_is_told() {
        let none = ClothTension { limit_run_time_ms: None, remaining_run_time_ms: None, ..TEN };
        let later = at(none, 1_060, &Limits::default());
        assert_eq!((minutes(later), later.is_wanted()), ((69, 70, None), false));
    }
}
