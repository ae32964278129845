//! `rate`.

use std::process::ExitCode;

use clap::{Args, Subcommand};

use super::price;
use crate::app::money::history;
use crate::app::money::price_terms;
use crate::app::money::rate::{self, CostsTyped};
use crate::app::ports::Clock as _;
use crate::app::typed::choose_machine::{self, MachineSaid};
use crate::cli::shell::command_env::CommandEnv;
use crate::cli::shell::failure::Failure;
use crate::cli::shell::show;
use crate::view;

/// What an hour of running costs: wear of the price over its life, costs of a period, costs of an hour.
#[derive(Debug, Args)]
#[command(args_conflicts_with_subcommands = true)]
pub struct Rate {
    #[command(subcommand)]
    command: Option<RateCommand>,
    #[command(flatten)]
    costs: Costs,
    /// The machine whose entered costs are asked for; can be left out when there is only one.
    #[arg(long, value_name = "MACHINE", conflicts_with = "price")]
    machine: Option<MachineSaid>,
    /// One JSON object on standard output and nothing else.
    #[arg(long)]
    json: bool,
}

#[derive(Debug, Subcommand)]
enum RateCommand {
    /// Keep a machine's costs, for quotes and bills.
    Set {
        #[command(flatten)]
        costs: Costs,
        /// Which machine; can be left out when there is only one.
        #[arg(long, value_name = "MACHINE")]
        machine: Option<MachineSaid>,
        /// One JSON object on standard output and nothing else.
        #[arg(long)]
        json: bool,
    },
    /// Everything that was ever said of prices, wages, what tears cost and sample squares, with the numbers to take it back.
    History {
        /// One JSON object on standard output and nothing else.
        #[arg(long)]
        json: bool,
    },
    /// Keep what the price of a rug is worked out from. Only what is named changes; without anything: what is kept.
    Price(Box<price::PriceArgs>),
    /// Keep what an hour of labour costs, and the currency of all amounts. Without either: what is kept.
    Wage {
        /// An hour of labour.
        #[arg(allow_hyphen_values = true)]
        amount: Option<String>,
        /// The currency as it stands on your bills, for example EUR.
        #[arg(long, value_name = "NAME")]
        currency: Option<String>,
        /// One JSON object on standard output and nothing else.
        #[arg(long)]
        json: bool,
    },
}

/// All amounts in one currency, your own.
#[derive(Debug, Args)]
struct Costs {
    /// What the machine cost.
    #[arg(long, value_name = "AMOUNT", allow_hyphen_values = true)]
    price: Option<String>,
    /// What it will still bring at the end; 0 if nothing.
    #[arg(long, value_name = "AMOUNT", allow_hyphen_values = true)]
    resale: Option<String>,
    /// Hours that it will run in its life.
    #[arg(long, value_name = "HOURS", allow_hyphen_values = true)]
    life_hours: Option<String>,
    /// Hours that it runs in a period, for example a month.
    #[arg(long, value_name = "HOURS", allow_hyphen_values = true)]
    period_hours: Option<String>,
    /// A cost of that period, for example a share of the rent; can be repeated.
    #[arg(long = "period-cost", value_name = "AMOUNT", allow_hyphen_values = true)]
    period_costs: Vec<String>,
    /// A cost of every hour, for example oil or power; can be repeated.
    #[arg(long = "hour-cost", value_name = "AMOUNT", allow_hyphen_values = true)]
    hour_costs: Vec<String>,
}

impl From<Costs> for CostsTyped {
    fn from(costs: Costs) -> Self {
        let Costs { price, resale, life_hours, period_hours, period_costs, hour_costs } = costs;
        Self { price, resale, life_hours, period_hours, period_costs, hour_costs }
    }
}

impl Rate {
    /// Runs the command.
    pub fn run(self, around: &CommandEnv) -> Result<ExitCode, Failure> {
        self.tell(around).map(|()| ExitCode::SUCCESS)
    }

    fn tell(self, around: &CommandEnv) -> Result<(), Failure> {
        match self.command {
            Some(RateCommand::Set { costs, machine, json }) => {
                let mut store = around.open_database()?;
                let machine = choose_machine::number(&store, machine.as_ref())?;
                let (_, answer) = rate::enter(&mut store, around.clock(), machine, &costs.into())?;
                return show::report(&answer, json || self.json, view::money::rate::kept);
            }
            Some(RateCommand::Wage { amount, currency, json }) => {
                let mut store = around.open_database()?;
                let (_, answer) =
                    rate::terms(&mut store, around.clock(), amount.as_deref(), currency.as_deref())?;
                return show::report(&answer, json || self.json, view::money::rate::terms);
            }
            Some(RateCommand::Price(price)) => {
                let json = price.json || self.json;
                let mut store = around.open_database()?;
                let (_, answer) = price_terms::enter(&mut store, around.clock(), &(*price).into())?;
                return show::report(&answer, json, view::money::price_terms::kept);
            }
            Some(RateCommand::History { json }) => {
                let history = history::prices(&around.open_database()?)?;
                let zone = around.clock().zone();
                return show::report(&history, json || self.json, |history| {
                    view::money::price_history::text(history, &zone)
                });
            }
            None => {}
        }
        let typed = CostsTyped::from(self.costs);
        let answer = if typed.is_empty() {
            let store = around.open_database()?;
            rate::of_machine(&store, choose_machine::number(&store, self.machine.as_ref())?)?
        } else {
            rate::of_typed(&typed)?
        };
        show::report(&answer, self.json, |_| view::money::rate::text(&answer))
    }
}
