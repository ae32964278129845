//! `stock`.

use std::process::ExitCode;

use clap::{Args, Subcommand, ValueEnum};

use crate::app::care::stock;
use crate::cli::shell::command_env::CommandEnv;
use crate::cli::shell::failure::Failure;
use crate::cli::shell::show;
use crate::view;
use host_core::entries::{StockChange, StockUnit};

/// Spares and oil in the drawer, and when to buy more.
#[derive(Debug, Args)]
#[command(args_conflicts_with_subcommands = true)]
pub struct Stock {
    /// One JSON object on standard output and nothing else.
    #[arg(long)]
    json: bool,
    #[command(subcommand)]
    change: Option<Change>,
}

#[derive(Debug, Subcommand)]
enum Change {
    /// List everything.
    List {
        /// One JSON object on standard output and nothing else.
        #[arg(long)]
        json: bool,
    },
    /// Something came in.
    In(Reassignment),
    /// Something was used up, lost or thrown away.
    Out(Reassignment),
    /// Something was counted.
    Counted(Reassignment),
    /// Say at how many to buy more, and in what it is counted.
    Level(Level),
}

#[derive(Debug, Args)]
struct Reassignment {
    /// What, for example needle, or oil.
    item: String,
    /// How many pieces, or millilitres.
    count: u32,
    /// Anything else.
    #[arg(long, value_name = "TEXT")]
    note: Option<String>,
    /// One JSON object on standard output and nothing else.
    #[arg(long)]
    json: bool,
}

#[derive(Debug, Args)]
struct Level {
    /// What.
    item: String,
    /// Only to say what was probably meant by it.
    #[arg(hide = true)]
    bare_number: Option<String>,
    /// Buy more when so much or less is left.
    #[arg(long, value_name = "NUMBER", required_unless_present_any = ["unit", "bare_number"])]
    reorder_at: Option<u32>,
    /// In what it is counted.
    #[arg(long, value_enum)]
    unit: Option<Unit>,
    /// One JSON object on standard output and nothing else.
    #[arg(long)]
    json: bool,
}

#[derive(Clone, Copy, Debug, ValueEnum)]
enum Unit {
    /// Pieces.
    Pieces,
    /// Millilitres.
    Ml,
}

impl Stock {
    /// Runs the command.
    pub fn run(self, around: &CommandEnv) -> Result<ExitCode, Failure> {
        let mut store = around.open_database()?;
        let clock = around.clock();
        let mut moved = |of: Reassignment, change: StockChange| {
            stock::change(&mut store, clock, &of.item, change, of.note).map(|report| (report, of.json))
        };
        let (report, json) = match self.change {
            None => (stock::list(&store)?, self.json),
            Some(Change::List { json }) => (stock::list(&store)?, json || self.json),
            Some(Change::In(of)) => {
                let change = StockChange::In(of.count);
                moved(of, change)?
            }
            Some(Change::Out(of)) => {
                let change = StockChange::Out(of.count);
                moved(of, change)?
            }
            Some(Change::Counted(of)) => {
                let change = StockChange::Counted(of.count);
                moved(of, change)?
            }
            Some(Change::Level(Level { item, bare_number: Some(number), .. })) => {
                return Err(unclear(&item, &number));
            }
            Some(Change::Level(of)) => {
                let unit = of.unit.map(|unit| match unit {
                    Unit::Pieces => StockUnit::Pieces,
                    Unit::Ml => StockUnit::Millilitres,
                });
                (stock::set_level(&mut store, clock, &of.item, unit, of.reorder_at)?, of.json)
            }
        };
        show::report(&report, json, view::care::stock::stock)?;
        Ok(ExitCode::SUCCESS)
    }
}

/// A number of which it is not said whether it is the level at which to buy, or what there is.
fn unclear(item: &str, number: &str) -> Failure {
    Failure::not_understood(
        "stock::level",
        format!("it is not clear what the {number} is: what is left, or the level at which to buy more"),
        format!(
            "To be told to buy more when {number} or less is left: needlehours stock level \"{item}\" --reorder-at {number}. \
             To say that there is so much: needlehours stock counted \"{item}\" {number}."
        ),
    )
}
