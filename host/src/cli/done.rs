//! `done`.

use std::process::ExitCode;

use clap::{Args, ValueEnum};

use super::{Failure, Surroundings, show};
use crate::app::care::{self, EntryId, Finding};
use crate::app::dates;
use crate::app::ports::Clock as _;
use crate::view;

/// Note that care was given.
#[derive(Debug, Args)]
pub struct Done {
    /// The task, for example brush-out or oiling.
    #[arg(required_unless_present_any = ["list", "withdraw"])]
    task: Option<String>,
    /// The machine's number, if there are several.
    #[arg(long, value_name = "NUMBER")]
    machine: Option<u32>,
    /// When: 2026-03-04, "2026-03-04 18:30", today or "yesterday 9:30". Left out: now.
    #[arg(long, value_name = "DATE")]
    when: Option<String>,
    /// What was seen.
    #[arg(long, value_enum)]
    finding: Option<Seen>,
    /// Anything else.
    #[arg(long)]
    note: Option<String>,
    /// Show all tasks with their start values.
    #[arg(long, conflicts_with_all = ["task", "withdraw"])]
    list: bool,
    /// Take an entry back, by the number that was told when it was noted; it stays visible.
    #[arg(long, value_name = "ENTRY", conflicts_with = "task", requires = "reason")]
    withdraw: Option<i64>,
    /// Why it is taken back.
    #[arg(long, requires = "withdraw")]
    reason: Option<String>,
    /// One JSON object on standard output and nothing else.
    #[arg(long)]
    json: bool,
}

#[derive(Clone, Copy, Debug, ValueEnum)]
enum Seen {
    /// Nothing to see.
    Clean,
    /// Lint in the scissor channel or elsewhere.
    Lint,
    /// Grey-black oil on the wipe.
    GreyBlackOil,
    /// A black mark on the yarn.
    BlackMark,
    /// A clear oil spot on the yarn.
    ClearOilSpot,
}

impl From<Seen> for Finding {
    fn from(seen: Seen) -> Self {
        match seen {
            Seen::Clean => Self::Clean,
            Seen::Lint => Self::Lint,
            Seen::GreyBlackOil => Self::GreyBlackOil,
            Seen::BlackMark => Self::BlackMarkOnYarn,
            Seen::ClearOilSpot => Self::ClearOilSpot,
        }
    }
}

impl Done {
    /// Runs the command.
    pub fn run(self, around: &Surroundings) -> Result<ExitCode, Failure> {
        if self.list {
            show::report(&care::plan(), self.json, view::due::plan)?;
            return Ok(ExitCode::SUCCESS);
        }
        let mut store = around.open_database()?;
        let (clock, zone) = (around.clock(), around.clock().zone());
        if let Some(entry) = self.withdraw {
            let reason = self.reason.unwrap_or_default();
            let report = care::withdraw(&mut store, clock, EntryId(entry), &reason)?;
            show::report(&report, self.json, view::due::withdrawn)?;
            return Ok(ExitCode::SUCCESS);
        }
        let at = dates::moment(self.when.as_deref(), clock)?;
        let said = care::DoneSaid {
            task: self.task.unwrap_or_default(),
            machine: self.machine,
            at,
            finding: self.finding.map(Finding::from),
            note: self.note,
        };
        let report = care::done(&mut store, clock, &said)?;
        show::report(&report, self.json, |report| view::due::done(report, &zone))?;
        Ok(ExitCode::SUCCESS)
    }
}
