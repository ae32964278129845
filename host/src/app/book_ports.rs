//! What the record book needs from the store beside records and entries: the chain over them, and people's names.

use super::ports::StoreError;
use crate::core::entries::PersonTag;
use crate::core::record_book::{Covers, Step};

/// The chain over everything that is kept for ever.
pub trait Chained {
    /// Shows every step in order as it is stored, with what it covers as that stands now; then returns what is in no step.
    ///
    /// # Errors
    /// When the database cannot be read.
    fn walk_chain(&self, look: &mut dyn FnMut(&Step)) -> Result<Vec<Covers>, StoreError>;
    /// How many rows of the summaries made from the records do not fit the records.
    ///
    /// # Errors
    /// When the database cannot be read.
    fn summaries_that_differ(&self) -> Result<u64, StoreError>;
    /// Makes the summaries anew from the records.
    ///
    /// # Errors
    /// When the database does not take it; the old ones stay then.
    fn renew_summaries(&mut self) -> Result<(), StoreError>;
}

/// People's names. They stand outside the chain, so that one can be put right or erased.
pub trait Names {
    /// The names that there are, by the numbers of their people.
    ///
    /// # Errors
    /// When the database cannot be read.
    fn names(&self) -> Result<Vec<(PersonTag, String)>, StoreError>;
    /// Sets a name; none erases it. An old name leaves the file as well, which it cannot within a larger act.
    ///
    /// # Errors
    /// When the database does not take it.
    fn set_name(&mut self, person: PersonTag, name: Option<&str>) -> Result<(), StoreError>;
}
