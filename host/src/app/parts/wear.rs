//! Lives of parts from a table, a known curve, or the log's own parts.

use serde::Serialize;

use super::error::PartError;
use super::part::grounds;
use crate::app::ports::{Clock, Store};
use crate::app::typed::choose_machine::machines;
use crate::app::typed::column_table::{Row, TableError, at, read};
use crate::app::typed::table_cell::{above_zero, not_negative, yes_or_no};
use crate::app::whole_book::Book;
use host_core::entries::PartName;
use host_core::parts::{
    PartLife, WearReport, lives_for_statistics, part_lives, part_periods, wear_of_curve, wear_report,
};
use host_core::stats::{Costs, Life, Weibull};

/// The most rows that are read.
const MOST_ROWS: usize = 100_000;

/// What a replacement costs, as it was given.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct GivenCosts {
    /// At a moment of the maker's choice.
    pub planned: f64,
    /// When the part fails at work.
    pub failure: f64,
}

/// A curve, as it was given.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct GivenCurve {
    /// Weibull shape.
    pub shape: f64,
    /// Weibull scale.
    pub scale_hours: f64,
}

/// From a table with the columns `hours` and `replaced` (1 worn out; 0 still running, or taken out for another reason).
///
/// # Errors
/// When the table or a cost cannot be used.
pub fn of_table(csv: &[u8], costs: Option<GivenCosts>) -> Result<WearReport, TableError> {
    let costs = costs.map(usable).transpose()?;
    let rows = read(csv, ["hours", "replaced"], [], MOST_ROWS)?;
    let lives = rows.iter().map(life).collect::<Result<Vec<_>, _>>()?;
    Ok(wear_report(&lives, costs))
}

/// Lives of the log's own parts of one kind, and what follows.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct OwnWear {
    /// The kind of part.
    pub part: PartName,
    /// Every life, the oldest first.
    pub lives: Vec<PartLife>,
    /// What they say; the same keys as from a table.
    #[serde(flatten)]
    pub report: WearReport,
}

/// From the parts of one kind that were fitted and taken off, on one machine or on all; those still on are cut short now.
///
/// # Errors
/// When none was ever fitted, a cost cannot be used, there is no such machine, or the store cannot be read.
pub fn of_log(
    store: &impl Store,
    clock: &impl Clock,
    part: &str,
    machine: Option<u32>,
    costs: Option<GivenCosts>,
) -> Result<OwnWear, PartError> {
    let costs = costs.map(usable).transpose()?;
    let book = Book::read(store)?;
    let ledger = book.ledger();
    let cards = machines(&book.studio, machine)?;
    let mut periods = part_periods(&book.entries, &grounds(&book, &ledger, clock, &cards), clock.now());
    periods.retain(|period| cards.iter().any(|card| card.tag == period.machine));
    let part = PartName::of(part);
    let lives = part_lives(&periods, &part);
    if lives.is_empty() {
        let mut known: Vec<String> = periods.into_iter().map(|period| period.part.0).collect();
        known.sort_unstable();
        known.dedup();
        return Err(PartError::NeverFitted { part: part.0, known });
    }
    let report = wear_report(&lives_for_statistics(&lives), costs);
    Ok(OwnWear { part, lives, report })
}

/// From a curve that is known or believed.
///
/// # Errors
/// When a value is not above zero.
pub fn of_curve(curve: GivenCurve, costs: GivenCosts) -> Result<WearReport, TableError> {
    let shape = above_zero(curve.shape, "the shape")?;
    let scale = above_zero(curve.scale_hours, "the scale")?;
    Ok(wear_of_curve(Weibull { shape, scale }, usable(costs)?))
}

fn usable(costs: GivenCosts) -> Result<Costs, TableError> {
    Ok(Costs {
        planned: above_zero(costs.planned, "the planned cost")?,
        failure: above_zero(costs.failure, "the failure cost")?,
    })
}

fn life(row: &Row<2, 0>) -> Result<Life, TableError> {
    let [time, replaced] = &row.cells;
    let (time, ended) = (not_negative(time, "hours", row.line)?, yes_or_no(replaced, "replaced", row.line)?);
    if ended && time == 0.0 {
        return Err(at(row.line, "hours is 0; a part cannot wear out before it has run".to_owned()));
    }
    Ok(Life { time, ended })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_part_that_never_ran_may_still_run_but_not_be_worn_out() {
        let report = of_table(b"hours,replaced\n0,0\n5,1\n9,1\n12,0\n", None).unwrap();
        assert!(report.shape.is_some());
        let told = of_table(b"hours,replaced\n5,1\n0,1\n", None).unwrap_err().to_string();
        assert_eq!(told, "line 3: hours is 0; a part cannot wear out before it has run");
    }

    #[test]
    fn costs_and_curves_that_are_none_are_named() {
        let table = b"hours,replaced\n5,1\n9,1\n";
        let told = of_table(table, Some(GivenCosts { planned: 0.0, failure: 5.0 })).unwrap_err().to_string();
        assert_eq!(told, "the planned cost must be a number above zero, not 0");
        let costs = GivenCosts { planned: 1.0, failure: 5.0 };
        let told = of_curve(GivenCurve { shape: -2.0, scale_hours: 5.0 }, costs).unwrap_err().to_string();
        assert_eq!(told, "the shape must be a number above zero, not -2");
    }
}
