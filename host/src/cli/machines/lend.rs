//! `machine lend`, `machine back`, `machine loans` and `machine spread`.

use clap::Args;

use crate::app::machines::lend::{self, Handed, TypedReading};
use crate::app::ports::Clock as _;
use crate::app::typed::choose_machine::{self, MachineSaid};
use crate::app::typed::dates;
use crate::cli::shell::command_env::CommandEnv;
use crate::cli::shell::failure::Failure;
use crate::cli::shell::show;
use crate::store::Database;
use crate::view;

/// Lend a machine out; its reading is noted.
#[derive(Debug, Args)]
pub struct Lend {
    /// Which machine; can be left out when there is only one.
    #[arg(value_name = "MACHINE")]
    number: Option<MachineSaid>,
    /// To whom, by name or number; a new name is entered as a person.
    #[arg(long, value_name = "NAME")]
    to: String,
    #[command(flatten)]
    handed: HandedOver,
}

/// Take a lent machine back; its reading is noted.
#[derive(Debug, Args)]
pub struct Back {
    /// Which machine; can be left out when there is only one.
    #[arg(value_name = "MACHINE")]
    number: Option<MachineSaid>,
    #[command(flatten)]
    handed: HandedOver,
}

#[derive(Debug, Args)]
struct HandedOver {
    /// In which condition, in your own words; write no names there.
    #[arg(long, value_name = "WORDS")]
    condition: Option<String>,
    /// When. Left out: now.
    #[arg(long, value_name = "DATE")]
    when: Option<String>,
    /// Hours on another meter of the machine, for example 120.5. Left out: what its logger had counted at that moment.
    #[arg(long, value_name = "HOURS")]
    reading_hours: Option<String>,
    /// Strokes on another meter of the machine.
    #[arg(long, value_name = "NUMBER", requires = "reading_hours")]
    reading_strokes: Option<u64>,
    /// One JSON object on standard output and nothing else.
    #[arg(long)]
    json: bool,
}

/// List when machines were lent, to whom, and what they ran meanwhile.
#[derive(Debug, Args)]
pub struct Loans {
    /// One JSON object on standard output and nothing else.
    #[arg(long)]
    json: bool,
}

/// How running is spread over machines for the same pile, and which to take next.
#[derive(Debug, Args)]
pub struct Spread {
    /// From this day on. Left out: from the first record on.
    #[arg(long, value_name = "DATE")]
    since: Option<String>,
    /// Up to this day, included. Left out: until now.
    #[arg(long, value_name = "DATE")]
    until: Option<String>,
    /// One JSON object on standard output and nothing else.
    #[arg(long)]
    json: bool,
}

impl HandedOver {
    fn of(&self, machine: Option<u32>, around: &CommandEnv) -> Result<Handed, Failure> {
        let at = dates::moment(self.when.as_deref(), around.clock())?;
        let strokes = self.reading_strokes;
        let reading = self.reading_hours.clone().map(|hours| TypedReading { hours, strokes });
        Ok(Handed { machine, at, condition: self.condition.clone(), reading })
    }
}

impl Lend {
    /// Runs it.
    pub fn run(self, store: &mut Database, around: &CommandEnv) -> Result<(), Failure> {
        let machine = choose_machine::number(store, self.number.as_ref())?;
        let handed = self.handed.of(machine, around)?;
        let report = lend::lend(store, around.clock(), &handed, &self.to)?;
        show::report(&report, self.handed.json, |report| {
            view::machines::lend::lent(report, &around.clock().zone())
        })
    }
}

impl Back {
    /// Runs it.
    pub fn run(self, store: &mut Database, around: &CommandEnv) -> Result<(), Failure> {
        let machine = choose_machine::number(store, self.number.as_ref())?;
        let handed = self.handed.of(machine, around)?;
        let report = lend::back(store, around.clock(), &handed)?;
        show::report(&report, self.handed.json, |report| {
            view::machines::lend::returned(report, &around.clock().zone())
        })
    }
}

impl Loans {
    /// Runs it.
    pub fn run(self, store: &Database, around: &CommandEnv) -> Result<(), Failure> {
        let list = lend::list(store)?;
        show::report(&list, self.json, |list| view::machines::lend::loans(list, &around.clock().zone()))
    }
}

impl Spread {
    /// Runs it.
    pub fn run(self, store: &Database, around: &CommandEnv) -> Result<(), Failure> {
        let clock = around.clock();
        let since = dates::given(self.since.as_deref(), clock)?;
        let until = dates::given(self.until.as_deref(), clock)?;
        let report = lend::spread_report(store, clock, since, until)?;
        show::report(&report, self.json, |report| view::machines::lend::spread(report, &clock.zone()))
    }
}
