//! Commissions: taken, begun, rested, ended; and whose the sessions are.

use jiff::civil::Date;
use serde::Serialize;
use shared_types::{MachineTag, RecordSeq, UtcMillis};

use super::commission::Making;
use super::error::RugError;
use super::rename::taken;
use crate::app::hours;
use crate::app::logger::PullReport;
use crate::app::ports::logger_name::{log_name, logger_name};
use crate::app::ports::{Clock, Store};
use crate::app::typed::choose_machine;
use crate::app::typed::dates::Given;
use crate::app::typed::error::RequestError;
use crate::app::typed::measures::checked_sides;
use crate::app::typed::names::checked_name;
use crate::app::whole_book::Book;
use host_core::entries::{
    BurstsAssigned, Certainty, EntryBody, Owner, RugName, RugOrdered, RugWork, SessionAssigned, Style,
    WorkChange,
};
use host_core::hours::report;
use host_core::records::log_records::LogKey;
use host_core::rugs::commission::Commissions;
use host_core::rugs::work_order;
use host_core::sessions::holder;
use host_core::sessions::session_list::{self, PartLine, SessionLine, SessionName, SessionSource};
use host_core::studio::{MachineCard, RugState, Studio};

/// A commission to be entered.
#[derive(Clone, Debug, Default)]
pub struct NewRug {
    /// Its name.
    pub name: String,
    /// Width and height in millimetres.
    pub size_mm: Option<(u32, u32)>,
    /// The piece or roll of cloth.
    pub cloth_lot: Option<String>,
    /// When it was taken; none: now.
    pub at: Option<Given>,
    /// How it is made.
    pub making: Making,
}

/// Enters a commission.
///
/// # Errors
/// When the name is empty, too long or taken, a side is zero or beyond 20 m, the pile or a colour cannot be, or the store
/// fails.
pub fn order(store: &mut impl Store, clock: &impl Clock, new: NewRug) -> Result<RugName, RugError> {
    let name = checked_name("the rug's name", &new.name)?;
    let entries = store.entries()?;
    let rug = RugName(name);
    if let Some(taken) = taken(&entries, &Studio::of(&entries), &rug) {
        return Err(taken);
    }
    checked_sides(new.size_mm)?;
    let cloth_lot = new.cloth_lot.map(|lot| checked_name("the cloth's mark", &lot)).transpose()?;
    let now = clock.now();
    let described = new.making.onto(&rug, None)?;
    let body = EntryBody::RugOrdered(RugOrdered {
        rug: rug.clone(),
        width_mm: new.size_mm.map(|(width, _)| width),
        height_mm: new.size_mm.map(|(_, height)| height),
        cloth_lot,
        at: new.at.map_or(now, |at| at.start(clock)),
    });
    let bodies = [body].into_iter().chain(described.map(EntryBody::RugDescribed));
    store.add_entries(now, &bodies.collect::<Vec<_>>())?;
    Ok(rug)
}

/// What became of a change of work.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct WorkOutcome {
    /// The commission, as it was ordered.
    pub rug: String,
    /// When the change holds from, in milliseconds UTC.
    pub at_utc_ms: i64,
    /// Other commissions that are on the frame at the same time; running then is counted to none of them.
    pub also_on_the_frame: Vec<String>,
    /// Whether it had been finished or delivered before, and is now being worked on again.
    pub is_back: bool,
    /// Whether the same held already at that moment.
    pub held_already: bool,
    /// When its order was written down, in milliseconds UTC, where that is later and the maker did not say when it was
    /// ordered.
    pub ordered_later_utc_ms: Option<i64>,
    /// The machines on which it was started, where all of them are lent out at that moment: what they run then is counted
    /// to no rug.
    pub lent_out: Vec<String>,
}

