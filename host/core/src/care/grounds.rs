//! Input of the care report.

use crate::entries::InForce;
use crate::records::timeline::HeardAt;
use crate::sessions::ledger::Ledger;
use crate::studio::Studio;

/// What care is judged from.
#[derive(Clone, Copy, Debug)]
pub struct Grounds<'a> {
    /// The maker's entries, all of them.
    pub entries: &'a InForce<'a>,
    /// The same, read as a whole.
    pub studio: &'a Studio,
    /// Every burst with its date and machine.
    pub ledger: &'a Ledger<'a>,
    /// When loggers were heard.
    pub heard: &'a [HeardAt],
}
