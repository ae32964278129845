//! The hand's daily vibration exposure: from a table of a day, or from the log and a figure that the maker entered.

use std::collections::{BTreeMap, BTreeSet};

use jiff::civil::Date;
use serde::Serialize;
use shared_types::MachineTag;

use super::day_table;
use super::error::HandError;
use super::people::People;
use crate::app::ports::book::Names;
use crate::app::ports::{Clock, Store};
use crate::app::typed::choose_machine::{machine as choose, machines};
use crate::app::typed::error::RequestError;
use crate::app::typed::words::{number, refused};
use crate::app::whole_book::Book;
use host_core::entries::{
    EntryBody, EntryId, FigureSource, InForce, PersonTag, VibrationFigure, day_as_text,
};
use host_core::hand::vibration::{DailyExposure, MOST_VIBRATION_M_S2, ToolUse, Vibration, daily_exposure};
use host_core::heavy::days::{RunDays, run_days, run_days_of};
use host_core::sessions::hands::Hands;
use host_core::stats::{MINUTE_MS, number as milliseconds};
use host_core::studio::Studio;

/// The answer of `exposure --table`.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct TableAnswer {
    /// The day.
    #[serde(flatten)]
    pub exposure: DailyExposure,
    /// What it is.
    pub is_estimate: bool,
}

/// The exposure of a day that is written in a table.
///
/// # Errors
/// When the table cannot be used or holds more than a day.
pub fn of_table(csv: &[u8]) -> Result<TableAnswer, HandError> {
    Ok(TableAnswer { exposure: daily_exposure(&day_table::read(csv)?)?, is_estimate: true })
}

/// A machine and its figure.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct MachineFigure {
    /// Its number.
    pub machine: MachineTag,
    /// Its name.
    pub machine_name: String,
    /// The figure, in m/s²; none was entered.
    pub a_hv_m_s2: Option<f64>,
    /// Where it comes from.
    pub source: Option<FigureSource>,
    /// Run time of which the day is not known, in milliseconds; in no day's dose.
    pub day_unknown_run_time_ms: u64,
    /// The part of its running that was typed in, in milliseconds.
    pub entered_run_time_ms: u64,
}

/// One machine on one day.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct DayMachine {
    /// Its number.
    pub machine: MachineTag,
    /// Motor moving, in milliseconds.
    pub run_time_ms: u64,
}

/// One local day.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ExposureDay {
    /// The day.
    #[serde(serialize_with = "day_as_text")]
    pub day: Option<Date>,
    /// The machines that ran.
    pub machines: Vec<DayMachine>,
    /// The exposure of one person who held all of them; none where a machine that ran has no figure.
    pub exposure: Option<DailyExposure>,
    /// The same for each person, and for what nobody was named for.
    pub people: Vec<PersonDay>,
}

/// One person on one day.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PersonDay {
    /// The person's number; none: it was not said who it was.
    pub person: Option<PersonTag>,
    /// The name; none where it was erased, or nobody was named.
    pub name: Option<String>,
    /// The machines that ran in these hands.
    pub machines: Vec<DayMachine>,
    /// The exposure; none where a machine that ran has no figure. Where nobody was named, as if it had been one person.
    pub exposure: Option<DailyExposure>,
}

/// The answer of `exposure` from the log.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LogAnswer {
    /// The machines.
    pub machines: Vec<MachineFigure>,
    /// The days on which they ran, the oldest first.
    pub days: Vec<ExposureDay>,
    /// Whether none of the machines has a logger board.
    pub is_without_logger: bool,
    /// Whether it was ever said who works.
    pub is_anybody_named: bool,
    /// What it is.
    pub is_estimate: bool,
}

/// A figure as typed.
///
/// # Errors
/// When it is no number from 0 to 1000.
fn figure(text: &str) -> Result<Vibration, RequestError> {
    let (what, range) = ("the vibration figure in m/s²", "a number from 0 to 1000");
    let typed = number(what, range, (0.0, MOST_VIBRATION_M_S2), text)?;
    Vibration::new(typed).ok_or_else(|| refused(what, range, text))
}