/// Enters that work on a commission began, rested or ended, or that it was delivered. A day without a time means its
/// beginning for a start and its end for the others. Where there is only one machine, naming it means all.
///
/// # Errors
/// When there is no such commission or machine, the order of things cannot be (see [`work_order::check`]), the maker gave
/// a later date for its order, or the store fails.
pub fn change_work(
    store: &mut impl Store,
    clock: &impl Clock,
    name: &str,
    change: WorkChange,
    machine: Option<u32>,
    at: Option<Given>,
) -> Result<WorkOutcome, RugError> {
    let entries = store.entries()?;
    let studio = Studio::of(&entries);
    let before = studio.rug(name)?;
    let rug = before.order.rug.clone();
    let machine = choose_machine::only_machine(&studio, machine)?.filter(|_| studio.machines.len() > 1);
    let at = at.map_or_else(
        || clock.now(),
        |at| if change == WorkChange::Started { at.start(clock) } else { at.end(clock) },
    );
    work_order::check(before, change, machine, at)?;
    let ordered_later = match change {
        WorkChange::Started => work_order::written_down_later(&entries, before, at)?,
        _ => None,
    };
    let held_already = work_order::held_already(&studio, before, change, machine, at);
    let is_back = change == WorkChange::Started && before.state().is_done();
    let mut bodies = vec![EntryBody::RugWork(RugWork { rug: rug.clone(), machine, change, at })];
    if change == WorkChange::Delivered {
        bodies.extend(hours::left_open(store, &rug)?);
    }
    store.add_entries(clock.now(), &bodies)?;
    let also_on_the_frame = if change == WorkChange::Started {
        let studio = Studio::of(&store.entries()?);
        work_order::at_the_same_time(&studio, studio.rug(name)?, machine, at)
    } else {
        Vec::new()
    };
    let lent_out = if change == WorkChange::Started { lent_out(&studio, machine, at) } else { Vec::new() };
    Ok(WorkOutcome {
        rug: rug.0,
        at_utc_ms: at.0,
        also_on_the_frame,
        is_back,
        held_already,
        ordered_later_utc_ms: ordered_later.map(|ordered| ordered.0),
        lent_out,
    })
}

/// The names of the machines that are meant, if each of them is lent out at a moment; else none.
fn lent_out(studio: &Studio, machine: Option<MachineTag>, at: UtcMillis) -> Vec<String> {
    let is_away =
        |card: &MachineCard| studio.loans.iter().any(|loan| loan.machine == card.tag && loan.covers(at));
    let meant = studio.machines.iter().filter(|card| machine.is_none_or(|tag| tag == card.tag));
    if meant.clone().all(is_away) { meant.map(|card| card.name.clone()).collect() } else { Vec::new() }
}

/// One commission in the list.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct RugLine {
    /// Its name.
    pub rug: String,
    /// The names that it had before.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub former_names: Vec<String>,
    /// How it stands.
    pub state: RugState,
    /// Width in millimetres.
    pub width_mm: Option<u32>,
    /// Height in millimetres.
    pub height_mm: Option<u32>,
    /// The style that was said.
    pub style: Option<Style>,
    /// The piece or roll of cloth.
    pub cloth_lot: Option<String>,
    /// When it was taken, in milliseconds UTC.
    pub ordered_utc_ms: i64,
    /// Machine run time of it on all machines, counted and typed in, in milliseconds.
    pub run_time_ms: u64,
    /// The part of it that was typed in, in milliseconds.
    pub by_hand_run_time_ms: u64,
}

/// The answer of `rug list`.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct RugList {
    /// In the order in which they were taken.
    pub rugs: Vec<RugLine>,
}

/// Lists the commissions.
///
/// # Errors
/// When the store cannot be read.
pub fn list(store: &impl Store, clock: &impl Clock) -> Result<RugList, RequestError> {
    let book = Book::read(store)?;
    let hours = report::HoursReport::of(&book.studio, &book.ledger(), &clock.zone());
    let run_times = hours.run_times();
    let commissions = Commissions::of(&book.entries);
    let entered = |name: &str| {
        let of_rug = hours.all().flat_map(|machine| &machine.rugs).filter(|hours| hours.rug == name);
        of_rug.fold(0, |sum: u64, hours| sum.saturating_add(hours.entered.run_time_ms))
    };
    let rugs = book.studio.rugs.iter().map(|rug| {
        let order = &rug.order;
        RugLine {
            rug: order.rug.0.clone(),
            former_names: rug.former_names.iter().map(|name| name.0.clone()).collect(),
            state: rug.state(),
            width_mm: order.width_mm,
            height_mm: order.height_mm,
            cloth_lot: order.cloth_lot.clone(),
            ordered_utc_ms: order.at.0,
            style: commissions.described(&order.rug).and_then(|described| described.style),
            run_time_ms: run_times.get(order.rug.0.as_str()).copied().unwrap_or(0),
            by_hand_run_time_ms: entered(&order.rug.0),
        }
    });
    Ok(RugList { rugs: rugs.collect() })
}

