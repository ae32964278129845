//! What speed costs: entering what tears and time cost, weighing them, and the ceiling that the maker accepts.

use serde::Serialize;
use shared_types::MachineTag;

use super::error::ClothError;
use crate::app::ports::{Clock, Store};
use crate::app::typed::choose_machine::machine;
use crate::app::typed::error::RequestError;
use crate::app::whole_book::Book;
use host_core::cloth::cost::{CostReport, Costs, costs_of, proposed};
use host_core::cloth::exposure_sequence::ExposureSequence;
use host_core::cloth::verdict::{Pace, primary};
use host_core::cloth::{Known, TableProblem, cost_of_speed, harms};
use host_core::entries::amount::Money;
use host_core::entries::{CeilingSet, EntryBody, EntryId, TearCosts};
use host_core::heavy::speed::ceiling_said;
use host_core::rugs::commission::Commissions;
use host_core::stats::Level;
use host_core::studio::Studio;

/// What speed costs on a machine.
///
/// # Errors
/// When the database cannot be read, or there is no such machine.
pub fn report(store: &impl Store, number: Option<u32>, level: Level) -> Result<CostReport, ClothError> {
    let book = Book::read(store)?;
    let ledger = book.ledger();
    let card = machine(&book.studio, number)?;
    let harms = harms(&book.entries, &book.studio, &ledger);
    let known = Known { entries: &book.entries, studio: &book.studio, ledger: &ledger, harms: &harms };
    Ok(cost_of_speed(known, card, level).map_err(TableProblem::from)?)
}

/// Costs as typed, in the maker's own currency.
#[derive(Clone, Debug, Default)]
pub struct CostsTyped {
    /// What a tear costs.
    pub tear: Option<String>,
    /// What an hour is worth.
    pub hour: Option<String>,
}

/// What was kept.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CostsKept {
    /// The currency of both, as the maker writes it; null: not said.
    pub currency: Option<String>,
    /// The entry's number.
    pub entry: EntryId,
    /// Both costs as they stand now; null while one is missing.
    pub costs: Option<Costs>,
}

/// Enters what a tear or an hour costs, or both; what is not said stays as it was.
///
/// # Errors
/// When nothing is said, an amount is none, or the database does not take it.
pub fn set_costs(
    store: &mut impl Store,
    clock: &impl Clock,
    typed: &CostsTyped,
) -> Result<CostsKept, ClothError> {
    let amount = |option: &'static str, text: &Option<String>| {
        text.as_deref()
            .map(|text| Money::parse(text).map_err(|problem| ClothError::Amount { option, problem }))
            .transpose()
    };
    let said =
        TearCosts { tear: amount("--tear-cost", &typed.tear)?, hour: amount("--hour-value", &typed.hour)? };
    if said == TearCosts::default() {
        return Err(ClothError::NoAmount);
    }
    let entry = store.add_entry(clock.now(), &EntryBody::TearCosts(said))?;
    let entries = store.entries()?;
    Ok(CostsKept { currency: Commissions::of(&entries).terms.currency, entry, costs: costs_of(&entries) })
}

/// Which ceiling the maker wants.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum CeilingWish {
    /// The proposed one.
    Proposed,
    /// None.
    Off,
    /// This place of the knob, in per cent of its travel, 1 to 99.
    Percent(u8),
}

/// The ceiling as it is now.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct CeilingNow {
    /// The machine's number.
    pub machine: MachineTag,
    /// Its name.
    pub machine_name: String,
    /// The entry by which it was changed just now.
    pub entry: Option<EntryId>,
    /// The ceiling, per mille of the knob's travel; null without one.
    pub knob_per_mille: Option<u32>,
    /// Whether the machine has no logger board, so that no lamp minds it.
    pub is_without_logger: bool,
}

/// The ceiling in force.
///
/// # Errors
/// When the database cannot be read, or there is no such machine.
pub fn ceiling(store: &impl Store, number: Option<u32>) -> Result<CeilingNow, RequestError> {
    let entries = store.entries()?;
    let studio = Studio::of(&entries);
    let card = machine(&studio, number)?;
    Ok(CeilingNow {
        machine: card.tag,
        machine_name: card.name.clone(),
        entry: None,
        knob_per_mille: ceiling_said(&entries, card.tag).and_then(|said| said.per_mille()),
        is_without_logger: studio.is_without_logger(card.tag),
    })
}

/// Sets the ceiling; the lamp learns of it at the next pull, and `heavy` minds it at once.
///
/// # Errors
/// When there is no such machine, nothing is proposed that could be accepted, or the database does not take it.
pub fn set_ceiling(
    store: &mut impl Store,
    clock: &impl Clock,
    number: Option<u32>,
    wish: CeilingWish,
) -> Result<CeilingNow, ClothError> {
    let tag = machine(&Studio::of(&store.entries()?), number)?.tag;
    let knob_per_mille = match wish {
        CeilingWish::Off => None,
        CeilingWish::Percent(percent) => Some(u16::from(percent) * 10),
        CeilingWish::Proposed => Some(proposed_now(store, number)?.ok_or(ClothError::NothingProposed)?),
    };
    let set = CeilingSet { machine: tag, knob_per_mille, was_proposed: wish == CeilingWish::Proposed };
    let entry = store.add_entry(clock.now(), &EntryBody::CeilingSet(set))?;
    Ok(CeilingNow { entry: Some(entry), ..ceiling(store, number)? })
}

fn proposed_now(store: &impl Store, number: Option<u32>) -> Result<Option<u16>, ClothError> {
    let book = Book::read(store)?;
    let ledger = book.ledger();
    let card = machine(&book.studio, number)?;
    let Some(costs) = costs_of(&book.entries) else { return Ok(None) };
    let harms = harms(&book.entries, &book.studio, &ledger);
    let course = ExposureSequence::of(&book.entries, &book.studio, &ledger, &harms, card.tag);
    let answer = primary(&course.steps, Pace::default(), Level::USUAL).map_err(TableProblem::from)?;
    let ceiling = proposed(&course.steps, card.ratio, answer.verdict, costs);
    Ok(ceiling.and_then(|ceiling| u16::try_from(ceiling.knob_per_mille).ok()))
}
