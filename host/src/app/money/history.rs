//! Everything that was ever said of prices, wages, tears' costs and sample squares: what quotes and bills are reckoned from.

use crate::app::ports::Store;
use crate::app::typed::error::RequestError;
use host_core::entries::{Entry, EntryBody, EntryId, InForce, PriceTerm};
use host_core::hours::reassignments::Reassignment;
use std::collections::BTreeSet;

use serde::Serialize;

/// The answer of `rate history`.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PriceHistory {
    /// In the order of entry; what was said anew or taken back is there and marked.
    pub entries: Vec<HistoryLine>,
}

/// Whether an entry is one of those that quotes and bills are reckoned from, and that are of no one commission.
#[must_use]
pub const fn is_price(body: &EntryBody) -> bool {
    matches!(
        body,
        EntryBody::MachineCosts(_)
            | EntryBody::MoneyTerms(_)
            | EntryBody::PriceTerms(_)
            | EntryBody::TearCosts(_)
            | EntryBody::SampleSquare(_)
    )
}

/// Everything that was ever said of prices.
///
/// # Errors
/// When the store cannot be read.
pub fn prices(store: &impl Store) -> Result<PriceHistory, RequestError> {
    let entries = store.entries()?;
    let counts = |entry: &Entry| entries.get(entry.id).is_some();
    let of_prices: Vec<&Entry> =
        entries.with_withdrawn().iter().filter(|entry| is_price(&entry.body)).collect();
    let line = |(place, entry): (usize, &&Entry)| {
        let later = of_prices.iter().skip(place + 1).filter(|later| counts(later));
        HistoryLine {
            entry: entry.id,
            entered_utc_ms: entry.entered_at.0,
            says: entry.body.clone(),
            standing: if counts(entry) {
                said_anew(&entry.body, later.map(|later| &later.body))
            } else {
                taken_back(&entries, entry.id)
            },
            moved: None,
        }
    };
    Ok(PriceHistory { entries: of_prices.iter().enumerate().map(line).collect() })
}

/// Whether what an entry says was said anew by later ones, each part for itself.
fn said_anew<'all>(says: &EntryBody, later: impl Iterator<Item = &'all EntryBody>) -> Standing {
    let mut again: BTreeSet<Part> = BTreeSet::new();
    later.for_each(|later| again.extend(parts(later)));
    let parts = parts(says);
    match parts.iter().filter(|part| again.contains(part)).count() {
        0 => Standing::Counts,
        all if all == parts.len() => Standing::Replaced,
        _ => Standing::ReplacedInPart,
    }
}

/// What an entry of prices can say; a later one of the same replaces it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Part {
    Machine(u32),
    Wage,
    Currency,
    Tear,
    Hour,
    Price(PriceTerm),
}

fn parts(says: &EntryBody) -> Vec<Part> {
    let said = |part, is_said: bool| is_said.then_some(part);
    let parts = match says {
        EntryBody::PriceTerms(terms) => return terms.said().into_iter().map(Part::Price).collect(),
        EntryBody::MachineCosts(costs) => [Some(Part::Machine(costs.machine.0)), None],
        EntryBody::MoneyTerms(terms) => {
            [said(Part::Wage, terms.wage_per_hour.is_some()), said(Part::Currency, terms.currency.is_some())]
        }
        EntryBody::TearCosts(costs) => {
            [said(Part::Tear, costs.tear.is_some()), said(Part::Hour, costs.hour.is_some())]
        }
        // Samples stand beside each other.
        _ => [None, None],
    };
    parts.into_iter().flatten().collect()
}

/// Whether an entry counts.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Standing {
    /// It does.
    Counts,
    /// A later one says it anew.
    Replaced,
    /// Later ones say some of it anew.
    ReplacedInPart,
    /// It was taken back.
    TakenBack {
        /// Why.
        reason: String,
        /// When that was said, in milliseconds UTC.
        at_utc_ms: Option<i64>,
    },
}

/// An entry about a commission.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct HistoryLine {
    /// Its number.
    pub entry: EntryId,
    /// When it was entered, in milliseconds UTC.
    pub entered_utc_ms: i64,
    /// What it says.
    pub says: EntryBody,
    /// Whether it counts.
    pub standing: Standing,
    /// Of an assignment: which running, from whom and to whom.
    pub moved: Option<Reassignment>,
}

/// How an entry that does not stand was taken back.
pub(in crate::app) fn taken_back(entries: &InForce<'_>, of: EntryId) -> Standing {
    let by = entries.withdrawal(of);
    Standing::TakenBack {
        reason: by.map_or_else(String::new, |by| by.reason.to_owned()),
        at_utc_ms: by.map(|by| by.at.0),
    }
}