/// The answer of `rug sessions`.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct SessionList {
    /// The oldest first.
    pub sessions: Vec<SessionLine>,
    /// Whether no machine has a logger board.
    pub is_without_logger: bool,
}

/// Which sessions are meant; everything that is given must fit.
#[derive(Clone, Debug, Default)]
pub struct Choice {
    /// These numbers; none: all.
    pub named: Vec<SessionName>,
    /// Only those of this local day.
    pub day: Option<Date>,
    /// Only those of which something is counted to this commission.
    pub rug: Option<String>,
    /// Only those of which something is counted to nobody, or cannot be counted.
    pub open: bool,
    /// Only those of which something is assumed.
    pub assumed: bool,
}

/// Lists the sessions that fit.
///
/// # Errors
/// When a named session or commission does not exist, or the store cannot be read.
pub fn sessions(
    store: &impl Store,
    clock: &impl Clock,
    choice: &Choice,
) -> Result<SessionList, RequestError> {
    let book = Book::read(store)?;
    let is_without_logger = book.studio.are_without_logger(&book.studio.machines);
    Ok(SessionList { sessions: choose_sessions(&book, clock, choice)?, is_without_logger })
}

/// The sessions to which a pull brought something new, the oldest first.
///
/// # Errors
/// When the store cannot be read.
pub fn sessions_of_pull(
    store: &impl Store,
    clock: &impl Clock,
    report: &PullReport,
) -> Result<Vec<SessionLine>, RequestError> {
    let Some(from) = report.new_from else { return Ok(Vec::new()) };
    let mut lines = choose_sessions(&Book::read(store)?, clock, &Choice::default())?;
    lines.retain(|line| {
        let SessionSource::Counted(records) = &line.source else { return false };
        records.last >= from
            && logger_name(records.log.logger) == report.logger
            && log_name(records.log.log) == report.log
    });
    Ok(lines)
}

fn choose_sessions(
    book: &Book,
    clock: &impl Clock,
    choice: &Choice,
) -> Result<Vec<SessionLine>, RequestError> {
    let all = session_list::all(&book.studio, &book.ledger(), &clock.zone());
    let rug = match &choice.rug {
        Some(name) => Some(book.studio.rug(name)?.order.rug.0.clone()),
        None => None,
    };
    let mut chosen: Vec<SessionLine> = if choice.named.is_empty() {
        all
    } else {
        choice.named.iter().map(|name| only_one(&all, *name)).collect::<Result<_, _>>()?
    };
    chosen.retain(|line| {
        choice.day.is_none_or(|day| line.day == Some(day))
            && rug.as_ref().is_none_or(|rug| line.parts.iter().any(|part| part.rug.as_ref() == Some(rug)))
            && (!choice.open || line.is_open())
            && (!choice.assumed || line.is_assumed())
    });
    Ok(chosen)
}

fn only_one(all: &[SessionLine], asked: SessionName) -> Result<SessionLine, RequestError> {
    let found: Vec<&SessionLine> = session_list::named(all, asked).collect();
    match found.as_slice() {
        [] => Err(RequestError::UnknownSession(asked)),
        [one] => Ok((*one).clone()),
        several => Err(RequestError::SeveralSessions {
            asked,
            known: several.iter().map(|line| line.session).collect(),
        }),
    }
}

/// What was moved or confirmed.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Assigned {
    /// How many sessions it touched.
    pub sessions: usize,
    /// Machine run time in them, in milliseconds.
    pub run_time_ms: u64,
}

/// Gives whole sessions to a commission, to care, or back to nobody. With `open`, only the stretches that are counted
/// to nobody or cannot be counted.
///
/// # Errors
/// When the commission or a session does not exist, or none fits; then nothing was changed.
pub fn assign(
    store: &mut impl Store,
    clock: &impl Clock,
    owner: Owner,
    choice: &Choice,
) -> Result<Assigned, RequestError> {
    let book = Book::read(store)?;
    let owner = match owner {
        Owner::Rug(name) => Owner::Rug(book.studio.rug(&name.0)?.order.rug.clone()),
        other => other,
    };
    let chosen = choose_sessions(&book, clock, choice)?;
    if chosen.is_empty() {
        return Err(RequestError::NoSession("none is left to assign"));
    }
    let mut outcome = Assigned { sessions: chosen.len(), run_time_ms: 0 };
    let mut bodies = Vec::new();
    for line in &chosen {
        let body = |from, to| given(line, (from, to), owner.clone(), Certainty::Explicit);
        if choice.open {
            for part in line.parts.iter().filter(|part| part.is_open()) {
                bodies.push(body(part.first, part.last));
                outcome.run_time_ms += part.run_time_ms;
            }
        } else {
            bodies.extend(line.stretches().into_iter().map(|(first, last)| body(first, last)));
            outcome.run_time_ms += line.run_time_ms;
        }
    }
    store.add_entries(clock.now(), &bodies)?;
    Ok(outcome)
}

