//! One price for a rug, from its quote and the terms.

use serde::Serialize;

use super::quote::{QuoteAnswer, QuoteAsked, ask};
use crate::app::money::{MoneyError, yarn_kg};
use crate::app::ports::{Clock, Store};
use crate::app::whole_book::Book;
use host_core::entries::{BasisPoints, PriceTerms, Style};
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

/// Deposit where nothing was said: half, as makers' order terms have it.
const USUAL_DEPOSIT: BasisPoints = BasisPoints(5_000);
/// Changes of the design where nothing was said; our assumption.
const USUAL_CHANGES: u32 = 1;
/// Days for which a quote holds where nothing was said; our assumption.
const USUAL_HOLDS_DAYS: u32 = 30;

/// What a client reads: no rates, no hours.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ClientOffer {
    /// Width and height in millimetres.
    pub size_mm: (u32, u32),
    /// The style.
    pub style: Option<Style>,
    /// Colours in the design.
    pub colours: Option<u32>,
    /// The price in whole cents.
    pub price_cents: u64,
    /// The deposit in whole cents.
    pub deposit_cents: u64,
    /// The rest in whole cents.
    pub balance_cents: u64,
    /// The currency; none: not said.
    pub currency: Option<String>,
    /// Whether shipping is in the price.
    pub is_shipped: bool,
    /// Changes of the design that it includes.
    pub changes_included: u32,
    /// Days for which it holds.
    pub holds_days: u32,
    /// The maker's name.
    pub maker: String,
    /// How to reach the maker.
    pub contact: String,
}

impl PriceAnswer {
    /// What its client reads.
    ///
    /// # Errors
    /// When the price is incomplete, or the maker's name or contact was not said.
    pub fn offer(&self) -> Result<ClientOffer, MoneyError> {
        if self.price.is_incomplete {
            return Err(MoneyError::IncompletePrice);
        }
        let terms = &self.terms;
        let (Some(maker), Some(contact)) = (terms.maker.clone(), terms.contact.clone()) else {
            return Err(MoneyError::NoMaker);
        };
        let quote = &self.quote.quote;
        let price_cents = self.price.price_cents;
        let deposit_cents = terms.deposit.unwrap_or(USUAL_DEPOSIT).of_cents(price_cents);
        Ok(ClientOffer {
            size_mm: (quote.width_mm, quote.height_mm),
            style: quote.style,
            colours: quote.colours,
            price_cents,
            deposit_cents,
            balance_cents: price_cents.saturating_sub(deposit_cents),
            currency: self.quote.currency.clone(),
            is_shipped: terms.shipping.is_some_and(|shipping| shipping.0 > 0),
            changes_included: terms.changes_included.unwrap_or(USUAL_CHANGES),
            holds_days: terms.holds_days.unwrap_or(USUAL_HOLDS_DAYS),
            maker,
            contact,
        })
    }
}
