//! The terms of a price in words.

use super::rate::money;
use crate::app::money::price_terms::PriceTermsAnswer;
use crate::view::words::{count, currency, run_time};
use host_core::entries::amount::Money;
use host_core::entries::{BasisPoints, PriceTerms};

/// A share in per cent, with as many places as it has.
#[must_use]
pub fn share(share: BasisPoints) -> String {
    let (whole, rest) = (share.0 / 100, share.0 % 100);
    match rest {
        0 => format!("{whole} %"),
        rest if rest % 10 == 0 => format!("{whole}.{} %", rest / 10),
        rest => format!("{whole}.{rest:02} %"),
    }
}

/// A length in centimetres.
#[must_use]
pub fn centimetres(mm: u64) -> String {
    match mm % 10 {
        0 => format!("{} cm", mm / 10),
        rest => format!("{}.{rest} cm", mm / 10),
    }
}

/// What was said, part by part.
#[must_use]
pub fn parts(terms: &PriceTerms) -> Vec<String> {
    let amount = |what: &str, amount: Option<Money>| amount.map(|is| format!("{what} {}", money(is.units())));
    let part = |what: &str, of: Option<BasisPoints>| of.map(|is| format!("{what} {}", share(is)));
    let length = |what: &str, mm: Option<u32>| mm.map(|mm| format!("{what} {}", centimetres(u64::from(mm))));
    let time = |what: &str, ms: Option<u64>| ms.map(|ms| format!("{what} {}", run_time(ms)));
    let grams = |mg: u64| format!("{} g of yarn for a square metre", mg / 1_000);
    let days = |days: u32| format!("quotes hold {}", count(u64::from(days), "day", "days"));
    let changes = |changes: u32| count(u64::from(changes), "change included", "changes included");
    [
        amount("a kilogram of yarn", terms.yarn_per_kg),
        terms.yarn_mg_per_m2.map(grams),
        part("spare yarn", terms.yarn_spare),
        amount("a metre of the roll", terms.cloth_per_m),
        length("roll width", terms.roll_width_mm),
        length("cloth margin", terms.cloth_margin_mm),
        time("bench time for a rug", terms.bench_per_rug_ms),
        time("bench time for a square metre", terms.bench_per_m2_ms),
        part("mending", terms.mending),
        part("overhead", terms.overhead),
        amount("shipping", terms.shipping),
        part("margin", terms.margin),
        amount("least price", terms.least),
        amount("rounded up to", terms.round_to),
        part("deposit", terms.deposit),
        terms.changes_included.map(changes),
        terms.holds_days.map(days),
        terms.maker.as_ref().map(|maker| format!("maker {maker}")),
        terms.contact.as_ref().map(|contact| format!("contact {contact}")),
        terms.included.as_ref().map(|included| format!("included: {included}")),
    ]
    .into_iter()
    .flatten()
    .collect()
}

/// What is kept now.
#[must_use]
pub fn kept(answer: &PriceTermsAnswer) -> String {
    let parts = parts(&answer.terms);
    if parts.is_empty() {
        return "Nothing was said of prices of rugs yet. Begin with: needlehours rate price --yarn-per-kg 18.50 \
                --cloth-per-m 9 --roll-width 150cm"
            .to_owned();
    }
    let lines: Vec<String> = parts.iter().map(|part| format!("- {part}")).collect();
    format!(
        "Prices of rugs are worked out with:\n{}\nAmounts in {}. Try it: needlehours quote --size 80x120cm --price",
        lines.join("\n"),
        currency(answer.currency.as_deref())
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn shares_and_lengths_are_said_without_idle_noughts() {
        assert_eq!(
            [1_000, 1_250, 705, 0].map(|of| share(BasisPoints(of))),
            ["10 %", "12.5 %", "7.05 %", "0 %"]
        );
        assert_eq!([1_500, 51].map(centimetres), ["150 cm", "5.1 cm"]);
    }
}
