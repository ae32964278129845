//! What an entry says, as a sentence that needs no other page: first what happened, then what was noted with it.

mod care;
mod cloth;
mod machine;
mod other;
mod sentence;

use host_core::book::lines::BookLine;
pub use sentence::{Reader, Sentence, knob, tenths};

/// The words of an entry.
pub fn says(line: &BookLine, reader: &Reader<'_>) -> String {
    let body = &line.body;
    let known =
        machine::says(body, reader).or_else(|| care::says(body, reader)).or_else(|| cloth::says(body));
    known.unwrap_or_else(|| other::says(line, reader.people, reader.zone))
}

#[cfg(test)]
mod tests;
