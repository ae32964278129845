//! What will a rug of this size take? From the maker's own finished rugs, else from a timed sample square, else no answer.
//!
//! Strokes, run time and tufting time per area are taken as log-normal from rug to rug. With four own rugs or more the
//! range is a prediction interval for the next one; a sample square gives a number without a range.

use serde::Serialize;

use crate::entries::{Entry, EntryBody, InForce, Pile, SampleSquare, Style};
use crate::stats::{Estimate, HOUR_MS, LEAST_VALUES, Level, held_when_left_out, next_value, number};

const MM2_PER_M2: f64 = 1_000_000.0;
/// A rug more than this many times larger or smaller than any own rug is outside what the maker has done.
const OUTSIDE_OWN_SIZES: f64 = 2.0;

impl Style {
    /// The style that a machine makes; none where it can make either, for then the rug has to say it.
    #[must_use]
    pub const fn of(pile: Pile) -> Option<Self> {
        match pile {
            Pile::Cut => Some(Self::Cut),
            Pile::Loop => Some(Self::Loop),
            Pile::CutAndLoop => None,
        }
    }
}

impl SampleSquare {
    /// Its area in square millimetres.
    #[must_use]
    pub fn area_mm2(&self) -> u64 {
        u64::from(self.width_mm) * u64::from(self.height_mm)
    }
}

/// An own finished rug.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct OwnRug {
    /// Its area in square millimetres, above zero.
    pub area_mm2: u64,
    /// How its pile was made, where its machines make only one.
    pub style: Option<Style>,
    /// Motor moving, in milliseconds.
    pub run_ms: u64,
    /// Whole strokes; none where some of it was typed in.
    pub strokes: Option<u64>,
    /// At the frame, in milliseconds; none where some session's length is not known.
    pub tufting_ms: Option<u64>,
}

/// What is asked.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Wanted {
    /// Width in millimetres, above zero.
    pub width_mm: u32,
    /// Height in millimetres, above zero.
    pub height_mm: u32,
    /// Only from rugs and samples of this style.
    pub style: Option<Style>,
    /// Colours in the design.
    pub colours: Option<u32>,
    /// How sure the range is to hold the next rug.
    pub level: Level,
    /// What an hour of running costs, in currency units.
    pub machine_hour_rate: Option<f64>,
    /// What an hour at the frame costs, in currency units.
    pub tufting_hour_wage: Option<f64>,
}

/// From what a quote follows.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Basis {
    /// At least four own finished rugs.
    OwnRugs,
    /// Timed sample squares.
    SampleSquare,
    /// Nothing; there is no quote.
    None,
}

/// How the range did on the own rugs, each foretold from the others.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct OwnCheck {
    /// Rugs whose run time lay in the range that the others gave.
    pub held: u64,
    /// Rugs that were foretold.
    pub of: u64,
}

/// The answer of `quote`.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Quote {
    /// Width in millimetres.
    pub width_mm: u32,
    /// Height in millimetres.
    pub height_mm: u32,
    /// Area in square metres.
    pub area_m2: f64,
    /// The style asked for.
    pub style: Option<Style>,
    /// Colours in the design. They change tufting time; rugs are not told apart by them here.
    pub colours: Option<u32>,
    /// From what it follows.
    pub basis: Basis,
    /// Own rugs behind it, or that there are while it takes [`LEAST_VALUES`].
    pub own_rugs: u64,
    /// Own rugs that it takes at least.
    pub own_rugs_needed: u64,
    /// Sample squares behind it.
    pub sample_squares: u64,
    /// How sure the range is to hold the next rug; none without a range.
    pub level: Option<f64>,
    /// Whether the size is far from any own rug.
    pub is_outside_own_sizes: bool,
    /// Hours of running.
    pub run_hours: Estimate,
    /// Hours at the frame.
    pub tufting_hours: Estimate,
    /// Strokes.
    pub strokes: Estimate,
    /// What an hour of running costs, in currency units.
    pub machine_hour_rate: Option<f64>,
    /// What an hour at the frame costs, in currency units.
    pub tufting_hour_wage: Option<f64>,
    /// Cost in currency units of the hours whose price is known; none where no price is.
    pub cost: Estimate,
    /// How the range did on the own rugs; none where too few are left when one is taken out.
    pub checked_on_own_rugs: Option<OwnCheck>,
}

/// The sample squares that were entered.
#[must_use]
pub fn samples(entries: &InForce<'_>) -> Vec<SampleSquare> {
    let sample = |entry: &Entry| match &entry.body {
        EntryBody::SampleSquare(sample) => Some(sample.clone()),
        _ => None,
    };
    entries.iter().filter_map(sample).collect()
}

