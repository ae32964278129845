//! What the maker tells about commissions besides their time on the frame, and corrections.

use shared_types::UtcMillis;

use super::error::RugError;
use crate::app::ports::{Clock, Store};
use crate::app::typed::dates::Given;
use crate::app::typed::error::RequestError;
use crate::app::typed::measures::{checked_sides, pile_tenths_mm, weight_mg};
use crate::app::typed::names::checked_name;
use crate::app::typed::words::refused;
use host_core::entries::amount::Money;
use host_core::entries::{
    EntryBody, EntryId, MaterialUsed, RugDescribed, RugName, RugOrdered, Stage, StageBegun, Style,
    WorkChange, YarnMove, YarnWeighed,
};
use host_core::rugs::commission::{Commissions, first_too_much};
use host_core::rugs::work_order::{self, WorkProblem};
use host_core::studio::Studio;

/// The most colours that are named.
const MOST_COLOURS: usize = 100;

/// How a commission is made, as typed. What is left out stays as it was.
#[derive(Clone, Debug, Default)]
pub struct Making {
    /// Cut, looped or both.
    pub style: Option<Style>,
    /// Height of the pile.
    pub pile: Option<String>,
    /// The colours; none given: as before.
    pub colours: Vec<String>,
}

impl Making {
    /// Whether nothing was said.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.style.is_none() && self.pile.is_none() && self.colours.is_empty()
    }

    /// The whole description after it; none where nothing was said.
    ///
    /// # Errors
    /// When the height or a colour cannot be.
    pub fn onto(
        &self,
        rug: &RugName,
        before: Option<&RugDescribed>,
    ) -> Result<Option<RugDescribed>, RequestError> {
        if self.is_empty() {
            return Ok(None);
        }
        let pile = self.pile.as_deref().map(pile_tenths_mm).transpose()?;
        let mut colours: Vec<String> = Vec::new();
        for colour in &self.colours {
            let colour = checked_name("a colour", colour)?;
            if !colours.iter().any(|known| known.to_lowercase() == colour.to_lowercase()) {
                colours.push(colour);
            }
        }
        if colours.len() > MOST_COLOURS {
            let given = colours.len().to_string();
            return Err(RequestError::OutOfRange { what: "the number of colours", range: "1 to 100", given });
        }
        if colours.is_empty() {
            colours = before.map(|before| before.colours.clone()).unwrap_or_default();
        }
        Ok(Some(RugDescribed {
            rug: rug.clone(),
            style: self.style.or(before.and_then(|before| before.style)),
            pile_height_tenths_mm: pile.or(before.and_then(|before| before.pile_height_tenths_mm)),
            colours,
        }))
    }
}

/// A correction of a commission, as typed. What is left out stays as it was.
#[derive(Clone, Debug, Default)]
pub struct Correction {
    /// Width and height in millimetres.
    pub size_mm: Option<(u32, u32)>,
    /// The piece or roll of cloth.
    pub cloth_lot: Option<String>,
    /// When it was ordered.
    pub at: Option<Given>,
    /// How it is made.
    pub making: Making,
}

/// Corrects a commission with new entries; the old ones stay visible.
///
/// # Errors
/// When nothing is said, a value cannot be, there is no such commission, or the store fails; then nothing was changed.
pub fn correct(
    store: &mut impl Store,
    clock: &impl Clock,
    name: &str,
    new: Correction,
) -> Result<RugName, RugError> {
    let entries = store.entries()?;
    let studio = Studio::of(&entries);
    let order = &studio.rug(name)?.order;
    checked_sides(new.size_mm)?;
    let cloth_lot = new.cloth_lot.map(|lot| checked_name("the cloth's mark", &lot)).transpose()?;
    let commissions = Commissions::of(&entries);
    let described = new.making.onto(&order.rug, commissions.described(&order.rug))?;
    let ordered = new.at.map(|at| at.start(clock));
    let stages = commissions.told(&order.rug).into_iter().flat_map(|told| &told.stages);
    let starts = studio.rug(name)?.work.iter().filter(|work| work.change == WorkChange::Started);
    let begun = starts.map(|work| work.at).chain(stages.map(|(at, _)| *at)).min();
    if begun.zip(ordered).is_some_and(|(begun, ordered)| begun < ordered) {
        return Err(WorkProblem::OrderAfterStart { rug: order.rug.0.clone() }.into());
    }
    let is_ordered_anew = new.size_mm.is_some() || cloth_lot.is_some() || new.at.is_some();
    if !is_ordered_anew && described.is_none() {
        return Err(RugError::NothingSaid);
    }
    let anew = is_ordered_anew.then(|| {
        EntryBody::RugOrdered(RugOrdered {
            rug: order.rug.clone(),
            width_mm: new.size_mm.map(|(width, _)| width).or(order.width_mm),
            height_mm: new.size_mm.map(|(_, height)| height).or(order.height_mm),
            cloth_lot: cloth_lot.or_else(|| order.cloth_lot.clone()),
            at: ordered.unwrap_or(order.at),
        })
    });
    let bodies = anew.into_iter().chain(described.map(EntryBody::RugDescribed));
    store.add_entries(clock.now(), &bodies.collect::<Vec<_>>())?;
    Ok(order.rug.clone())
}

/// A stage that was written down.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct StageOutcome {
    /// It.
    pub begun: StageBegun,
    /// When the order of its commission was written down, where that is later and the maker did not say when it was ordered.
    pub ordered_later: Option<UtcMillis>,
}

