//! Limits of the logger's lamp: what is due in run time, as lifetime totals of the logger.

use shared_types::RunMillis;
use shared_types::Totals;
use shared_types::log::Limits;

use super::done::Evidence;
use super::plan::BelongsTo;
use super::schedule::{Due, DueState, OVERDUE_FROM};

/// Limits for the lamp, counted from the logger's lifetime totals now. *Look when you stop* comes when the first care task of
/// the machine falls due by run time, *finish this line, then stop* when the first one is overdue, *re-tension* when the cloth's limit is reached;
/// what is past already speaks at once. Limits by sessions, strokes, tears and calendar cannot be sent: the logger knows none.
/// The knob's ceiling is left as it is by the caller.
///
/// A task that was never noted never says *stop*: on the first pull everything is past its limit, not because the machine
/// is in need but because nobody has told the program yet. A lamp that cries then is a lamp that is not believed later. It says
/// *look* until the task is noted once. What was put off speaks when the putting off ends, and not by itself where that is a
/// day: the logger has no calendar, and the next pull sends it.
#[must_use]
pub fn lamp_limits(dues: &[Due<'_>], totals: Totals) -> Limits {
    let of = |belongs: BelongsTo| {
        dues.iter().filter(move |due| due.planned.task.belongs_to == belongs && due.state != DueState::NotNow)
    };
    let after = |run_ms: u64| RunMillis(totals.run.0.saturating_add(run_ms));
    let look = of(BelongsTo::Machine).filter_map(|due| run_left_ms(due, 1000)).min();
    let is_noted = |due: &&Due<'_>| due.planned.last.evidence != Evidence::Never;
    let stop = of(BelongsTo::Machine).filter(is_noted).filter_map(|due| run_left_ms(due, OVERDUE_FROM)).min();
    let cloth = || of(BelongsTo::Cloth).next();
    let every = cloth().and_then(|due| due.planned.limits.run_time_ms);
    Limits {
        look_at: look.map(after),
        stop_at: stop.map(after),
        retension_at: cloth().and_then(|due| run_left_ms(due, 1000)).map(after),
        retension_every: every.map(RunMillis),
        ceiling: None,
    }
}

/// Run time until a task has used up a share of its limit, per mille, and is not put off any more. None where no run time
/// brings that about.
pub(super) fn run_left_ms(due: &Due<'_>, per_mille: u64) -> Option<u64> {
    let besides = due.planned.besides;
    let share = |limit: u64| limit.saturating_mul(per_mille).div_ceil(1000);
    let by_limit =
        due.planned.limits.run_time_ms.map(|limit| share(limit).saturating_sub(due.used.run.cautious_ms()));
    let running_in = besides.running_in_at_ms.map(|at| share(at).saturating_sub(due.used.run_ever_ms));
    let left = by_limit.into_iter().chain(running_in).min()?;
    match besides.snooze_run_left_ms {
        Some(put_off) => Some(left.max(put_off)),
        None if besides.is_snoozed => None,
        None => Some(left),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::care::done::LastDone;
    use crate::care::history::RunSince;
    use crate::care::run_pieces::Moment;
    use crate::care::schedule::{Besides, PlannedTask, Used, judge};
    use crate::care::tasks::task;
    use crate::stats::HOUR_MS;
    use shared_types::{Edges, UtcMillis};

    fn due(name: &str, ran_ms: u64, applies: bool) -> Due<'static> {
        due_with(name, ran_ms, applies, Evidence::Entered, Besides::default())
    }

    fn due_with(
        name: &str,
        ran_ms: u64,
        applies: bool,
        evidence: Evidence,
        besides: Besides,
    ) -> Due<'static> {
        let task = *task(name).unwrap();
        let last = LastDone { evidence, moment: Moment::dated(UtcMillis(0)), finding: None };
        let planned =
            PlannedTask { task, limits: task.start, limits_by_maker: false, last, applies, besides };
        let run = RunSince { at_least_ms: ran_ms, at_most_ms: ran_ms, ..RunSince::default() };
        judge(planned, Used { run, ..Used::default() })
    }

    const TOTALS: Totals = Totals { run: RunMillis(1000 * HOUR_MS), edges: Edges(0) };

    #[test]
    fn the_lamp_gets_absolute_totals_of_what_comes_first() {
        // Oiling every 4 h, 1 h ago: due in 3, overdue in 5. Needle every 10 h, 8 h ago: due in 2, overdue in 7.
        let limits = lamp_limits(&[due("oiling", HOUR_MS, true), due("needle", 8 * HOUR_MS, true)], TOTALS);
        assert_eq!(limits.look_at, Some(RunMillis(1002 * HOUR_MS)));
        assert_eq!(limits.stop_at, Some(RunMillis(1005 * HOUR_MS)));
        assert_eq!((limits.retension_at, limits.retension_every), (None, None));
    }

    #[test]
    fn what_is_past_speaks_at_once_and_the_cloth_has_its_own_message() {
        let limits =
            lamp_limits(&[due("oiling", 50 * HOUR_MS, true), due("re-tension", 600_000, true)], TOTALS);
        assert_eq!((limits.look_at, limits.stop_at), (Some(TOTALS.run), Some(TOTALS.run)));
        // 15 minutes less 10.
        assert_eq!(limits.retension_at, Some(RunMillis(1000 * HOUR_MS + 300_000)));
        assert_eq!(limits.retension_every, Some(RunMillis(900_000)));
    }

    #[test]
    fn no_cloth_no_message() {
        assert_eq!(lamp_limits(&[due("re-tension", 600_000, false)], TOTALS), Limits::default());
    }

    #[test]
    fn what_was_never_noted_asks_for_a_look_and_never_for_a_stop() {
        let never = due_with("oiling", 50 * HOUR_MS, true, Evidence::Never, Besides::default());
        let limits = lamp_limits(&[never], TOTALS);
        assert_eq!((limits.look_at, limits.stop_at), (Some(TOTALS.run), None));
        // Another task that is noted still says so: needle every 10 h, 8 h ago, overdue at 15.
        let limits = lamp_limits(&[never, due("needle", 8 * HOUR_MS, true)], TOTALS);
        assert_eq!(limits.stop_at, Some(RunMillis(1007 * HOUR_MS)));
    }

    #[test]
    fn what_is_put_off_speaks_when_the_putting_off_ends() {
        let put_off = |snooze_run_left_ms| {
            let besides = Besides { is_snoozed: true, snooze_run_left_ms, ..Besides::default() };
            lamp_limits(&[due_with("oiling", 50 * HOUR_MS, true, Evidence::Entered, besides)], TOTALS)
        };
        let for_two_hours = put_off(Some(2 * HOUR_MS));
        assert_eq!(for_two_hours.look_at, Some(RunMillis(1002 * HOUR_MS)));
        assert_eq!(for_two_hours.stop_at, Some(RunMillis(1002 * HOUR_MS)));
        let until_a_day = put_off(None);
        assert_eq!((until_a_day.look_at, until_a_day.stop_at), (None, None));
    }

    #[test]
    fn a_new_machine_lights_the_lamp_at_its_own_run_time() {
        let besides = Besides { running_in_at_ms: Some(2 * HOUR_MS), ..Besides::default() };
        let mut oiling = due_with("oiling", HOUR_MS / 2, true, Evidence::Entered, besides);
        oiling.used.run_ever_ms = HOUR_MS;
        assert_eq!(lamp_limits(&[oiling], TOTALS).look_at, Some(RunMillis(1001 * HOUR_MS)));
    }
}
