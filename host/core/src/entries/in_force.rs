//! Entries in force: those that were not withdrawn.

use std::borrow::Cow;
use std::collections::{BTreeMap, BTreeSet};

use shared_types::{MachineTag, UtcMillis};

use super::{Entry, EntryBody, EntryId, Renames, RugName};

/// The entries in force, in the order of arrival: all but withdrawals and what they withdraw. A withdrawal can itself be
/// withdrawn. What is withdrawn stays visible to histories and the record book. A commission that was renamed bears its name of
/// now in all of them.
#[derive(Clone, Debug, Default)]
pub struct InForce<'all> {
    all: Cow<'all, [Entry]>,
    places: Vec<usize>,
    withdrawals: BTreeMap<EntryId, usize>,
    renames: Renames,
    /// All entries with the names of now; empty where nothing was renamed.
    named_now: Vec<Entry>,
}

/// How an entry was withdrawn.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Withdrawal<'all> {
    /// The entry that withdrew it.
    pub entry: EntryId,
    /// When that was entered.
    pub at: UtcMillis,
    /// Why, in the maker's words; may be empty.
    pub reason: &'all str,
}

impl<'all> InForce<'all> {
    /// Sorts out all entries, in the order of arrival.
    #[must_use]
    pub fn of(all: impl Into<Cow<'all, [Entry]>>) -> Self {
        let all = all.into();
        let mut withdrawals = BTreeMap::new();
        let mut withdrawn = BTreeSet::new();
        let mut places = Vec::new();
        // A withdrawal comes after what it withdraws.
        for (place, entry) in all.iter().enumerate().rev() {
            if withdrawn.contains(&entry.id) {
                continue;
            }
            if let EntryBody::Withdrawn { entry: target, .. } = &entry.body {
                withdrawn.insert(*target);
                withdrawals.insert(*target, place);
            } else {
                places.push(place);
            }
        }
        places.reverse();
        let bodies = places.iter().filter_map(|place| all.get(*place)).map(|entry| &entry.body);
        let renames = Renames::of(bodies);
        let named_now = |entry: &Entry| Entry { body: renames.named_now(&entry.body), ..entry.clone() };
        let named_now = if renames.is_empty() { Vec::new() } else { all.iter().map(named_now).collect() };
        Self { all, places, withdrawals, renames, named_now }
    }

    /// The same, with one entry more: as it would be read if that were entered.
    #[must_use]
    pub fn with(self, entered_at: UtcMillis, body: EntryBody) -> Self {
        let mut all = self.all.into_owned();
        let id = EntryId(all.last().map_or(1, |entry| entry.id.0.saturating_add(1)));
        all.push(Entry { id, entered_at, body });
        InForce::of(all)
    }

    /// The entries in force.
    pub fn iter(&self) -> impl DoubleEndedIterator<Item = &Entry> {
        let all = self.all_named_now();
        self.places.iter().filter_map(|place| all.get(*place))
    }

    /// The entry of a number; none where it is not in force.
    #[must_use]
    pub fn get(&self, id: EntryId) -> Option<&Entry> {
        let at = |place: &usize| self.all.get(*place).map(|entry| entry.id);
        let found = self.places.binary_search_by_key(&Some(id), at).ok()?;
        self.places.get(found).and_then(|place| self.all_named_now().get(*place))
    }

    /// How an entry was withdrawn, the first time; none where it is in force.
    #[must_use]
    pub fn withdrawal(&self, id: EntryId) -> Option<Withdrawal<'_>> {
        let by = self.withdrawals.get(&id).and_then(|place| self.all.get(*place))?;
        let EntryBody::Withdrawn { reason, .. } = &by.body else { return None };
        Some(Withdrawal { entry: by.id, at: by.entered_at, reason })
    }

    /// The number of the next machine. Removed machines keep theirs: old records may name them.
    #[must_use]
    pub fn next_machine(&self) -> MachineTag {
        let numbers = self.all.iter().filter_map(|entry| match &entry.body {
            EntryBody::MachineAdded(added) => Some(added.machine.0),
            _ => None,
        });
        MachineTag(numbers.max().unwrap_or(0).saturating_add(1))
    }

    /// All entries, withdrawn ones and withdrawals too, with the names that commissions go by now.
    #[must_use]
    pub fn all_named_now(&self) -> &[Entry] {
        if self.named_now.is_empty() { &self.all } else { &self.named_now }
    }

    /// The names that commissions had before.
    #[must_use]
    pub const fn renames(&self) -> &Renames {
        &self.renames
    }

    /// The name that a commission goes by now.
    #[must_use]
    pub fn rug_now<'book>(&'book self, name: &'book RugName) -> &'book RugName {
        self.renames.now(name)
    }

    /// All entries as they were said, withdrawn ones and withdrawals too: for histories and the record book alone.
    #[must_use]
    pub fn with_withdrawn(&self) -> &[Entry] {
        &self.all
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::test_facts::{entries, machine, rug};

    fn withdrawn(id: i64) -> EntryBody {
        EntryBody::Withdrawn { entry: EntryId(id), reason: "a slip".to_owned() }
    }

    fn numbers(entries: &InForce<'_>) -> Vec<i64> {
        entries.iter().map(|entry| entry.id.0).collect()
    }

    #[test]
    fn a_withdrawn_entry_counts_no_more_and_a_withdrawn_withdrawal_brings_it_back() {
        let once = entries([rug("Fox"), rug("Bear"), withdrawn(1)]);
        assert_eq!((numbers(&once), once.get(EntryId(1))), (vec![2], None));
        assert_eq!(once.withdrawal(EntryId(1)).map(|by| (by.entry.0, by.reason)), Some((3, "a slip")));
        assert_eq!(once.with_withdrawn().len(), 3);
        let twice = entries([rug("Fox"), rug("Bear"), withdrawn(1), withdrawn(3)]);
        assert_eq!((numbers(&twice), twice.withdrawal(EntryId(1))), (vec![1, 2], None));
        assert!(twice.get(EntryId(1)).is_some());
    }

    #[test]
    fn a_removed_machine_keeps_its_number() {
        assert_eq!(entries([]).next_machine(), MachineTag(1));
        assert_eq!(entries([machine(1), machine(2), withdrawn(2)]).next_machine(), MachineTag(3));
    }

    #[test]
    fn of_two_withdrawals_the_first_one_is_told() {
        let both = entries([rug("Fox"), withdrawn(1), withdrawn(1)]);
        assert_eq!(both.withdrawal(EntryId(1)).map(|by| by.entry.0), Some(2));
        let second = entries([rug("Fox"), withdrawn(1), withdrawn(1), withdrawn(2)]);
        assert_eq!(second.withdrawal(EntryId(1)).map(|by| by.entry.0), Some(3));
    }
}
