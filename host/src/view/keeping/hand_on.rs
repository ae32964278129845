//! Exports and imports, in words.

use crate::app::keeping::whole::{ExportReport, ImportReport};
use crate::view::words::count;

/// What an export holds.
#[must_use]
pub fn exported(report: &ExportReport) -> String {
    let rows = report.tables.iter().map(|table| table.rows).fold(0, u64::saturating_add);
    let names = if report.with_names {
        "People's names are in it."
    } else {
        "People's names are not in it (--with-names puts them in); names in notes are."
    };
    format!(
        "Everything is in {}: {} with {}, and what gives the database back.\n{names} Its page SCHEMA.md tells each column.\nTo take it in elsewhere: needlehours import {}",
        report.folder.display(),
        count(report.tables.len() as u64, "table", "tables"),
        count(rows, "row", "rows"),
        report.folder.display()
    )
}

/// What an import made.
#[must_use]
pub fn imported(report: &ImportReport) -> String {
    let mut text = format!(
        "{} is a database now: {} and {}. It holds together, and its head is the one of the export: {}.",
        report.database.display(),
        count(report.holds.entries, "entry", "entries"),
        count(report.holds.records, "record", "records"),
        report.head
    );
    if !report.with_names {
        text.push_str("\nPeople's names were not in the export; they are called by their numbers.");
    }
    if let Some(aside) = &report.kept_aside {
        text.push_str(&format!("\nThe empty one that was there is kept in {}.", aside.display()));
    }
    text
}