/// Works a quote out. `rugs` and `samples` may be of any style.
#[must_use]
pub fn quote(wanted: &Wanted, rugs: &[OwnRug], samples: &[SampleSquare]) -> Quote {
    let fits = |style: Option<Style>| wanted.style.is_none() || style == wanted.style;
    let rugs: Vec<&OwnRug> =
        rugs.iter().filter(|rug| fits(rug.style) && rug.area_mm2 > 0 && rug.run_ms > 0).collect();
    let samples: Vec<&SampleSquare> = samples
        .iter()
        .filter(|sample| fits(sample.style) && sample.area_mm2() > 0 && sample.run.0 > 0)
        .collect();
    let area_mm2 = number(u64::from(wanted.width_mm) * u64::from(wanted.height_mm));
    let mut quote = Quote {
        width_mm: wanted.width_mm,
        height_mm: wanted.height_mm,
        area_m2: area_mm2 / MM2_PER_M2,
        style: wanted.style,
        colours: wanted.colours,
        basis: Basis::None,
        own_rugs: count(rugs.len()),
        own_rugs_needed: count(LEAST_VALUES),
        sample_squares: 0,
        level: None,
        is_outside_own_sizes: false,
        run_hours: Estimate::default(),
        tufting_hours: Estimate::default(),
        strokes: Estimate::default(),
        machine_hour_rate: wanted.machine_hour_rate,
        tufting_hour_wage: wanted.tufting_hour_wage,
        cost: Estimate::default(),
        checked_on_own_rugs: None,
    };
    if rugs.len() >= LEAST_VALUES {
        from_rugs(&mut quote, &rugs, wanted.level, area_mm2);
    } else if !samples.is_empty() {
        from_samples(&mut quote, &samples, area_mm2);
    }
    quote.cost = cost(&quote);
    quote
}

fn from_rugs(quote: &mut Quote, rugs: &[&OwnRug], level: Level, area_mm2: f64) {
    let per_area = |take: fn(&OwnRug) -> Option<u64>| -> Option<Vec<f64>> {
        rugs.iter().map(|rug| take(rug).map(|value| number(value) / number(rug.area_mm2))).collect()
    };
    let predicted = |values: Option<Vec<f64>>, factor: f64| {
        values
            .and_then(|values| next_value(&values, level))
            .map_or_else(Estimate::default, |next| next.times(factor))
    };
    let run = per_area(|rug| Some(rug.run_ms));
    quote.basis = Basis::OwnRugs;
    quote.level = Some(level.share());
    quote.checked_on_own_rugs = run.as_deref().and_then(|run| check(run, level));
    quote.run_hours = predicted(run, area_mm2 / number(HOUR_MS));
    quote.tufting_hours = predicted(per_area(|rug| rug.tufting_ms), area_mm2 / number(HOUR_MS));
    quote.strokes = predicted(per_area(|rug| rug.strokes), area_mm2);
    quote.is_outside_own_sizes = rugs.iter().all(|rug| number(rug.area_mm2) * OUTSIDE_OWN_SIZES < area_mm2)
        || rugs.iter().all(|rug| number(rug.area_mm2) > area_mm2 * OUTSIDE_OWN_SIZES);
}

/// All samples together, area for area; a part that not all of them have is left open.
fn from_samples(quote: &mut Quote, samples: &[&SampleSquare], area_mm2: f64) {
    let sampled: u64 = samples.iter().map(|sample| sample.area_mm2()).sum();
    let scaled = |take: fn(&SampleSquare) -> Option<u64>, unit: f64| {
        let values: Option<Vec<u64>> = samples.iter().map(|sample| take(sample)).collect();
        let estimate = values.map(|values| {
            number(values.iter().fold(0, |sum: u64, value| sum.saturating_add(*value))) * area_mm2
                / number(sampled)
                / unit
        });
        Estimate { estimate, low: None, high: None }
    };
    quote.basis = Basis::SampleSquare;
    quote.sample_squares = count(samples.len());
    quote.run_hours = scaled(|sample| Some(sample.run.0), number(HOUR_MS));
    quote.tufting_hours = scaled(|sample| sample.tufting_ms, number(HOUR_MS));
    quote.strokes = scaled(|sample| sample.strokes, 1.0);
    quote.is_outside_own_sizes = true;
}

/// Low hours with low hours and high with high: a rug that runs long also stands long at the frame.
fn cost(quote: &Quote) -> Estimate {
    let sum = |run: Option<f64>, tufting: Option<f64>| {
        let part = |price: Option<f64>, hours: Option<f64>| match price {
            None => Some(0.0),
            Some(price) => hours.map(|hours| price * hours),
        };
        Some(part(quote.machine_hour_rate, run)? + part(quote.tufting_hour_wage, tufting)?)
    };
    if quote.machine_hour_rate.is_none() && quote.tufting_hour_wage.is_none() {
        return Estimate::default();
    }
    Estimate {
        estimate: sum(quote.run_hours.estimate, quote.tufting_hours.estimate),
        low: sum(quote.run_hours.low, quote.tufting_hours.low),
        high: sum(quote.run_hours.high, quote.tufting_hours.high),
    }
}

/// Foretells each value from all others.
fn check(values: &[f64], level: Level) -> Option<OwnCheck> {
    Some(OwnCheck { held: held_when_left_out(values, level)?, of: count(values.len()) })
}

fn count(length: usize) -> u64 {
    u64::try_from(length).unwrap_or(u64::MAX)
}

#[cfg(test)]
#[path = "quote_tests.rs"]
mod tests;
