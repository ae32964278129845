//! `worked`.

use std::path::{Path, PathBuf};
use std::process::ExitCode;

use clap::{Args, Subcommand};

use crate::app::hand::People;
use crate::app::ports::book::Names;
use crate::app::ports::{Clock, Store};
use crate::app::sessions::note::{self, SessionReport, SessionSaid, WhenSaid};
use crate::app::sessions::{SessionError, share, table, timer};
use crate::app::typed::choose_machine::{self, MachineSaid};
use crate::app::typed::dates;
use crate::app::typed::measures::{lasting_ms, per_mille};
use crate::app::whole_book::Book;
use crate::cli::shell::command_env::CommandEnv;
use crate::cli::shell::failure::Failure;
use crate::cli::shell::{ask, show, table_file};
use crate::view;
use host_core::sessions::session_list::SessionName;
use host_core::stats::MINUTE_MS;
use host_core::studio::worked::START_RUN_MS_PER_HOUR;

/// Note a session at the frame: needlehours worked 1h40
///
/// A bare time is the time at the frame, as a clock on the wall tells it. The rug is the one on the frame.
#[derive(Debug, Args)]
#[command(args_conflicts_with_subcommands = true)]
pub struct Worked {
    #[command(subcommand)]
    command: Option<WorkedCommand>,
    #[command(flatten)]
    session: Session,
    /// Note all sessions of a notebook: a table with the columns date, frame, motor, knob, rug, who.
    #[arg(long, value_name = "FILE", conflicts_with_all = ["length", "motor", "rug", "who", "knob", "when", "until", "corrects"])]
    table: Option<PathBuf>,
    /// Note it anew in the place of this one, for example e12; what is not said anew stays as it was.
    #[arg(long, value_name = "SESSION")]
    corrects: Option<SessionName>,
    /// One JSON object on standard output and nothing else.
    #[arg(long)]
    json: bool,
}

#[derive(Debug, Args)]
struct Session {
    /// Time at the frame: 1h40, 90 (minutes) or 1.5h.
    #[arg(value_name = "TIME")]
    length: Option<String>,
    /// For how long the motor ran of it; a recording or a second person tells, never a watch in the hand that tufts.
    #[arg(long, value_name = "TIME")]
    motor: Option<String>,
    /// For which rug. Left out: the one on the frame.
    #[arg(long, value_name = "NAME")]
    rug: Option<String>,
    /// Who worked.
    #[arg(long, value_name = "NAME")]
    who: Option<String>,
    /// Where the speed knob stood, 0 (slow end) to 100 per cent.
    #[arg(long, value_name = "PERCENT")]
    knob: Option<String>,
    /// When it began: today, "yesterday 18:30", 2026-03-04. Left out: it has just ended.
    #[arg(long, value_name = "DATE", conflicts_with = "until")]
    when: Option<String>,
    /// When it ended.
    #[arg(long, value_name = "DATE")]
    until: Option<String>,
    /// On which machine; can be left out when there is only one.
    #[arg(long, value_name = "MACHINE")]
    machine: Option<MachineSaid>,
    /// It is right, although it looks as if it was counted already.
    #[arg(long)]
    anyway: bool,
}

#[derive(Debug, Subcommand)]
enum WorkedCommand {
    /// Begin to time a session at the frame.
    Begin(Session),
    /// End the session that goes on; with a time, it took that long.
    Stop(Session),
    /// Say how long the motor runs in an hour at the frame, for example 25min; alone, what holds.
    Share {
        /// The running in an hour.
        #[arg(value_name = "TIME")]
        running: Option<String>,
        /// Only of this machine.
        #[arg(long, value_name = "MACHINE")]
        machine: Option<MachineSaid>,
    },
    /// Write a card for a week to fill in by hand beside the frame.
    Card {
        /// The file to write.
        #[arg(long, value_name = "FILE", default_value = "week-card.html")]
        out: PathBuf,
    },
}

impl Session {
    fn said(&self, store: &impl Store, clock: &impl Clock) -> Result<SessionSaid, SessionError> {
        let length = |text: &Option<String>| text.as_deref().map(lasting_ms).transpose();
        let when = match (&self.when, &self.until) {
            (Some(began), _) => WhenSaid::Began(dates::parse(began, clock)?),
            (None, Some(ended)) => WhenSaid::Ended(dates::parse(ended, clock)?),
            (None, None) => WhenSaid::JustNow,
        };
        Ok(SessionSaid {
            machine: choose_machine::number(store, self.machine.as_ref())?,
            frame_ms: length(&self.length)?,
            motor_ms: length(&self.motor)?,
            rug: self.rug.clone(),
            who: self.who.clone(),
            knob_per_mille: self.knob.as_deref().map(per_mille).transpose()?,
            when,
        })
    }
}

