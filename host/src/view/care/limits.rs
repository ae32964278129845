//! Limits of a task in words.

use crate::view::words::{count, run_time};
use host_core::care::plan::TaskLimits;

#[must_use]
pub fn limits(limits: &TaskLimits) -> String {
    let parts = [
        limits.run_time_ms.map(|run| format!("{} of running", run_time(run))),
        limits.sessions.map(|sessions| {
            if sessions == 1 { "every session".to_owned() } else { format!("every {sessions} sessions") }
        }),
        limits.days.map(|days| count(days.into(), "day", "days")),
        limits.idle_days.map(|days| format!("{} of standing still", count(days.into(), "day", "days"))),
        limits.strokes.map(|strokes| count(strokes, "stroke", "strokes")),
        limits.after_tear.then(|| "after every tear".to_owned()),
        limits.after_pile_height.then(|| "after every change of the pile height".to_owned()),
    ];
    let parts: Vec<String> = parts.into_iter().flatten().collect();
    if parts.is_empty() { "no limit, never asked for".to_owned() } else { parts.join(" or ") }
}
