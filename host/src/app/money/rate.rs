//! What an hour of running costs.

use serde::Serialize;
use shared_types::MachineTag;

use super::error::MoneyError;
use crate::app::ports::{Clock, Store};
use crate::app::typed::choose_machine::machine as choose;
use crate::app::typed::decimals;
use crate::app::typed::error::RequestError;
use crate::app::typed::names::checked_name;
use crate::app::typed::words::{hours as hours_typed, refused};
use host_core::entries::amount::{Money, NotAnAmount};
use host_core::entries::{CostBasis, EntryBody, EntryId, Hours, MachineCosts, MoneyTerms};
use host_core::money::{CostFigures, MachineHourRate, entered};
use host_core::rugs::commission::{Commissions, Terms};
use host_core::studio::Studio;

/// What the maker typed. An empty one asks for what was entered before.
#[derive(Clone, Debug, Default)]
pub struct CostsTyped {
    /// `--price`.
    pub price: Option<String>,
    /// `--resale`.
    pub resale: Option<String>,
    /// `--life-hours`.
    pub life_hours: Option<String>,
    /// `--period-hours`.
    pub period_hours: Option<String>,
    /// `--period-cost`, each time.
    pub period_costs: Vec<String>,
    /// `--hour-cost`, each time.
    pub hour_costs: Vec<String>,
}

impl CostsTyped {
    /// Whether nothing was typed.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.price.is_none()
            && self.resale.is_none()
            && self.life_hours.is_none()
            && self.period_hours.is_none()
            && self.period_costs.is_empty()
            && self.hour_costs.is_empty()
    }

    /// Reads it.
    ///
    /// # Errors
    /// When price, resale or life is missing, or a number cannot be.
    pub fn basis(&self) -> Result<CostBasis, MoneyError> {
        let amounts = |option, typed: &[String]| {
            typed.iter().map(|text| amount(option, text)).collect::<Result<Vec<Money>, MoneyError>>()
        };
        let price = amount("--price", needed("--price", self.price.as_deref())?)?;
        let resale = amount("--resale", needed("--resale", self.resale.as_deref())?)?;
        let life_hours = hours("the life in hours", needed("--life-hours", self.life_hours.as_deref())?)?;
        let period_hours = match &self.period_hours {
            Some(text) => Some(hours("the hours of running in a period", text)?),
            None => None,
        };
        Ok(CostBasis {
            price,
            resale,
            life_hours,
            period_hours,
            period_costs: amounts("--period-cost", &self.period_costs)?,
            hour_costs: amounts("--hour-cost", &self.hour_costs)?,
        })
    }
}

impl CostsTyped {
    /// Reads it for the calculator, which keeps nothing and so need not stop at a millionth.
    ///
    /// # Errors
    /// As [`Self::basis`].
    pub fn figures(&self) -> Result<CostFigures, MoneyError> {
        let figures = |option, typed: &[String]| {
            typed.iter().map(|text| figure(option, text)).collect::<Result<Vec<f64>, MoneyError>>()
        };
        let period_hours = self.period_hours.as_deref();
        Ok(CostFigures {
            price: figure("--price", needed("--price", self.price.as_deref())?)?,
            resale: figure("--resale", needed("--resale", self.resale.as_deref())?)?,
            life_hours: hours("the life in hours", needed("--life-hours", self.life_hours.as_deref())?)?,
            period_hours: period_hours
                .map(|text| hours("the hours of running in a period", text))
                .transpose()?,
            period_costs: figures("--period-cost", &self.period_costs)?,
            hour_costs: figures("--hour-cost", &self.hour_costs)?,
        })
    }
}

/// An amount as fine as it was typed; also written like 1e-3.
fn figure(option: &'static str, text: &str) -> Result<f64, MoneyError> {
    Money::parse(text).map(Money::units).or_else(|problem| {
        let is_fine = match &problem {
            NotAnAmount::TooFine(_) => true,
            NotAnAmount::NotANumber(text) => text.contains(['e', 'E']),
            _ => false,
        };
        let typed = decimals::read(text).ok().filter(|typed| (0.0..=1e9).contains(typed));
        typed.filter(|_| is_fine).ok_or(MoneyError::Amount { option, problem })
    })
}

