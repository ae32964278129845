//! What an entry says, as a sentence that needs no other page: first what happened, then what was noted with it.

mod care;
mod cloth;
mod machine;
mod sentence;

use host_core::book::lines::BookLine;
pub use sentence::{Reader, Sentence, knob, tenths};

/// The words of an entry.
pub fn describe(line: &BookLine, reader: &Reader<'_>) -> String {
    let body = &line.says;
    let known = machine::describe(body, reader)
        .or_else(|| care::describe(body, reader))
        .or_else(|| cloth::describe(body));
    // What names no machine stands in no machine's book.
    known.unwrap_or_else(|| line.kind.replace('_', " "))
}

#[cfg(test)]
mod tests;
