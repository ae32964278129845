//! `heavy`.

use std::process::ExitCode;

use clap::{Args, Subcommand};

use super::shell::command_env::CommandEnv;
use super::shell::failure::Failure;
use super::shell::show;
use crate::app::heavy::{self, LimitsTyped};
use crate::app::ports::{Clock as _, Store};
use crate::app::typed::choose_machine::{self, MachineSaid};
use crate::app::typed::dates;
use crate::view;
use host_core::entries::HeavyLimit;

/// Whether the machine was worked too hard: long runs, short rests, a high knob, long days, very slow running.
#[derive(Debug, Args)]
#[command(args_conflicts_with_subcommands = true)]
pub struct Heavy {
    #[command(subcommand)]
    command: Option<HeavyCommand>,
    /// Only this machine.
    #[arg(long, value_name = "MACHINE")]
    machine: Option<MachineSaid>,
    /// Only what may have been since this day.
    #[arg(long, value_name = "DATE")]
    since: Option<String>,
    /// Show every limit, too.
    #[arg(long)]
    limits: bool,
    /// One JSON object on standard output and nothing else.
    #[arg(long)]
    json: bool,
}

#[derive(Debug, Subcommand)]
enum HeavyCommand {
    Set(Box<Set>),
}

/// Set your own limits; 0 switches one off, but not the pause nor the window.
#[derive(Debug, Args)]
struct Set {
    /// Which machine; can be left out when there is only one.
    #[arg(long, value_name = "MACHINE")]
    machine: Option<MachineSaid>,
    /// The motor's duty rating from its plate or manual: S1, "S2 60 min", "S3 25 %", "S3 25 % 20 min", or none.
    #[arg(long, value_name = "RATING")]
    duty: Option<String>,
    /// The longest run without any pause, in minutes.
    #[arg(long, value_name = "MINUTES", allow_hyphen_values = true)]
    run_minutes: Option<String>,
    /// The longest stretch with nothing but short pauses, in minutes.
    #[arg(long, value_name = "MINUTES", allow_hyphen_values = true)]
    stretch_minutes: Option<String>,
    /// A pause up to this long does not end a stretch, in seconds.
    #[arg(long, value_name = "SECONDS", allow_hyphen_values = true)]
    pause_seconds: Option<String>,
    /// The sliding window in which running and rest are weighed, in minutes.
    #[arg(long, value_name = "MINUTES", allow_hyphen_values = true)]
    window_minutes: Option<String>,
    /// The highest place of the knob that you accept, in percent of its travel.
    #[arg(long, value_name = "PERCENT", allow_hyphen_values = true)]
    knob_ceiling_percent: Option<String>,
    /// The longest run time of one day, in hours.
    #[arg(long, value_name = "HOURS", allow_hyphen_values = true)]
    day_hours: Option<String>,
    /// Below this many strokes a second running is very slow.
    #[arg(long, value_name = "RATE", allow_hyphen_values = true)]
    slow_strokes_per_second: Option<String>,
    /// Very slow running is a habit from this share of the run time on, in percent.
    #[arg(long, value_name = "PERCENT", allow_hyphen_values = true)]
    slow_share_percent: Option<String>,
}

impl Set {
    fn typed(self, store: &impl Store) -> Result<LimitsTyped, Failure> {
        let set = self;
        let limits = [
            (HeavyLimit::RunMinutes, "--run-minutes", set.run_minutes),
            (HeavyLimit::StretchMinutes, "--stretch-minutes", set.stretch_minutes),
            (HeavyLimit::PauseSeconds, "--pause-seconds", set.pause_seconds),
            (HeavyLimit::WindowMinutes, "--window-minutes", set.window_minutes),
            (HeavyLimit::KnobCeilingPercent, "--knob-ceiling-percent", set.knob_ceiling_percent),
            (HeavyLimit::DayHours, "--day-hours", set.day_hours),
            (HeavyLimit::SlowStrokesPerSecond, "--slow-strokes-per-second", set.slow_strokes_per_second),
            (HeavyLimit::SlowSharePercent, "--slow-share-percent", set.slow_share_percent),
        ];
        let limits = limits.into_iter().filter_map(|(limit, option, text)| Some((limit, option, text?)));
        let machine = choose_machine::number(store, set.machine.as_ref())?;
        Ok(LimitsTyped { machine, limits: limits.collect(), duty: set.duty })
    }
}

impl Heavy {
    /// Runs the command.
    pub fn run(self, around: &CommandEnv) -> Result<ExitCode, Failure> {
        self.tell(around).map(|()| ExitCode::SUCCESS)
    }

    fn tell(self, around: &CommandEnv) -> Result<(), Failure> {
        let clock = around.clock();
        let mut store = around.open_database()?;
        if let Some(HeavyCommand::Set(set)) = self.command {
            let typed = set.typed(&store)?;
            let now = heavy::set(&mut store, clock, &typed)?;
            return show::words(&view::heavy::set(&now));
        }
        let since = dates::given(self.since.as_deref(), clock)?;
        let machine = choose_machine::number(&store, self.machine.as_ref())?;
        let report = heavy::report(&store, clock, machine, since)?;
        show::report(&report, self.json, |_| view::heavy::text(&report, self.limits, &clock.zone()))
    }
}
