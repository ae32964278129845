//! `quote`.

use std::path::{Path, PathBuf};
use std::process::ExitCode;

use clap::{Args, Subcommand, ValueEnum};

use crate::app::ports::{Clock, Store};
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
    /// Work out the price and keep it for this rug, whose size is taken where --size is left out; its sheet compares.
    #[arg(long = "for", value_name = "RUG", conflicts_with_all = ["html", "csv", "explain"])]
    for_rug: Option<String>,
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
        let mut store = around.open_database()?;
        let rug = self.for_rug.as_deref().map(|name| price::for_rug(&store, name)).transpose()?;
        let size = match &self.size {
            Some(size) => Some(size_mm(size)?),
            None => rug.as_ref().and_then(|rug| rug.size_mm),
        };
        let asked = QuoteAsked {
            size_mm: size.ok_or_else(no_size)?,
            style: self.style.map(Into::into).or_else(|| rug.as_ref()?.style),
            colours: self.colours.as_deref().map(quote::colours).transpose()?,
            level: quote::level(&self.level)?,
            machine: choose_machine::number(&store, self.machine.as_ref())?,
            wage: self.wage,
        };
        let clock = around.clock();
        if self.price || rug.is_some() || self.client.is_some() || self.yarn_kg_per_m2.is_some() {
            let yarn = self.yarn_kg_per_m2.as_deref();
            let asked = PriceWish { asked, yarn, rug, client: self.client.as_deref() };
            return told_price(&mut store, clock, &asked, self.json);
        }
        let answer = quote::ask(&store, clock, &asked)?;
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

fn no_size() -> Failure {
    let remedy = "Add --size, for example --size 80x120cm; or name with --for a rug that has a size.";
    Failure::bad_input("quote::size", "for what size?", remedy)
}

/// One price, with what is to be done with it.
struct PriceWish<'all> {
    asked: QuoteAsked,
    yarn: Option<&'all str>,
    rug: Option<price::ForRug>,
    client: Option<&'all Path>,
}

/// Tells one price, keeps it for its rug, and writes the client's page where one was asked for.
fn told_price(
    store: &mut impl Store,
    clock: &impl Clock,
    wish: &PriceWish<'_>,
    as_json: bool,
) -> Result<(), Failure> {
    let answer = price::ask_price(store, clock, &wish.asked, wish.yarn)?;
    let page = match wish.client {
        Some(file) => {
            Some((file, view::rugs::offer::sheet(&answer.offer()?, clock.now(), &clock.zone()).html()))
        }
        None => None,
    };
    if let Some(rug) = &wish.rug {
        price::keep(store, clock, &rug.rug, &answer)?;
    }
    if let Some((file, page)) = &page {
        show::file(file, page.as_bytes(), WRITE, WHERE)?;
    }
    show::report(&answer, as_json, |answer| {
        let mut text = view::rugs::price::text(answer);
        if let Some(rug) = &wish.rug {
            text.push_str(&view::rugs::price::kept_for(&rug.rug.0));
        }
        if let Some((file, _)) = &page {
            text.push_str(&format!("\nWritten: {}", file.display()));
        }
        text
    })
}

const WRITE: &str = "quote::write";
const WHERE: &str = "Name a file in a folder that exists.";

fn no_table(error: csv::Error) -> Failure {
    Failure::other("quote::csv", "the table could not be made", "Ask without --csv.").because(error)
}
