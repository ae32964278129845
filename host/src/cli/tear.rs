//! `tear`.

use std::process::ExitCode;

use clap::{Args, Subcommand};

use super::{Failure, Surroundings, show};
use crate::app::dates;
use crate::app::ports::Clock as _;
use crate::app::tears;
use crate::view;

/// Note a tear or near-miss, say more about one, or take one back.
#[derive(Debug, Args)]
#[command(args_conflicts_with_subcommands = true)]
pub struct Tear {
    /// It was only nearly a tear: a pulled thread, a snag, an opened weave.
    #[arg(long)]
    near_miss: bool,
    /// The machine's number, if there are several.
    #[arg(long, value_name = "NUMBER")]
    machine: Option<u32>,
    /// Where the knob stood before it, in per cent of its travel, if you saw it.
    #[arg(long, value_name = "PERCENT", value_parser = clap::value_parser!(u8).range(0..=100))]
    knob: Option<u8>,
    /// When: 2026-03-04, "2026-03-04 18:30", today or "yesterday 9:30". Left out: now.
    #[arg(long, value_name = "DATE")]
    when: Option<String>,
    #[command(flatten)]
    more: More,
    /// One JSON object on standard output and nothing else.
    #[arg(long)]
    json: bool,
    #[command(subcommand)]
    what: Option<What>,
}

/// What may be known of it; unknown stays unknown.
#[derive(Debug, Args)]
struct More {
    /// The rug.
    #[arg(long)]
    rug: Option<String>,
    /// The piece or roll of cloth.
    #[arg(long, value_name = "LOT")]
    cloth: Option<String>,
    /// Anything else.
    #[arg(long)]
    note: Option<String>,
}

#[derive(Debug, Subcommand)]
enum What {
    /// Show all tears and near-misses, those taken back too.
    List {
        /// One JSON object on standard output and nothing else.
        #[arg(long)]
        json: bool,
    },
    /// Say more about one.
    Answer {
        /// Its name, as `tear list` shows it.
        id: String,
        #[command(flatten)]
        more: More,
        /// One JSON object on standard output and nothing else.
        #[arg(long)]
        json: bool,
    },
    /// Take one back, for example a button pressed by mistake; it stays visible.
    Withdraw {
        /// Its name, as `tear list` shows it.
        id: String,
        /// Why.
        #[arg(long)]
        reason: String,
        /// One JSON object on standard output and nothing else.
        #[arg(long)]
        json: bool,
    },
}

impl More {
    fn said(self) -> tears::TearSaid {
        tears::TearSaid {
            rug: self.rug,
            cloth_lot: self.cloth,
            note: self.note,
            ..tears::TearSaid::default()
        }
    }
}

impl Tear {
    /// Runs the command.
    pub fn run(self, around: &Surroundings) -> Result<ExitCode, Failure> {
        let mut store = around.open_database()?;
        let (clock, zone) = (around.clock(), around.clock().zone());
        let (changed, json) = match self.what {
            Some(What::List { json }) => {
                show::report(&tears::list(&store)?, json, |list| view::tears::list(list, &zone))?;
                return Ok(ExitCode::SUCCESS);
            }
            Some(What::Answer { id, more, json }) => {
                (tears::answer(&mut store, clock, &id, &more.said())?, json)
            }
            Some(What::Withdraw { id, reason, json }) => {
                (tears::withdraw(&mut store, clock, &id, &reason)?, json)
            }
            None => {
                let said = tears::TearSaid {
                    is_near_miss: self.near_miss,
                    machine: self.machine,
                    at: dates::moment(self.when.as_deref(), clock)?,
                    knob_percent: self.knob,
                    ..self.more.said()
                };
                (tears::note(&mut store, clock, &said)?, self.json)
            }
        };
        show::report(&changed, json, |changed| view::tears::changed(changed, &zone))?;
        Ok(ExitCode::SUCCESS)
    }
}
