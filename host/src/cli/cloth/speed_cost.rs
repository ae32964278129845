//! `speed cost` and `speed ceiling`.

use clap::{Args, Subcommand};

use crate::app::cloth::cost::{self, CeilingWish, CostsTyped};
use crate::app::typed::choose_machine::{self, MachineSaid};
use crate::cli::shell::command_env::CommandEnv;
use crate::cli::shell::failure::Failure;
use crate::cli::shell::numbers::{level, per_cent};
use crate::cli::shell::show;
use crate::view;
use host_core::stats::Level;

/// What a rug costs at each speed, and whether a ceiling on the knob would save money.
#[derive(Debug, Args)]
#[command(args_conflicts_with_subcommands = true)]
pub struct Cost {
    #[command(subcommand)]
    what: Option<CostCommand>,
    /// Which machine, by name or number, if there are several.
    #[arg(long, value_name = "MACHINE")]
    machine: Option<MachineSaid>,
    /// How sure the limits are to hold the truth.
    #[arg(long, value_name = "SHARE", default_value = "0.95", value_parser = level)]
    level: Level,
    /// One JSON object on standard output and nothing else.
    #[arg(long)]
    json: bool,
}

#[derive(Debug, Subcommand)]
enum CostCommand {
    /// Keep what a tear and an hour cost you, in your own currency.
    Set {
        /// What a tear costs: cloth and yarn lost, work done anew, the mending.
        #[arg(long, value_name = "AMOUNT", allow_hyphen_values = true)]
        tear_cost: Option<String>,
        /// What an hour of your time is worth.
        #[arg(long, value_name = "AMOUNT", allow_hyphen_values = true)]
        hour_value: Option<String>,
        /// One JSON object on standard output and nothing else.
        #[arg(long)]
        json: bool,
    },
}

/// The highest place of the knob that you accept; the lamp and `heavy` mind it.
#[derive(Debug, Args)]
#[command(args_conflicts_with_subcommands = true)]
pub struct Ceiling {
    #[command(subcommand)]
    what: Option<CeilingCommand>,
    #[command(flatten)]
    about: About,
}

#[derive(Debug, Args)]
struct About {
    /// Which machine, by name or number, if there are several.
    #[arg(long, value_name = "MACHINE")]
    machine: Option<MachineSaid>,
    /// One JSON object on standard output and nothing else.
    #[arg(long)]
    json: bool,
}

#[derive(Debug, Subcommand)]
enum CeilingCommand {
    /// Set one, in per cent of the knob's travel, or none.
    Set {
        /// Such as 60% or none.
        #[arg(value_name = "PERCENT|none", value_parser = wish)]
        place: CeilingWish,
        #[command(flatten)]
        about: About,
    },
    /// Take the one that `speed cost` proposes.
    Accept {
        #[command(flatten)]
        about: About,
    },
}

fn wish(words: &str) -> Result<CeilingWish, String> {
    let words = words.trim();
    if words.eq_ignore_ascii_case("none") {
        return Ok(CeilingWish::Off);
    }
    per_cent(words)
        .ok()
        .filter(|percent| (1..100).contains(percent))
        .map(CeilingWish::Percent)
        .ok_or_else(|| "it must be a whole number of per cent from 1% to 99%, or none".to_owned())
}

impl Cost {
    /// Runs the command.
    pub fn run(self, around: &CommandEnv) -> Result<(), Failure> {
        let mut store = around.open_database()?;
        match self.what {
            Some(CostCommand::Set { tear_cost, hour_value, json }) => {
                let typed = CostsTyped { tear: tear_cost, hour: hour_value };
                let kept = cost::set_costs(&mut store, around.clock(), &typed)?;
                show::report(&kept, json, view::cloth::speed_cost::kept)
            }
            None => {
                let report =
                    cost::report(&store, choose_machine::number(&store, self.machine.as_ref())?, self.level)?;
                show::report(&report, self.json, view::cloth::speed_cost::report)
            }
        }
    }
}

impl Ceiling {
    /// Runs the command.
    pub fn run(self, around: &CommandEnv) -> Result<(), Failure> {
        let mut store = around.open_database()?;
        let (wish, about) = match self.what {
            Some(CeilingCommand::Set { place, about }) => (Some(place), about),
            Some(CeilingCommand::Accept { about }) => (Some(CeilingWish::Proposed), about),
            None => (None, self.about),
        };
        let machine = choose_machine::number(&store, about.machine.as_ref())?;
        let now = match wish {
            Some(wish) => cost::set_ceiling(&mut store, around.clock(), machine, wish)?,
            None => cost::ceiling(&store, machine)?,
        };
        show::report(&now, about.json, view::cloth::speed_cost::ceiling)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_ceiling_is_a_whole_number_of_per_cent_below_the_end_or_none() {
        assert_eq!(wish("60%"), Ok(CeilingWish::Percent(60)));
        assert_eq!(wish(" 60 % "), Ok(CeilingWish::Percent(60)));
        assert_eq!(wish("None"), Ok(CeilingWish::Off));
        for wrong in ["0%", "100%", "-5", "60.5%", "fast", "", "300"] {
            assert!(wish(wrong).is_err(), "{wrong}");
        }
    }
}
