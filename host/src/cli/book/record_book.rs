//! `book`.

use std::path::PathBuf;
use std::process::ExitCode;

use clap::Args;

use crate::app::book::record_book;
use crate::app::ports::Clock as _;
use crate::app::typed::choose_machine::{self, MachineSaid};
use crate::cli::shell::command_env::CommandEnv;
use crate::cli::shell::failure::Failure;
use crate::cli::shell::show;
use crate::view;

/// The record book of one machine: a page to print, with hours, care, parts, faults, loans and every correction.
#[derive(Debug, Args)]
pub struct Book {
    /// Which machine; can be left out when there is only one.
    #[arg(long, value_name = "MACHINE")]
    machine: Option<MachineSaid>,
    /// The file to write.
    #[arg(long, value_name = "FILE", default_value = "record-book.html")]
    out: PathBuf,
    /// Instead of the page: one JSON object on standard output and nothing else.
    #[arg(long)]
    json: bool,
}

impl Book {
    /// Runs the command.
    pub fn run(self, around: &CommandEnv) -> Result<ExitCode, Failure> {
        let store = around.open_database()?;
        let clock = around.clock();
        let book = record_book::book(&store, clock, choose_machine::number(&store, self.machine.as_ref())?)?;
        if self.json {
            show::json(&book)?;
            return Ok(ExitCode::SUCCESS);
        }
        let page = view::book::page(&book, &clock.zone());
        show::file(
            &self.out,
            page.as_bytes(),
            "book::write",
            "Name a file in a folder that exists with --out.",
        )?;
        show::words(&view::book::written(&book, &self.out))?;
        Ok(ExitCode::SUCCESS)
    }
}
