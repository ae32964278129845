//! `hours`.

use std::process::ExitCode;

use clap::{Args, Subcommand};

use crate::app::hand::hours_by_person;
use crate::app::hours::check;
use crate::app::hours::report::{self, NewHours};
use crate::app::ports::{Clock, Store};
use crate::app::typed::choose_machine::{self, MachineSaid};
use crate::app::typed::dates;
use crate::cli::shell::command_env::CommandEnv;
use crate::cli::shell::failure::Failure;
use crate::cli::shell::show;
use crate::view;
use host_core::entries::DoubtAnswer;
use host_core::sessions::session_list::SessionName;

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
    #[arg(long, value_name = "MACHINE")]
    machine: Option<MachineSaid>,
    /// By who worked, for whoever rents machines out.
    #[arg(long, conflicts_with = "rug")]
    by_person: bool,
    /// One JSON object on standard output and nothing else.
    #[arg(long)]
    json: bool,
}

#[derive(Debug, Subcommand)]
enum HoursCommand {
    Add(Add),
    Check(Check),
}

/// Say whether doubtful running was real work: running as no machine at work makes it, such as noise on a wire.
#[derive(Debug, Args)]
#[command(group = clap::ArgGroup::new("which").args(["number", "all"]))]
#[command(group = clap::ArgGroup::new("answer").args(["real", "not_real"]))]
struct Check {
    /// Its number, as the list shows it; several may follow each other. Left out: the list.
    #[arg(value_name = "NUMBER", requires = "answer")]
    number: Vec<SessionName>,
    /// Everything that waits for an answer and is counted nowhere yet.
    #[arg(long, requires = "answer")]
    all: bool,
    /// It was real work: count it as any other.
    #[arg(long, requires = "which")]
    real: bool,
    /// It was no work: set it aside. Nothing is deleted.
    #[arg(long, requires = "which")]
    not_real: bool,
    /// One JSON object on standard output and nothing else.
    #[arg(long, conflicts_with = "answer")]
    json: bool,
}

/// Write hours down by hand, without a logger. They stand beside the measured ones.
#[derive(Debug, Args)]
struct Add {
    /// Minutes during which the motor ran, or 1h40. Left out: what follows from the time at the frame.
    #[arg(long, value_name = "MINUTES", allow_negative_numbers = true)]
    run_minutes: Option<String>,
    /// Minutes at the frame, with threading and looking, or 1h40.
    #[arg(long, value_name = "MINUTES", allow_negative_numbers = true)]
    tufting_minutes: Option<String>,
    /// Where the speed knob stood, 0 (slow end) to 100 (fast end).
    #[arg(long, value_name = "PERCENT", allow_negative_numbers = true)]
    knob: Option<String>,
    /// For which rug.
    #[arg(long, value_name = "NAME")]
    rug: Option<String>,
    /// When: today, "yesterday 18:30", friday, "26 Nov", 28.9.2026, "2 days ago". Left out: now.
    #[arg(long, value_name = "DATE")]
    when: Option<String>,
    /// On which machine; can be left out when there is only one.
    #[arg(long, value_name = "MACHINE")]
    machine: Option<MachineSaid>,
}

impl Hours {
    /// Runs the command.
    pub fn run(self, around: &CommandEnv) -> Result<ExitCode, Failure> {
        let mut store = around.open_database()?;
        let clock = around.clock();
        let told = match self.command {
            Some(HoursCommand::Add(add)) => {
                let new = NewHours {
                    machine: choose_machine::number(&store, add.machine.as_ref())?,
                    run_minutes: add.run_minutes,
                    tufting_minutes: add.tufting_minutes,
                    knob: add.knob,
                    rug: add.rug,
                    when: dates::given(add.when.as_deref(), clock)?,
                };
                let added = report::add_by_hand(&mut store, clock, new)?;
                show::words(&view::hours::report::added(&added, &clock.zone()))
            }
            Some(HoursCommand::Check(check)) => check.run(&mut store, clock),
            None if self.by_person => {
                let answer = hours_by_person::hours_by_person(
                    &store,
                    clock,
                    choose_machine::number(&store, self.machine.as_ref())?,
                )?;
                show::report(&answer, self.json, view::hand::hours_by_person::text)
            }
            None => {
                let machine = choose_machine::number(&store, self.machine.as_ref())?;
                let answer = report::report(&store, clock, self.rug.as_deref(), machine)?;
                show::report(&answer, self.json, |answer| view::hours::report::text(answer, &clock.zone()))
            }
        };
        told.map(|()| ExitCode::SUCCESS)
    }
}

impl Check {
    fn run(self, store: &mut impl Store, clock: &impl Clock) -> Result<(), Failure> {
        let said = match (self.real, self.not_real) {
            (true, _) => DoubtAnswer::Real,
            (false, true) => DoubtAnswer::NotReal,
            (false, false) => {
                let list = check::list(store)?;
                return show::report(&list, self.json, |list| view::hours::check::list(list, &clock.zone()));
            }
        };
        let checked = check::answer(store, clock, &self.number, said)?;
        show::words(&view::hours::check::answered(&checked, &clock.zone()))
    }
}
