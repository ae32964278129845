//! Spares and supplies in the drawer.

use serde::Serialize;
use shared_types::UtcMillis;

use super::error::CareError;
use crate::app::ports::{Clock, Store, StoreError};
use crate::app::typed::error::RequestError;
use crate::app::typed::names::checked_name;
use host_core::care::stock::{StockLine, stock};
use host_core::entries::{
    EntryBody, EntryId, InForce, SpareName, StockChange, StockLevelSet, StockMoved, StockUnit,
};

/// More of one spare is a slip of the finger.
const MOST: u32 = 100_000;

/// What is in stock.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct StockReport {
    /// The entry's number; null where nothing was noted.
    pub entry: Option<EntryId>,
    /// Each spare; after a change only the changed one.
    pub items: Vec<StockLine>,
    /// Of which more is to be bought.
    pub to_buy: Vec<SpareName>,
}

/// Everything in stock.
///
/// # Errors
/// When the database cannot be read.
pub fn list(store: &impl Store) -> Result<StockReport, RequestError> {
    Ok(report(None, stock(&store.entries()?)))
}

fn report(entry: Option<EntryId>, items: Vec<StockLine>) -> StockReport {
    let to_buy = items.iter().filter(|line| line.is_low).map(|line| line.item.clone()).collect();
    StockReport { entry, items, to_buy }
}

/// Notes that spares came in, went out or were counted. What comes in or is counted may be new.
///
/// # Errors
/// When the name is empty or too long, the number too high, something goes out that never was in, or the database does not
/// take it.
pub fn change(
    store: &mut impl Store,
    clock: &impl Clock,
    item: &str,
    change: StockChange,
    note: Option<String>,
) -> Result<StockReport, CareError> {
    let item = SpareName::of(&checked_name("the spare's name", item)?);
    let (StockChange::In(count) | StockChange::Out(count) | StockChange::Counted(count)) = change;
    check_count(count)?;
    if let StockChange::Out(_) = change {
        check_known(&store.entries()?, &[(item.clone(), count)])?;
    }
    let now = clock.now();
    let moved = StockMoved { item: item.clone(), change, at: now, note, of_care: None };
    let entry = store.add_entry(now, &EntryBody::StockMoved(moved))?;
    Ok(one(store, Some(entry), &item)?)
}

/// Sets in what a spare is counted, and when to buy more. What is not said stays as it is.
///
/// # Errors
/// When the name is empty or too long, the number too high, or the database does not take it.
pub fn set_level(
    store: &mut impl Store,
    clock: &impl Clock,
    item: &str,
    unit: Option<StockUnit>,
    reorder_at: Option<u32>,
) -> Result<StockReport, RequestError> {
    let item = SpareName::of(&checked_name("the spare's name", item)?);
    check_count(reorder_at.unwrap_or(0))?;
    let lines = stock(&store.entries()?);
    let before = lines.into_iter().find(|line| line.item == item);
    let set = StockLevelSet {
        unit: unit.or(before.as_ref().map(|line| line.unit)).unwrap_or(item.usual_unit()),
        reorder_at: reorder_at.or(before.and_then(|line| line.reorder_at)),
        item: item.clone(),
    };
    let entry = store.add_entry(clock.now(), &EntryBody::StockLevelSet(set))?;
    one(store, Some(entry), &item)
}

fn one(store: &impl Store, entry: Option<EntryId>, item: &SpareName) -> Result<StockReport, RequestError> {
    let lines = stock(&store.entries()?);
    Ok(report(entry, lines.into_iter().filter(|line| line.item == *item).collect()))
}

fn check_count(count: u32) -> Result<(), RequestError> {
    if count > MOST {
        let (what, range) = ("the number", "0 to 100000");
        return Err(RequestError::OutOfRange { what, range, given: count.to_string() });
    }
    Ok(())
}

/// Only what was ever named can be used up.
///
/// # Errors
/// Names the first that was not.
pub fn check_known(entries: &InForce<'_>, used: &[(SpareName, u32)]) -> Result<(), CareError> {
    let lines = stock(entries);
    for (item, count) in used {
        check_count(*count)?;
        if !lines.iter().any(|line| line.item == *item) {
            return Err(CareError::UnknownSpare {
                name: item.0.clone(),
                known: lines.into_iter().map(|line| line.item.0).collect(),
            });
        }
    }
    Ok(())
}

/// Takes out what a job used up.
///
/// # Errors
/// When the database does not take it.
pub fn use_up(
    store: &mut impl Store,
    now: UtcMillis,
    used: &[(SpareName, u32)],
    at: UtcMillis,
    job: &str,
    care: EntryId,
) -> Result<(), StoreError> {
    let out = |(item, count): &(SpareName, u32)| {
        let (item, change) = (item.clone(), StockChange::Out(*count));
        EntryBody::StockMoved(StockMoved {
            item,
            change,
            at,
            note: Some(job.to_owned()),
            of_care: Some(care),
        })
    };
    store.add_entries(now, &used.iter().map(out).collect::<Vec<_>>())
}

/// How what was used up stands.
pub fn left_of(entries: &InForce<'_>, used: &[(SpareName, u32)]) -> Vec<StockLine> {
    stock(entries).into_iter().filter(|line| used.iter().any(|(item, _)| line.item == *item)).collect()
}
