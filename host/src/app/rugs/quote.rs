//! What will a rug take? From own finished rugs, else from a timed sample square.

use serde::Serialize;
use shared_types::{RunMillis, UtcMillis};

use crate::app::money::MoneyError;
use crate::app::ports::{Clock, Store};
use crate::app::typed::choose_machine::machine as choose;
use crate::app::typed::decimals::whole;
use crate::app::typed::error::RequestError;
use crate::app::typed::words::{minutes, number, refused, share};
use crate::app::whole_book::Book;
use host_core::entries::amount::Money;
use host_core::entries::{EntryBody, EntryId, InForce, SampleSquare, Style};
use host_core::money::entered;
use host_core::rugs::commission::Commissions;
use host_core::rugs::own_rugs::own_rugs;
use host_core::rugs::quote::{Quote, Wanted, quote, samples};
use host_core::stats::{self, Level, MINUTE_MS};
use host_core::studio::Studio;

/// The longest side, in millimetres.
const LONGEST_SIDE_MM: u32 = 20_000;
/// The longest side of a sample square, in millimetres.
const LONGEST_SAMPLE_MM: u32 = 2_000;
/// The most colours that a design is believed to have.
const MOST_COLOURS: u32 = 1_000;
/// The longest that a sample square takes, in minutes.
const MOST_SAMPLE_MINUTES: f64 = 1_440.0;
/// More strokes than a machine makes in a day.
const MOST_SAMPLE_STROKES: f64 = 10_000_000.0;

/// What is asked, as typed.
#[derive(Clone, Debug)]
pub struct QuoteAsked {
    /// Width and height in millimetres.
    pub size_mm: (u32, u32),
    /// The style.
    pub style: Option<Style>,
    /// Colours.
    pub colours: Option<u32>,
    /// How sure the range is to hold the next rug.
    pub level: Level,
    /// The machine whose hours are priced; none: the only one.
    pub machine: Option<u32>,
    /// What an hour at the frame costs, as typed; none: what was kept for labour.
    pub wage: Option<String>,
}

/// The answer of `quote`.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct QuoteAnswer {
    /// The quote.
    #[serde(flatten)]
    pub quote: Quote,
    /// Finished rugs that cannot be used: no size, no recorded running, or running written by hand.
    pub own_rugs_left_out: u64,
    /// What the cost leaves out.
    pub cost_leaves_out: &'static str,
    /// The currency of all amounts, as the maker writes it; none: not said.
    pub currency: Option<String>,
    /// Whether there are several machines and none was named, so that no machine hour has a price.
    pub is_machine_open: bool,
}

/// What the cost never holds.
pub const LEFT_OUT: &str = "yarn, cloth and glue; designing, stretching, tracing, gluing, drying, shearing, backing; doing over what went wrong";

/// Works a quote out.
///
/// # Errors
/// When a value cannot be, a machine is named that there is not, or the store fails.
pub fn ask(store: &impl Store, clock: &impl Clock, asked: &QuoteAsked) -> Result<QuoteAnswer, MoneyError> {
    let (width_mm, height_mm) = checked_size(asked.size_mm, LONGEST_SIDE_MM)?;
    let book = Book::read(store)?;
    let entries = &book.entries;
    let commissions = Commissions::of(entries);
    let wage = match &asked.wage {
        None => commissions.terms.wage_per_hour,
        Some(text) => {
            Some(Money::parse(text).map_err(|problem| MoneyError::Amount { option: "--wage", problem })?)
        }
    };
    let wanted = Wanted {
        width_mm,
        height_mm,
        style: asked.style,
        colours: asked.colours,
        level: asked.level,
        machine_hour_rate: machine_rate(entries, &book.studio, asked.machine)?,
        tufting_hour_wage: wage.map(Money::units),
    };
    let own = own_rugs(&book.studio, &commissions, &book.ledger(), &clock.zone());
    let samples = samples(entries);
    Ok(QuoteAnswer {
        quote: quote(&wanted, &own.rugs, &samples),
        own_rugs_left_out: own.left_out,
        cost_leaves_out: LEFT_OUT,
        currency: commissions.terms.currency,
        is_machine_open: asked.machine.is_none() && book.studio.machines.len() > 1,
    })
}

