//! `job`.

use std::process::ExitCode;

use clap::{Args, Subcommand, ValueEnum};

use crate::app::ports::Clock as _;
use crate::app::rugs::job::{self, ForWhat, Stop as StopAsked};
use crate::app::typed::dates;
use crate::cli::shell::command_env::CommandEnv;
use crate::cli::shell::failure::Failure;
use crate::cli::shell::show;
use crate::view;
use host_core::entries::JobKind;

/// The work around the frame: a timer, and entries without one. Drying is waiting; it is kept apart from labour.
#[derive(Debug, Args)]
#[command(args_conflicts_with_subcommands = true)]
pub struct Job {
    #[command(subcommand)]
    command: Option<JobCommand>,
    /// Only for this rug.
    #[arg(long, value_name = "NAME")]
    rug: Option<String>,
    /// One JSON object on standard output and nothing else.
    #[arg(long)]
    json: bool,
}

#[derive(Debug, Subcommand)]
enum JobCommand {
    Start(Start),
    Stop(Stop),
    Add(Add),
}

#[derive(Clone, Copy, Debug, ValueEnum)]
enum What {
    /// Putting the cloth on the frame.
    Stretching,
    /// Bringing the drawing onto the cloth.
    Tracing,
    /// Gluing the back.
    Gluing,
    /// Waiting for the glue; no labour.
    Drying,
    /// Shearing and carving the pile.
    Shearing,
    /// Backing cloth and edge.
    Backing,
    /// Anything else.
    Other,
    /// Drawing the design.
    Designing,
    /// Talking with whoever ordered it.
    Client,
    /// Packing and sending.
    Packing,
}

impl From<What> for JobKind {
    fn from(what: What) -> Self {
        match what {
            What::Stretching => Self::Stretching,
            What::Tracing => Self::Tracing,
            What::Gluing => Self::Gluing,
            What::Drying => Self::Drying,
            What::Shearing => Self::Shearing,
            What::Backing => Self::Backing,
            What::Other => Self::Other,
            What::Designing => Self::Designing,
            What::Client => Self::Client,
            What::Packing => Self::Packing,
        }
    }
}

/// Start a timer. Of the work of hands only one can run at a time; drying can run beside it.
#[derive(Debug, Args)]
struct Start {
    /// What.
    #[arg(value_enum)]
    what: What,
    /// For which rug.
    #[arg(long, value_name = "NAME")]
    rug: Option<String>,
    /// Since when. Left out: now.
    #[arg(long, value_name = "DATE")]
    when: Option<String>,
    /// Anything else.
    #[arg(long, value_name = "WORDS")]
    note: Option<String>,
}

/// Stop a timer.
#[derive(Debug, Args)]
struct Stop {
    /// Which; can be left out when only one runs.
    #[arg(value_enum)]
    what: Option<What>,
    /// For which rug it is; can be left out when only one runs.
    #[arg(long, value_name = "NAME")]
    rug: Option<String>,
    /// When it ended, for one that was forgotten. Left out: now.
    #[arg(long, value_name = "DATE", conflicts_with = "after")]
    when: Option<String>,
    /// How long it lasted, for one that was forgotten: 40min, 1h40, 1:40.
    #[arg(long, value_name = "TIME", allow_hyphen_values = true)]
    after: Option<String>,
    /// It really was that long.
    #[arg(long)]
    sure: bool,
}

/// Write time down without a timer.
#[derive(Debug, Args)]
struct Add {
    /// What.
    #[arg(value_enum)]
    what: What,
    /// How long: 40min, 1h40, 1:40, 2.5h; a bare number means minutes.
    #[arg(value_name = "TIME", allow_hyphen_values = true)]
    lasting: String,
    /// For which rug.
    #[arg(long, value_name = "NAME")]
    rug: Option<String>,
    /// When it was. Left out: now.
    #[arg(long, value_name = "DATE")]
    when: Option<String>,
    /// Anything else.
    #[arg(long, value_name = "WORDS")]
    note: Option<String>,
}

impl Job {
    /// Runs the command.
    pub fn run(self, around: &CommandEnv) -> Result<ExitCode, Failure> {
        let mut store = around.open_database()?;
        let clock = around.clock();
        let told = match self.command {
            None => {
                let list = job::list(&store, clock, self.rug.as_deref())?;
                show::report(&list, self.json, |list| view::rugs::job::list(list, &clock.zone()))
            }
            Some(JobCommand::Start(Start { what, rug, when, note })) => {
                let at = dates::given(when.as_deref(), clock)?;
                let line = job::start(&mut store, clock, what.into(), &ForWhat { rug, note }, at)?;
                show::words(&view::rugs::job::started(&line, &clock.zone()))
            }
            Some(JobCommand::Stop(Stop { what, rug, when, after, sure })) => {
                let at = dates::given(when.as_deref(), clock)?;
                let stop = StopAsked { job: what.map(Into::into), rug, at, after, is_sure: sure };
                let line = job::stop(&mut store, clock, &stop)?;
                show::words(&view::rugs::job::stopped(&line))
            }
            Some(JobCommand::Add(Add { what, lasting, rug, when, note })) => {
                let at = dates::given(when.as_deref(), clock)?;
                let for_what = ForWhat { rug, note };
                let line = job::add(&mut store, clock, what.into(), &lasting, &for_what, at)?;
                show::words(&view::rugs::job::added(&line))
            }
        };
        told.map(|()| ExitCode::SUCCESS)
    }
}
