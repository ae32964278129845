//! What a commission costs its maker: machine hours, labour, materials, in lines that add up.
//!
//! Every line is rounded to the cent, half a cent up; the total is the sum of the rounded lines, so that whoever adds the
//! lines up finds the total.

use serde::Serialize;

use crate::entries::JobKind;
use crate::entries::amount::Money;
use crate::stats::{hours, number};

/// Millionths of the currency unit in a cent.
const PER_CENT: u64 = 10_000;

/// Subject of a line.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[serde(tag = "item", rename_all = "snake_case")]
pub enum BillItem {
    /// Logged running of a machine.
    MachineHours {
        /// Its number.
        machine: Option<u32>,
    },
    /// Running of a machine, written by hand.
    MachineHoursByHand {
        /// Its number.
        machine: Option<u32>,
    },
    /// At the frame, by sessions.
    Tufting,
    /// At the frame, written by hand.
    TuftingByHand,
    /// Work away from the frame.
    Job {
        /// Which.
        job: JobKind,
    },
    /// Job time that a session counted too; taken off.
    CountedTwice,
    /// Something that was bought.
    Material {
        /// What.
        what: String,
    },
    /// Yarn by its weight.
    Yarn {
        /// Weight in milligrams.
        mg: u64,
    },
}

/// What a bill lacks, so that its total is too low.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum BillLack {
    /// Some time has no price.
    Prices,
    /// No yarn was noted.
    Yarn,
    /// Yarn was taken, and some of it was not weighed after the work.
    YarnLeft,
    /// Yarn was weighed, and a kilogram has no price.
    YarnPerKg,
    /// No cloth was noted.
    Cloth,
}

/// One line.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct BillLine {
    /// What it is for.
    #[serde(flatten)]
    pub item: BillItem,
    /// Its time in milliseconds; none for what was bought.
    pub time_ms: Option<u64>,
    /// What an hour of it costs, unrounded; none where nothing was said.
    pub price_per_hour: Option<f64>,
    /// Its amount in whole cents, below zero where it is taken off; none without a price.
    pub amount_cents: Option<i64>,
}

impl BillLine {
    /// A line of hours.
    #[must_use]
    pub fn hours(item: BillItem, time_ms: u64, price_per_hour: Option<f64>) -> Self {
        let cents = price_per_hour.map(|price| whole_cents(hours(time_ms) * price * 100.0));
        let amount_cents = match item {
            BillItem::CountedTwice => cents.map(|cents| -cents),
            _ => cents,
        };
        Self { item, time_ms: Some(time_ms), price_per_hour, amount_cents }
    }

    /// A line of something that was bought.
    #[must_use]
    pub fn bought(what: String, amount: Money) -> Self {
        let cents = cents_of(amount);
        Self {
            item: BillItem::Material { what },
            time_ms: None,
            price_per_hour: None,
            amount_cents: Some(i64::try_from(cents).unwrap_or(i64::MAX)),
        }
    }
}

const MG_PER_KG: f64 = 1_000_000.0;

impl BillLine {
    /// A line of yarn that was weighed.
    #[must_use]
    pub fn yarn(mg: u64, per_kg: Option<Money>) -> Self {
        let cents = |per_kg: Money| rounded_cents(number(mg) / MG_PER_KG * per_kg.units());
        let amount_cents = per_kg.map(|per_kg| i64::try_from(cents(per_kg)).unwrap_or(i64::MAX));
        Self { item: BillItem::Yarn { mg }, time_ms: None, price_per_hour: None, amount_cents }
    }
}

/// Rounding rule of amounts, for every sheet that shows them.
pub const ROUNDING: &str =
    "Each line is rounded to the cent, half a cent up; the total is the sum of these lines.";

/// All lines.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Bill {
    /// The currency of all amounts, as the maker writes it; none: not said.
    pub currency: Option<String>,
    /// The lines.
    pub lines: Vec<BillLine>,
    /// The sum of all lines that have an amount, in whole cents.
    pub total_cents: i64,
    /// What it lacks.
    pub lacks: Vec<BillLack>,
    /// Whether it lacks something, so that the total is too low.
    pub is_incomplete: bool,
    /// How amounts are rounded.
    pub rounding: &'static str,
}

