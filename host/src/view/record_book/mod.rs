//! The record book as one page that prints well: no script, nothing from elsewhere, every text escaped.

mod chapters;
mod says;

use std::path::Path;

use jiff::tz::TimeZone;

use super::html::Page;
use super::words::{clock, count, run_time, thousands};
use crate::app::record_book::RecordBook;
use crate::core::record_book::lines::Chapter;
use crate::view::lend::loan_condition;

const STYLE: &str = include_str!("record_book.css");

/// The whole page.
#[must_use]
pub fn page(book: &RecordBook, zone: &TimeZone) -> String {
    let mut page = Page::new(&format!("Record book: {}", book.machine_name), STYLE);
    page.heading(1, &format!("Record book of {}", book.machine_name));
    page.note(&format!(
        "Machine {}, {} pile, in the studio since {}. {} Made {} ({} time).",
        book.machine.0,
        super::machine::pile(book.pile),
        clock(book.since_utc_ms, zone),
        if book.loggers.is_empty() {
            "No logger sits on it.".to_owned()
        } else {
            format!("Logger {}.", super::words::all_of(&book.loggers))
        },
        clock(book.as_of_utc_ms, zone),
        zone.iana_name().unwrap_or("local")
    ));
    if !book.chain.is_whole {
        page.warning(
            "The record on which this book rests was changed after it was kept. `needlehours verify` says where.",
        );
    }
    hours(&mut page, book);
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
        "Hours by hand, and whose running is whose",
        &[Chapter::HoursByHand, Chapter::Assignments],
        "Nothing was entered.",
    );
    chapters::corrections(&mut page, book, zone);
    head(&mut page, book);
    page.finished()
}

fn hours(page: &mut Page, book: &RecordBook) {
    let hours = &book.hours;
    page.heading(2, "Hours and strokes");
    page.note("Three kinds of hours, kept apart and never added up.");
    let by_hand = |pick: fn(&crate::core::hours::HandSum) -> u64| hours.by_hand.iter().map(pick).sum::<u64>();
    let before = hours.before_logger_run_time_ms.map_or_else(|| "none given".to_owned(), run_time);
    page.table_start(&["", "#running", "#strokes", "what it is"]);
    page.row(&["Before the logger", &before, "", "its owner's estimate"]);
    let strokes = thousands(hours.measured.strokes);
    page.row(&["Measured", &run_time(hours.measured.run_time_ms), &strokes, "counted by loggers on it"]);
    let lost = run_time(hours.not_recorded.run_time_ms);
    page.row(&[
        "– of it without a record",
        &lost,
        &thousands(hours.not_recorded.strokes),
        "in the logger's totals only",
    ]);
    page.row(&[
        "– of it in care",
        &run_time(hours.care.run_time_ms),
        &thousands(hours.care.strokes),
        "dry and test runs",
    ]);
    page.row(&["– of it lent out", &run_time(hours.lent_run_time_ms), "", "surely in that time"]);
    let at_the_frame = format!("and {} at the frame", run_time(by_hand(|sum| sum.tufting_time_ms)));
    page.row(&["Written by hand", &run_time(by_hand(|sum| sum.run_time_ms)), "", &at_the_frame]);
    page.table_end();
    if hours.rugs.is_empty() {
        return;
    }
    page.table_start(&["Rug", "#running", "#strokes", "days"]);
    for rug in &hours.rugs {
        let days = super::words::days(rug.first_day, rug.last_day);
        page.row(&[&rug.rug, &run_time(rug.total.run_time_ms), &thousands(rug.total.strokes), &days]);
    }
    page.table_end();
}

fn loans(page: &mut Page, book: &RecordBook, zone: &TimeZone) {
    page.heading(2, "Lent out and back");
    if book.loans.is_empty() {
        page.note("It was never lent.");
        return;
    }
    page.table_start(&["To", "Out", "Back", "#ran meanwhile", "Condition"]);
    for line in &book.loans {
        let loan = &line.loan;
        let back = loan.back_utc_ms.map_or_else(|| "still away".to_owned(), |back| clock(back, zone));
        page.row(&[
            &line.to,
            &clock(loan.out_utc_ms, zone),
            &back,
            &run_time(loan.run_time_ms),
            &loan_condition(loan),
        ]);
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
