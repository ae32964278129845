//! `hours`.

use std::process::ExitCode;

use clap::{Args, Subcommand};

use super::{Failure, Surroundings, show};
use crate::app::dates;
use crate::app::hours::{self, NewHours};
use crate::app::ports::Clock;
use crate::view;

/// Machine hours per commission, and hours written by hand.
#[derive(Debug, Args)]
#[command(args_conflicts_with_subcommands = true)]
pub struct Hours {
    #[command(subcommand)]
    command: Option<HoursCommand>,
    /// Only this rug.
    #[arg(long, value_name = "NAME")]
    rug: Option<String>,
    /// Only this machine.
    #[arg(long, value_name = "NUMBER")]
    machine: Option<u32>,
    /// One JSON object on standard output and nothing else.
    #[arg(long)]
    json: bool,
}

#[derive(Debug, Subcommand)]
enum HoursCommand {
    Add(Add),
}

/// Write hours down by hand, without a logger. They stand beside the measured ones.
#[derive(Debug, Args)]
struct Add {
    /// Minutes during which the motor ran; only these count towards care.
    #[arg(long, value_name = "MINUTES", allow_negative_numbers = true)]
    run_minutes: Option<i64>,
    /// Minutes at the frame, with threading and looking.
    #[arg(long, value_name = "MINUTES", allow_negative_numbers = true)]
    tufting_minutes: Option<i64>,
    /// Where the speed knob stood, 0 (slow end) to 100 (fast end).
    #[arg(long, value_name = "PERCENT", allow_negative_numbers = true)]
    knob: Option<i64>,
    /// For which rug.
    #[arg(long, value_name = "NAME")]
    rug: Option<String>,
    /// When: 2026-03-04, "2026-03-04 18:30", today or "yesterday 9:30". Left out: now.
    #[arg(long, value_name = "DATE")]
    when: Option<String>,
    /// On which machine; can be left out when there is only one.
    #[arg(long, value_name = "NUMBER")]
    machine: Option<u32>,
}

impl Hours {
    /// Runs the command.
    pub fn run(self, around: &Surroundings) -> Result<ExitCode, Failure> {
        let mut store = around.open_database()?;
        let clock = around.clock();
        let told = match self.command {
            Some(HoursCommand::Add(add)) => {
                let new = NewHours {
                    machine: add.machine,
                    run_minutes: add.run_minutes,
                    tufting_minutes: add.tufting_minutes,
                    knob_percent: add.knob,
                    rug: add.rug,
                    when: dates::given(add.when.as_deref(), clock)?,
                };
                let added = hours::add_by_hand(&mut store, clock, new)?;
                show::words(&view::hours::added(&added.hours, &clock.zone()))
            }
            None => {
                let answer = hours::report(&store, clock, self.rug.as_deref(), self.machine)?;
                show::report(&answer, self.json, |answer| view::hours::text(answer, &clock.zone()))
            }
        };
        told.map(|()| ExitCode::SUCCESS)
    }
}