impl Bill {
    /// Adds lines up; those without time are left out. `lacks` is what is known to be missing besides prices.
    #[must_use]
    pub fn of(currency: Option<String>, lines: Vec<BillLine>, lacks: Vec<BillLack>) -> Self {
        let mut lines = lines;
        lines.retain(|line| line.time_ms != Some(0));
        let is_unpriced = lines.iter().any(|line| line.time_ms.is_some() && line.amount_cents.is_none());
        let lacks: Vec<BillLack> = is_unpriced.then_some(BillLack::Prices).into_iter().chain(lacks).collect();
        let amounts = lines.iter().filter_map(|line| line.amount_cents);
        Self {
            currency,
            total_cents: amounts.fold(0, i64::saturating_add),
            is_incomplete: !lacks.is_empty(),
            lacks,
            lines,
            rounding: ROUNDING,
        }
    }
}

/// An amount in whole cents, half a cent up.
#[must_use]
pub fn cents_of(amount: Money) -> u64 {
    amount.0.saturating_add(PER_CENT / 2) / PER_CENT
}

/// An amount in currency units, zero or more, in whole cents, half a cent up; it stops at the largest.
#[must_use]
pub fn rounded_cents(units: f64) -> u64 {
    u64::try_from(whole_cents(units * 100.0)).unwrap_or(0)
}

#[expect(
    clippy::cast_possible_truncation,
    reason = "a cast from float to integer stops at the ends; amounts are not negative"
)]
fn whole_cents(cents: f64) -> i64 {
    // The small addition heals what binary fractions lose just below half a cent: 1.005 is stored as 1.00499999999999989.
    (cents + 0.5 + 1e-7).floor() as i64
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn tufting(time_ms: u64, price: f64) -> BillLine {
        BillLine::hours(BillItem::Tufting, time_ms, Some(price))
    }

    #[test]
    fn half_a_cent_is_rounded_up() {
        // By hand: a minute at 0.30 is 0.005; 59 s are 0.00492; an hour at 1.005 is 1.01; 40 min at 25 are 16.67.
        let cents: Vec<_> = [(60_000, 0.30), (59_000, 0.30), (3_600_000, 1.005), (2_400_000, 25.0)]
            .map(|(ms, price)| tufting(ms, price).amount_cents)
            .to_vec();
        assert_eq!(cents, [Some(1), Some(0), Some(101), Some(1_667)]);
        let bought = [4_999, 5_000, 1_234_567]
            .map(|millionths| BillLine::bought("yarn".to_owned(), Money(millionths)).amount_cents);
        assert_eq!(bought, [Some(0), Some(1), Some(123)]);
    }

    #[test]
    fn what_was_counted_twice_is_taken_off_and_time_without_a_price_makes_the_total_incomplete() {
        let lines = vec![
            tufting(3_600_000, 25.0),
            BillLine::hours(BillItem::CountedTwice, 1_800_000, Some(25.0)),
            BillLine::hours(BillItem::MachineHours { machine: Some(1) }, 60_000, None),
            BillLine::hours(BillItem::Job { job: JobKind::Gluing }, 0, Some(25.0)),
        ];
        let bill = Bill::of(None, lines, vec![]);
        assert_eq!((bill.total_cents, bill.lines.len(), bill.is_incomplete), (1_250, 3, true));
    }

    proptest! {
        #[test]
        fn whoever_adds_the_lines_up_finds_the_total(
            times in prop::collection::vec((0_u64..1_000_000_000, 0_u64..100_000), 0..20),
        ) {
            let lines: Vec<_> =
                times.iter().map(|(ms, price)| tufting(*ms, number(*price) / 100.0)).collect();
            let bill = Bill::of(None, lines, vec![]);
            let sum: i64 = bill.lines.iter().filter_map(|line| line.amount_cents).sum();
            prop_assert_eq!(sum, bill.total_cents);
            let exact: f64 = times.iter().map(|(ms, price)| hours(*ms) * number(*price)).sum();
            // Each line is off by half a cent at most.
            prop_assert!((exact - number(sum.unsigned_abs())).abs() <= 0.5 * number(times.len() as u64) + 1e-3);
        }
    }
}
