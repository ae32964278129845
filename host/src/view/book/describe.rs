//! What an entry says, as a sentence that needs no other page: first what happened, then what was noted with it.

mod care;
mod cloth;
mod machine;
mod other;
mod sentence;

use host_core::book::lines::BookLine;
pub use sentence::{Reader, Sentence, knob, tenths};

/// The words of an entry.
pub fn describe(line: &BookLine, reader: &Reader<'_>) -> String {
    let body = &line.body;
    let known = machine::describe(body, reader)
        .or_else(|| care::describe(body, reader))
        .or_else(|| cloth::describe(body));
    known.unwrap_or_else(|| other::describe(line, reader.people, reader.zone))
}

#[cfg(test)]
mod tests;
