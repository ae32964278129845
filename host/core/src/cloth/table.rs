//! Tears by speed from a table, without any logger: one row is one session with its knob, hours (or strokes) and tears, and
//! perhaps a stratum (the rug, the cloth lot). The same bands, rates and ratios as for the log.

use std::collections::BTreeMap;

use serde::Serialize;
use thiserror::Error;

use super::bands::{Cell, band_of, tops};
use super::looks::{FIRST_LOOK, Judged, Verdict, judge};
use crate::stats::{
    Estimate, ExactRatio, Level, MAX_EVENTS, MantelHaenszel, Observed, Pair, TooManyEvents, Trend, TrendRow,
    exact_ratio, mantel_haenszel, rate, trend,
};

/// Up to so many distinct knob values are a band each.
pub const BANDS_AS_THEY_STAND: usize = 8;
/// Where rows scatter more than Poisson, the trend's widened test must not be less sure than this.
pub const SCATTER_P: f64 = 0.05;

/// One row as read.
#[derive(Clone, Debug, PartialEq)]
pub struct TableRow {
    /// Its line in the file.
    pub line: u64,
    /// Any ordered number.
    pub knob: f64,
    /// Hours, or strokes where the table has them; not negative.
    pub exposure: f64,
    /// Tears.
    pub tears: u64,
    /// What is compared only within itself; empty where the table has no such column.
    pub stratum: String,
}

/// Why a table says nothing.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Error)]
pub enum TableProblem {
    /// Tears in no time at all.
    #[error("line {line}: no running at all, and tears in it: {tears}")]
    TearsWithoutExposure {
        /// The line.
        line: u64,
        /// Its tears.
        tears: u64,
    },
    /// No row has any running.
    #[error("no row of the table has any running")]
    NoExposure,
    /// More tears than can be compared.
    #[error("the table has {tears} tears, more than the {MAX_EVENTS} that can be compared")]
    TooManyTears {
        /// How many.
        tears: u64,
    },
}

impl From<TooManyEvents> for TableProblem {
    fn from(TooManyEvents(tears): TooManyEvents) -> Self {
        Self::TooManyTears { tears }
    }
}

/// One band of a table; rates are per unit of exposure.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct TableBand {
    /// Its lowest knob value.
    pub knob_low: f64,
    /// Its highest knob value.
    pub knob_high: f64,
    /// Strokes where the table has them, else hours.
    pub exposure: f64,
    /// Tears.
    pub tears: u64,
    /// Tears per unit of exposure.
    pub rate: Option<f64>,
    /// Its lower exact limit.
    pub low: Option<f64>,
    /// Its upper exact limit.
    pub high: Option<f64>,
}

/// The highest band's rate over the lowest band's, strata ignored.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct PlainRatio {
    /// The ratio.
    pub estimate: Option<f64>,
    /// Its lower exact limit.
    pub low: Option<f64>,
    /// Its upper exact limit.
    pub high: Option<f64>,
    /// For a ratio of one: the probability of all outcomes not more probable than what was seen.
    pub p_value: Option<f64>,
}

/// What a table says.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct TableReport {
    /// Low to high.
    pub bands: Vec<TableBand>,
    /// Highest to lowest band, unstratified.
    pub ratio: PlainRatio,
    /// The same two bands, compared within strata.
    pub stratified_exact: ExactRatio,
    /// The same two bands, by weights.
    pub mantel_haenszel: MantelHaenszel,
    /// Poisson regression on the knob within strata.
    pub trend: Trend,
    /// What may be said.
    pub verdict: Verdict,
    /// Rows without running and without tears.
    pub dropped_rows: u64,
    /// Whether exposure is strokes; hours otherwise.
    #[serde(skip)]
    pub counts_strokes: bool,
}

