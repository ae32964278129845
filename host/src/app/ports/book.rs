//! What the record book needs from the store beside records and entries: the chain over them, and people's names.

use serde::Serialize;
use shared_types::UtcMillis;

use super::StoreError;
use host_core::book::{Covers, Step};
use host_core::entries::PersonTag;

/// The chain over everything that is kept for ever.
pub trait Chained {
    /// Shows every step in order as it is stored, with what it covers as that stands now; then returns what is in no step.
    ///
    /// # Errors
    /// When the database cannot be read.
    fn walk_chain(&self, look: &mut dyn FnMut(&Step)) -> Result<Vec<Covers>, StoreError>;
    /// The same in a thread of its own while `meanwhile` reads. What is added during it may be read by `meanwhile` and is no step
    /// then, never the other way round.
    ///
    /// # Errors
    /// When the database cannot be read; `meanwhile` has run all the same.
    fn walk_chain_beside<T>(
        &self,
        look: &mut (dyn FnMut(&Step) + Send),
        meanwhile: impl FnOnce() -> T,
    ) -> (Result<Vec<Covers>, StoreError>, T);
    /// Holds all that is kept against the sums that were kept with it, which shows accidents and not intent.
    ///
    /// # Errors
    /// `Damaged` when it does not read as it was written; also when the database cannot be read.
    fn check_kept(&self) -> Result<(), StoreError>;
    /// How many rows of the summaries made from the records do not fit the records.
    ///
    /// # Errors
    /// When the database cannot be read.
    fn summaries_that_differ(&self) -> Result<u64, StoreError>;
    /// What is missing, changed or foreign among the tables and guards.
    ///
    /// # Errors
    /// When the database cannot be read.
    fn schema_findings(&self) -> Result<Vec<SchemaFinding>, StoreError>;
    /// The steps of the chain that were made later than what they cover was kept.
    ///
    /// # Errors
    /// When the database cannot be read.
    fn chained_later(&self) -> Result<Vec<ChainedLater>, StoreError>;
    /// Makes the summaries anew from the records.
    ///
    /// # Errors
    /// When the database does not take it; the old ones stay then.
    fn renew_summaries(&mut self) -> Result<(), StoreError>;
}

/// Something about the tables and guards of a database that is not as the program makes it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct SchemaFinding {
    /// `table`, `index`, `trigger` or `view`, as the file says.
    pub kind: String,
    /// Its name.
    pub name: String,
    /// The table that it belongs to.
    pub table: String,
    /// What is wrong with it.
    pub why: SchemaWhy,
}

/// What is wrong with a table, guard, index or view.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum SchemaWhy {
    /// It is not there.
    Missing,
    /// It is not as the program makes it.
    Changed,
    /// The program never made it.
    Foreign,
}

/// Steps of the chain that were made later than what they cover was kept: they say how it was then, not before.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct ChainedLater {
    /// The first step.
    pub first_step: u64,
    /// The last one, included.
    pub last_step: u64,
    /// When; none where nobody noted it.
    pub at_utc_ms: Option<UtcMillis>,
}

/// What became of an old name.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Erased {
    /// It stands nowhere in the file any more, or there was none.
    Gone,
    /// It counts for nothing any more, but others who read keep it in the file; the next opening goes on.
    NotYet,
}

/// People's names. They stand outside the chain, so that one can be put right or erased.
pub trait Names {
    /// The names that there are, by the numbers of their people.
    ///
    /// # Errors
    /// When the database cannot be read.
    fn names(&self) -> Result<Vec<(PersonTag, String)>, StoreError>;
    /// Sets a name; none erases it. An old name leaves the file as well, which it cannot within a larger act, and not
    /// before everybody who reads has ended; that is waited for ten seconds.
    ///
    /// # Errors
    /// When the database does not take it.
    fn set_name(&mut self, person: PersonTag, name: Option<&str>) -> Result<Erased, StoreError>;
}
