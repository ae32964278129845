//! The record book as one page that prints well: no script, nothing from elsewhere, every text escaped.

mod chapters;
mod describe;
mod hours;
pub mod verify;

use std::path::Path;

use jiff::tz::TimeZone;

use super::machines::{self, best_reading};
use super::words::html::Page;
use super::words::{self, clock, count, run_time};
use crate::app::book::record_book::RecordBook;
use host_core::book::lines::Chapter;
use host_core::entries::MeterReading;

const STYLE: &str = include_str!("record_book.css");

/// The whole page.
#[must_use]
pub fn page(book: &RecordBook, zone: &TimeZone) -> String {
    let mut page = Page::new(&format!("Record book: {}", book.machine_name), STYLE);
    page.heading(1, &format!("Record book of {}", book.machine_name));
    page.note(&format!(
        "Machine {}, {} pile, in the studio since {}. {} Made {} ({} time).",
        book.machine.0,
        machines::pile(book.pile),
        clock(book.since_utc_ms, zone),
        if book.loggers.is_empty() {
            "No logger sits on it.".to_owned()
        } else {
            format!("Logger {}.", words::all_of(&book.loggers))
        },
        clock(book.as_of_utc_ms, zone),
        zone.iana_name().unwrap_or("local")
    ));
    if !book.chain.is_whole {
        page.warning(
            "The record on which this book rests was changed after it was kept. `needlehours verify` says where.",
        );
    }
    hours::chapter(&mut page, &book.hours);
    chapters::care(&mut page, book, zone);
    chapters::of_entries(
        &mut page,
        book,
        zone,
        "Parts",
        &[Chapter::Parts],
        "No change of a part was entered.",
    );
    chapters::faults(&mut page, book, zone);
    loans(&mut page, book, zone);
    chapters::of_entries(&mut page, book, zone, "Cloth", &[Chapter::Cloth], "Nothing was entered.");
    chapters::of_entries(
        &mut page,
        book,
        zone,
        "The machine, its logger and its limits",
        &[Chapter::Machine],
        "Nothing was entered.",
    );
    chapters::of_entries(
        &mut page,
        book,
        zone,
        "Due dates given to a calendar",
        &[Chapter::Calendar],
        "None was.",
    );
    chapters::of_entries(
        &mut page,
        book,
        zone,
        "Hours by hand, and whose running is whose",
        &[Chapter::HoursByHand, Chapter::Assignments],
        "Nothing was entered.",
    );
    chapters::corrections(&mut page, book, zone);
    head(&mut page, book);
    page.finished()
}

fn loans(page: &mut Page, book: &RecordBook, zone: &TimeZone) {
    page.heading(2, "Lent out and back");
    if book.loans.is_empty() {
        page.note("It was never lent.");
        return;
    }
    page.table_of("loans", &["To", "Out", "Back", "#ran meanwhile"]);
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
        page.row(&[&line.to, &out, &back, &run_time(loan.run_time_ms)]);
    }
    page.table_end();
    chapters::of_entries(page, book, zone, "", &[Chapter::Loans], "");
}

fn head(page: &mut Page, book: &RecordBook) {
    let chain = &book.chain;
    page.heading(2, "Is it still what was written?");
    page.note(&format!(
        "This book rests on {} ({}), each chained to the one before it. With the line below it can be proved later that nothing up \
         to here was changed, taken out or put in: needlehours verify --against, and then this line. Blanks do not matter. \
         Names of people stand outside the chain.",
        count(chain.steps, "step", "steps"),
        count(chain.entries, "entry", "entries")
    ));
    page.head_line(&grouped(&chain.head.to_string()));
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
