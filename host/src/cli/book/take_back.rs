//! `take-back`.

use std::ops::RangeInclusive;
use std::process::ExitCode;
use std::str::FromStr;

use clap::Args;

use crate::app::book::take_back;
use crate::app::cloth::tears;
use crate::cli::shell::command_env::CommandEnv;
use crate::cli::shell::failure::Failure;
use crate::cli::shell::show;
use crate::view;
use host_core::cloth::HarmId;
use host_core::entries::EntryId;

/// The most entries that are taken back at once; more than any command enters.
const MOST: i64 = 100_000;

/// Take back what was entered; it stays visible and counts no more.
///
/// Every command that enters something tells the number.
#[derive(Debug, Args)]
pub struct TakeBack {
    /// The numbers, for example 12, 12-15 or e12; p12 is a tear that was held on the button, as `tear list` names it.
    #[arg(required = true, value_name = "ENTRY")]
    entries: Vec<Typed>,
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

/// Numbers of entries, or the name of a press, as typed.
#[derive(Clone, Debug, PartialEq, Eq)]
enum Typed {
    Numbers(RangeInclusive<i64>),
    Press(String),
}

impl FromStr for Typed {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        if text.starts_with(['p', 'P']) {
            return Ok(Self::Press(text.to_owned()));
        }
        let number = |text: &str| {
            let digits = text.trim().trim_start_matches(['e', 'E']);
            digits.parse::<i64>().ok().filter(|number| *number > 0)
        };
        let (first, last) = text.split_once('-').unwrap_or((text, text));
        let both =
            number(first).zip(number(last)).filter(|(first, last)| first <= last && last - first < MOST);
        let (first, last) =
            both.ok_or("it is no number of an entry, such as 12, 12-15 or e12, and no tear, such as p12")?;
        Ok(Self::Numbers(first..=last))
    }
}

impl TakeBack {
    /// Runs the command.
    pub fn run(self, around: &CommandEnv) -> Result<ExitCode, Failure> {
        let mut store = around.open_database()?;
        let mut meant = Vec::new();
        for typed in &self.entries {
            match typed {
                Typed::Numbers(range) => {
                    meant.extend(range.clone().map(|number| HarmId::Entry(EntryId(number))))
                }
                Typed::Press(name) => meant.push(tears::meant(&store, name)?),
            }
        }
        let taken = if self.undo {
            take_back::have_back(&mut store, around.clock(), &meant)?
        } else {
            take_back::take_back(&mut store, around.clock(), &meant, self.because.trim())?
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
        let read = |text: &str| text.parse::<Typed>();
        assert_eq!(read("12"), Ok(Typed::Numbers(12..=12)));
        assert_eq!(read("e12"), Ok(Typed::Numbers(12..=12)));
        assert_eq!(read("p12-00ab"), Ok(Typed::Press("p12-00ab".to_owned())));
        // A notebook of ten years.
        assert_eq!(read("440-7740"), Ok(Typed::Numbers(440..=7740)));
        for text in ["", "0", "-3", "7-3", "twelve", "1-", "1-100001", "1-9223372036854775807"] {
            assert!(read(text).is_err(), "{text}");
        }
    }
}
