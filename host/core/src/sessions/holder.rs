//! To whom a burst is counted, and why.

use crate::studio::RugIndex;
use serde::Serialize;

/// To whom a burst is counted.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Holder {
    /// A commission.
    Rug(RugIndex),
    /// Dry runs and test runs.
    Care,
    /// Nobody; see [`Attribution::basis`] for why.
    Unassigned,
    /// It cannot be told, because it cannot be told when the burst was.
    Undated,
}

/// Why a burst is counted as it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Basis {
    /// The maker moved it.
    Explicit,
    /// The maker said yes.
    Confirmed,
    /// The only commission that was active then, or a dry run after the care button.
    Assumed,
    /// No commission was active then.
    NothingActive,
    /// More than one commission was active then.
    SeveralActive,
    /// The machine was lent out then; what it runs elsewhere is no commission of the owner's.
    LentOut,
    /// The maker named a commission that there is not (any more).
    RugIsGone,
    /// It may have been in or out of a commission's time.
    TimeUncertain,
}

/// To whom a burst is counted, and why.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Attribution {
    /// To whom.
    pub holder: Holder,
    /// Why.
    pub basis: Basis,
}
