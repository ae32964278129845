//! `rate history` on screen.

use jiff::tz::TimeZone;

use super::quote::sample_sentence;
use super::rate::money;
use super::rug_book;
use super::words::all_of;
use crate::app::price_history::PriceHistory;
use crate::core::costing::{MachineCosts, Money};
use crate::core::entries::EntryBody;

/// Everything that was ever said of prices.
#[must_use]
pub fn text(history: &PriceHistory, zone: &TimeZone) -> String {
    if history.entries.is_empty() {
        return "Nothing was said of prices yet. Begin with: needlehours rate wage 25 --currency EUR"
            .to_owned();
    }
    format!(
        "Everything that was ever said of prices, wages and samples.\n{}",
        rug_book::entries(&history.entries, zone)
    )
}

/// What an entry of prices says, in a sentence without its full stop.
#[must_use]
pub fn sentence(body: &EntryBody) -> String {
    let parts = match body {
        EntryBody::MachineCosts(costs) => machine(costs),
        EntryBody::MoneyTerms(terms) => [
            terms.wage_per_hour.map(|wage| format!("an hour of labour {}", amount(wage))),
            terms.currency.as_ref().map(|currency| format!("amounts in {currency}")),
        ]
        .into_iter()
        .flatten()
        .collect(),
        EntryBody::TearCosts(costs) => [
            costs.tear.map(|tear| format!("a tear costs {}", amount(tear))),
            costs.hour.map(|hour| format!("an hour is worth {}", amount(hour))),
        ]
        .into_iter()
        .flatten()
        .collect(),
        EntryBody::SampleSquare(sample) => vec![sample_sentence(sample)],
        _ => Vec::new(),
    };
    parts.join(", ")
}

fn machine(costs: &MachineCosts) -> Vec<String> {
    let basis = &costs.basis;
    let sum = |costs: &[Money]| all_of(&costs.iter().map(|cost| amount(*cost)).collect::<Vec<_>>());
    let mut parts = vec![
        format!("machine {}: price {}", costs.machine.0, amount(basis.price)),
        format!("resale {}", amount(basis.resale)),
        format!("life {} h", basis.life_hours.get()),
    ];
    if let Some(hours) = basis.period_hours.filter(|_| !basis.period_costs.is_empty()) {
        parts.push(format!("{} in every {} h", sum(&basis.period_costs), hours.get()));
    }
    if !basis.hour_costs.is_empty() {
        parts.push(format!("{} for each hour", sum(&basis.hour_costs)));
    }
    parts
}

fn amount(money_kept: Money) -> String {
    money(money_kept.units())
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, reason = "a test may stop at the first surprise")]
    use shared_types::{MachineTag, RunMillis, UtcMillis};

    use super::*;
    use crate::core::costing::{CostBasis, Hours};
    use crate::core::entries::{MoneyTerms, TearCosts};
    use crate::core::quote::{SampleSquare, Style};

    const ONE: u64 = 1_000_000;

    #[test]
    fn each_entry_says_all_that_was_entered() {
        let basis = CostBasis {
            price: Money(300 * ONE),
            resale: Money(0),
            life_hours: Hours::new(500.0).unwrap(),
            period_hours: Hours::new(60.0),
            period_costs: vec![Money(20 * ONE), Money(5 * ONE)],
            hour_costs: vec![Money(ONE / 2)],
        };
        let sample = SampleSquare {
            style: Some(Style::Cut),
            width_mm: 150,
            height_mm: 150,
            run: RunMillis(720_000),
            strokes: None,
            tufting_ms: None,
            at: UtcMillis(0),
        };
        let said = [
            EntryBody::MachineCosts(MachineCosts { machine: MachineTag(2), basis }),
            EntryBody::MoneyTerms(MoneyTerms {
                wage_per_hour: Some(Money(25 * ONE)),
                currency: Some("EUR".to_owned()),
            }),
            EntryBody::TearCosts(TearCosts { tear: Some(Money(40 * ONE)), hour: None }),
            EntryBody::SampleSquare(sample),
        ];
        assert_eq!(
            said.each_ref().map(sentence),
            [
                "machine 2: price 300.00, resale 0.00, life 500 h, 20.00 and 5.00 in every 60 h, 0.50 for each hour",
                "an hour of labour 25.00, amounts in EUR",
                "a tear costs 40.00",
                "a sample square of 15 x 15 cm in cut pile, 12 min of running",
            ]
        );
    }
}
