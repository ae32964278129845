//! Series of the plots of hours.

use super::rug_times::{Grounds, RugUsage};
use super::year_marks::{YearGrounds, YearPicture};
use crate::app::ports::{Clock, Store};
use crate::app::typed::choose_machine;
use crate::app::typed::error::RequestError;
use crate::app::whole_book::Book;
use host_core::cloth::harms;
use host_core::hours::course::HoursCourse;
use host_core::hours::usage::UsageReport;
use host_core::hours::year_days::YearReport;
use host_core::rugs::commission::Commissions;
use host_core::rugs::density::DensityReport;
use host_core::rugs::{own_rugs, rug_work};
use host_core::sessions::local_day;

/// How each commission used the machine: its times, its tears, and where the knob stood.
///
/// # Errors
/// When there is no such machine, or the store cannot be read.
pub fn usage(store: &impl Store, clock: &impl Clock, machine: Option<u32>) -> Result<RugUsage, RequestError> {
    let book = Book::read(store)?;
    let machine = choose_machine::only_machine(&book.studio, machine)?;
    let (ledger, zone) = (book.ledger(), clock.zone());
    let by_knob = UsageReport::of(&book.studio, &ledger, machine, &zone);
    let grounds = Grounds {
        studio: &book.studio,
        taken: &rug_work::taken(&book.studio, &ledger, &zone),
        harms: &harms(&book.entries, &book.studio, &ledger),
        machine,
    };
    Ok(RugUsage { rows: grounds.rows(&by_knob), by_knob })
}

/// How a machine's running hours grew, with the care on the way.
///
/// # Errors
/// When the machine is not clear, or the store cannot be read.
pub fn hours(
    store: &impl Store,
    clock: &impl Clock,
    machine: Option<u32>,
) -> Result<HoursCourse, RequestError> {
    let book = Book::read(store)?;
    let machine = choose_machine::machine(&book.studio, machine)?;
    Ok(HoursCourse::of(&book.entries, &book.studio, &book.ledger(), machine, &clock.zone()))
}

/// A year by day, of all machines or of one; without a year the last one in which something ran.
///
/// # Errors
/// When there is no such machine, or the store cannot be read.
pub fn year(
    store: &impl Store,
    clock: &impl Clock,
    machine: Option<u32>,
    year: Option<i16>,
) -> Result<YearPicture, RequestError> {
    let book = Book::read(store)?;
    let machine = choose_machine::only_machine(&book.studio, machine)?;
    let (ledger, zone) = (book.ledger(), clock.zone());
    let today = local_day(clock.now(), &zone);
    let this_year = today.map_or(1970, |day| day.year());
    let report = YearReport::of(&book.studio, &ledger, machine, year, this_year, &zone);
    let grounds = YearGrounds { book: &book, ledger: &ledger, machine, zone: &zone, today };
    Ok(grounds.picture(report))
}

/// Strokes for each square metre, rug by rug.
///
/// # Errors
/// When the store cannot be read.
pub fn density(store: &impl Store, clock: &impl Clock) -> Result<DensityReport, RequestError> {
    let book = Book::read(store)?;
    let commissions = Commissions::of(&book.entries);
    let taken = rug_work::taken(&book.studio, &book.ledger(), &clock.zone());
    let own = own_rugs::finished(&book.studio, &commissions, &taken);
    Ok(DensityReport::of(&book.studio, &commissions, &taken, &own))
}
