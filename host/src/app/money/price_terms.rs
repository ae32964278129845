//! What a price is worked out from, as typed.

use serde::Serialize;

use super::error::MoneyError;
use crate::app::ports::{Clock, Store};
use crate::app::typed::decimals::whole;
use crate::app::typed::error::RequestError;
use crate::app::typed::measures::length_mm;
use crate::app::typed::names::checked_name;
use crate::app::typed::words::{hours, number, per_cent, refused};
use host_core::entries::amount::Money;
use host_core::entries::{BasisPoints, EntryBody, EntryId, PriceTerms};
use host_core::rugs::commission::Commissions;
use host_core::rugs::price::terms;
use host_core::stats::{self, HOUR_MS};

const MG_PER_KG: f64 = 1_000_000.0;
const MOST_YARN_KG: f64 = 100.0;
const MOST_BENCH_HOURS: f64 = 1_000.0;

/// What the maker typed.
#[derive(Clone, Debug, Default)]
pub struct PriceTermsTyped {
    /// A kilogram of yarn.
    pub yarn_per_kg: Option<String>,
    /// Kilograms of yarn for a square metre.
    pub yarn_kg_per_m2: Option<String>,
    /// Spare yarn.
    pub yarn_spare: Option<String>,
    /// A metre of the roll.
    pub cloth_per_m: Option<String>,
    /// The roll's width.
    pub roll_width: Option<String>,
    /// Cloth on each side.
    pub cloth_margin: Option<String>,
    /// Bench time of a rug.
    pub bench_per_rug: Option<String>,
    /// Bench time of a square metre.
    pub bench_per_m2: Option<String>,
    /// Mending.
    pub mending: Option<String>,
    /// Overhead.
    pub overhead: Option<String>,
    /// Shipping.
    pub shipping: Option<String>,
    /// Margin.
    pub margin: Option<String>,
    /// The least price.
    pub least: Option<String>,
    /// The step.
    pub round_to: Option<String>,
    /// Deposit.
    pub deposit: Option<String>,
    /// Changes of the design.
    pub changes: Option<String>,
    /// How long a quote holds.
    pub holds_days: Option<String>,
    /// The maker's name.
    pub studio: Option<String>,
    /// How to reach the maker.
    pub contact: Option<String>,
    /// What a price includes.
    pub included: Option<String>,
}

/// The answer of `rate price`.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct PriceTermsAnswer {
    /// The currency of all amounts, as the maker writes it; null: not said.
    pub currency: Option<String>,
    /// What holds now.
    #[serde(flatten)]
    pub terms: PriceTerms,
}

/// Keeps what was typed, if anything was, and tells what holds now.
///
/// # Errors
/// When a value cannot be, or the store fails.
pub fn enter(
    store: &mut impl Store,
    clock: &impl Clock,
    typed: &PriceTermsTyped,
) -> Result<(Option<EntryId>, PriceTermsAnswer), MoneyError> {
    let said = read(typed)?;
    let body = EntryBody::PriceTerms(said.clone());
    let says_something = !said.said().is_empty();
    let entry = says_something.then(|| store.add_entry(clock.now(), &body)).transpose()?;
    let entries = store.entries()?;
    let currency = Commissions::of(&entries).terms.currency;
    Ok((entry, PriceTermsAnswer { currency, terms: terms(&entries) }))
}

/// Kilograms of yarn for a square metre, as typed.
///
/// # Errors
/// When it is no number above 0 and up to 100.
pub fn yarn_kg(text: &str) -> Result<f64, RequestError> {
    let (what, range) = ("the yarn for a square metre", "above 0 and up to 100 kg, like 2,4");
    let typed = text.trim();
    let plain = typed.strip_suffix("kg").map_or(typed, str::trim_end);
    let kg = number(what, range, (0.0, MOST_YARN_KG), plain)?;
    if whole(kg * MG_PER_KG) == 0 { Err(refused(what, range, text)) } else { Ok(kg) }
}

fn read(typed: &PriceTermsTyped) -> Result<PriceTerms, MoneyError> {
    let round_to = amount("--round-to", typed.round_to.as_ref())?;
    if round_to.is_some_and(|step| step.0 % 10_000 != 0) {
        let text = typed.round_to.as_deref().unwrap_or_default();
        return Err(refused("--round-to", "whole cents, like 10 or 0.50; 0 for none", text).into());
    }
    Ok(PriceTerms {
        yarn_per_kg: amount("--yarn-per-kg", typed.yarn_per_kg.as_ref())?,
        yarn_mg_per_m2: typed
            .yarn_kg_per_m2
            .as_deref()
            .map(yarn_kg)
            .transpose()?
            .map(|kg| whole(kg * MG_PER_KG)),
        yarn_spare: share("--yarn-spare", typed.yarn_spare.as_ref())?,
        cloth_per_m: amount("--cloth-per-m", typed.cloth_per_m.as_ref())?,
        roll_width_mm: length("--roll-width", "1 cm to 20 m, like 150cm", 10, typed.roll_width.as_ref())?,
        cloth_margin_mm: length("--cloth-margin", "0 to 20 m, like 10cm", 0, typed.cloth_margin.as_ref())?,
        bench_per_rug_ms: time("--bench-per-rug", typed.bench_per_rug.as_ref())?,
        bench_per_m2_ms: time("--bench-per-m2", typed.bench_per_m2.as_ref())?,
        mending: share("--mending", typed.mending.as_ref())?,
        overhead: share("--overhead", typed.overhead.as_ref())?,
        shipping: amount("--shipping", typed.shipping.as_ref())?,
        margin: share("--margin", typed.margin.as_ref())?,
        least: amount("--least", typed.least.as_ref())?,
        round_to,
        deposit: match typed.deposit.as_deref() {
            Some(text) => Some(points("--deposit", "0 to 100 per cent", 100.0, text)?),
            None => None,
        },
        changes_included: counted(
            "--changes",
            "a whole number from 0 to 100",
            (0, 100),
            typed.changes.as_ref(),
        )?,
        holds_days: counted(
            "--holds-days",
            "a whole number from 1 to 3650",
            (1, 3_650),
            typed.holds_days.as_ref(),
        )?,
        maker: typed.studio.as_deref().map(|text| checked_name("--studio", text)).transpose()?,
        contact: typed.contact.as_deref().map(|text| checked_name("--contact", text)).transpose()?,
        included: typed.included.as_deref().map(included).transpose()?,
    })
}

