//! A commission's sheet, its client's card, and how far along it is.

use std::collections::BTreeMap;

use serde::Serialize;
use shared_types::MachineTag;

use crate::app::ports::{Clock, Store};
use crate::app::typed::error::RequestError;
use crate::app::whole_book::Book;
use host_core::cloth::harms;
use host_core::cloth::harms::counts_on;
use host_core::entries::SampleSquare;
use host_core::hours::report::HoursReport;
use host_core::rugs::commission::Commissions;
use host_core::rugs::own_rugs;
use host_core::rugs::progress::{self, Known, Progress};
use host_core::rugs::quote::samples;
use host_core::rugs::rug_work::{self, RugTaken};
use host_core::rugs::sheet::{Desk, JobSheet};
use host_core::rugs::yarn::{self, YarnReport};
use host_core::sessions::ledger::Ledger;
use host_core::stats::Level;
use host_core::studio::{RugIndex, RugState, Studio};

/// How sure the ranges are to hold what comes: eight times of ten.
const LEVEL_SHARE: f64 = 0.8;

/// The sheet of a commission for its maker.
///
/// # Errors
/// When there is no such commission, or the store cannot be read.
pub fn sheet(store: &impl Store, clock: &impl Clock, name: &str) -> Result<JobSheet, RequestError> {
    let book = Book::read(store)?;
    let ledger = book.ledger();
    let table = Table::of(&book, &ledger, clock);
    let rug = book.studio.rug(name)?;
    let place = book.studio.rug_index(&rug.order.rug).unwrap_or(RugIndex::of(usize::MAX));
    let hours = HoursReport::of(&book.studio, &ledger, &clock.zone());
    let desk = Desk {
        entries: &book.entries,
        studio: &book.studio,
        commissions: &table.commissions,
        ledger: &ledger,
        hours: &hours,
        harms: counts_on(&harms(&book.entries, &book.studio, &ledger), &rug.order.rug),
        now: clock.now(),
    };
    let nothing = RugTaken::default();
    let taken = table.taken.get(&place).unwrap_or(&nothing);
    let (_, yarn) = table.along(&book.studio, &ledger, place);
    Ok(JobSheet::of(desk, place, rug, taken, yarn))
}

/// How far along one commission is, with its yarn.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct AlongLine {
    /// How far.
    #[serde(flatten)]
    pub progress: Progress,
    /// Its yarn.
    pub yarn: YarnReport,
}

/// The answer of `rug progress`.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Along {
    /// The named commission, or all that are on the frame or rest.
    pub rugs: Vec<AlongLine>,
}

/// How far along a commission is, or all that are under way.
///
/// # Errors
/// When there is no such commission, or the store cannot be read.
pub fn progress(store: &impl Store, clock: &impl Clock, name: Option<&str>) -> Result<Along, RequestError> {
    let book = Book::read(store)?;
    let ledger = book.ledger();
    let table = Table::of(&book, &ledger, clock);
    let only = name.map(|name| book.studio.rug(name).map(|rug| &rug.order.rug)).transpose()?;
    let under_way = |state| matches!(state, RugState::OnTheFrame | RugState::Resting);
    let chosen = book.studio.rugs.iter().enumerate().filter(|(_, rug)| match only {
        Some(name) => rug.order.rug == *name,
        None => under_way(rug.state()),
    });
    let rugs = chosen.map(|(place, _)| {
        let (progress, yarn) = table.along(&book.studio, &ledger, RugIndex::of(place));
        progress.map(|progress| AlongLine { progress, yarn })
    });
    Ok(Along { rugs: rugs.flatten().collect() })
}

/// The commissions on the frame, each with the machine with which it is worked on, where that was said, and how far along.
#[must_use]
pub fn on_the_frame(
    book: &Book,
    ledger: &Ledger<'_>,
    clock: &impl Clock,
) -> Vec<(Option<MachineTag>, Progress)> {
    let on_frame: Vec<(RugIndex, Option<MachineTag>)> = (0..)
        .map(RugIndex::of)
        .zip(&book.studio.rugs)
        .filter(|(_, rug)| rug.state() == RugState::OnTheFrame)
        .map(|(place, rug)| (place, rug.work.last().and_then(|work| work.machine)))
        .collect();
    if on_frame.is_empty() {
        return Vec::new();
    }
    let table = Table::of(book, ledger, clock);
    let along = on_frame.into_iter().map(|(place, machine)| {
        table.along(&book.studio, ledger, place).0.map(|progress| (machine, progress))
    });
    along.flatten().collect()
}

/// What all answers here start from.
struct Table {
    commissions: Commissions,
    taken: BTreeMap<RugIndex, RugTaken>,
    own: own_rugs::OwnRugs,
    samples: Vec<SampleSquare>,
    own_yarn: Vec<f64>,
    level: Level,
}

/// How sure the ranges of a commission under way are.
#[must_use]
fn level() -> Level {
    Level::new(LEVEL_SHARE).unwrap_or(Level::USUAL)
}

impl Table {
    fn of(book: &Book, ledger: &Ledger<'_>, clock: &impl Clock) -> Self {
        let commissions = Commissions::of(&book.entries);
        let taken = rug_work::taken(&book.studio, ledger, &clock.zone());
        let own = own_rugs::finished(&book.studio, &commissions, &taken);
        let samples = samples(&book.entries);
        let own_yarn = yarn::own_weighed(&book.studio, &commissions, &taken);
        Self { commissions, taken, own, samples, own_yarn, level: level() }
    }

    fn along(&self, studio: &Studio, ledger: &Ledger<'_>, place: RugIndex) -> (Option<Progress>, YarnReport) {
        let known = Known {
            studio,
            commissions: &self.commissions,
            taken: &self.taken,
            own: &self.own,
            samples: &self.samples,
            own_yarn: &self.own_yarn,
        };
        let progress = studio.rug_at(place).map(|rug| progress::progress(known, place, rug, self.level));
        let yarn = yarn::report(known, ledger, place, progress.as_ref(), self.level);
        (progress, yarn)
    }
}
