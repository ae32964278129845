//! `exposure`.

use std::path::PathBuf;
use std::process::ExitCode;

use clap::{Args, Subcommand, ValueEnum};

use crate::app::hand::HandError;
use crate::app::hand::exposure;
use crate::app::hand::who::{self, WhoSaid};
use crate::app::ports::Clock as _;
use crate::app::typed::choose_machine::{self, MachineSaid};
use crate::app::typed::dates;
use crate::cli::shell::command_env::CommandEnv;
use crate::cli::shell::failure::Failure;
use crate::cli::shell::{show, table_file};
use crate::view;
use host_core::entries::FigureSource;
use host_core::sessions::session_list::SessionName;

const HOLDS: &str = "It needs a_hv_m_s2,minutes; every other line is one tool of one person's day.";

/// How much vibration the hand had in a day, by an entered figure and the run time: an estimate.
#[derive(Debug, Args)]
#[command(args_conflicts_with_subcommands = true)]
pub struct Exposure {
    #[command(subcommand)]
    command: Option<ExposureCommand>,
    /// Work from a table of one person's day instead of the log: a_hv_m_s2,minutes; one row is one tool.
    #[arg(long, value_name = "FILE", conflicts_with_all = ["machine", "vibration"])]
    table: Option<PathBuf>,
    /// Only this machine. Left out: all, as if one person had held them.
    #[arg(long, value_name = "MACHINE")]
    machine: Option<MachineSaid>,
    /// Use this vibration figure in m/s² instead of the one that was entered.
    #[arg(long, value_name = "M_S2", allow_hyphen_values = true)]
    vibration: Option<String>,
    /// One JSON object on standard output and nothing else.
    #[arg(long)]
    json: bool,
}

#[derive(Debug, Subcommand)]
enum ExposureCommand {
    Who(Who),
    /// Enter a machine's vibration figure: the total value a_hv, as its manual declares it or as it was measured.
    Set {
        /// The figure in m/s².
        #[arg(long, value_name = "M_S2", allow_hyphen_values = true)]
        vibration: String,
        /// Where it comes from.
        #[arg(long, value_enum)]
        from: Option<Origin>,
        /// Which machine; can be left out when there is only one.
        #[arg(long, value_name = "MACHINE")]
        machine: Option<MachineSaid>,
    },
}

/// Say who works from a day on, or who worked some sessions; the dose is told person by person then.
#[derive(Debug, Args)]
struct Who {
    /// The person, by number or name; "unknown" when it is not known who.
    person: String,
    /// These sessions only; `needlehours rug sessions` lists their numbers.
    #[arg(long, value_name = "NUMBER", conflicts_with_all = ["from", "day"])]
    session: Vec<SessionName>,
    /// The sessions of this day only.
    #[arg(long, value_name = "DATE", conflicts_with = "from")]
    day: Option<String>,
    /// From when on. Left out: from today on.
    #[arg(long, value_name = "DATE")]
    from: Option<String>,
    /// On this machine only. Left out: on every machine.
    #[arg(long, value_name = "MACHINE")]
    machine: Option<MachineSaid>,
}

#[derive(Clone, Copy, Debug, ValueEnum)]
enum Origin {
    /// The manufacturer declares it.
    Declared,
    /// It was measured on this machine at this work.
    Measured,
}

impl Exposure {
    /// Runs the command.
    pub fn run(self, around: &CommandEnv) -> Result<ExitCode, Failure> {
        self.tell(around).map(|()| ExitCode::SUCCESS)
    }

    fn tell(self, around: &CommandEnv) -> Result<(), Failure> {
        if let Some(ExposureCommand::Set { vibration, from, machine }) = self.command {
            let source = match from {
                None => FigureSource::NotSaid,
                Some(Origin::Declared) => FigureSource::Declared,
                Some(Origin::Measured) => FigureSource::Measured,
            };
            let mut store = around.open_database()?;
            let machine = choose_machine::number(&store, machine.as_ref())?;
            let (_, entered) = exposure::enter(&mut store, around.clock(), machine, &vibration, source)?;
            return show::words(&view::hand::exposure::entered(&entered));
        }
        if let Some(ExposureCommand::Who(said)) = self.command {
            let mut store = around.open_database()?;
            let clock = around.clock();
            let said = WhoSaid {
                person: said.person,
                sessions: said.session,
                day: dates::day(said.day.as_deref(), clock)?,
                from: dates::given(said.from.as_deref(), clock)?,
                machine: choose_machine::number(&store, said.machine.as_ref())?,
            };
            let set = who::say(&mut store, clock, &said)?;
            return show::words(&view::hand::exposure::who_set(&set, &clock.zone()));
        }
        if let Some(path) = &self.table {
            let answer = exposure::of_table(&table_file::read(path)?).map_err(|error| match error {
                HandError::Table(error) => table_file::failure(error, HOLDS),
                error => error.into(),
            })?;
            return show::report(&answer, self.json, |_| view::hand::exposure::table(&answer));
        }
        let store = around.open_database()?;
        let machine = choose_machine::number(&store, self.machine.as_ref())?;
        let answer = exposure::of_log(&store, around.clock(), machine, self.vibration.as_deref())?;
        show::report(&answer, self.json, |_| view::hand::exposure::log(&answer))
    }
}
