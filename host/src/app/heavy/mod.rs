//! Heavy use: looking, and setting the limits.

use miette::Diagnostic;
use serde::Serialize;
use shared_types::MachineTag;
use thiserror::Error;

use super::ports::{Clock, Store};
use super::typed::choose_machine::{machine as choose, machines};
use super::typed::dates::Given;
use super::typed::decimals::whole;
use super::typed::error::RequestError;
use super::typed::words::{hours, minutes, number, per_cent};
use super::whole_book::Book;
use host_core::entries::{DutyRated, DutyRating, EntryBody, HeavyLimit, HeavyLimitSet};
use host_core::heavy::duty::NotARating;
use host_core::heavy::{HeavyReport, heavy_report};
use host_core::studio::Studio;

/// Why not.
#[derive(Debug, Error, Diagnostic)]
pub enum HeavyError {
    /// Refused for a reason that all subjects share.
    #[error(transparent)]
    #[diagnostic(transparent)]
    Request(RequestError),
    /// Not a duty rating.
    #[error(transparent)]
    #[diagnostic(
        code(heavy::rating),
        help("Copy it from the motor's plate or the machine's manual; `--duty none` takes it back.")
    )]
    Rating(#[from] NotARating),
    /// No limit was given.
    #[error("no limit was given")]
    #[diagnostic(code(heavy::nothing), help("Name at least one; `needlehours heavy set --help` lists them."))]
    NothingToSet,
    /// A limit outside what makes sense.
    #[error("{option} must be a number from {low} to {high}{or_off}, not \"{given}\"")]
    #[diagnostic(code(heavy::limit), help("Correct the value and try again; nothing was changed."))]
    Limit {
        /// The option.
        option: &'static str,
        /// The lowest value.
        low: u32,
        /// The highest value.
        high: u32,
        /// Whether zero is allowed, in words.
        or_off: &'static str,
        /// What was given.
        given: String,
    },
}

impl<E: Into<RequestError>> From<E> for HeavyError {
    fn from(error: E) -> Self {
        Self::Request(error.into())
    }
}

/// Looks at one machine, or at all.
///
/// # Errors
/// When there is no such machine, or the store cannot be read.
pub fn report(
    store: &impl Store,
    clock: &impl Clock,
    machine: Option<u32>,
    since: Option<Given>,
) -> Result<HeavyReport, HeavyError> {
    let book = Book::read(store)?;
    let cards = machines(&book.studio, machine)?;
    let since = since.map(|since| since.start(clock));
    let ledger = book.ledger();
    Ok(heavy_report(&book.entries, &book.studio, &ledger, &cards, since, clock.now(), &clock.zone()))
}

/// Limits as typed.
#[derive(Clone, Debug, Default)]
pub struct LimitsTyped {
    /// The machine's number.
    pub machine: Option<u32>,
    /// Limits with their options and values.
    pub limits: Vec<(HeavyLimit, &'static str, String)>,
    /// The duty rating, or "none".
    pub duty: Option<String>,
}

/// What was set.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LimitsSet {
    /// The machine.
    pub machine: MachineTag,
    /// Limits with their values in the unit of their names; zero is off.
    pub limits: Vec<(HeavyLimit, f64)>,
    /// The rating in force now, where it was set; none was taken back.
    pub duty: Option<Option<DutyRating>>,
}

/// Sets limits; earlier ones stay visible and count no more. Nothing is set when one of them cannot be.
///
/// # Errors
/// When nothing is given, a value cannot be, the machine is not clear, or the store fails.
pub fn set(store: &mut impl Store, clock: &impl Clock, typed: &LimitsTyped) -> Result<LimitsSet, HeavyError> {
    if typed.limits.is_empty() && typed.duty.is_none() {
        return Err(HeavyError::NothingToSet);
    }
    let machine = choose(&Studio::of(&store.entries()?), typed.machine)?.tag;
    let limits = typed
        .limits
        .iter()
        .map(|(limit, option, text)| thousandths(*limit, option, text).map(|value| (*limit, value)))
        .collect::<Result<Vec<_>, _>>()?;
    let duty = match typed.duty.as_deref().map(str::trim) {
        None => None,
        Some(none) if none.eq_ignore_ascii_case("none") => Some(None),
        Some(text) => Some(Some(text.parse::<DutyRating>()?)),
    };
    let limit_set = |&(limit, thousandths): &(HeavyLimit, u32)| {
        EntryBody::HeavyLimitSet(HeavyLimitSet { machine, limit, thousandths })
    };
    let rated = duty.map(|rating| EntryBody::DutyRated(DutyRated { machine, rating }));
    store.add_entries(clock.now(), &limits.iter().map(limit_set).chain(rated).collect::<Vec<_>>())?;
    let shown = |(limit, thousandths): (HeavyLimit, u32)| (limit, f64::from(thousandths) / 1_000.0);
    Ok(LimitsSet { machine, limits: limits.into_iter().map(shown).collect(), duty })
}

/// A value in its unit to thousandths; zero is off where that is allowed.
fn thousandths(limit: HeavyLimit, option: &'static str, text: &str) -> Result<u32, HeavyError> {
    let (low, high) = limit.range();
    let refused = || HeavyError::Limit {
        option,
        low,
        high,
        or_off: if limit.can_be_off() { ", or 0 to switch it off" } else { "" },
        given: text.trim().escape_debug().to_string(),
    };
    let read = match limit {
        HeavyLimit::RunMinutes | HeavyLimit::StretchMinutes | HeavyLimit::WindowMinutes => minutes,
        HeavyLimit::DayHours => hours,
        HeavyLimit::KnobCeilingPercent | HeavyLimit::SlowSharePercent | HeavyLimit::SagPercent => per_cent,
        HeavyLimit::PauseSeconds | HeavyLimit::SlowStrokesPerSecond => number,
    };
    let value = read(option, "a number", (0.0, f64::from(high)), text).map_err(|error| match error {
        RequestError::OutOfRange { .. } => refused(),
        open => open.into(),
    })?;
    let is_off = value == 0.0 && limit.can_be_off();
    if value < f64::from(low) && !is_off {
        return Err(refused());
    }
    u32::try_from(whole(value * 1_000.0)).map_err(|_| refused())
}
