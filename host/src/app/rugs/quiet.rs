//! Whether the maker should be asked about days of which nothing was noted.

use crate::app::ports::{Clock, Store, StoreError};
use host_core::records::timeline::HeardAt;
use host_core::rugs::quiet::{Quiet, quiet};
use host_core::studio::Studio;

/// Days without anything noted while a rug is on the frame, and whether no machine has a logger board.
///
/// # Errors
/// When the store cannot be read.
pub fn quiet_days(store: &impl Store, clock: &impl Clock) -> Result<Option<(Quiet, bool)>, StoreError> {
    let entries = store.entries()?;
    let heard = store.status_reports()?.into_iter();
    let heard: Vec<HeardAt> =
        heard.map(|heard| HeardAt { log: heard.key, next: heard.next, at: heard.at }).collect();
    let studio = Studio::of(&entries);
    let found = quiet(&entries, &studio, &heard, clock.now());
    Ok(found.map(|quiet| (quiet, studio.are_without_logger(&studio.machines))))
}
