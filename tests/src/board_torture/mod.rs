//! Lives of the very board image whose power goes at any instruction and inside any flash operation, on a log that is nearly
//! full, watched by promises that know only what the board has told and what was done to its needle and buttons.
//!
//! The log is made beforehand by the firmware library on a simulated chip and put into the emulated one, so that the image
//! goes on with it: hours of work that nobody has to wait for.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::indexing_slicing,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    clippy::panic,
    reason = "a test may stop at the first surprise"
)]

mod checks;
mod deeds;
mod lamp;
mod life;
mod promises;
mod used_flash;

pub use life::live;
pub use used_flash::UsedFlash;

use std::collections::BTreeMap;
use std::path::PathBuf;

use firmware::split_mix::SplitMix64;

/// What to do to a board.
#[derive(Clone, Debug)]
pub struct Plan {
    /// The image to be tortured.
    pub image: PathBuf,
    /// Power cuts in all.
    pub cuts: u64,
    /// Power cuts in one life; the next life starts with the log as it was made.
    pub cuts_per_life: u64,
    /// Decides everything.
    pub seed: u64,
    /// Lives at the same time.
    pub workers: usize,
}

/// What went wrong, by kind; all zeros but the first ones when nothing did.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Toll {
    /// Times the power went.
    pub cuts: u64,
    /// Presses that the lamp has confirmed, each of which must be on record.
    pub confirmed: u64,
    /// Where it went, as the emulator says.
    pub places: BTreeMap<String, u64>,
    /// Records that had been told and are gone or differ, presses that the lamp had confirmed and that are not on record with their
    /// kind and moment, settings that were told as saved and are neither the old nor the new ones, an acknowledged cursor that
    /// fell back, and more than ten running seconds missing.
    pub lost: u64,
    /// Records that stand twice, numbers given out again, boots with a number that was there before, strokes that nobody made,
    /// confirmations of a press that nobody made.
    pub doubled: u64,
    /// Boards that did not start, did not answer, reset themselves, or did not count any more.
    pub bricked: u64,
    /// Starts at which the totals were below what had been told.
    pub totals_fell: u64,
    /// One line for each of these, with the seed of its life.
    pub failures: Vec<String>,
}

impl Toll {
    /// Everything that must never happen, added up.
    #[must_use]
    pub const fn faults(&self) -> u64 {
        self.lost + self.doubled + self.bricked + self.totals_fell
    }

    fn add(&mut self, other: Self) {
        self.cuts += other.cuts;
        self.confirmed += other.confirmed;
        for (place, count) in other.places {
            *self.places.entry(place).or_default() += count;
        }
        self.lost += other.lost;
        self.doubled += other.doubled;
        self.bricked += other.bricked;
        self.totals_fell += other.totals_fell;
        self.failures.extend(other.failures);
    }
}

impl std::fmt::Display for Toll {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        for (place, count) in &self.places {
            writeln!(f, "  {count:>6} cuts {place}")?;
        }
        let Self { cuts, confirmed, lost, doubled, bricked, totals_fell, .. } = self;
        writeln!(
            f,
            "cuts        {cuts}\nconfirmed   {confirmed} presses\nlost        {lost}\ndoubled     {doubled}"
        )?;
        write!(f, "bricked     {bricked}\ntotals_fell {totals_fell}")
    }
}

/// Lives life after life until there have been as many cuts as planned. `tell` hears of every life that has ended.
///
/// # Panics
/// When the emulator cannot run; what the board does wrong is counted instead.
pub fn torture(plan: &Plan, used: &UsedFlash, tell: &(dyn Fn(u64, &Toll) + Sync)) -> Toll {
    let mut seeds = SplitMix64::new(plan.seed);
    let lives: Vec<(u64, u64)> = (0..plan.cuts.div_ceil(plan.cuts_per_life))
        .map(|life| (seeds.next_u64(), plan.cuts_per_life.min(plan.cuts - life * plan.cuts_per_life)))
        .collect();
    let next = std::sync::atomic::AtomicUsize::new(0);
    let sum = std::sync::Mutex::new(Toll::default());
    std::thread::scope(|scope| {
        for _ in 0..plan.workers.max(1) {
            scope.spawn(|| {
                loop {
                    let turn = next.fetch_add(1, std::sync::atomic::Ordering::Relaxed);
                    let Some(&(seed, cuts)) = lives.get(turn) else { return };
                    let toll = live(&plan.image, used, seed, cuts);
                    tell(seed, &toll);
                    sum.lock().expect("nobody panics while adding").add(toll);
                }
            });
        }
    });
    sum.into_inner().expect("nobody panics while adding")
}
