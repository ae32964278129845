//! What care is judged from.

use crate::core::entries::Entry;
use crate::core::ledger::Ledger;
use crate::core::studio::Studio;
use crate::core::timeline::HeardAt;

/// What care is judged from.
#[derive(Clone, Copy, Debug)]
pub struct Grounds<'a> {
    /// The maker's entries, all of them.
    pub entries: &'a [Entry],
    /// The same, read as a whole.
    pub studio: &'a Studio,
    /// Every burst with its date and machine.
    pub ledger: &'a Ledger<'a>,
    /// When loggers were heard.
    pub heard: &'a [HeardAt],
}