/// Says that a commission is in a stage from a moment on, or in none any more.
///
/// # Errors
/// When there is no such commission, the maker gave a later date for its order, or the store fails.
pub fn stage(
    store: &mut impl Store,
    clock: &impl Clock,
    name: &str,
    stage: Option<Stage>,
    at: Option<Given>,
) -> Result<StageOutcome, RugError> {
    let entries = store.entries()?;
    let studio = Studio::of(&entries);
    let rug = studio.rug(name)?;
    let at = at.map_or_else(|| clock.now(), |at| at.start(clock));
    let ordered_later = work_order::written_down_later(&entries, rug, at)?;
    let begun = StageBegun { rug: rug.order.rug.clone(), stage, at };
    store.add_entry(clock.now(), &EntryBody::StageBegun(begun.clone()))?;
    Ok(StageOutcome { begun, ordered_later })
}

/// Yarn that was weighed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Weighing {
    /// Its number.
    pub entry: EntryId,
    /// It.
    pub weighed: YarnWeighed,
    /// The colours that the commission was described with, where this one is weighed for it the first time and is none of
    /// them; else empty.
    pub described_colours: Vec<String>,
}

/// Writes a weight of yarn down. A colour that the commission was not described with is written down too, and told.
///
/// # Errors
/// When the weight or colour cannot be, more comes back or is left than was taken, there is no such commission, or the
/// store fails.
pub fn weigh(
    store: &mut impl Store,
    clock: &impl Clock,
    name: &str,
    colour: &str,
    (moved, weight): (YarnMove, &str),
    at: Option<Given>,
) -> Result<Weighing, RugError> {
    let entries = store.entries()?;
    let rug = Studio::of(&entries).rug(name)?.order.rug.clone();
    let colour = checked_name("the colour", colour)?;
    let weight_mg = weight_mg(weight)?;
    if weight_mg == 0 && moved != YarnMove::Left {
        return Err(refused("the weight", "above nothing", weight).into());
    }
    let all = Commissions::of(&entries);
    let is_it = |weighed: &&YarnWeighed| weighed.colour.to_lowercase() == colour.to_lowercase();
    let before: Vec<&YarnWeighed> =
        all.told(&rug).into_iter().flat_map(|told| &told.yarn).filter(is_it).collect();
    let colour = before.first().map_or(colour.clone(), |known| known.colour.clone());
    let moment = at.map_or_else(|| clock.now(), |at| at.middle(clock));
    let weighed = YarnWeighed { rug, colour, moved, weight_mg, at: moment };
    // Of a day without a time it is not known what came first on it.
    let latest = at.map_or(moment, |at| at.end(clock));
    check_yarn(&before, &weighed, latest)?;
    let entry = store.add_entry(clock.now(), &EntryBody::YarnWeighed(weighed.clone()))?;
    let described =
        all.described(&weighed.rug).map(|described| described.colours.clone()).unwrap_or_default();
    let is_known = !before.is_empty()
        || described.iter().any(|known| known.to_lowercase() == weighed.colour.to_lowercase());
    Ok(Weighing { entry, weighed, described_colours: if is_known { Vec::new() } else { described } })
}

fn check_yarn(before: &[&YarnWeighed], new: &YarnWeighed, latest: UtcMillis) -> Result<(), RugError> {
    let (rug, colour) = (|| new.rug.0.clone(), || new.colour.clone());
    let there = |until: UtcMillis| {
        let by_then = before.iter().filter(|weighed| weighed.at <= until);
        by_then.fold(0_u64, |sum, weighed| match weighed.moved {
            YarnMove::Out => sum.saturating_add(weighed.weight_mg),
            YarnMove::Back => sum.saturating_sub(weighed.weight_mg),
            YarnMove::Left => sum,
        })
    };
    if new.moved == YarnMove::Out {
        return Ok(());
    }
    let with_the_rug_mg = there(UtcMillis(i64::MAX));
    if new.weight_mg > with_the_rug_mg {
        return Err(RugError::MoreThanTaken { rug: rug(), colour: colour(), with_the_rug_mg });
    }
    let with_the_rug_mg = there(latest);
    if new.weight_mg > with_the_rug_mg {
        return Err(RugError::NotYetTaken { rug: rug(), colour: colour(), with_the_rug_mg });
    }
    let was_whole = first_too_much(before.iter().copied()).is_none();
    let at_the_end = YarnWeighed { at: latest, ..new.clone() };
    match first_too_much(before.iter().copied().chain([&at_the_end])) {
        Some((_, with_the_rug_mg)) if was_whole => {
            Err(RugError::TooMuchLater { rug: rug(), colour: colour(), with_the_rug_mg })
        }
        _ => Ok(()),
    }
}

/// Writes material and its price down.
///
/// # Errors
/// When the price or name cannot be, there is no such commission, or the store fails.
pub fn material(
    store: &mut impl Store,
    clock: &impl Clock,
    name: &str,
    (what, amount): (&str, &str),
    at: Option<Given>,
) -> Result<MaterialUsed, RugError> {
    let rug = Studio::of(&store.entries()?).rug(name)?.order.rug.clone();
    let what = checked_name("the material", what)?;
    let amount = Money::parse(amount)?;
    let at = at.map_or_else(|| clock.now(), |at| at.middle(clock));
    let used = MaterialUsed { rug, what, amount, at };
    store.add_entry(clock.now(), &EntryBody::MaterialUsed(used.clone()))?;
    Ok(used)
}
