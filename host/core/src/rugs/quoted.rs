//! What a price counted on, against what its commission took, line by line.
//!
//! Materials, time at the frame and bench time are compared with the lines of the bill. What the maker puts on top (mending,
//! overhead, shipping, margin) is counted by nobody afterwards: it is what the price leaves over the bill.

use serde::Serialize;

use super::job_time::Clocks;
use super::price::PriceItem;
use crate::entries::RugPriced;
use crate::money::{Bill, BillItem, BillLine};

/// A line of both.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct QuotedLine {
    /// Which.
    pub item: PriceItem,
    /// As it was quoted, in whole cents.
    pub quoted_cents: u64,
    /// As it came out, in whole cents; none where some of it has no price, and of materials where none were noted.
    pub actual_cents: Option<i64>,
    /// Its time as it was quoted, in milliseconds.
    pub quoted_ms: Option<u64>,
    /// Its time as it came out, in milliseconds.
    pub actual_ms: Option<u64>,
}

/// A quote against the bill.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct QuotedAgainstActual {
    /// When it was quoted, in milliseconds UTC.
    pub quoted_utc_ms: i64,
    /// The currency of the quote.
    pub currency: Option<String>,
    /// Materials, time at the frame, bench time; together they are the bill.
    pub lines: Vec<QuotedLine>,
    /// The price less these lines, in whole cents: mending, overhead, shipping, margin and rounding.
    pub on_top_cents: u64,
    /// The price, in whole cents.
    pub price_cents: u64,
    /// What the price leaves over the bill, in whole cents; below zero where it does not pay for it.
    pub left_cents: i64,
    /// Whether something was missing in the quote.
    pub quote_is_incomplete: bool,
}

impl QuotedAgainstActual {
    /// Compares them.
    #[must_use]
    pub fn of(priced: &RugPriced, clocks: &Clocks, bill: &Bill) -> Self {
        let frame_ms = clocks
            .tufting_assumed_ms
            .saturating_add(clocks.tufting_confirmed_ms)
            .saturating_add(clocks.tufting_by_hand_ms);
        let bench_ms = clocks.job_ms.saturating_sub(clocks.counted_twice_ms);
        let line = |item, quoted_cents, quoted_ms, actual_ms| QuotedLine {
            item,
            quoted_cents,
            actual_cents: actual_cents(bill, item),
            quoted_ms,
            actual_ms,
        };
        let price = i64::try_from(priced.price_cents).unwrap_or(i64::MAX);
        Self {
            quoted_utc_ms: priced.at.0,
            currency: priced.currency.clone(),
            lines: vec![
                line(PriceItem::Materials, priced.materials_cents, None, None),
                line(PriceItem::Frame, priced.frame_cents, priced.frame_ms, Some(frame_ms)),
                line(PriceItem::Bench, priced.bench_cents, Some(priced.bench_ms), Some(bench_ms)),
            ],
            on_top_cents: [priced.materials_cents, priced.frame_cents, priced.bench_cents]
                .into_iter()
                .fold(priced.price_cents, u64::saturating_sub),
            price_cents: priced.price_cents,
            left_cents: price.saturating_sub(bill.total_cents),
            quote_is_incomplete: priced.is_incomplete,
        }
    }
}

/// The line of a price to which a line of the bill belongs.
const fn item(line: &BillLine) -> PriceItem {
    match line.item {
        BillItem::MachineHours { .. }
        | BillItem::MachineHoursByHand { .. }
        | BillItem::Tufting
        | BillItem::TuftingByHand => PriceItem::Frame,
        BillItem::Job { .. } | BillItem::CountedTwice => PriceItem::Bench,
        BillItem::Material { .. } | BillItem::Yarn { .. } => PriceItem::Materials,
    }
}

fn actual_cents(bill: &Bill, of: PriceItem) -> Option<i64> {
    let mut lines = bill.lines.iter().filter(|line| item(line) == of).peekable();
    if of == PriceItem::Materials && lines.peek().is_none() {
        return None;
    }
    lines.try_fold(0, |sum: i64, line| Some(sum.saturating_add(line.amount_cents?)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::entries::amount::Money;
    use crate::entries::{JobKind, RugName};
    use shared_types::UtcMillis;

    fn priced() -> RugPriced {
        RugPriced {
            rug: RugName("Fox".to_owned()),
            at: UtcMillis(7),
            currency: None,
            frame_ms: Some(7_200_000),
            bench_ms: 3_600_000,
            materials_cents: 2_000,
            frame_cents: 5_000,
            bench_cents: 2_500,
            extras_cents: 950,
            margin_cents: 1_000,
            price_cents: 11_500,
            is_incomplete: false,
        }
    }

    #[test]
    fn the_lines_together_are_the_bill_and_the_price_less_the_bill_is_left() {
        let hour = |item, hours: u64| BillLine::hours(item, hours * 3_600_000, Some(25.0));
        let lines = vec![
            hour(BillItem::TuftingByHand, 3),
            BillLine::hours(BillItem::MachineHoursByHand { machine: Some(1) }, 3_600_000, Some(1.0)),
            hour(BillItem::Job { job: JobKind::Gluing }, 2),
            hour(BillItem::CountedTwice, 1),
            BillLine::bought("cloth".to_owned(), Money(9_000_000)),
            BillLine::yarn(500_000, Some(Money(20_000_000))),
        ];
        let clocks = Clocks {
            tufting_by_hand_ms: 10_800_000,
            job_ms: 7_200_000,
            counted_twice_ms: 3_600_000,
            ..Clocks::default()
        };
        let bill = Bill::of(None, lines, vec![]);
        let found = QuotedAgainstActual::of(&priced(), &clocks, &bill);
        // By hand: 9 + 10 of materials; 3 h at 25 and an hour of running; 2 h less one of gluing at 25.
        let actual: Vec<_> = found.lines.iter().map(|line| (line.actual_cents, line.actual_ms)).collect();
        assert_eq!(
            actual,
            [(Some(1_900), None), (Some(7_600), Some(10_800_000)), (Some(2_500), Some(3_600_000))]
        );
        assert_eq!(actual.iter().filter_map(|(cents, _)| *cents).sum::<i64>(), bill.total_cents);
        // 115 less 120.
        assert_eq!((found.on_top_cents, found.left_cents), (2_000, -500));
    }

    #[test]
    fn a_line_of_which_some_has_no_price_has_no_amount() {
        let lines = vec![BillLine::hours(BillItem::Tufting, 60_000, None), BillLine::yarn(1, None)];
        let found = QuotedAgainstActual::of(&priced(), &Clocks::default(), &Bill::of(None, lines, vec![]));
        let actual: Vec<_> = found.lines.iter().map(|line| line.actual_cents).collect();
        assert_eq!(actual, [None, None, Some(0)]);
    }
}
