//! `rescue` on screen.

use super::words::{count, push};
use crate::app::rescue::{Missing, RescueReport};

/// What was saved and what is missing.
#[must_use]
pub fn text(report: &RescueReport) -> String {
    let mut text = String::new();
    push(
        &mut text,
        format_args!(
            "{} holds {}, {}, {} and {}.",
            report.into.display(),
            count(report.entries, "entry", "entries"),
            count(report.hearings, "hearing of a logger", "hearings of a logger"),
            count(report.records, "record of running", "records of running"),
            count(report.names, "name", "names")
        ),
    );
    push(&mut text, format_args!("{} was not touched. Keep it.", report.from.display()));
    if report.is_whole {
        push(&mut text, format_args!("Nothing is known to be missing."));
    } else {
        push(&mut text, format_args!("Missing, because it could not be read as it was written:"));
        for missing in &report.missing {
            push(&mut text, format_args!("  {}", sentence(missing)));
        }
    }
    if report.missing.iter().any(|missing| matches!(missing, Missing::Records { .. })) {
        push(
            &mut text,
            format_args!("  Try: pull into the new database; the logger gives again what it still has."),
        );
    }
    push(
        &mut text,
        format_args!(
            "Go on with it: needlehours --db {} hours, or put it in the old one's place.",
            report.into.display()
        ),
    );
    text
}

fn sentence(missing: &Missing) -> String {
    match missing {
        Missing::Entry { entry, reads: Some(reads) } => {
            format!("Entry {entry}; something in it is wrong, so enter it again. It reads: {reads}")
        }
        Missing::Entry { entry, reads: None } => format!("Entry {entry}; it cannot be read at all."),
        Missing::Hearing { hearing } => {
            format!("Hearing {hearing} of a logger: what it had counted in all until then.")
        }
        Missing::Records { log, numbers } => format!("Records {numbers} of logger {log}."),
        Missing::Name { person, reads } => {
            format!(
                "The name of person {person}; it reads \"{reads}\": needlehours person rename {person} NAME"
            )
        }
        Missing::Newest => {
            "What was entered and pulled last: the journal beside the file is damaged.".to_owned()
        }
        Missing::Rows { table, rows: Some(rows) } => {
            format!(
                "{} of the table {table}, of which not even the number is known.",
                count(*rows, "row", "rows")
            )
        }
        Missing::Rows { table, rows: None } => format!("Whatever else stood in the table {table}."),
    }
}
