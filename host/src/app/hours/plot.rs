//! Series of the plots of hours.

use crate::app::ports::{Clock, Store};
use crate::app::typed::choose_machine;
use crate::app::typed::error::RequestError;
use crate::app::whole_book::Book;
use host_core::hours::course::HoursCourse;
use host_core::hours::usage::UsageReport;
use host_core::hours::year_days::YearReport;
use host_core::rugs::commission::Commissions;
use host_core::rugs::density::DensityReport;
use host_core::rugs::{own_rugs, rug_work};
use host_core::sessions::local_day;

/// How each commission used the machine, by where the knob stood.
///
/// # Errors
/// When there is no such machine, or the store cannot be read.
pub fn usage(
    store: &impl Store,
    clock: &impl Clock,
    machine: Option<u32>,
) -> Result<UsageReport, RequestError> {
    let book = Book::read(store)?;
    let machine = choose_machine::only_machine(&book.studio, machine)?;
    Ok(UsageReport::of(&book.studio, &book.ledger(), machine, &clock.zone()))
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
) -> Result<YearReport, RequestError> {
    let book = Book::read(store)?;
    let machine = choose_machine::only_machine(&book.studio, machine)?;
    let this_year = local_day(clock.now(), &clock.zone()).map_or(1970, |day| day.year());
    Ok(YearReport::of(&book.studio, &book.ledger(), machine, year, this_year, &clock.zone()))
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
