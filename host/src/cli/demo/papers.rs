//! The pictures and pages that the demo leaves, each by the use case and the view of the command that makes it.

use crate::app::book::record_book;
use crate::app::care::calendar;
use crate::app::cloth::{cost, tears};
use crate::app::hand::People;
use crate::app::hours::plot;
use crate::app::ports::Clock as _;
use crate::app::rugs::quote::QuoteAnswer;
use crate::app::rugs::sheet;
use crate::app::slowing;
use crate::app::whole_book::Book;
use crate::cli::shell::failure::Failure;
use crate::cli::shell::show;
use crate::demo::folder::{DemoFolder, Paper};
use crate::demo::run::StudioClock;
use crate::demo::scenario::FIRST_RUG;
use crate::demo::without_board;
use crate::store::Database;
use crate::view;
use crate::view::care::calendar::Shown;
use crate::view::plot::PlotError;
use crate::view::words::sheet::Medium;
use host_core::cloth::SpeedBy;
use host_core::stats::Level;

/// Draws and writes them all.
///
/// # Errors
/// When an answer cannot be worked out or a file not be written.
pub fn write_all(store: &mut Database, clock: &StudioClock, folder: &DemoFolder) -> Result<(), Failure> {
    pictures(store, clock, folder)?;
    let zone = clock.zone();
    let sheet = sheet::sheet(store, clock, FIRST_RUG)?;
    let page = view::rugs::sheet::maker(&sheet, Medium::Page, clock.now(), &zone);
    write(folder, Paper::JobSheet, &page.html())?;
    write(folder, Paper::ClientCard, &view::rugs::sheet::client(&sheet.card(), &zone).html())?;
    let dates = calendar::calendar(store, clock, None)?;
    if let Some(file) = view::care::calendar::file(&dates, Shown::Event) {
        write(folder, Paper::Calendar, &file)?;
    }
    // Last, so that it tells of the dates that the calendar has noted.
    let book = record_book::book(store, clock, None)?;
    write(folder, Paper::RecordBook, &view::book::page(&book, &zone))
}

/// Draws and writes those of the maker without a board.
///
/// # Errors
/// As [`write_all`].
pub fn write_without_board(
    store: &Database,
    clock: &StudioClock,
    folder: &DemoFolder,
    next_rug: &QuoteAnswer,
) -> Result<(), Failure> {
    let zone = clock.zone();
    let usage = view::plot::usage::svg(&plot::usage(store, clock, None)?)?;
    write(folder, Paper::WithoutBoardUsage, &usage)?;
    let sheet = sheet::sheet(store, clock, without_board::FIRST_RUG)?;
    let page = view::rugs::sheet::maker(&sheet, Medium::Page, clock.now(), &zone);
    write(folder, Paper::WithoutBoardSheet, &page.html())?;
    if let Some(page) = view::rugs::quote_sheet::sheet(next_rug, Medium::Page, clock.now(), &zone) {
        write(folder, Paper::WithoutBoardQuote, &page.html())?;
    }
    let book = Book::read(store)?;
    let card = view::sessions::week_card(&book.studio, &People::read(store)?);
    write(folder, Paper::WithoutBoardWeekCard, &card.html())
}

fn pictures(store: &Database, clock: &StudioClock, folder: &DemoFolder) -> Result<(), Failure> {
    let zone = clock.zone();
    let draw = |paper, drawn: Result<String, PlotError>| write(folder, paper, &drawn?);
    let usage = plot::usage(store, clock, None)?;
    draw(Paper::Usage, view::plot::usage::svg(&usage))?;
    draw(Paper::Knob, view::plot::knob::svg(&usage.by_knob))?;
    draw(Paper::Hours, view::plot::hours::svg(&plot::hours(store, clock, None)?, &zone))?;
    draw(Paper::Year, view::plot::year::svg(&plot::year(store, clock, None, None)?))?;
    draw(Paper::Density, view::plot::density::svg(&plot::density(store, clock)?))?;
    let speed = tears::speed(store, None, SpeedBy::Knob, Level::USUAL)?;
    draw(Paper::Tears, view::plot::tears::svg(&speed))?;
    let cost = cost::report(store, None, Level::USUAL)?;
    draw(Paper::Cost, view::plot::cost::svg(&cost))?;
    draw(Paper::Traces, view::plot::traces::svg(&tears::traces(store, None)?))?;
    draw(Paper::Slowing, view::plot::slowing::svg(&slowing::slowing(store, clock, None, None)?, &zone))
}

fn write(folder: &DemoFolder, paper: Paper, content: &str) -> Result<(), Failure> {
    show::file(&folder.paper(paper), content.as_bytes(), "plot::write", "Name another folder with --dir.")
}
