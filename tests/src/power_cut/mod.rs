//! Lives of a store whose power goes at any moment, watched by an oracle that knows only what it was promised.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::indexing_slicing,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    clippy::panic,
    reason = "a test may stop at the first surprise"
)]
#![allow(clippy::result_large_err, reason = "a failure hands the chip back, and nobody waits for it")]

pub mod figures;
pub mod flips;
pub mod life;
pub mod oracle;
pub mod rival;
pub mod studio_days;
pub mod sweep;
pub mod torn;
pub mod work;

use firmware::sim::nor::{Nor, NorError};
use firmware::store::{Layout, StartFacts, Store, StoreError};

/// What went wrong, by kind; all zeros when nothing did.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Tally {
    /// Times the power went.
    pub cuts: u64,
    /// Records that were promised and are gone, or differ.
    pub lost: u64,
    /// Records that stand twice, or that nobody wrote.
    pub doubled: u64,
    /// Numbers given out again for something else.
    pub reused: u64,
    /// Lives that ended with a store that could not be opened or written.
    pub bricked: u64,
    /// Starts at which the totals were below what was promised, or above what was ever written.
    pub totals_fell: u64,
    /// Boots with a number that was there before.
    pub boots_repeated: u64,
    /// Starts with settings that were neither the old nor the new ones, or with another identity or cursor.
    pub settings_torn: u64,
    /// Entries that were taken for those of a newer firmware, which never wrote here.
    pub unknown: u64,
    /// Starts that wrote to the flash though they had nothing to tell.
    pub idle_writes: u64,
}

impl Tally {
    /// Everything that must never happen, added up.
    #[must_use]
    pub const fn faults(&self) -> u64 {
        self.lost
            + self.doubled
            + self.reused
            + self.bricked
            + self.totals_fell
            + self.boots_repeated
            + self.settings_torn
            + self.unknown
            + self.idle_writes
    }

    /// Adds what another run found.
    #[must_use]
    pub const fn plus(self, other: Self) -> Self {
        Self {
            cuts: self.cuts + other.cuts,
            lost: self.lost + other.lost,
            doubled: self.doubled + other.doubled,
            reused: self.reused + other.reused,
            bricked: self.bricked + other.bricked,
            totals_fell: self.totals_fell + other.totals_fell,
            boots_repeated: self.boots_repeated + other.boots_repeated,
            settings_torn: self.settings_torn + other.settings_torn,
            unknown: self.unknown + other.unknown,
            idle_writes: self.idle_writes + other.idle_writes,
        }
    }
}

/// The head of the table that [`Tally`] prints rows of.
pub const TALLY_HEAD: &str =
    "    cuts   lost doubled reused bricked totals_fell boots_repeated settings_torn unknown idle_writes";

impl std::fmt::Display for Tally {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(
            f,
            "{:>8} {:>6} {:>7} {:>6} {:>7} {:>11} {:>14} {:>13} {:>7} {:>11}",
            self.cuts,
            self.lost,
            self.doubled,
            self.reused,
            self.bricked,
            self.totals_fell,
            self.boots_repeated,
            self.settings_torn,
            self.unknown,
            self.idle_writes
        )
    }
}

/// Takes one precaution away from a chip. An honest chip: [`all_safe`]. Those of the store: `src/mutants/`.
pub type Sabotage = fn(&mut Nor);

/// Takes no precaution away.
pub const fn all_safe(_: &mut Nor) {}

/// Settings in the first two sectors, the log behind them.
#[must_use]
pub fn layout(log_sectors: usize) -> Layout {
    let end = 0x2000 + 0x1000 * log_sectors as u32;
    Layout { settings: 0..0x2000, log: 0x2000..end }
}

/// A chip for [`layout`].
#[must_use]
pub fn chip(log_sectors: usize, seed: u64) -> Nor {
    Nor::new(2 + log_sectors, seed)
}

/// A start that is over before anybody has asked or done anything. Hands the chip back, and says whether it wrote to it without need.
#[must_use]
pub fn start_and_stop(nor: Nor, log_sectors: usize) -> (Nor, bool) {
    let steps = nor.counts().steps;
    let facts = StartFacts { chip_id: None, random: 11 };
    match Store::open(nor, layout(log_sectors), facts) {
        // An identity and a first log must be written before they can be told.
        Ok(store) => {
            let was_idle = !store.is_committed();
            let nor = store.into_flash();
            let has_written = nor.counts().steps != steps;
            (nor, was_idle && has_written)
        }
        Err((_, nor)) => (nor, false),
    }
}

/// Opens the store, commits the boot as the first request does, and goes on with the making of its log as the board does in its
/// pauses; a failure hands the chip back.
pub fn open(nor: Nor, log_sectors: usize) -> Result<Store<Nor>, (StoreError<NorError>, Nor)> {
    let facts = StartFacts { chip_id: None, random: 11 };
    let mut store = Store::open(nor, layout(log_sectors), facts)?;
    if let Err(error) = store.commit() {
        return Err((error, store.into_flash()));
    }
    while store.is_formatting() {
        if let Err(error) = store.format_unreadable() {
            return Err((error, store.into_flash()));
        }
    }
    Ok(store)
}
