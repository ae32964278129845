//! Another name for a commission. What was said of it by an earlier name counts to it, and every earlier name finds it.

use super::error::RugError;
use super::history::was_ordered;
use crate::app::ports::{Clock, Store};
use crate::app::typed::names::checked_name;
use host_core::entries::{EntryBody, InForce, RugName, RugRenamed};
use host_core::studio::Studio;

/// Gives a commission another name. It may have that name back which it had before.
///
/// # Errors
/// When there is no such commission, the new name is empty, too long, the one that it has, or now or formerly that of another
/// one, or the store fails.
pub fn rename(
    store: &mut impl Store,
    clock: &impl Clock,
    name: &str,
    now: &str,
) -> Result<RugRenamed, RugError> {
    let entries = store.entries()?;
    let studio = Studio::of(&entries);
    let rug = studio.rug(name)?.order.rug.clone();
    let now = RugName(checked_name("the rug's name", now)?);
    if now.0 == rug.0 {
        return Err(RugError::NameItHas(rug.0));
    }
    let is_its_own = *entries.rug_now(&now) == rug;
    if !is_its_own && let Some(taken) = taken(&entries, &studio, &now) {
        return Err(taken);
    }
    // What was said of another one that was taken back since would count to this one.
    if !is_its_own && was_ordered(&entries, &now) {
        return Err(RugError::NameUsedBefore(now.0));
    }
    let renamed = RugRenamed { rug, now };
    store.add_entry(clock.now(), &EntryBody::RugRenamed(renamed.clone()))?;
    Ok(renamed)
}

/// Why a name cannot be given to a new commission; none where it is free.
pub fn taken(entries: &InForce<'_>, studio: &Studio, name: &RugName) -> Option<RugError> {
    let now = entries.rug_now(name);
    if now != name {
        return Some(RugError::FormerName { name: name.0.clone(), now: now.0.clone() });
    }
    studio.rug(&name.0).ok().map(|rug| RugError::Exists(rug.order.rug.0.clone()))
}
