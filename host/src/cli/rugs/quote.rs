//! `quote`.

use std::path::{Path, PathBuf};
use std::process::ExitCode;

use clap::{Args, Subcommand, ValueEnum};

use crate::app::ports::Clock as _;
use crate::app::rugs::price;
use crate::app::rugs::quote::{self, QuoteAsked, SampleTyped};
use crate::app::typed::choose_machine::{self, MachineSaid};
use crate::app::typed::measures::size_mm;
use crate::cli::shell::command_env::CommandEnv;
use crate::cli::shell::failure::Failure;
use crate::cli::shell::show;
use crate::view;
use crate::view::words::sheet::Medium;
use host_core::entries as core_quote;

/// What a rug of this size will take, by your own finished rugs or a timed sample square.
#[derive(Debug, Args)]
#[command(args_conflicts_with_subcommands = true)]
pub struct Quote {
    #[command(subcommand)]
    command: Option<QuoteCommand>,
    /// Width and height, for example 80x120cm or 36x48in.
    #[arg(long, value_name = "SIZE", allow_hyphen_values = true)]
    size: Option<String>,
    /// Only from rugs and samples of this kind of pile.
    #[arg(long, value_enum)]
    style: Option<Style>,
    /// Colours in the design.
    #[arg(long, value_name = "NUMBER", allow_negative_numbers = true)]
    colours: Option<String>,
    /// The machine whose hours are priced; can be left out when there is only one.
    #[arg(long, value_name = "MACHINE")]
    machine: Option<MachineSaid>,
    /// What an hour at the frame costs, in your currency. Left out: what `rate wage` keeps.
    #[arg(long, value_name = "AMOUNT", allow_hyphen_values = true)]
    wage: Option<String>,
    /// How sure the range is to hold the next rug: a share above 0 and below 1.
    #[arg(long, value_name = "SHARE", default_value = "0.8", allow_hyphen_values = true)]
    level: String,
    /// Also write it as a page that prints well.
    #[arg(long, value_name = "FILE")]
    html: Option<PathBuf>,
    /// Also write it as a table for a spreadsheet.
    #[arg(long, value_name = "FILE")]
    csv: Option<PathBuf>,
    /// Work out one price, line by line, by what `rate price` keeps.
    #[arg(long, conflicts_with_all = ["html", "csv", "explain"])]
    price: bool,
    /// Work out the price and write the client's page: one price, what it includes; no rates, no hours.
    #[arg(long, value_name = "FILE", conflicts_with_all = ["html", "csv", "explain"])]
    client: Option<PathBuf>,
    /// Kilograms of yarn for a square metre, for this price.
    #[arg(long, value_name = "KG", allow_hyphen_values = true, conflicts_with_all = ["html", "csv", "explain"])]
    yarn_kg_per_m2: Option<String>,
    /// Also tell how the range comes about.
    #[arg(long, conflicts_with = "json")]
    explain: bool,
    /// One JSON object on standard output and nothing else.
    #[arg(long)]
    json: bool,
}

#[derive(Debug, Subcommand)]
enum QuoteCommand {
    Sample(Sample),
}

/// Enter a sample square that you tufted and timed.
#[derive(Debug, Args)]
struct Sample {
    /// Width and height, for example 6x6in or 15x15cm.
    #[arg(long, value_name = "SIZE", allow_hyphen_values = true)]
    size: String,
    /// The kind of its pile.
    #[arg(long, value_enum)]
    style: Option<Style>,
    /// Minutes during which the motor ran, or 1h40.
    #[arg(long, value_name = "MINUTES", allow_hyphen_values = true)]
    run_minutes: String,
    /// Minutes at the frame, with threading and looking, or 1h40.
    #[arg(long, value_name = "MINUTES", allow_hyphen_values = true)]
    tufting_minutes: Option<String>,
    /// Strokes that it took.
    #[arg(long, value_name = "NUMBER", allow_hyphen_values = true)]
    strokes: Option<String>,
}

#[derive(Clone, Copy, Debug, ValueEnum)]
pub enum Style {
    /// Cut pile.
    Cut,
    /// Loop pile.
    Loop,
    /// Both in one rug.
    Both,
}

