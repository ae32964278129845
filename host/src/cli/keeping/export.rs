//! `export`.

use std::path::PathBuf;
use std::process::ExitCode;

use clap::Args;
use jiff::tz::TimeZone;
use shared_types::UtcMillis;

use crate::app::book::verify;
use crate::app::keeping::ExportError;
use crate::app::keeping::export::{About, write_tables};
use crate::app::keeping::whole::{Contents, EXPORT_VERSION, ExportReport, StudioId, TableRows, WHAT};
use crate::app::ports::Clock;
use crate::app::ports::book::Chained as _;
use crate::cli::shell::command_env::CommandEnv;
use crate::cli::shell::failure::Failure;
use crate::cli::shell::{exit, show};
use crate::export_folder::{Staged, TableFiles, write_contents, write_whole};
use crate::store::{Database, database_version};
use crate::view;

/// Write everything into a folder: tables for spreadsheets and other programs, and what gives the database back elsewhere.
#[derive(Debug, Args)]
pub struct Export {
    /// A folder that is not there yet, or an empty one.
    #[arg(value_name = "DIR")]
    folder: PathBuf,
    /// Put it in the place of an earlier export of this studio.
    #[arg(long)]
    replace: bool,
    /// People's names, too; without it people are numbers.
    #[arg(long)]
    with_names: bool,
    /// One JSON object on standard output and nothing else.
    #[arg(long)]
    json: bool,
}

impl Export {
    /// Runs the command.
    pub fn run(self, around: &CommandEnv) -> Result<ExitCode, Failure> {
        let path = around.database_path()?;
        if around.would_make(&path) {
            return Err(Failure::bad_input(
                "export::nothing",
                format!("there is no database at {}", path.display()),
                "There is nothing to hand on yet; the first pull or entry makes it.",
            ));
        }
        let database = around.open_database()?;
        let clock = StoppedClock::of(around.clock());
        let report = database.at_one_moment(|database| self.write(database, &clock))?;
        show::report(&report, self.json, view::keeping::hand_on::exported)?;
        Ok(exit::code(exit::FINE))
    }

    fn write(&self, database: &Database, clock: &StoppedClock) -> Result<ExportReport, ExportError> {
        let studio = StudioId::of(database.first_link()?.as_deref());
        let staged = Staged::prepare(&self.folder, &studio, self.replace)?;
        database.check_kept()?;
        let chain = verify::chain(database, None)?;
        if !chain.is_whole {
            return Err(ExportError::NotWhole);
        }
        let head = chain.head.to_string();
        let zone = zone_name(clock);
        let program = env!("CARGO_PKG_VERSION");
        let with_names = self.with_names;
        let about = About { zone: &zone, now: clock.now, head: &head, with_names, program };
        let mut tables = TableFiles::below(staged.part(), &studio)?;
        write_tables(database, clock, &about, &mut tables)?;
        write_whole(staged.part(), with_names, |part, line| database.whole_lines(part, line))?;
        let (last_entry, last_status) = database.last_numbers()?;
        let contents = Contents {
            what: WHAT.to_owned(),
            export_version: EXPORT_VERSION,
            database_version: database_version(),
            program: program.to_owned(),
            studio: studio.clone(),
            zone,
            exported_utc_ms: clock.now,
            head: head.clone(),
            with_names,
            last_entry,
            last_status,
            files: Vec::new(),
        };
        write_contents(staged.part(), contents)?;
        staged.put_in_place()?;
        let tables = tables.written().iter().map(|(table, rows)| TableRows { table, rows: *rows }).collect();
        Ok(ExportReport { folder: self.folder.clone(), studio, head, with_names, tables })
    }
}

/// The clock as it stood when the export began: all of it is of one moment.
struct StoppedClock {
    now: UtcMillis,
    zone: TimeZone,
}

impl StoppedClock {
    fn of(clock: &impl Clock) -> Self {
        Self { now: clock.now(), zone: clock.zone() }
    }
}

impl Clock for StoppedClock {
    fn now(&self) -> UtcMillis {
        self.now
    }

    fn zone(&self) -> TimeZone {
        self.zone.clone()
    }
}

/// The zone as the list of the world's zones calls it.
fn zone_name(clock: &StoppedClock) -> String {
    clock.zone.iana_name().unwrap_or("unknown").to_owned()
}