fn needed<'a>(option: &'static str, typed: Option<&'a str>) -> Result<&'a str, MoneyError> {
    typed.ok_or(MoneyError::Missing(option))
}

fn amount(option: &'static str, text: &str) -> Result<Money, MoneyError> {
    Money::parse(text).map_err(|problem| MoneyError::Amount { option, problem })
}

fn hours(what: &'static str, text: &str) -> Result<Hours, RequestError> {
    let range = "a number above 0 and up to 1000000";
    let typed = hours_typed(what, range, (0.0, f64::MAX), text)?;
    Hours::new(typed).ok_or_else(|| refused(what, range, text))
}

/// The answer of `rate`.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct RateAnswer {
    /// The machine; none for numbers that were only typed.
    pub machine: Option<MachineTag>,
    /// The currency of all amounts, as the maker writes it; null: not said.
    pub currency: Option<String>,
    /// The rate and its parts.
    #[serde(flatten)]
    pub rate: MachineHourRate,
}

/// Works out the rate of what was typed.
///
/// # Errors
/// When a number is missing or cannot be.
pub fn of_typed(typed: &CostsTyped) -> Result<RateAnswer, MoneyError> {
    Ok(RateAnswer { machine: None, currency: None, rate: typed.figures()?.rate()? })
}

/// The rate of what was entered for a machine.
///
/// # Errors
/// When the machine is not clear, nothing was entered for it, or the store fails.
pub fn of_machine(store: &impl Store, machine: Option<u32>) -> Result<RateAnswer, MoneyError> {
    let entries = store.entries()?;
    let machine = choose(&Studio::of(&entries), machine)?.tag;
    let basis = entered(&entries, machine).ok_or(MoneyError::NothingEntered { machine })?;
    let currency = Commissions::of(&entries).terms.currency;
    Ok(RateAnswer { machine: Some(machine), currency, rate: basis.rate()? })
}

/// Enters what a machine costs; an earlier entry stays visible and counts no more.
///
/// # Errors
/// When a number is missing or cannot be, the machine is not clear, or the store fails.
pub fn enter(
    store: &mut impl Store,
    clock: &impl Clock,
    machine: Option<u32>,
    typed: &CostsTyped,
) -> Result<(EntryId, RateAnswer), MoneyError> {
    let basis = typed.basis()?;
    let rate = basis.rate()?;
    let entries = store.entries()?;
    let machine = choose(&Studio::of(&entries), machine)?.tag;
    let currency = Commissions::of(&entries).terms.currency;
    let body = EntryBody::MachineCosts(MachineCosts { machine, basis });
    let entry = store.add_entry(clock.now(), &body)?;
    Ok((entry, RateAnswer { machine: Some(machine), currency, rate }))
}

/// The answer of `rate wage`.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct TermsAnswer {
    /// What an hour of labour costs, in millionths of the currency unit.
    pub wage_per_hour_millionths: Option<u64>,
    /// The currency, as it stands on a bill.
    pub currency: Option<String>,
}

impl From<Terms> for TermsAnswer {
    fn from(terms: Terms) -> Self {
        Self { wage_per_hour_millionths: terms.wage_per_hour.map(|wage| wage.0), currency: terms.currency }
    }
}

/// Keeps what an hour of labour costs and the currency of all amounts, each where it is given; tells the entry, if there was
/// something to keep, and what holds now.
///
/// # Errors
/// When the wage is no amount, the currency is no name, or the store fails.
pub fn terms(
    store: &mut impl Store,
    clock: &impl Clock,
    wage: Option<&str>,
    currency: Option<&str>,
) -> Result<(Option<EntryId>, TermsAnswer), MoneyError> {
    let wage_per_hour = wage.map(|text| amount("the wage", text)).transpose()?;
    let currency = currency.map(|text| checked_name("the currency", text)).transpose()?;
    let says_something = wage_per_hour.is_some() || currency.is_some();
    let body = EntryBody::MoneyTerms(MoneyTerms { wage_per_hour, currency });
    let entry = says_something.then(|| store.add_entry(clock.now(), &body)).transpose()?;
    Ok((entry, Commissions::of(&store.entries()?).terms.into()))
}