/// Longest text of what a price includes, in characters.
const LONGEST_INCLUDED: usize = 400;

fn included(text: &str) -> Result<String, RequestError> {
    let text = text.trim();
    if text.is_empty() || text.chars().count() > LONGEST_INCLUDED || text.chars().any(char::is_control) {
        return Err(refused("--included", "1 to 400 letters on one line", &text.escape_debug().to_string()));
    }
    Ok(text.to_owned())
}

fn amount(option: &'static str, text: Option<&String>) -> Result<Option<Money>, MoneyError> {
    let read = |text: &String| Money::parse(text).map_err(|problem| MoneyError::Amount { option, problem });
    text.map(read).transpose()
}

fn share(option: &'static str, text: Option<&String>) -> Result<Option<BasisPoints>, RequestError> {
    text.map(|text| points(option, "0 to 1000 per cent, like 8%", 1_000.0, text)).transpose()
}

fn points(
    option: &'static str,
    range: &'static str,
    most: f64,
    text: &str,
) -> Result<BasisPoints, RequestError> {
    let typed = per_cent(option, range, (0.0, most), text)?;
    Ok(BasisPoints(u32::try_from(whole(typed * 100.0)).unwrap_or(u32::MAX)))
}

fn length(
    option: &'static str,
    range: &'static str,
    least_mm: u32,
    text: Option<&String>,
) -> Result<Option<u32>, RequestError> {
    text.map(|text| length_mm(option, range, least_mm, text)).transpose()
}

fn time(option: &'static str, text: Option<&String>) -> Result<Option<u64>, RequestError> {
    let range = "0 to 1000 hours, like 3h or 2h30";
    let read = |text: &String| hours(option, range, (0.0, MOST_BENCH_HOURS), text);
    Ok(text.map(read).transpose()?.map(|hours| whole(hours * stats::number(HOUR_MS))))
}

fn counted(
    option: &'static str,
    range: &'static str,
    (low, high): (u32, u32),
    text: Option<&String>,
) -> Result<Option<u32>, RequestError> {
    let read = |text: &String| {
        let typed = text.trim().parse().ok().filter(|typed| (low..=high).contains(typed));
        typed.ok_or_else(|| refused(option, range, text))
    };
    text.map(read).transpose()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn terms_are_read_as_makers_write_them() {
        let some = |text: &str| Some(text.to_owned());
        let read = read(&PriceTermsTyped {
            yarn_per_kg: some("18,50"),
            yarn_kg_per_m2: some("2,4"),
            yarn_spare: some("12,5 %"),
            roll_width: some("1,5 m"),
            cloth_margin: some("10"),
            bench_per_rug: some("3h"),
            bench_per_m2: some("2h30"),
            round_to: some("0"),
            ..PriceTermsTyped::default()
        });
        let read = read.unwrap();
        assert_eq!((read.yarn_per_kg, read.yarn_mg_per_m2), (Some(Money(18_500_000)), Some(2_400_000)));
        assert_eq!((read.yarn_spare, read.roll_width_mm), (Some(BasisPoints(1_250)), Some(1_500)));
        assert_eq!((read.cloth_margin_mm, read.round_to), (Some(100), Some(Money(0))));
        assert_eq!((read.bench_per_rug_ms, read.bench_per_m2_ms), (Some(10_800_000), Some(9_000_000)));
    }

    #[test]
    fn what_cannot_be_is_refused_with_its_option() {
        let some = |text: &str| Some(text.to_owned());
        let none = PriceTermsTyped::default;
        for (typed, says) in [
            (PriceTermsTyped { yarn_per_kg: some("-1"), ..none() }, "--yarn-per-kg"),
            (PriceTermsTyped { yarn_spare: some("-10%"), ..none() }, "--yarn-spare"),
            (PriceTermsTyped { roll_width: some("0"), ..none() }, "--roll-width"),
            (PriceTermsTyped { roll_width: some("wide"), ..none() }, "--roll-width"),
            (PriceTermsTyped { bench_per_rug: some("x"), ..none() }, "--bench-per-rug"),
            (PriceTermsTyped { round_to: some("0.001"), ..none() }, "--round-to"),
            (PriceTermsTyped { deposit: some("101%"), ..none() }, "--deposit"),
            (PriceTermsTyped { holds_days: some("0"), ..none() }, "--holds-days"),
            (PriceTermsTyped { yarn_kg_per_m2: some("0"), ..none() }, "yarn"),
            (PriceTermsTyped { included: some(" "), ..none() }, "--included"),
            (PriceTermsTyped { included: some("a\nb"), ..none() }, "--included"),
            (PriceTermsTyped { included: Some("a".repeat(401)), ..none() }, "--included"),
        ] {
            let error = read(&typed).unwrap_err().to_string();
            assert!(error.contains(says), "{error}");
        }
    }
}
