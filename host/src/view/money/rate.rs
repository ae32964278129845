//! `rate` on screen. Money is shown to the cent here; `--json` has the unrounded numbers.

use crate::app::money::rate::{RateAnswer, TermsAnswer};
use crate::view::words;
use crate::view::words::table::{Column, Table};
use host_core::entries::amount::Money;

/// The rate and its parts.
#[must_use]
pub fn text(answer: &RateAnswer) -> String {
    let rate = &answer.rate;
    let mut table = Table::new(&[Column::Words("an hour of running costs"), Column::Numbers("amount")]);
    for (what, amount) in [
        ("wear of the price over its life", rate.depreciation_per_hour),
        ("costs of a period, over its hours", rate.period_costs_per_hour),
        ("costs of each hour", rate.hour_costs),
        ("together", rate.machine_hour_rate),
    ] {
        table.row([what.to_owned(), money(amount)]);
    }
    format!(
        "{}\nIn {}, rounded to the cent. Labour and yarn are not in it; six machine hours look cheap beside the work around them.",
        table.text(),
        words::currency(answer.currency.as_deref())
    )
}

/// Costs were kept.
#[must_use]
pub fn kept(answer: &RateAnswer) -> String {
    format!(
        "Kept{}. An hour of running costs {}{}; quotes use it from now on.",
        answer.machine.map_or_else(String::new, |machine| format!(" for machine {}", machine.0)),
        money(answer.rate.machine_hour_rate),
        answer.currency.as_ref().map_or_else(String::new, |currency| format!(" {currency}"))
    )
}

/// What labour costs.
#[must_use]
pub fn terms(answer: &TermsAnswer) -> String {
    let currency = answer.currency.as_ref().map_or_else(String::new, |currency| format!(" {currency}"));
    match answer.wage_per_hour_millionths {
        Some(wage) => format!(
            "An hour of labour costs {}{currency}; sheets and quotes use it.",
            money(Money(wage).units())
        ),
        None if answer.currency.is_some() => {
            format!("All amounts are in{currency}. What an hour of labour costs was not said yet.")
        }
        None => "What an hour of labour costs was not said yet: needlehours rate wage 25 --currency EUR"
            .to_owned(),
    }
}

/// An amount to the cent; below a cent it says so.
#[must_use]
pub fn money(units: f64) -> String {
    if units > 0.0 && units < 0.005 { "less than 0.01".to_owned() } else { format!("{units:.2}") }
}

#[cfg(test)]
mod tests {
    use super::money;

    #[test]
    fn money_is_rounded_to_the_cent_and_never_to_nothing() {
        let shown = [0.0, 0.004, 0.005, 2.103_881, 1_234.5].map(money);
        assert_eq!(shown, ["0.00", "less than 0.01", "0.01", "2.10", "1234.50"]);
    }
}