/// A number of colours as typed.
///
/// # Errors
/// When it is no whole number from 1 to 1000.
pub fn colours(text: &str) -> Result<u32, RequestError> {
    let typed = text.trim().parse().ok().filter(|colours| (1..=MOST_COLOURS).contains(colours));
    typed.ok_or_else(|| refused("the number of colours", "a whole number from 1 to 1000", text))
}

/// How sure a range is to be, as typed.
///
/// # Errors
/// When it is no share above 0 and below 1.
pub fn level(text: &str) -> Result<Level, RequestError> {
    let level = share(text).and_then(Level::new);
    level.ok_or_else(|| refused("how sure the range is to be", "a share above 0 and below 1, like 0.8", text))
}

/// The rate of the named machine, or of the only one; none where nothing was entered.
fn machine_rate(
    entries: &InForce<'_>,
    studio: &Studio,
    machine: Option<u32>,
) -> Result<Option<f64>, MoneyError> {
    let card = match choose(studio, machine) {
        Ok(card) => card,
        Err(RequestError::SeveralMachines { .. } | RequestError::NoMachine) if machine.is_none() => {
            return Ok(None);
        }
        Err(refused) => return Err(refused.into()),
    };
    let rate = entered(entries, card.tag).map(|basis| basis.rate()).transpose()?;
    Ok(rate.map(|rate| rate.machine_hour_rate))
}

/// A sample square as typed.
#[derive(Clone, Debug)]
pub struct SampleTyped {
    /// Width and height in millimetres.
    pub size_mm: (u32, u32),
    /// The style.
    pub style: Option<Style>,
    /// Minutes during which the motor ran.
    pub run_minutes: String,
    /// Minutes at the frame.
    pub tufting_minutes: Option<String>,
    /// Strokes.
    pub strokes: Option<String>,
}

/// Enters a sample square.
///
/// # Errors
/// When a value cannot be, or the store fails.
pub fn enter_sample(
    store: &mut impl Store,
    clock: &impl Clock,
    typed: &SampleTyped,
) -> Result<(EntryId, SampleSquare), RequestError> {
    let sample = sample(typed, clock.now())?;
    let entry = store.add_entry(clock.now(), &EntryBody::SampleSquare(sample.clone()))?;
    Ok((entry, sample))
}

fn sample(typed: &SampleTyped, at: UtcMillis) -> Result<SampleSquare, RequestError> {
    let (width_mm, height_mm) = checked_size(typed.size_mm, LONGEST_SAMPLE_MM)?;
    let time = |what, text: &str| {
        let range = "more than 0 and up to 1440";
        let ms = whole(minutes(what, range, (0.0, MOST_SAMPLE_MINUTES), text)? * stats::number(MINUTE_MS));
        if ms == 0 { Err(refused(what, range, text)) } else { Ok(ms) }
    };
    let run_ms = time("the minutes of running", &typed.run_minutes)?;
    let tufting_ms =
        typed.tufting_minutes.as_deref().map(|text| time("the minutes at the frame", text)).transpose()?;
    if tufting_ms.is_some_and(|tufting_ms| tufting_ms < run_ms) {
        return Err(RequestError::OutOfRange {
            what: "the running",
            range: "no longer than the time at the frame",
            given: format!("{} minutes", typed.run_minutes.trim()),
        });
    }
    let strokes = match &typed.strokes {
        None => None,
        Some(text) => {
            let (what, range) = ("the strokes", "a whole number from 1 to 10000000");
            let strokes = number(what, range, (1.0, MOST_SAMPLE_STROKES), text)?;
            if strokes.fract() != 0.0 {
                return Err(refused(what, range, text));
            }
            Some(whole(strokes))
        }
    };
    let style = typed.style;
    Ok(SampleSquare { style, width_mm, height_mm, run: RunMillis(run_ms), strokes, tufting_ms, at })
}

fn checked_size((width, height): (u32, u32), longest_mm: u32) -> Result<(u32, u32), RequestError> {
    for side in [width, height] {
        if !(1..=longest_mm).contains(&side) {
            let range = if longest_mm == LONGEST_SIDE_MM { "1 mm to 20 m" } else { "1 mm to 2 m" };
            return Err(RequestError::OutOfRange { what: "each side", range, given: format!("{side} mm") });
        }
    }
    Ok((width, height))
}
