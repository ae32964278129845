//! What a notification on the desktop says.

use crate::app::care::notify::Notice;
use crate::view::words::all_of;
use host_core::care::DueReport;

/// A notice of all that is due; none when nothing is.
#[must_use]
pub fn of_due(report: &DueReport) -> Option<Notice> {
    let several = report.machines.len() > 1;
    let names: Vec<String> =
        report
            .tasks
            .iter()
            .filter(|task| task.is_asked_for())
            .map(|task| {
                if several { format!("{} ({})", task.task, task.machine_name) } else { task.task.to_owned() }
            })
            .collect();
    let title = if names.len() == 1 { "One care task is due" } else { "Care is due" };
    (!names.is_empty()).then(|| Notice { title: title.to_owned(), text: format!("{}.", all_of(&names)) })
}