/// The exposure day by day: as if one person had held the machine, or all machines, all the time, and person by person as far
/// as it was said who worked. `typed` is used instead of the figure that was entered, and needs one machine.
///
/// # Errors
/// When the machine is not clear, the figure is none, or the store fails.
pub fn of_log(
    store: &(impl Store + Names),
    clock: &impl Clock,
    machine: Option<u32>,
    typed: Option<&str>,
) -> Result<LogAnswer, HandError> {
    let book = Book::read(store)?;
    let entries = &book.entries;
    let (hands, people) = (Hands::of(entries), People::read(store)?);
    let figure_typed = typed.map(figure).transpose()?;
    let one = machine.is_some() || figure_typed.is_some();
    let cards = if one { vec![choose(&book.studio, machine)?] } else { machines(&book.studio, None)? };
    let is_without_logger = book.studio.are_without_logger(cards.iter().copied());
    let (ledger, zone) = (book.ledger(), clock.zone());
    let mut figures = Vec::new();
    let mut ran: Ran = BTreeMap::new();
    let mut by_person: BTreeMap<Option<PersonTag>, Ran> = BTreeMap::new();
    for card in cards {
        let entered = entered(entries, card.tag);
        let typed = || book.studio.worked.iter().filter(|session| session.said.machine == card.tag);
        let days = run_days(&ledger, card.tag, &zone, |_| true).with_typed(typed(), &zone);
        let vibration = figure_typed.or_else(|| entered.and_then(|entered| entered.vibration()));
        figures.push(MachineFigure {
            machine: card.tag,
            machine_name: card.name.clone(),
            a_hv_m_s2: vibration.map(Vibration::m_s2),
            source: if figure_typed.is_some() {
                Some(FigureSource::NotSaid)
            } else {
                entered.map(|entered| entered.source)
            },
            day_unknown_run_time_ms: days.day_unknown_ms,
            entered_run_time_ms: days.entered_ms,
        });
        ran.insert(card.tag, (days, vibration));
        let people = people.people.iter().map(|known| Some(known.person)).chain([None]);
        for person in people {
            let days = run_days_of(&ledger, card.tag, &zone, |log, line| {
                hands.person(card.tag, log.facts.key, line.burst.first, line.when) == person
            });
            let theirs = typed().filter(|session| hands.of_session(session) == person);
            let days = days.with_typed(theirs, &zone);
            by_person.entry(person).or_default().insert(card.tag, (days, vibration));
        }
    }
    let dates: BTreeSet<Date> = ran.values().flat_map(|(days, _)| days.by_day.keys().copied()).collect();
    let days = dates.into_iter().map(|date| {
        let (machines, exposure) = day(date, &ran);
        let of_people = by_person.iter().map(|(person, ran)| {
            let (machines, exposure) = day(date, ran);
            let known = people.people.iter().find(|known| Some(known.person) == *person);
            PersonDay {
                person: *person,
                name: known.and_then(|known| known.name.clone()),
                machines,
                exposure,
            }
        });
        let mut of_people: Vec<PersonDay> = of_people.filter(|day| !day.machines.is_empty()).collect();
        // People in the order of their numbers, and last what nobody was named for.
        of_people.sort_by_key(|day| (day.person.is_none(), day.person));
        ExposureDay { day: Some(date), machines, exposure, people: of_people }
    });
    let days = days.collect();
    let is_named = book.studio.worked.iter().any(|session| session.said.person.is_some());
    Ok(LogAnswer {
        machines: figures,
        days,
        is_without_logger,
        is_anybody_named: !hands.is_empty() || is_named,
        is_estimate: true,
    })
}

/// Run time by day and the figure, machine by machine.
type Ran = BTreeMap<MachineTag, (RunDays, Option<Vibration>)>;

fn day(date: Date, ran: &Ran) -> (Vec<DayMachine>, Option<DailyExposure>) {
    let mut machines = Vec::new();
    let mut tools = Some(Vec::new());
    for (machine, (days, vibration)) in ran {
        let Some(run_time_ms) = days.by_day.get(&date).copied() else { continue };
        machines.push(DayMachine { machine: *machine, run_time_ms });
        tools = tools.zip(*vibration).map(|(mut tools, vibration)| {
            tools.push(ToolUse { vibration, minutes: milliseconds(run_time_ms) / milliseconds(MINUTE_MS) });
            tools
        });
    }
    // Two machines at once can run for more than a day in a day; then it was not one person, and there is no dose.
    let exposure = tools.and_then(|tools| daily_exposure(&tools).ok());
    (machines, exposure)
}

/// The figure that was last entered for a machine.
fn entered(entries: &InForce<'_>, machine: MachineTag) -> Option<VibrationFigure> {
    entries.iter().rev().find_map(|entry| match &entry.body {
        EntryBody::VibrationFigure(figure) if figure.machine == machine => Some(*figure),
        _ => None,
    })
}

/// Enters a machine's vibration figure; an earlier one stays visible and counts no more.
///
/// # Errors
/// When the figure is none, the machine is not clear, or the store fails.
pub fn enter(
    store: &mut impl Store,
    clock: &impl Clock,
    machine: Option<u32>,
    typed: &str,
    source: FigureSource,
) -> Result<(EntryId, VibrationFigure), RequestError> {
    let vibration = figure(typed)?;
    let machine = choose(&Studio::of(&store.entries()?), machine)?.tag;
    let entered = VibrationFigure { machine, a_hv_mm_s2: thousandths(vibration.m_s2()), source };
    let entry = store.add_entry(clock.now(), &EntryBody::VibrationFigure(entered))?;
    Ok((entry, entered))
}

#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "0 to 1000 was checked before")]
fn thousandths(m_s2: f64) -> u32 {
    (m_s2 * 1_000.0).round() as u32
}
