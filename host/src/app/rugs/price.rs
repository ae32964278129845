//! One price for a rug, from its quote and the terms.

use serde::Serialize;

use super::quote::{QuoteAnswer, QuoteAsked, ask};
use crate::app::money::{MoneyError, yarn_kg};
use crate::app::ports::{Clock, Store};
use crate::app::typed::decimals::whole;
use crate::app::whole_book::Book;
use host_core::entries::{BasisPoints, EntryBody, EntryId, PriceTerms, RugName, RugPriced, Style};
use host_core::rugs::commission::Commissions;
use host_core::rugs::own_bench::OwnBench;
use host_core::rugs::price::{Price, PriceBasis, PriceItem, price, terms};
use host_core::stats::{HOUR_MS, number};

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

/// The commission that a price is for.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ForRug {
    /// Its name.
    pub rug: RugName,
    /// Its width and height in millimetres, where they were said.
    pub size_mm: Option<(u32, u32)>,
    /// Its style, where it was said.
    pub style: Option<Style>,
}

/// A commission by its name.
///
/// # Errors
/// When there is none, or the store cannot be read.
pub fn for_rug(store: &impl Store, name: &str) -> Result<ForRug, MoneyError> {
    let book = Book::read(store)?;
    let order = &book.studio.rug(name)?.order;
    let commissions = Commissions::of(&book.entries);
    Ok(ForRug {
        rug: order.rug.clone(),
        size_mm: order.width_mm.zip(order.height_mm),
        style: commissions.described(&order.rug).and_then(|described| described.style),
    })
}

/// Keeps a price with its commission.
///
/// # Errors
/// When nothing of it could be worked out, or the store fails.
pub fn keep(
    store: &mut impl Store,
    clock: &impl Clock,
    rug: &RugName,
    answer: &PriceAnswer,
) -> Result<EntryId, MoneyError> {
    let price = &answer.price;
    if price.sum_cents == 0 {
        return Err(MoneyError::EmptyPrice(rug.0.clone()));
    }
    let ms = |hours: f64| whole(hours * number(HOUR_MS));
    let body = EntryBody::RugPriced(RugPriced {
        rug: rug.clone(),
        at: clock.now(),
        currency: answer.quote.currency.clone(),
        frame_ms: answer.quote.quote.tufting_hours.estimate.map(ms),
        bench_ms: ms(price.bench_hours),
        materials_cents: price.cents_of(PriceItem::Materials),
        frame_cents: price.cents_of(PriceItem::Frame),
        bench_cents: price.cents_of(PriceItem::Bench),
        extras_cents: price.cents_of(PriceItem::Extras),
        margin_cents: price.cents_of(PriceItem::Margin),
        price_cents: price.price_cents,
        is_incomplete: price.is_incomplete,
    });
    Ok(store.add_entry(clock.now(), &body)?)
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
    /// What it includes, in the maker's words; none: not said.
    pub included: Option<String>,
    /// The maker's name.
    pub maker: String,
    /// How to reach the maker.
    pub contact: String,
}

impl PriceAnswer {
    /// What its client reads.
    ///
    /// # Errors
    /// When a number is missing in the price, or the maker's name or contact was not said.
    pub fn offer(&self) -> Result<ClientOffer, MoneyError> {
        if self.price.lacks_a_number() {
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
            included: terms.included.clone(),
            maker,
            contact,
        })
    }
}
