//! `take-back`.

use std::process::ExitCode;
use std::str::FromStr;

use clap::Args;

use crate::app::book::take_back;
use crate::cli::shell::command_env::CommandEnv;
use crate::cli::shell::failure::Failure;
use crate::cli::shell::show;
use crate::view;
use host_core::entries::EntryId;

/// The most entries that are taken back at once; more than any command enters.
const MOST: i64 = 100_000;

/// Take back what was entered; it stays visible and counts no more.
///
/// Every command that enters something tells the number.
#[derive(Debug, Args)]
pub struct TakeBack {
    /// The numbers, for example 12, 12-15 or e12.
    #[arg(required = true, value_name = "ENTRY")]
    entries: Vec<Numbers>,
    /// Why.
    #[arg(long, default_value = "", hide_default_value = true, value_name = "REASON")]
    because: String,
    /// Let it count again.
    #[arg(long, conflicts_with = "because")]
    undo: bool,
    /// One JSON object on standard output and nothing else.
    #[arg(long)]
    json: bool,
}

/// Numbers of entries as typed.
#[derive(Clone, Debug)]
struct Numbers {
    first: i64,
    last: i64,
}

impl FromStr for Numbers {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let number = |text: &str| {
            let digits = text.trim().trim_start_matches(['e', 'E']);
            digits.parse::<i64>().ok().filter(|number| *number > 0)
        };
        let (first, last) = text.split_once('-').unwrap_or((text, text));
        let both =
            number(first).zip(number(last)).filter(|(first, last)| first <= last && last - first < MOST);
        let (first, last) = both.ok_or("it is no number of an entry, such as 12, 12-15 or e12")?;
        Ok(Self { first, last })
    }
}

impl TakeBack {
    /// Runs the command.
    pub fn run(self, around: &CommandEnv) -> Result<ExitCode, Failure> {
        let mut store = around.open_database()?;
        let numbers: Vec<EntryId> =
            self.entries.iter().flat_map(|numbers| numbers.first..=numbers.last).map(EntryId).collect();
        let taken = if self.undo {
            take_back::have_back(&mut store, around.clock(), &numbers)?
        } else {
            take_back::take_back(&mut store, around.clock(), &numbers, self.because.trim())?
        };
        show::report(&taken, self.json, view::book::taken_back)?;
        Ok(ExitCode::SUCCESS)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_read_as_they_are_told() {
        let read = |text: &str| text.parse::<Numbers>().map(|read| (read.first, read.last));
        assert_eq!(read("12"), Ok((12, 12)));
        assert_eq!(read("e12"), Ok((12, 12)));
        // A notebook of ten years.
        assert_eq!(read("440-7740"), Ok((440, 7740)));
        for text in ["", "0", "-3", "7-3", "twelve", "1-", "1-100001", "1-9223372036854775807"] {
            assert!(read(text).is_err(), "{text}");
        }
    }
}
