//! One price for a rug, from its quote and the terms.

use serde::Serialize;

use super::quote::{QuoteAnswer, QuoteAsked, ask};
use crate::app::money::MoneyError;
use crate::app::money::price_terms::yarn_kg;
use crate::app::ports::{Clock, Store};
use crate::app::whole_book::Book;
use host_core::entries::PriceTerms;
use host_core::rugs::commission::Commissions;
use host_core::rugs::own_bench::OwnBench;
use host_core::rugs::price::{Price, PriceBasis, price, terms};

/// The answer of `quote --price`.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PriceAnswer {
    /// The quote that it follows from.
    #[serde(flatten)]
    pub quote: QuoteAnswer,
    /// The price.
    pub price: Price,
    /// The terms behind it.
    pub terms: PriceTerms,
}

/// Works a price out. `yarn` is kilograms for a square metre as typed, for this price alone.
///
/// # Errors
/// As [`ask`], and when the yarn is no weight.
pub fn ask_price(
    store: &impl Store,
    clock: &impl Clock,
    asked: &QuoteAsked,
    yarn: Option<&str>,
) -> Result<PriceAnswer, MoneyError> {
    let yarn_kg_per_m2 = yarn.map(yarn_kg).transpose()?;
    let answer = ask(store, clock, asked)?;
    let book = Book::read(store)?;
    let quote = &answer.quote;
    let basis = PriceBasis {
        width_mm: quote.width_mm,
        height_mm: quote.height_mm,
        run_hours: quote.run_hours.estimate,
        frame_hours: quote.tufting_hours.estimate,
        machine_hour_rate: quote.machine_hour_rate,
        wage_per_hour: quote.tufting_hour_wage,
        yarn_kg_per_m2,
        terms: terms(&book.entries),
        own: OwnBench::of(&book.studio, &Commissions::of(&book.entries)),
    };
    Ok(PriceAnswer { price: price(&basis), terms: basis.terms, quote: answer })
}
