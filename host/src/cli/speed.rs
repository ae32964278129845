//! `speed`.

use std::fs::File;
use std::io::Read as _;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use clap::{Args, ValueEnum};

use super::{Failure, Surroundings, show};
use crate::app::tears::{self, Level, SpeedBy};
use crate::view;

/// The largest table that is read, in bytes.
const LARGEST_TABLE: u64 = 16 * 1024 * 1024;

/// At which speeds cloth tears, with the running behind it.
#[derive(Debug, Args)]
pub struct Speed {
    /// The machine's number, if there are several.
    #[arg(long, value_name = "NUMBER")]
    machine: Option<u32>,
    /// Sort by the knob's place or by the measured stroke rate.
    #[arg(long, value_enum, default_value = "knob")]
    by: By,
    /// Work from a table instead of the log: knob,hours,tears and, if you have them, strokes and stratum; one row is one session.
    #[arg(long, value_name = "FILE", conflicts_with_all = ["machine", "by"])]
    table: Option<PathBuf>,
    /// How sure the limits are to hold the truth.
    #[arg(long, value_name = "SHARE", default_value = "0.95", value_parser = level)]
    level: Level,
    /// One JSON object on standard output and nothing else.
    #[arg(long)]
    json: bool,
}

#[derive(Clone, Copy, Debug, ValueEnum)]
enum By {
    /// The knob's place.
    Knob,
    /// The measured stroke rate.
    Rate,
}

fn level(words: &str) -> Result<Level, String> {
    words
        .parse::<f64>()
        .ok()
        .and_then(Level::new)
        .ok_or_else(|| "it must be a share above 0 and below 1, such as 0.95".to_owned())
}

impl Speed {
    /// Runs the command.
    pub fn run(self, around: &Surroundings) -> Result<ExitCode, Failure> {
        if let Some(path) = &self.table {
            let report = tears::speed_of_table(&read(path)?, self.level)?;
            show::report(&report, self.json, view::speed::table)?;
            return Ok(ExitCode::SUCCESS);
        }
        let by = match self.by {
            By::Knob => SpeedBy::Knob,
            By::Rate => SpeedBy::Rate,
        };
        let report = tears::speed(&around.open_database()?, self.machine, by, self.level)?;
        show::report(&report, self.json, view::speed::speed)?;
        Ok(ExitCode::SUCCESS)
    }
}

fn read(path: &Path) -> Result<Vec<u8>, Failure> {
    let unread = |error: std::io::Error| {
        Failure::bad_input(
            "table::open",
            format!("the table {} cannot be read", path.display()),
            "Check the name and that you may read it.",
        )
        .because(error)
    };
    let mut bytes = Vec::new();
    File::open(path).map_err(unread)?.take(LARGEST_TABLE + 1).read_to_end(&mut bytes).map_err(unread)?;
    if u64::try_from(bytes.len()).unwrap_or(u64::MAX) > LARGEST_TABLE {
        return Err(Failure::bad_input(
            "table::size",
            format!("{} is larger than any table of sessions", path.display()),
            "Is it the right file?",
        ));
    }
    Ok(bytes)
}
