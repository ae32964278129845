//! Tears of the last days, while the maker still knows how the cloth felt.

use serde::Serialize;
use shared_types::{MachineTag, UtcMillis};

use crate::app::cloth::{ClothError, TearSaid, answer};
use crate::app::ports::{Clock, Store};
use crate::app::whole_book::Book;
use host_core::cloth::{HarmId, harms};
use host_core::entries::Harm;
use host_core::entries::harm_answers::{Answers, Tension};
use host_core::records::when::When;
use host_core::sessions::ledger::Ledger;
use host_core::stats::DAY_MS;

/// Nobody remembers longer how the cloth felt; our assumption, in days.
const REMEMBERED_DAYS: u64 = 7;

/// A tear of which it is to be asked how the cloth felt.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct TearAsked {
    /// Its name, which `tear answer` takes.
    pub id: HarmId,
    /// The machine's number.
    pub machine: Option<MachineTag>,
    /// When it happened.
    pub when: When,
    /// The rug, said or assumed.
    pub rug: Option<String>,
}

/// The tears of the last days of which nobody has said how the cloth felt, the newest first.
pub(super) fn asked(book: &Book, ledger: &Ledger<'_>, now: UtcMillis) -> Vec<TearAsked> {
    let since = now.0.saturating_sub(i64::try_from(REMEMBERED_DAYS * DAY_MS).unwrap_or(i64::MAX));
    let all = harms::harms(&book.entries, &book.studio, ledger);
    let mut asked: Vec<TearAsked> = all
        .into_iter()
        .filter(|harm| harm.counts() && harm.harm == Harm::Tear && harm.answers.tension.is_none())
        .filter(|harm| harm.when.earliest().is_some_and(|at| at.0 >= since))
        .map(|harm| TearAsked {
            id: harm.id,
            machine: harm.machine,
            when: harm.when,
            rug: harm.rug.map(|rug| rug.0),
        })
        .collect();
    asked.sort_by_key(|tear| std::cmp::Reverse(tear.when.earliest()));
    asked
}

/// Notes how the cloth felt at a tear.
///
/// # Errors
/// When it was taken back meanwhile, or the database does not take it.
pub fn felt(
    store: &mut impl Store,
    clock: &impl Clock,
    tear: &TearAsked,
    tension: Tension,
) -> Result<(), ClothError> {
    let answers = Answers { tension: Some(tension), ..Answers::default() };
    let said = TearSaid { answers, ..TearSaid::default() };
    answer(store, clock, &tear.id.to_string(), &said).map(|_| ())
}
