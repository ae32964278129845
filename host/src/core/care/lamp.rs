//! When the logger's lamp should speak: what is due in run time, turned into totals that the logger itself counts.

use shared_types::RunMillis;
use shared_types::Totals;
use shared_types::log::Limits;

use super::plan::BelongsTo;
use super::schedule::{Due, DueState, OVERDUE_FROM};

/// Limits for the lamp, counted from the logger's lifetime totals now. *Look when you stop* comes when the first care task of
/// the machine falls due by run time, *stop now* when the first one is overdue, *re-tension* when the cloth's limit is reached;
/// what is past already speaks at once. Limits by sessions and by calendar cannot be sent: the logger knows neither.
/// The knob's ceiling is left as it is by the caller.
#[must_use]
pub fn lamp_limits(dues: &[Due], totals: Totals) -> Limits {
    let of = |belongs: BelongsTo| {
        dues.iter().filter(move |due| due.planned.task.belongs_to == belongs && due.state != DueState::NotNow)
    };
    let at = |limit: u64, due: &Due| {
        RunMillis(totals.run.0.saturating_add(limit.saturating_sub(due.used.run.cautious_ms())))
    };
    let limit = |due: &Due| due.planned.limits.run_time_ms;
    let look = of(BelongsTo::Machine).filter_map(|due| limit(due).map(|limit| at(limit, due))).min();
    let overdue = |limit: u64| limit.saturating_mul(OVERDUE_FROM).div_ceil(1000);
    let stop = of(BelongsTo::Machine).filter_map(|due| limit(due).map(|limit| at(overdue(limit), due))).min();
    let cloth = || of(BelongsTo::Cloth).filter_map(|due| limit(due).map(|limit| (limit, due))).next();
    Limits {
        look_at: look,
        stop_at: stop,
        retension_at: cloth().map(|(limit, due)| at(limit, due)),
        retension_every: cloth().map(|(limit, _)| RunMillis(limit)),
        ceiling: None,
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, reason = "a test may stop at the first surprise")]
    use super::super::done::{Evidence, LastDone};
    use super::super::history::{Moment, RunSince};
    use super::super::plan::{HOUR_MS, task};
    use super::super::schedule::{PlannedTask, Used, judge};
    use super::*;
    use shared_types::{Edges, UtcMillis};

    fn due(name: &str, ran_ms: u64, applies: bool) -> Due {
        let task = task(name).unwrap();
        let last =
            LastDone { evidence: Evidence::Entered, moment: Moment::dated(UtcMillis(0)), finding: None };
        let planned = PlannedTask { task, limits: task.start, limits_by_maker: false, last, applies };
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
}
