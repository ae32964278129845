//! Backups, in words.

use jiff::tz::TimeZone;

use crate::app::keeping::backup::{BackupReport, BackupSeen, Holds, RestoreReport};
use crate::view::words::{clock, count};

/// What a backup did.
#[must_use]
pub fn made(report: &BackupReport) -> String {
    format!(
        "Copied to {} and looked through: {}. Best kept on another disk than the database.",
        report.file.display(),
        holds(report.holds)
    )
}

/// When the last backup was made.
#[must_use]
pub fn seen(seen: &BackupSeen, zone: &TimeZone) -> String {
    let limit = format!(
        "It counts as old after {}{}.",
        count(u64::from(seen.limit_days), "day", "days"),
        if seen.limit_is_assumed {
            " (our assumption; change it with `needlehours backup --limit-days DAYS`)"
        } else {
            ""
        }
    );
    let Some(at) = seen.last_utc_ms else {
        return format!("No backup was ever made from here. {limit}\nTo make one: needlehours backup FILE");
    };
    let day = clock(at, zone);
    let file = seen.file.as_ref().map(|file| format!(" to {}", file.display())).unwrap_or_default();
    let old = if seen.is_overdue { " It is old: make a new one with `needlehours backup FILE`." } else { "" };
    format!("The last backup was made on {day}{file}. {limit}{old}")
}

/// What putting a backup back did.
#[must_use]
pub fn restored(report: &RestoreReport) -> String {
    let mut text = format!("{} is the database now: {}.", report.file.display(), holds(report.holds));
    if let Some(aside) = &report.kept_aside {
        text.push_str(&format!("\nThe one that was there is kept in {}.", aside.display()));
    }
    match report.left_behind {
        Some(left) if left != Holds::default() => {
            text.push_str(&format!("\nOnly in that one: {}. Records come again with the next pull where the logger still has them.", holds(left)));
        }
        _ => {}
    }
    text
}

/// That the database holds what a backup does not.
#[must_use]
pub fn newer(left: Holds) -> String {
    format!("the database holds {} that the backup does not", holds(left))
}

fn holds(holds: Holds) -> String {
    format!("{} and {}", count(holds.entries, "entry", "entries"), count(holds.records, "record", "records"))
}
