//! What counts to a commission no more when its order is taken back.

use serde::Serialize;

use crate::app::ports::Clock;
use crate::app::whole_book::Book;
use host_core::entries::{EntryBody, EntryId, RugName};
use host_core::rugs::commission::Commissions;
use host_core::sessions::session_list;

/// What was counted to a commission, or said of it. All of it stays visible, and counts to no commission of that name until one
/// is entered again.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct GoesWith {
    /// The commission.
    pub rug: String,
    /// Sessions of which something is counted to it, counted ones and typed in.
    pub sessions: u64,
    /// Machine run time in them that is counted to it, in milliseconds.
    pub run_time_ms: u64,
    /// Weighings of yarn.
    pub weighings: u64,
    /// Stretches of job time; with those whose timer runs.
    pub jobs: u64,
    /// How long they took, in milliseconds.
    pub job_time_ms: u64,
    /// Materials.
    pub materials: u64,
}

impl GoesWith {
    /// What goes with an entry; none where it is no order, an order that was taken back before, or one of several of its
    /// commission, so that an earlier one holds again.
    pub fn of(book: &Book, clock: &impl Clock, entry: EntryId) -> Option<Self> {
        let order = |body: &EntryBody| match body {
            EntryBody::RugOrdered(order) => Some(order.rug.clone()),
            _ => None,
        };
        let rug = order(&book.entries.get(entry)?.body)?;
        let orders = book.entries.iter().filter(|one| order(&one.body).as_ref() == Some(&rug)).count();
        (orders == 1).then(|| Self::counted(book, clock, &rug))
    }

    fn counted(book: &Book, clock: &impl Clock, rug: &RugName) -> Self {
        let ledger = book.ledger();
        let lines = session_list::all(&book.studio, &ledger, &clock.zone());
        let is_its = |name: Option<&String>| name.is_some_and(|name| RugName(name.clone()) == *rug);
        let run_times: Vec<u64> = lines
            .iter()
            .filter_map(|line| {
                let mut its = line.parts.iter().filter(|part| is_its(part.rug.as_ref())).peekable();
                its.peek().is_some().then(|| its.map(|part| part.run_time_ms).sum())
            })
            .collect();
        let commissions = Commissions::of(&book.entries);
        let told = commissions.told(rug);
        let jobs: Vec<u64> = commissions.jobs_of(rug).map(|job| job.lasted_ms.unwrap_or(0)).collect();
        Self {
            rug: rug.0.clone(),
            sessions: number(run_times.len()),
            run_time_ms: run_times.iter().sum(),
            weighings: number(told.map_or(0, |told| told.yarn.len())),
            jobs: number(jobs.len()),
            job_time_ms: jobs.iter().fold(0, |sum, ms| sum.saturating_add(*ms)),
            materials: number(told.map_or(0, |told| told.materials.len())),
        }
    }

    /// Whether nothing was counted to it or said of it.
    #[must_use]
    pub const fn is_nothing(&self) -> bool {
        self.sessions == 0 && self.weighings == 0 && self.jobs == 0 && self.materials == 0
    }
}

fn number(count: usize) -> u64 {
    u64::try_from(count).unwrap_or(u64::MAX)
}
