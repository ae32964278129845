//! `rug`.

use std::process::ExitCode;

use clap::{Args, Subcommand};

use super::rug_book::{Change, History, Material, New, Rename, Stage, TakeBack, Yarn};
use super::rug_sheet::{Card, Progress, Sheet};
use crate::app::ports::{Clock, Store};
use crate::app::rugs::rug::{self, Choice};
use crate::app::typed::choose_machine::{self, MachineSaid};
use crate::app::typed::dates;
use crate::cli::shell::command_env::CommandEnv;
use crate::cli::shell::failure::Failure;
use crate::cli::shell::show;
use crate::view;
use host_core::entries::{Owner, RugName, WorkChange};
use host_core::sessions::session_list::SessionName;

/// Commissions: what was ordered, what is on the frame, whose the sessions are.
#[derive(Debug, Args)]
#[command(args_conflicts_with_subcommands = true)]
pub struct Rug {
    #[command(subcommand)]
    command: Option<RugCommand>,
    /// One JSON object on standard output and nothing else.
    #[arg(long)]
    json: bool,
}

#[derive(Debug, Subcommand)]
enum RugCommand {
    New(New),
    Change(Change),
    Rename(Rename),
    /// It goes on the frame; from now on running is counted to it.
    Start(Work),
    /// It comes off the frame, or rests.
    Pause(Work),
    /// Its tufting is done.
    Finish(Work),
    /// It went to whoever ordered it.
    Deliver(Delivery),
    Stage(Stage),
    Yarn(Yarn),
    Material(Material),
    Progress(Progress),
    Sheet(Sheet),
    Card(Card),
    History(History),
    #[command(hide = true)]
    TakeBack(TakeBack),
    List(List),
    Sessions(Sessions),
    Assign(Assign),
    Confirm(Confirm),
}

#[derive(Debug, Args)]
struct Work {
    /// Which rug.
    name: String,
    /// When: today, "yesterday 18:30", friday, "26 Nov", 28.9.2026, "2 days ago". Left out: now.
    #[arg(long, value_name = "DATE")]
    when: Option<String>,
    /// Only on this machine. Left out: on all.
    #[arg(long, value_name = "MACHINE")]
    machine: Option<MachineSaid>,
}

#[derive(Debug, Args)]
struct Delivery {
    /// Which rug.
    name: String,
    /// When: today, "yesterday 18:30", friday, "26 Nov", 28.9.2026, "2 days ago". Left out: now.
    #[arg(long, value_name = "DATE")]
    when: Option<String>,
}

/// List the commissions.
#[derive(Debug, Args)]
struct List {
    /// One JSON object on standard output and nothing else.
    #[arg(long)]
    json: bool,
}

/// List the sessions, and whose they are.
#[derive(Debug, Args)]
struct Sessions {
    /// Only those that are not counted to any rug.
    #[arg(long)]
    open: bool,
    /// Only those that wait for your yes.
    #[arg(long)]
    assumed: bool,
    /// Only those of this rug.
    #[arg(long, value_name = "NAME")]
    rug: Option<String>,
    /// Only those of this day.
    #[arg(long, value_name = "DATE")]
    day: Option<String>,
    /// One JSON object on standard output and nothing else.
    #[arg(long)]
    json: bool,
}

/// Give sessions to a rug, to care, or back to nobody.
#[derive(Debug, Args)]
#[command(override_usage = "needlehours rug assign <NAME|--care|--nobody>\n           \
    [--session <NUMBER>]... [--day <DATE>] [--open]")]
#[command(group = clap::ArgGroup::new("whose").required(true).args(["name", "care", "nobody"]))]
#[command(group = clap::ArgGroup::new("which").required(true).multiple(true).args(["session", "day", "open"]))]
struct Assign {
    /// To this rug.
    name: Option<String>,
    /// They were dry runs or tests.
    #[arg(long)]
    care: bool,
    /// Back to nobody.
    #[arg(long)]
    nobody: bool,
    /// The session's number, as `needlehours hours` and `needlehours rug sessions` show it; may be repeated.
    #[arg(long, value_name = "NUMBER")]
    session: Vec<SessionName>,
    /// All sessions that began on this day.
    #[arg(long, value_name = "DATE")]
    day: Option<String>,
    /// Only what is not counted to any rug yet.
    #[arg(long)]
    open: bool,
}

