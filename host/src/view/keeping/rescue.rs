//! `rescue` on screen.

use crate::app::keeping::rescue::{Missing, RescueReport};
use crate::view::words::{count, push};

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
            count(report.hearings, "answer of a logger", "answers of a logger"),
            count(report.records, "record of a logger", "records of loggers"),
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
        Missing::Records { log, numbers } => format!("{} of logger {log}.", records(numbers)),
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

/// Stretches of numbers that are written out; the rest are counted.
const WRITTEN_OUT: usize = 6;

/// The numbers as `--json` has them (kind, colon, first, dash, last; a comma between) for people.
fn records(numbers: &str) -> String {
    let range = |group: &str| -> Option<(u64, u64)> {
        let (_, range) = group.split_once(':')?;
        let (from, to) = range.split_once('-')?;
        Some((from.parse().ok()?, to.parse().ok()?))
    };
    let ranges: Vec<(u64, u64)> = numbers.split(',').filter_map(range).collect();
    let all = ranges.iter().fold(0, |sum: u64, (from, to)| sum.saturating_add(to.saturating_sub(*from) + 1));
    let written = ranges
        .iter()
        .take(WRITTEN_OUT)
        .map(|(from, to)| if from == to { from.to_string() } else { format!("{from} to {to}") });
    let mut list = written.collect::<Vec<_>>().join(", ");
    if ranges.len() > WRITTEN_OUT {
        list.push_str(" and others (--json lists them all)");
    }
    format!("{}: {list}", count(all, "record", "records"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn missing_records_are_counted_and_the_first_stretches_written_out() {
        assert_eq!(records("0:8454-8454"), "1 record: 8454");
        assert_eq!(records("0:3-5,0:9-9,1:12-13"), "6 records: 3 to 5, 9, 12 to 13");
        let many: Vec<String> = (0..8).map(|place| format!("0:{place}0-{place}1")).collect();
        let told = records(&many.join(","));
        assert_eq!(
            told,
            "16 records: 0 to 1, 10 to 11, 20 to 21, 30 to 31, 40 to 41, 50 to 51 and others (--json lists them all)"
        );
    }
}