impl Worked {
    /// Runs the command.
    pub fn run(self, around: &CommandEnv) -> Result<ExitCode, Failure> {
        let mut store = around.open_database()?;
        let clock = around.clock();
        let told = match &self.command {
            Some(WorkedCommand::Begin(session)) => {
                let said = session.said(&store, clock)?;
                let begun = timer::begin(&mut store, clock, &said)?;
                show::words(&view::sessions::begun(&begun, &clock.zone()))
            }
            Some(WorkedCommand::Stop(session)) => {
                let said = session.said(&store, clock)?;
                let report = asked(session.anyway, &mut store, |store, anyway| {
                    timer::stop(store, clock, &said, anyway)
                })?;
                show::words(&view::sessions::noted(&report, &clock.zone()))
            }
            Some(WorkedCommand::Share { running, machine }) => {
                let machine = choose_machine::number(&store, machine.as_ref())?;
                share(&mut store, clock, running.as_deref(), machine)
            }
            Some(WorkedCommand::Card { out }) => card(&store, out),
            None => self.note(&mut store, clock),
        };
        told.map(|()| ExitCode::SUCCESS)
    }

    fn note(&self, store: &mut (impl Store + Names), clock: &impl Clock) -> Result<(), Failure> {
        let zone = clock.zone();
        if let Some(file) = &self.table {
            let csv = table_file::read(file)?;
            let machine = choose_machine::number(store, self.session.machine.as_ref())?;
            let report = table::note_all(store, clock, &csv, machine, self.session.anyway)?;
            return show::report(&report, self.json, view::sessions::table_noted);
        }
        let said = self.session.said(store, clock)?;
        let corrected = match self.corrects {
            Some(SessionName::Typed(entry)) => Some(entry),
            Some(counted @ SessionName::Counted { .. }) => return Err(not_corrected(counted)),
            None => None,
        };
        if said.frame_ms.is_none() && said.motor_ms.is_none() && corrected.is_none() {
            return Err(SessionError::NoLength.into());
        }
        if !self.json {
            ask_share(store, clock, &said)?;
        }
        let report = asked(self.session.anyway, store, |store, anyway| match corrected {
            Some(entry) => note::correct(store, clock, entry, &said, anyway),
            None => note::note(store, clock, &said, anyway),
        })?;
        show::report(&report, self.json, |report| view::sessions::noted(report, &zone))
    }
}

fn not_corrected(session: SessionName) -> Failure {
    Failure::bad_input(
        "session::counted",
        format!("session {session} was counted by a logger, and its time stays as it was counted"),
        "Whose it is can be said: needlehours rug assign NAME --session NUMBER. Noise is answered with: needlehours hours check",
    )
}

/// Notes; what is asked about is asked where somebody is there to answer.
fn asked<S: Store>(
    anyway: bool,
    store: &mut S,
    note: impl Fn(&mut S, bool) -> Result<SessionReport, SessionError>,
) -> Result<SessionReport, Failure> {
    match note(store, anyway) {
        Err(doubt @ (SessionError::Doubted(_) | SessionError::Forgotten { .. }))
            if ask::somebody_is_there() =>
        {
            let question = format!("Look: {doubt}. Note it all the same? [y yes, Enter no] ");
            let answer = ask::line(&mut std::io::stdin().lock(), &mut std::io::stdout(), &question);
            if !answer.is_some_and(|answer| answer.to_lowercase().starts_with('y')) {
                return Err(doubt.into());
            }
            store.read_anew();
            Ok(note(store, true)?)
        }
        told => Ok(told?),
    }
}

/// Asks once how long the motor runs at the frame, where the next session needs it and nobody knows.
fn ask_share(store: &mut impl Store, clock: &impl Clock, said: &SessionSaid) -> Result<(), Failure> {
    let is_needed = said.frame_ms.is_some() && said.motor_ms.is_none();
    if !is_needed || !ask::somebody_is_there() {
        return Ok(());
    }
    let book = Book::read(store)?;
    let machine = choose_machine::machine(&book.studio, said.machine).map_err(SessionError::from)?.tag;
    if !share::is_open(&book, machine, &clock.zone()) {
        return Ok(());
    }
    let usual = u64::from(START_RUN_MS_PER_HOUR) / MINUTE_MS;
    let question = format!(
        "In an hour at the frame, for how many minutes does the motor run? 18 to 36 are usual. [Enter: about {usual}, our \
         assumption] "
    );
    let answer =
        ask::line(&mut std::io::stdin().lock(), &mut std::io::stdout(), &question).unwrap_or_default();
    let run_ms = if answer.is_empty() {
        u64::from(START_RUN_MS_PER_HOUR)
    } else {
        lasting_ms(&answer).map_err(SessionError::from)?
    };
    share::set(store, clock, None, run_ms)?;
    Ok(())
}

fn share(
    store: &mut impl Store,
    clock: &impl Clock,
    running: Option<&str>,
    machine: Option<u32>,
) -> Result<(), Failure> {
    let Some(running) = running else {
        let book = Book::read(store)?;
        let cards = choose_machine::machines(&book.studio, machine).map_err(SessionError::from)?;
        let lines =
            cards.iter().map(|card| view::sessions::share(&card.name, book.studio.motor_shares.of(card.tag)));
        return show::words(&lines.collect::<Vec<_>>().join("\n"));
    };
    let run_ms = lasting_ms(running).map_err(SessionError::from)?;
    let set = share::set(store, clock, machine, run_ms)?;
    show::words(&view::sessions::share_set(set.share))
}

fn card(store: &(impl Store + Names), out: &Path) -> Result<(), Failure> {
    let book = Book::read(store)?;
    let page = view::sessions::week_card(&book.studio, &People::read(store)?).html();
    show::file(out, page.as_bytes(), "session::card", "Name a file in a folder that exists with --out.")?;
    show::words(&format!("Written: {}", out.display()))
}
