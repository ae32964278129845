//! The record book of a machine as a page.

mod chapters;
mod describe;
mod hours;
pub mod verify;

use std::path::Path;

use jiff::tz::TimeZone;

use super::machines::{self, best_reading};
use super::words::sheet::{Block, Paper, Section, Sheet};
use super::words::table::Column::{Numbers, Words};
use super::words::table::Table;
use super::words::{self, all_of, clock, count, run_time};
use crate::app::book::record_book::RecordBook;
use crate::app::book::take_back::TakenBack;
use host_core::book::lines::Chapter;
use host_core::entries::{EntryId, MeterReading};

/// The numbers of what was entered: "Entry 12. To take it back: needlehours take-back 12".
#[must_use]
pub fn kept(first: EntryId, last: EntryId) -> String {
    if first == last {
        return format!("Entry {0}. To take it back: needlehours take-back {0}", first.0);
    }
    format!("Entries {0} to {1}. To take them back: needlehours take-back {0}-{1}", first.0, last.0)
}

/// What was taken back, or counts again.
#[must_use]
pub fn taken_back(taken: &TakenBack) -> String {
    let presses = taken.presses.iter().map(ToString::to_string);
    let numbers: Vec<String> = taken.entries.iter().map(|entry| entry.0.to_string()).chain(presses).collect();
    let what = match (taken.entries.len(), taken.presses.len()) {
        (0, _) => "",
        (1, 0) => "Entry ",
        _ => "Entries ",
    };
    let what = format!("{what}{}", all_of(&numbers));
    let (does, again) = if numbers.len() == 1 { ("counts", "it") } else { ("count", "them") };
    if taken.counts_again {
        return format!("{what} {does} again.");
    }
    format!(
        "{what} {does} no more and {} visible. To have {again} back: needlehours take-back {} --undo",
        if numbers.len() == 1 { "stays" } else { "stay" },
        numbers.join(" ")
    )
}

/// The whole page.
#[must_use]
pub fn page(book: &RecordBook, zone: &TimeZone) -> String {
    sheet(book, zone).html()
}

/// What stands on it.
#[must_use]
pub fn sheet(book: &RecordBook, zone: &TimeZone) -> Sheet {
    let nothing = "Nothing was entered.";
    let of = |heading: &'static str, chapters: &[Chapter], nothing: &str| {
        Section::new(heading, chapters::entries(book, zone, chapters, nothing))
    };
    let given = [Chapter::HoursByHand, Chapter::Assignments];
    Sheet {
        title: format!("Record book: {}", book.machine_name),
        heading: format!("Record book of {}", book.machine_name),
        kind: "",
        paper: Paper::Book,
        sections: vec![
            about(book, zone),
            hours::chapter(&book.hours, book.is_without_logger),
            chapters::due(book, zone),
            chapters::care(book, zone),
            of("Parts", &[Chapter::Parts], "No change of a part was entered."),
            chapters::faults(book, zone),
            loans(book, zone),
            of("Cloth", &[Chapter::Cloth], nothing),
            of(
                if book.is_without_logger {
                    "The machine and its limits"
                } else {
                    "The machine, its logger and its limits"
                },
                &[Chapter::Machine],
                nothing,
            ),
            of("Due dates given to a calendar", &[Chapter::Calendar], "None was."),
            of("Sessions typed in, and whose running is whose", &given, nothing),
            chapters::corrections(book, zone),
            head(book),
        ],
        footer: String::new(),
    }
}

fn about(book: &RecordBook, zone: &TimeZone) -> Section {
    let about = format!(
        "Machine {}, {} pile, in the studio since {}. {} Made {} ({} time).",
        book.machine.0,
        machines::pile(book.pile),
        clock(book.since_utc_ms, zone),
        if book.loggers.is_empty() {
            let none =
                if book.is_without_logger { "It has no logger board." } else { "No logger sits on it." };
            none.to_owned()
        } else {
            format!("Logger {}.", words::all_of(&book.loggers))
        },
        clock(book.as_of_utc_ms, zone),
        zone.iana_name().unwrap_or("local")
    );
    let warning =
        "The record on which this book rests was changed after it was kept. `needlehours verify` says where.";
    let warning = (!book.chain.is_whole).then(|| Block::Warning(warning.to_owned()));
    Section::new("", [Block::Note(about)].into_iter().chain(warning))
}

fn loans(book: &RecordBook, zone: &TimeZone) -> Section {
    let heading = "Lent out and back";
    if book.loans.is_empty() {
        return Section::new(heading, [Block::Note("It was never lent.".to_owned())]);
    }
    let mut table = Table::new(&[Words("To"), Words("Out"), Words("Back"), Numbers("ran meanwhile")]);
    table.class = "loans";
    for line in &book.loans {
        let loan = &line.loan;
        let side = |at, condition: &Option<String>, noted: &MeterReading, counted: &MeterReading| {
            let condition =
                condition.as_ref().map_or_else(String::new, |said| format!("; \u{201C}{said}\u{201D}"));
            format!("{}{condition}; {}", clock(at, zone), best_reading(noted, counted))
        };
        let back = loan.back_utc_ms.zip(loan.reading_back.as_ref()).map_or_else(
            || "still away".to_owned(),
            |(at, noted)| {
                let counted = loan.counted_back.as_ref().unwrap_or(noted);
                side(at, &loan.condition_back, noted, counted)
            },
        );
        let out = side(loan.out_utc_ms, &loan.condition_out, &loan.reading_out, &loan.counted_out);
        table.row([line.to.clone(), out, back, run_time(loan.run_time_ms)]);
    }
    let entries = chapters::entries(book, zone, &[Chapter::Loans], "");
    Section::new(heading, [Block::Table(table)].into_iter().chain(entries))
}

fn head(book: &RecordBook) -> Section {
    let chain = &book.chain;
    let how = format!(
        "This book rests on {} ({}), each chained to the one before it. With the line below it can be proved later that nothing up \
         to here was changed, taken out or put in: needlehours verify --against, and then this line. Blanks do not matter. \
         Names of people stand outside the chain.",
        count(chain.steps, "step", "steps"),
        count(chain.entries, "entry", "entries")
    );
    let head = Block::Head(grouped(&chain.head.to_string()));
    Section::new("Is it still what was written?", [Block::Note(how), head])
}

/// Eight letters at a time, as they are easier to copy from paper.
fn grouped(head: &str) -> String {
    let Some((steps, link)) = head.split_once('-') else { return head.to_owned() };
    let mut text = format!("{steps}-");
    for (place, letter) in link.chars().enumerate() {
        if place > 0 && place % 8 == 0 {
            text.push(' ');
        }
        text.push(letter);
    }
    text
}

/// The page was written.
#[must_use]
pub fn written(book: &RecordBook, out: &Path) -> String {
    let mut text = format!(
        "The record book of {} is in {}. Print it from a browser.\n",
        book.machine_name,
        out.display()
    );
    if !book.chain.is_whole {
        text.push_str("The record was changed after it was kept: needlehours verify\n");
    }
    text.push_str(&format!("Head: {}", book.chain.head));
    text
}