/// Works a table out.
///
/// # Errors
/// When the table contradicts itself, or says nothing.
pub fn table_report(rows: &[TableRow], level: Level) -> Result<TableReport, TableProblem> {
    let impossible = rows.iter().find(|row| row.exposure <= 0.0 && row.tears > 0);
    if let Some(row) = impossible {
        return Err(TableProblem::TearsWithoutExposure { line: row.line, tears: row.tears });
    }
    let tears = rows.iter().fold(0_u64, |sum, row| sum.saturating_add(row.tears));
    if tears > MAX_EVENTS {
        return Err(TableProblem::TooManyTears { tears });
    }
    let mut kept: Vec<&TableRow> = rows.iter().filter(|row| row.exposure > 0.0).collect();
    if kept.is_empty() {
        return Err(TableProblem::NoExposure);
    }
    let dropped_rows = u64::try_from(rows.len() - kept.len()).unwrap_or(u64::MAX);
    kept.sort_by(|one, other| one.knob.total_cmp(&other.knob));
    let tops = tops(&cells(&kept), BANDS_AS_THEY_STAND);
    let strata = strata(&kept, &tops);
    let whole = strata.iter().fold(Pair::default(), |sum, pair| Pair {
        upper: sum.upper.plus(pair.upper),
        lower: sum.lower.plus(pair.lower),
    });
    let plain = exact_ratio(&[whole], level)?;
    let stratified_exact = exact_ratio(&strata, level)?;
    let trend = trend(&trend_rows(&kept));
    Ok(TableReport {
        bands: bands(&kept, &tops, level),
        ratio: PlainRatio {
            estimate: plain.estimate,
            low: plain.low,
            high: plain.high,
            p_value: plain.p_value,
        },
        stratified_exact,
        mantel_haenszel: mantel_haenszel(&strata, level),
        trend,
        verdict: verdict(&strata, &trend)?,
        dropped_rows,
        counts_strokes: false,
    })
}

/// Exposure by knob value; `rows` are sorted by knob.
fn cells(rows: &[&TableRow]) -> Vec<Cell> {
    rows.chunk_by(|one, next| one.knob == next.knob)
        .filter_map(|same| {
            let exposure = same.iter().map(|row| row.exposure).sum();
            same.first().map(|row| Cell { reading: row.knob, exposure })
        })
        .collect()
}

fn bands(rows: &[&TableRow], tops: &[f64], level: Level) -> Vec<TableBand> {
    rows.chunk_by(|one, next| band_of(tops, one.knob) == band_of(tops, next.knob))
        .filter_map(|band| {
            let seen = band.iter().fold(Observed::default(), |sum, row| sum.plus(seen(row)));
            let Estimate { estimate, low, high } = rate(seen, level);
            let (first, last) = (band.first()?, band.last()?);
            Some(TableBand {
                knob_low: first.knob,
                knob_high: last.knob,
                exposure: seen.exposure,
                tears: seen.events,
                rate: estimate,
                low,
                high,
            })
        })
        .collect()
}

fn seen(row: &TableRow) -> Observed {
    Observed { events: row.tears, exposure: row.exposure }
}

/// Highest band above the line, lowest below it, by stratum; nothing with a single band.
fn strata(rows: &[&TableRow], tops: &[f64]) -> Vec<Pair> {
    let Some(last) = tops.len().checked_sub(1).filter(|last| *last > 0) else { return Vec::new() };
    let mut strata: BTreeMap<&str, Pair> = BTreeMap::new();
    for row in rows {
        let pair = strata.entry(row.stratum.as_str()).or_default();
        match band_of(tops, row.knob) {
            Some(0) => pair.lower = pair.lower.plus(seen(row)),
            Some(band) if band == last => pair.upper = pair.upper.plus(seen(row)),
            _ => {}
        }
    }
    strata.into_values().collect()
}

fn trend_rows(rows: &[&TableRow]) -> Vec<TrendRow> {
    let names: BTreeMap<&str, usize> = {
        let distinct: std::collections::BTreeSet<&str> =
            rows.iter().map(|row| row.stratum.as_str()).collect();
        distinct.into_iter().zip(0..).collect()
    };
    rows.iter()
        .map(|row| TrendRow {
            score: row.knob,
            stratum: names.get(row.stratum.as_str()).copied().unwrap_or(0),
            seen: seen(row),
        })
        .collect()
}

/// One look at the stratified ratio. A table is looked at once, so that the rule for repeated looks does not apply. The exact
/// comparison believes that tears scatter like Poisson counts; where the rows show more scatter and the widened trend is not
/// sure either, nothing is claimed.
fn verdict(strata: &[Pair], trend: &Trend) -> Result<Verdict, TooManyEvents> {
    let tears: u64 = strata
        .iter()
        .filter(|pair| pair.is_informative())
        .map(|pair| pair.upper.events + pair.lower.events)
        .sum();
    if tears < FIRST_LOOK {
        return Ok(Verdict::CannotTellYet);
    }
    let Judged { verdict, .. } = judge(strata, Level::USUAL)?;
    let scatters = trend.dispersion.is_some_and(|dispersion| dispersion > 1.0);
    let is_unsure = scatters && trend.p_adjusted.is_some_and(|p| p > SCATTER_P);
    Ok(if verdict.says_that_speed_matters() && is_unsure { Verdict::CannotTellYet } else { verdict })
}

#[cfg(test)]
#[path = "table_tests.rs"]
mod tests;
