//! Machine hours per commission, and hours written by hand.

use shared_types::RunMillis;

use crate::app::ports::{Clock, Store};
use crate::app::typed::choose_machine;
use crate::app::typed::dates::Given;
use crate::app::typed::decimals::{self, whole};
use crate::app::typed::error::RequestError;
use crate::app::typed::words::{minutes, per_cent, refused};
use crate::app::whole_book::Book;
use host_core::entries::{EntryBody, EntryId, HandHours};
use host_core::hours::report::HoursReport;
use host_core::sessions::doubtful_runs::{self, DoubtfulRun};
use host_core::sessions::session_list::{self, SessionLine};
use host_core::sessions::typed_doubts::{CountedSessions, TypedDoubt, doubts};
use host_core::stats::{self, MINUTE_MS};

/// The answer of `hours`.
#[derive(Clone, Debug, serde::Serialize)]
pub struct HoursAnswer {
    /// The sums.
    #[serde(flatten)]
    pub hours: HoursReport,
    /// Sessions of which something is counted to nobody, or cannot be counted, the oldest first.
    pub open_sessions: Vec<SessionLine>,
    /// Doubtful running of which the maker is to say whether it was real work, the oldest first.
    pub to_check: Vec<DoubtfulRun>,
    /// The commission to which the answer was narrowed.
    pub only_rug: Option<String>,
    /// Whether nothing was ever entered or pulled.
    #[serde(skip)]
    pub is_empty: bool,
}

/// Adds up all machines, or one machine, or one commission.
///
/// # Errors
/// When there is no such machine or commission, or the store cannot be read.
pub fn report(
    store: &impl Store,
    clock: &impl Clock,
    rug: Option<&str>,
    machine: Option<u32>,
) -> Result<HoursAnswer, RequestError> {
    let book = Book::read(store)?;
    let rug = rug.map(|name| book.studio.rug(name).map(|rug| rug.order.rug.0.clone())).transpose()?;
    let machine = choose_machine::only_machine(&book.studio, machine)?;
    let ledger = book.ledger();
    let mut open_sessions = session_list::all(&book.studio, &ledger, &clock.zone());
    open_sessions.retain(|line| line.is_open() && machine.is_none_or(|tag| line.machine == Some(tag.0)));
    if rug.is_some() {
        open_sessions.clear();
    }
    let mut to_check = doubtful_runs::all(&book.studio, &ledger);
    to_check.retain(|run| {
        run.standing.is_to_check()
            && machine.is_none_or(|tag| run.machine == Some(tag.0))
            && rug.as_deref().is_none_or(|rug| run.rug.as_deref() == Some(rug))
    });
    let hours = HoursReport::of(&book.studio, &ledger, &clock.zone()).narrowed(machine, rug.as_deref());
    Ok(HoursAnswer { hours, open_sessions, to_check, only_rug: rug, is_empty: book.is_empty() })
}

/// The longest that one entry by hand may tell of, in minutes: a day and a night.
const MOST_MINUTES: f64 = 1_440.0;

/// Hours to be entered by hand.
#[derive(Clone, Debug, Default)]
pub struct NewHours {
    /// The machine; none: the only one.
    pub machine: Option<u32>,
    /// Minutes during which the motor ran, as typed.
    pub run_minutes: Option<String>,
    /// Minutes at the frame, as typed.
    pub tufting_minutes: Option<String>,
    /// Where the knob stood, in percent of its travel, as typed.
    pub knob: Option<String>,
    /// The commission.
    pub rug: Option<String>,
    /// When; none: now.
    pub when: Option<Given>,
}

/// What was entered.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Added {
    /// The entry.
    pub entry: EntryId,
    /// Its content.
    pub hours: HandHours,
    /// What is doubtful about it.
    pub doubts: Vec<TypedDoubt>,
}

/// Enters hours by hand, whatever is doubtful about them.
///
/// # Errors
/// When neither kind of minutes is given, one is zero, negative or more than a day, the motor ran longer than the
/// maker stood at the frame, the knob is not 0 to 100 percent, or machine or commission are not clear.
pub fn add_by_hand(store: &mut impl Store, clock: &impl Clock, new: NewHours) -> Result<Added, RequestError> {
    let book = Book::read(store)?;
    let studio = &book.studio;
    let machine = choose_machine::machine(studio, new.machine)?.tag;
    let run_ms = time("the minutes of running", new.run_minutes.as_deref())?;
    let tufting_ms = time("the minutes at the frame", new.tufting_minutes.as_deref())?;
    if run_ms.is_none() && tufting_ms.is_none() {
        return Err(RequestError::OutOfRange {
            what: "one of the minutes of running and the minutes at the frame",
            range: "given",
            given: "left out".to_owned(),
        });
    }
    if let (Some(run), Some(tufting)) = (run_ms, tufting_ms)
        && run > tufting
    {
        return Err(RequestError::OutOfRange {
            what: "the running",
            range: "no longer than the time at the frame",
            given: format!("{} of {} minutes", run / MINUTE_MS, tufting / MINUTE_MS),
        });
    }
    let knob_per_mille = new.knob.as_deref().map(knob).transpose()?;
    let rug = match &new.rug {
        Some(name) => Some(studio.rug(name)?.order.rug.clone()),
        None => None,
    };
    let hours = HandHours {
        machine,
        rug,
        at: new.when.map_or_else(|| clock.now(), |when| when.middle(clock)),
        run: run_ms.map(RunMillis),
        tufting_ms,
        knob_per_mille,
    };
    let counted = CountedSessions::of(&book.ledger(), &clock.zone());
    let doubts = doubts(studio, &counted, &(&hours).into(), false, &clock.zone());
    let entry = store.add_entry(clock.now(), &EntryBody::HandHours(hours.clone()))?;
    Ok(Added { entry, hours, doubts })
}

/// Where the knob stood, in per mille of its travel.
fn knob(typed: &str) -> Result<u16, RequestError> {
    let (what, range) = ("the knob", "0 to 100 percent");
    let percent = per_cent(what, range, (0.0, 100.0), typed).map_err(|error| as_it_stands(error, typed))?;
    u16::try_from(whole(percent * 10.0)).map_err(|_| refused(what, range, typed))
}

/// Minutes, or a length with its unit, in milliseconds.
fn time(what: &'static str, typed: Option<&str>) -> Result<Option<u64>, RequestError> {
    let Some(typed) = typed else { return Ok(None) };
    let range =
        if decimals::read(typed).is_ok() { "1 to 1440" } else { "1 to 1440, or a time like 1h40 or 1:40" };
    let minutes =
        minutes(what, range, (1.0, MOST_MINUTES), typed).map_err(|error| as_it_stands(error, typed))?;
    Ok(Some(whole(minutes * stats::number(MINUTE_MS))))
}

/// A bare number that is refused is shown without quotation marks.
fn as_it_stands(error: RequestError, typed: &str) -> RequestError {
    match error {
        RequestError::OutOfRange { what, range, .. } if decimals::read(typed).is_ok() => {
            RequestError::OutOfRange { what, range, given: typed.trim().to_owned() }
        }
        other => other,
    }
}
