//! `person`.

use std::process::ExitCode;

use clap::{Args, Subcommand};

use crate::app::hand::people::{self, People};
use crate::cli::shell::command_env::CommandEnv;
use crate::cli::shell::failure::Failure;
use crate::cli::shell::show;
use crate::view;

/// People who work with the machines or borrow them.
#[derive(Debug, Args)]
#[command(args_conflicts_with_subcommands = true)]
pub struct Person {
    #[command(subcommand)]
    command: Option<PersonCommand>,
    /// One JSON object on standard output and nothing else.
    #[arg(long)]
    json: bool,
}

#[derive(Debug, Subcommand)]
enum PersonCommand {
    /// Enter somebody.
    Add {
        /// The name.
        name: String,
    },
    /// List the people.
    List {
        /// One JSON object on standard output and nothing else.
        #[arg(long)]
        json: bool,
    },
    /// Put a name right.
    Rename {
        /// The person, by number or name.
        person: String,
        /// The right name.
        name: String,
    },
    /// Erase a name for good; the number stays, and the record book still holds.
    Erase {
        /// The person, by number or name.
        person: String,
    },
}

impl Person {
    /// Runs the command.
    pub fn run(self, around: &CommandEnv) -> Result<ExitCode, Failure> {
        let mut store = around.open_database()?;
        let told = match self.command {
            None => show::report(&People::read(&store)?, self.json, view::hand::people::list),
            Some(PersonCommand::List { json }) => {
                show::report(&People::read(&store)?, json || self.json, view::hand::people::list)
            }
            Some(PersonCommand::Add { name }) => {
                show::words(&view::hand::people::added(&people::add(&mut store, around.clock(), &name)?))
            }
            Some(PersonCommand::Rename { person, name }) => {
                let (person, old) = people::rename(&mut store, &person, &name)?;
                show::words(&view::hand::people::renamed(&person, old))
            }
            Some(PersonCommand::Erase { person }) => {
                let (person, old) = people::erase(&mut store, &person)?;
                show::words(&view::hand::people::erased(&person, old))
            }
        };
        told.map(|()| ExitCode::SUCCESS)
    }
}