impl From<Style> for core_quote::Style {
    fn from(style: Style) -> Self {
        match style {
            Style::Cut => Self::Cut,
            Style::Loop => Self::Loop,
            Style::Both => Self::Both,
        }
    }
}

impl Quote {
    /// Runs the command.
    pub fn run(self, around: &CommandEnv) -> Result<ExitCode, Failure> {
        self.tell(around).map(|()| ExitCode::SUCCESS)
    }

    fn tell(self, around: &CommandEnv) -> Result<(), Failure> {
        if let Some(QuoteCommand::Sample(sample)) = self.command {
            let typed = SampleTyped {
                size_mm: size_mm(&sample.size)?,
                style: sample.style.map(Into::into),
                run_minutes: sample.run_minutes,
                tufting_minutes: sample.tufting_minutes,
                strokes: sample.strokes,
            };
            let mut store = around.open_database()?;
            let (_, entered) = quote::enter_sample(&mut store, around.clock(), &typed)?;
            return show::words(&view::rugs::quote::sample(&entered));
        }
        let Some(asked_size) = &self.size else {
            return Err(Failure::bad_input(
                "quote::size",
                "for what size?",
                "Add --size, for example --size 80x120cm.",
            ));
        };
        let asked = QuoteAsked {
            size_mm: size_mm(asked_size)?,
            style: self.style.map(Into::into),
            colours: self.colours.as_deref().map(quote::colours).transpose()?,
            level: quote::level(&self.level)?,
            machine: choose_machine::number(&around.open_database()?, self.machine.as_ref())?,
            wage: self.wage,
        };
        let clock = around.clock();
        if self.price || self.client.is_some() || self.yarn_kg_per_m2.is_some() {
            let yarn = self.yarn_kg_per_m2.as_deref();
            return told_price(around, &asked, yarn, self.client.as_deref(), self.json);
        }
        let answer = quote::ask(&around.open_database()?, clock, &asked)?;
        let zone = clock.zone();
        let told = |medium| view::rugs::quote_sheet::sheet(&answer, medium, clock.now(), &zone);
        let mut written = Vec::new();
        if let Some(file) = &self.html
            && let Some(page) = told(Medium::Page)
        {
            show::file(file, page.html().as_bytes(), WRITE, WHERE)?;
            written.push(file.display());
        }
        if let Some(file) = &self.csv
            && let Some(table) = view::rugs::quote_sheet::csv(&answer).map_err(no_table)?
        {
            show::file(file, table.as_bytes(), WRITE, WHERE)?;
            written.push(file.display());
        }
        if !self.json && !written.is_empty() {
            let lines: Vec<String> = written.iter().map(|file| format!("Written: {file}")).collect();
            return show::words(&lines.join("\n"));
        }
        show::report(&answer, self.json, |_| {
            let mut text = told(Medium::Screen)
                .map_or_else(|| view::rugs::quote::cannot_tell(&answer), |sheet| sheet.text());
            if self.html.is_some() || self.csv.is_some() {
                text.push_str("\n\nNo sheet was written, for there is nothing to put on it yet.");
            }
            if self.explain {
                format!("{text}\n\n{}", view::rugs::quote::explained(asked.level))
            } else {
                text
            }
        })
    }
}

/// Tells one price, and writes the client's page where one was asked for.
fn told_price(
    around: &CommandEnv,
    asked: &QuoteAsked,
    yarn: Option<&str>,
    client: Option<&Path>,
    as_json: bool,
) -> Result<(), Failure> {
    let clock = around.clock();
    let answer = price::ask_price(&around.open_database()?, clock, asked, yarn)?;
    if let Some(file) = client {
        let page = view::rugs::offer::sheet(&answer.offer()?, clock.now(), &clock.zone()).html();
        show::file(file, page.as_bytes(), WRITE, WHERE)?;
    }
    show::report(&answer, as_json, |answer| {
        let text = view::rugs::price::text(answer);
        match client {
            Some(file) => format!("{text}\nWritten: {}", file.display()),
            None => text,
        }
    })
}

const WRITE: &str = "quote::write";
const WHERE: &str = "Name a file in a folder that exists.";

fn no_table(error: csv::Error) -> Failure {
    Failure::other("quote::csv", "the table could not be made", "Ask without --csv.").because(error)
}
