//! `rate history` on screen.

use jiff::tz::TimeZone;

use super::price_terms;
use super::rate::money;
use crate::app::money::history::{HistoryLine, PriceHistory, Standing};
use crate::view::words::table::{Column, Table};
use crate::view::words::{all_of, clock, run_time, size};
use host_core::entries::amount::Money;
use host_core::entries::{EntryBody, MachineCosts, SampleSquare, Style};
use shared_types::UtcMillis;

/// Everything that was ever said of prices.
#[must_use]
pub fn text(history: &PriceHistory, zone: &TimeZone) -> String {
    if history.entries.is_empty() {
        return "Nothing was said of prices yet. Begin with: needlehours rate wage 25 --currency EUR"
            .to_owned();
    }
    format!(
        "Everything that was ever said of prices, wages and samples.\n{}",
        entries(&history.entries, zone, |line| sentence(&line.says))
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
        EntryBody::PriceTerms(terms) => price_terms::parts(terms),
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

/// What a sample square took: "a sample square of 15 x 15 cm in cut pile, 12 min of running".
#[must_use]
pub fn sample_sentence(sample: &SampleSquare) -> String {
    let style = match sample.style {
        None => "",
        Some(Style::Cut) => " in cut pile",
        Some(Style::Loop) => " in loop pile",
        Some(Style::Both) => " in cut and loop pile",
    };
    format!(
        "a sample square of {}{style}, {} of running",
        size(sample.width_mm, sample.height_mm),
        run_time(sample.run.0)
    )
}

/// Entries as a table, what each says in the words of `said`, and how one is taken back.
#[must_use]
pub fn entries(lines: &[HistoryLine], zone: &TimeZone, said: impl Fn(&HistoryLine) -> String) -> String {
    let mut table = Table::new(&[
        Column::Numbers("entry"),
        Column::Dates("written down"),
        Column::Words("what it says"),
        Column::Words("counts"),
    ]);
    for line in lines {
        table.row([
            line.entry.0.to_string(),
            clock(UtcMillis(line.entered_utc_ms), zone),
            said(line),
            counts(line, zone),
        ]);
    }
    format!("{}\nTo take one back: needlehours take-back ENTRY", table.text())
}

fn counts(line: &HistoryLine, zone: &TimeZone) -> String {
    match &line.standing {
        Standing::Counts => "yes".to_owned(),
        Standing::Replaced if line.moved.is_some() => "no: moved again later".to_owned(),
        Standing::Replaced => "no: said anew later".to_owned(),
        Standing::ReplacedInPart if line.moved.is_some() => "in part: some was moved again later".to_owned(),
        Standing::ReplacedInPart => "in part: some was said anew later".to_owned(),
        Standing::TakenBack { reason, at_utc_ms } => {
            let when = at_utc_ms.map_or_else(String::new, |at| format!(" {}", clock(UtcMillis(at), zone)));
            let why = if reason.is_empty() { String::new() } else { format!(", {reason}") };
            format!("no: taken back{when}{why}")
        }
    }
}

#[cfg(test)]
mod tests {
    use shared_types::{MachineTag, RunMillis, UtcMillis};

    use super::*;
    use host_core::entries::{CostBasis, Hours, MoneyTerms, SampleSquare, Style, TearCosts};

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