/// Say yes to what was assumed.
#[derive(Debug, Args)]
#[command(group = clap::ArgGroup::new("which").required(true).multiple(true).args(["name", "session", "day", "all"]))]
#[command(override_usage = "needlehours rug confirm <NAME|--all>\n       \
    needlehours rug confirm [--session <NUMBER>]... [--day <DATE>]")]
struct Confirm {
    /// All assumed sessions of this rug.
    name: Option<String>,
    /// The session's number; may be repeated.
    #[arg(long, value_name = "NUMBER")]
    session: Vec<SessionName>,
    /// All sessions that began on this day.
    #[arg(long, value_name = "DATE")]
    day: Option<String>,
    /// Everything that is assumed.
    #[arg(long)]
    all: bool,
}

impl Rug {
    /// Runs the command.
    pub fn run(self, around: &CommandEnv) -> Result<ExitCode, Failure> {
        let mut store = around.open_database()?;
        let clock = around.clock();
        let told = match self.command {
            None => list(&store, clock, self.json),
            Some(RugCommand::List(List { json })) => list(&store, clock, json || self.json),
            Some(RugCommand::New(new)) => new.run(&mut store, clock),
            Some(RugCommand::Change(new)) => new.run(&mut store, clock),
            Some(RugCommand::Rename(rename)) => rename.run(&mut store, clock),
            Some(RugCommand::Stage(stage)) => stage.run(&mut store, clock),
            Some(RugCommand::Yarn(yarn)) => yarn.run(&mut store, clock),
            Some(RugCommand::Material(material)) => material.run(&mut store, clock),
            Some(RugCommand::Progress(progress)) => progress.run(&store, clock),
            Some(RugCommand::Sheet(sheet)) => sheet.run(&store, clock),
            Some(RugCommand::Card(card)) => card.run(&store, clock),
            Some(RugCommand::History(history)) => history.run(&store, clock),
            Some(RugCommand::TakeBack(entry)) => return entry.run(&mut store, clock),
            Some(RugCommand::Deliver(Delivery { name, when })) => {
                change(&mut store, clock, Work { name, when, machine: None }, WorkChange::Delivered)
            }
            Some(RugCommand::Start(work)) => change(&mut store, clock, work, WorkChange::Started),
            Some(RugCommand::Pause(work)) => change(&mut store, clock, work, WorkChange::Paused),
            Some(RugCommand::Finish(work)) => change(&mut store, clock, work, WorkChange::Finished),
            Some(RugCommand::Sessions(Sessions { open, assumed, rug, day, json })) => {
                let choice =
                    Choice { named: Vec::new(), day: dates::day(day.as_deref(), clock)?, rug, open, assumed };
                let list = rug::sessions(&store, clock, &choice)?;
                show::report(&list, json, |list| view::rugs::rug::sessions(list, &clock.zone()))
            }
            Some(RugCommand::Assign(assign)) => {
                let (owner, to) = match assign.name {
                    Some(name) => (Owner::Rug(RugName(name.clone())), name),
                    None if assign.care => (Owner::Care, "care".to_owned()),
                    None => (Owner::Nobody, "nobody".to_owned()),
                };
                let day = dates::day(assign.day.as_deref(), clock)?;
                let choice = Choice { named: assign.session, day, open: assign.open, ..Choice::default() };
                let outcome = rug::assign(&mut store, clock, owner, &choice)?;
                show::words(&view::rugs::rug::assigned(&outcome, &to))
            }
            Some(RugCommand::Confirm(confirm)) => {
                let day = dates::day(confirm.day.as_deref(), clock)?;
                let choice = Choice { named: confirm.session, day, rug: confirm.name, ..Choice::default() };
                let outcome = rug::confirm(&mut store, clock, &choice)?;
                show::words(&view::rugs::rug::confirmed(&outcome))
            }
        };
        told.map(|()| ExitCode::SUCCESS)
    }
}

fn list(store: &impl Store, clock: &impl Clock, json: bool) -> Result<(), Failure> {
    let list = rug::list(store, clock)?;
    show::report(&list, json, view::rugs::rug::list)
}

fn change(store: &mut impl Store, clock: &impl Clock, work: Work, change: WorkChange) -> Result<(), Failure> {
    let at = dates::given(work.when.as_deref(), clock)?;
    let machine = choose_machine::number(store, work.machine.as_ref())?;
    let outcome = rug::change_work(store, clock, &work.name, change, machine, at)?;
    show::words(&view::rugs::rug::work_changed(&outcome, change, &clock.zone()))
}
