//! A sentence of the record book.

use crate::app::hand::people::Person;
use host_core::entries::PersonTag;
use jiff::tz::TimeZone;
use shared_types::MachineTag;

/// What the words need beside the entry.
#[derive(Clone, Copy, Debug)]
pub struct Reader<'book> {
    /// The machine whose book it is.
    pub machine: MachineTag,
    /// The people whose numbers may stand in it.
    pub people: &'book [Person],
    /// The maker's zone.
    pub zone: &'book TimeZone,
}

impl Reader<'_> {
    /// How a person is called.
    pub fn person(&self, person: PersonTag) -> String {
        let known = self.people.iter().find(|known| known.person == person);
        known.and_then(|known| known.name.clone()).unwrap_or_else(|| format!("person {}", person.0))
    }
}

/// A sentence that grows by what was noted.
#[derive(Debug)]
pub struct Sentence(String);

impl Sentence {
    pub fn new(start: impl Into<String>) -> Self {
        Self(start.into())
    }

    /// Adds a part after a semicolon.
    pub fn and(mut self, part: impl AsRef<str>) -> Self {
        self.0.push_str("; ");
        self.0.push_str(part.as_ref());
        self
    }

    /// Adds a part if there is one.
    pub fn and_if(self, part: Option<impl AsRef<str>>) -> Self {
        match part {
            Some(part) => self.and(part),
            None => self,
        }
    }

    /// Adds the maker's own words, if there are any.
    pub fn quoting(self, before: &str, words: Option<&String>) -> Self {
        self.and_if(words.map(|words| format!("{before}\u{201C}{words}\u{201D}")))
    }

    pub fn done(self) -> Option<String> {
        Some(self.0)
    }
}

/// The knob's place, in percent of its travel.
pub fn knob(per_mille: u16) -> String {
    format!("knob at {} %", f64::from(per_mille) / 10.0)
}

/// A whole number of tenths as a decimal number.
pub fn tenths(number: u32) -> String {
    match number % 10 {
        0 => (number / 10).to_string(),
        rest => format!("{}.{rest}", number / 10),
    }
}
