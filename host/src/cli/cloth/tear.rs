//! `tear`.

use std::process::ExitCode;

use clap::{Args, Subcommand};

use super::harm_words::{NeedleWord, PlaceWord, RepairWord, StageWord, TensionWord, TravelWord, YesNo};
use crate::app::book::take_back;
use crate::app::cloth::tears;
use crate::app::ports::Clock as _;
use crate::app::typed::choose_machine::{self, MachineSaid};
use crate::app::typed::dates;
use crate::cli::shell::command_env::CommandEnv;
use crate::cli::shell::failure::Failure;
use crate::cli::shell::numbers::per_cent;
use crate::cli::shell::show;
use crate::view;
use host_core::entries::harm_answers;

/// Note a tear or near-miss, say more about one, or take one back.
#[derive(Debug, Args)]
#[command(args_conflicts_with_subcommands = true)]
pub struct Tear {
    /// It was only nearly a tear: a pulled thread, a snag, an opened weave.
    #[arg(long)]
    near_miss: bool,
    /// Which machine, by name or number, if there are several.
    #[arg(long, value_name = "MACHINE")]
    machine: Option<MachineSaid>,
    /// Where the knob stood before it, in per cent of its travel, if you saw it.
    #[arg(long, value_name = "PERCENT", value_parser = per_cent)]
    knob: Option<u8>,
    /// When: today, "yesterday 18:30", friday, "26 Nov", 28.9.2026, "2 days ago". Left out: now.
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
    /// What was being made.
    #[arg(long, value_enum)]
    stage: Option<StageWord>,
    /// Whether the machine had been over the spot before.
    #[arg(long, value_enum)]
    second_pass: Option<YesNo>,
    /// Whether yarn had been pulled out there before.
    #[arg(long, value_enum)]
    pulled_out_before: Option<YesNo>,
    /// How the cloth felt under the hand.
    #[arg(long, value_enum)]
    tension: Option<TensionWord>,
    /// Where on the frame.
    #[arg(long, value_enum)]
    place: Option<PlaceWord>,
    /// How the needle's point feels. Switch off, unplug (or shut the air off and take the hose
    /// off) and wait for standstill before you feel it.
    #[arg(long, value_enum)]
    needle: Option<NeedleWord>,
    /// What became of it.
    #[arg(long, value_enum)]
    repair: Option<RepairWord>,
    /// How the machine was led over the cloth.
    #[arg(long, value_enum)]
    travel: Option<TravelWord>,
    /// How many strands of yarn were in the needle.
    #[arg(long, value_name = "NUMBER", value_parser = clap::value_parser!(u8).range(1..=20))]
    strands: Option<u8>,
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
        /// Where the knob stood before it, in per cent of its travel, if you saw it and the logger did not.
        #[arg(long, value_name = "PERCENT", value_parser = per_cent)]
        knob: Option<u8>,
        #[command(flatten)]
        more: More,
        /// One JSON object on standard output and nothing else.
        #[arg(long)]
        json: bool,
    },
    /// The older word for `take-back`.
    #[command(hide = true)]
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
            answers: harm_answers::Answers {
                stage: self.stage.map(Into::into),
                second_pass: self.second_pass.map(YesNo::is_yes),
                pulled_out_before: self.pulled_out_before.map(YesNo::is_yes),
                tension: self.tension.map(Into::into),
                place: self.place.map(Into::into),
                needle: self.needle.map(Into::into),
                repair: self.repair.map(Into::into),
                travel: self.travel.map(Into::into),
                strands: self.strands,
            },
            ..tears::TearSaid::default()
        }
    }
}

impl Tear {
    /// Runs the command.
    pub fn run(self, around: &CommandEnv) -> Result<ExitCode, Failure> {
        let mut store = around.open_database()?;
        let (clock, zone) = (around.clock(), around.clock().zone());
        let (changed, json) = match self.what {
            Some(What::List { json }) => {
                show::report(&tears::list(&store)?, json, |list| view::cloth::tears::list(list, &zone))?;
                return Ok(ExitCode::SUCCESS);
            }
            Some(What::Answer { id, knob, more, json }) => {
                let said = tears::TearSaid { knob_percent: knob, ..more.said() };
                (tears::answer(&mut store, clock, &id, &said)?, json)
            }
            Some(What::Withdraw { id, reason, json }) => {
                let meant = tears::meant(&store, &id)?;
                let taken = take_back::take_back(&mut store, clock, &[meant], &reason)?;
                show::report(&taken, json, view::book::taken_back)?;
                return Ok(ExitCode::SUCCESS);
            }
            None => {
                let said = tears::TearSaid {
                    is_near_miss: self.near_miss,
                    machine: choose_machine::number(&store, self.machine.as_ref())?,
                    at: dates::moment(self.when.as_deref(), clock)?,
                    knob_percent: self.knob,
                    ..self.more.said()
                };
                (tears::note(&mut store, clock, &said)?, self.json)
            }
        };
        show::report(&changed, json, |changed| view::cloth::tears::changed(changed, &zone))?;
        Ok(ExitCode::SUCCESS)
    }
}
