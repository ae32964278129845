//! People: numbers in the entries, names beside them. A name can be put right or erased; what was entered stays.

use serde::Serialize;

use super::error::HandError;
use crate::app::ports::book::{Erased, Names};
use crate::app::ports::{Clock, Store, StoreError};
use crate::app::typed::error::RequestError;
use crate::app::typed::names::checked_name;
use host_core::entries::{EntryBody, PersonAdded, PersonTag};

/// One person.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Person {
    /// The number.
    pub person: PersonTag,
    /// The name; none: it was erased.
    pub name: Option<String>,
}

/// All people.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct People {
    /// In the order of their numbers.
    pub people: Vec<Person>,
}

impl People {
    /// Reads them.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn read(store: &(impl Store + Names)) -> Result<Self, StoreError> {
        let (entries, names) = (store.entries()?, store.names()?);
        let mut numbers: Vec<PersonTag> = entries
            .iter()
            .filter_map(|entry| match &entry.body {
                EntryBody::PersonAdded(added) => Some(added.person),
                _ => None,
            })
            .collect();
        numbers.sort_unstable();
        numbers.dedup();
        let name = |person| names.iter().find(|(named, _)| *named == person).map(|(_, name)| name.clone());
        Ok(Self { people: numbers.into_iter().map(|person| Person { person, name: name(person) }).collect() })
    }

    /// How a person is called: by name, or "person 3".
    #[must_use]
    pub fn called(&self, person: PersonTag) -> String {
        let named = self.people.iter().find(|known| known.person == person);
        named.and_then(|known| known.name.clone()).unwrap_or_else(|| format!("person {}", person.0))
    }

    /// A person by number or name, without regard to case.
    ///
    /// # Errors
    /// When there is none.
    pub fn find(&self, typed: &str) -> Result<&Person, HandError> {
        let typed = typed.trim();
        let number = typed.parse::<u32>().ok().map(PersonTag);
        let is_it = |known: &&Person| {
            Some(known.person) == number
                || known.name.as_ref().is_some_and(|name| name.to_lowercase() == typed.to_lowercase())
        };
        self.people.iter().find(is_it).ok_or_else(|| HandError::UnknownPerson {
            asked: typed.to_owned(),
            known: self.people.iter().map(|known| (known.person, self.called(known.person))).collect(),
        })
    }
}

/// Enters a person.
///
/// # Errors
/// When the name is empty, too long, a mere number or taken, or the store fails.
pub fn add(store: &mut (impl Store + Names), clock: &impl Clock, name: &str) -> Result<Person, HandError> {
    let name = free_name(&People::read(store)?, name)?;
    let entries = store.entries()?;
    // Withdrawn people keep their numbers, and so do names whose entry was never written.
    let entered = entries.iter().filter_map(|entry| match &entry.body {
        EntryBody::PersonAdded(added) => Some(added.person.0),
        _ => None,
    });
    let named = store.names()?.into_iter().map(|(person, _)| person.0).max();
    let person = PersonTag(entered.chain(named).max().unwrap_or(0).saturating_add(1));
    store.together(|store| {
        store.add_entry(clock.now(), &EntryBody::PersonAdded(PersonAdded { person }))?;
        store.set_name(person, Some(&name))?;
        Ok(Person { person, name: Some(name) })
    })
}

/// Gives a person another name.
///
/// # Errors
/// As [`add`], and when there is no such person.
pub fn rename(
    store: &mut (impl Store + Names),
    typed: &str,
    name: &str,
) -> Result<(Person, Erased), HandError> {
    let people = People::read(store)?;
    let person = people.find(typed)?.person;
    let others =
        People { people: people.people.into_iter().filter(|known| known.person != person).collect() };
    let name = free_name(&others, name)?;
    let old = store.set_name(person, Some(&name))?;
    Ok((Person { person, name: Some(name) }, old))
}

/// Erases a person's name; the number and what it did stay.
///
/// # Errors
/// When there is no such person, or the store fails.
pub fn erase(store: &mut (impl Store + Names), typed: &str) -> Result<(Person, Erased), HandError> {
    let person = People::read(store)?.find(typed)?.person;
    let old = store.set_name(person, None)?;
    Ok((Person { person, name: None }, old))
}

fn free_name(people: &People, name: &str) -> Result<String, HandError> {
    let name = checked_name("a person's name", name)?;
    let is_number = name.bytes().all(|byte| byte.is_ascii_digit());
    if is_number || NOBODY.iter().any(|word| name.eq_ignore_ascii_case(word)) {
        let range = "a name that is no number and not \"unknown\" or \"nobody\"";
        return Err(RequestError::OutOfRange {
            what: "a person's name",
            range,
            given: format!("\"{name}\""),
        }
        .into());
    }
    match people.find(&name) {
        Ok(known) => Err(HandError::PersonExists { name, number: known.person }),
        Err(_) => Ok(name),
    }
}

/// Words that say that it is not known who worked.
pub const NOBODY: [&str; 2] = ["unknown", "nobody"];