/// The entry that gives a stretch of a session to somebody; of one that was typed in, all of it.
fn given(
    line: &SessionLine,
    (from, to): (RecordSeq, RecordSeq),
    owner: Owner,
    certainty: Certainty,
) -> EntryBody {
    match &line.source {
        SessionSource::TypedIn(session) => {
            EntryBody::SessionAssigned(SessionAssigned { session: *session, owner, certainty })
        }
        SessionSource::Counted(records) => {
            let LogKey { logger, log } = records.log;
            EntryBody::BurstsAssigned(BurstsAssigned { logger, log, from, to, owner, certainty })
        }
    }
}

/// Says yes to what was assumed in the sessions that fit.
///
/// # Errors
/// When a session or commission does not exist, or nothing in them is assumed; then nothing was changed.
pub fn confirm(
    store: &mut impl Store,
    clock: &impl Clock,
    choice: &Choice,
) -> Result<Assigned, RequestError> {
    let book = Book::read(store)?;
    let mut chosen = choose_sessions(&book, clock, choice)?;
    chosen.retain(SessionLine::is_assumed);
    if chosen.is_empty() {
        return Err(RequestError::NoSession("nothing in them is waiting for a yes"));
    }
    let mut outcome = Assigned { sessions: chosen.len(), run_time_ms: 0 };
    let mut bodies = Vec::new();
    for line in &chosen {
        for part in &line.parts {
            let Some(rug) = part.rug.clone().filter(|_| part.because == holder::Basis::Assumed) else {
                continue;
            };
            let owner = Owner::Rug(RugName(rug));
            bodies.push(given(line, (part.first, part.last), owner, Certainty::Confirmed));
            outcome.run_time_ms += part.run_time_ms;
        }
    }
    store.add_entries(clock.now(), &bodies)?;
    Ok(outcome)
}

/// What is open in some sessions: assumed to be of one rug, or of nobody.
#[derive(Clone, Copy, Debug)]
pub struct PartsMeant<'a> {
    /// The sessions.
    pub sessions: &'a [SessionName],
    /// The rug to which the parts are counted; none: those of nobody.
    pub rug: Option<&'a str>,
}

/// Says yes to the parts that are meant, or gives them to somebody else. What else is in their sessions stays as it is.
///
/// # Errors
/// When a session or the other rug does not exist, nothing of them is open, or the store fails; then nothing was changed.
pub fn settle(
    store: &mut impl Store,
    clock: &impl Clock,
    meant: &[PartsMeant<'_>],
    other: Option<Owner>,
) -> Result<Assigned, RequestError> {
    let book = Book::read(store)?;
    let other = match other {
        Some(Owner::Rug(name)) => Some(Owner::Rug(book.studio.rug(&name.0)?.order.rug.clone())),
        other => other,
    };
    let (mut outcome, mut bodies) = (Assigned { sessions: 0, run_time_ms: 0 }, Vec::new());
    for one in meant {
        let choice = Choice { named: one.sessions.to_vec(), ..Choice::default() };
        for line in choose_sessions(&book, clock, &choice)? {
            let is_meant =
                |part: &&PartLine| part.rug.as_deref() == one.rug && (part.is_assumed() || part.is_open());
            let before = bodies.len();
            for part in line.parts.iter().filter(is_meant) {
                let (owner, certainty) = match (&other, &part.rug) {
                    (Some(other), _) => (other.clone(), Certainty::Explicit),
                    (None, Some(rug)) => (Owner::Rug(RugName(rug.clone())), Certainty::Confirmed),
                    (None, None) => continue,
                };
                bodies.push(given(&line, (part.first, part.last), owner, certainty));
                outcome.run_time_ms = outcome.run_time_ms.saturating_add(part.run_time_ms);
            }
            outcome.sessions += usize::from(bodies.len() > before);
        }
    }
    if bodies.is_empty() {
        return Err(RequestError::NoSession("nothing in them is waiting for an answer"));
    }
    store.add_entries(clock.now(), &bodies)?;
    Ok(outcome)
}
