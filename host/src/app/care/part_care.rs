//! Consequences of a fitting for care and stock.

use super::done::{DoneReport, DoneSaid, done};
use super::error::CareError;
use super::limits;
use super::part_offer::{PartOffer, offer};
use crate::app::parts::{PartChanged, PartSaid, fit};
use crate::app::ports::{Clock, Store};
use crate::app::typed::choose_machine;
use crate::app::whole_book::Book;
use host_core::care::done::CareNotes;
use host_core::entries::TakenOff;
use shared_types::UtcMillis;

/// The part of a task that the maker wants to note as fitted.
///
/// # Errors
/// When there is no such task or machine, or the task looks after no part.
pub fn part_of_task(
    store: &impl Store,
    clock: &impl Clock,
    task: &str,
    number: Option<u32>,
    at: Option<UtcMillis>,
) -> Result<PartOffer, CareError> {
    let book = Book::read(store)?;
    let ledger = book.ledger();
    let card = choose_machine::machine(&book.studio, number)?;
    let notes = CareNotes::of(&book.entries, &book.studio, &ledger, card.tag);
    let task = limits::task_of(&notes, card, task)?;
    offer(store, clock, card, &notes, &task, at.unwrap_or(clock.now()))?
        .ok_or_else(|| CareError::NoPartOfTask(task.name.to_owned()))
}

/// One of the things that the maker says were done at one time.
#[derive(Clone, Debug)]
pub enum CareSaid {
    /// A new part went on, and why the one before it was taken off, where one was on.
    NewPart(PartSaid, Option<TakenOff>),
    /// Care was given.
    Done(DoneSaid),
}

/// One of the things that were noted.
#[derive(Clone, Debug)]
pub enum CareNoted {
    /// A fitting.
    NewPart(Box<PartChanged>),
    /// Care.
    Done(Box<DoneReport>),
}

impl CareNoted {
    /// The care, where it was no new part.
    #[must_use]
    pub fn done(&self) -> Option<&DoneReport> {
        match self {
            Self::Done(report) => Some(report),
            Self::NewPart(_) => None,
        }
    }
}

/// Notes in one act what was done at one time.
///
/// # Errors
/// As [`fit`] and [`done`]; nothing is noted then.
pub fn note_all(
    store: &mut impl Store,
    clock: &impl Clock,
    said: &[CareSaid],
) -> Result<Vec<CareNoted>, CareError> {
    store.together(|store| {
        let mut note = |said: &CareSaid| match said {
            CareSaid::NewPart(part, replaces) => {
                let changed = fit(store, clock, part, *replaces)?;
                Ok(CareNoted::NewPart(Box::new(changed)))
            }
            CareSaid::Done(care) => done(store, clock, care).map(|report| CareNoted::Done(Box::new(report))),
        };
        said.iter().map(&mut note).collect()
    })
}

impl PartSaid {
    /// A fitting that is said as the care that it does.
    #[must_use]
    pub fn of_task(offer: &PartOffer, machine: Option<u32>, at: Option<UtcMillis>) -> Self {
        Self { part: offer.part.clone(), machine, at, ..Self::default() }
    }
}
