//! Does the rate rise with a score? Poisson regression of the count on the score with the stratum as a factor and the logarithm
//! of exposure as offset; the scatter beyond Poisson is measured and widens the test.
//!
//! The strata's own levels are profiled out: for a given slope their best values are known in closed form, so one number is
//! left to search, and the curvature of the profile is exactly the slope's information in the full model.

use std::collections::BTreeMap;

use serde::Serialize;

use super::root::root;
use super::tails::{normal_two_sided, student_two_sided};
use super::{Observed, finite, number};

/// One row: a session, a loom, a ship.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TrendRow {
    /// What the rate may rise with; any finite number.
    pub score: f64,
    /// The number of the row's stratum.
    pub stratum: usize,
    /// What was seen; exposure above zero.
    pub seen: Observed,
}

/// The outcome; what does not exist is `None`.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct Trend {
    /// Change of the logarithm of the rate for one unit of the score.
    pub slope: Option<f64>,
    /// Its standard error if the scatter is that of a Poisson count.
    pub standard_error: Option<f64>,
    /// Slope over standard error.
    pub z_poisson: Option<f64>,
    /// Two-sided, from the normal distribution.
    pub p_poisson: Option<f64>,
    /// Pearson's chi-square over its degrees of freedom, over rows: 1 for Poisson scatter, more when rows differ more.
    pub dispersion: Option<f64>,
    /// Rows less fitted parameters.
    pub residual_degrees_of_freedom: u64,
    /// Slope over the standard error widened by the root of the dispersion, which is never taken below 1 here.
    pub t_adjusted: Option<f64>,
    /// Two-sided, from Student's t.
    pub p_adjusted: Option<f64>,
}

/// Fits the trend. Rows without exposure must have been dropped before.
#[must_use]
pub fn trend(rows: &[TrendRow]) -> Trend {
    let model = Model::of(rows);
    let slope = model.slope();
    let parameters = model.strata.len() + usize::from(model.has_contrast());
    let degrees = u64::try_from(rows.len().saturating_sub(parameters)).unwrap_or(u64::MAX);
    let standard_error = slope.and_then(|slope| finite(1.0 / model.information(slope).sqrt() / model.unit));
    // Where the slope is infinite there is no fit and no scatter; where the score never varies the model is one rate a stratum.
    let fitted_at = if model.has_contrast() { slope } else { Some(0.0) };
    let dispersion = fitted_at
        .filter(|_| degrees > 0 && model.has_events())
        .and_then(|slope| finite(model.pearson(slope) / number(degrees)));
    let slope = slope.map(|slope| slope / model.unit);
    let z_poisson = slope.zip(standard_error).map(|(slope, error)| slope / error);
    let t_adjusted = z_poisson.zip(dispersion).map(|(z, dispersion)| z / dispersion.max(1.0).sqrt());
    Trend {
        slope,
        standard_error,
        z_poisson,
        p_poisson: z_poisson.map(normal_two_sided),
        dispersion,
        residual_degrees_of_freedom: degrees,
        t_adjusted,
        p_adjusted: t_adjusted.and_then(|t| student_two_sided(t, number(degrees))),
    }
}

/// The rows by stratum, with scores shifted and scaled to the range 0 to 1 so that exponentials stay small.
struct Model {
    strata: Vec<Vec<TrendRow>>,
    /// One scaled unit in units of the score.
    unit: f64,
}

/// The farthest scaled slope that is looked at: a rate that grows by a factor of e^500 over the range of scores.
const FARTHEST: f64 = 500.0;

impl Model {
    fn of(rows: &[TrendRow]) -> Self {
        let lowest = rows.iter().map(|row| row.score).fold(f64::INFINITY, f64::min);
        let highest = rows.iter().map(|row| row.score).fold(f64::NEG_INFINITY, f64::max);
        let unit = if highest > lowest { highest - lowest } else { 1.0 };
        let mut strata: BTreeMap<usize, Vec<TrendRow>> = BTreeMap::new();
        for row in rows {
            let scaled = TrendRow { score: (row.score - lowest) / unit, ..*row };
            strata.entry(row.stratum).or_default().push(scaled);
        }
        Self { strata: strata.into_values().collect(), unit }
    }

    /// Whether any stratum has two different scores, without which no slope can be fitted.
    fn has_contrast(&self) -> bool {
        self.strata.iter().any(|stratum| {
            stratum.windows(2).any(|two| matches!(two, [one, other] if one.score != other.score))
        })
    }

    fn has_events(&self) -> bool {
        self.strata.iter().flatten().any(|row| row.seen.events > 0)
    }

    /// The scaled slope at which the expected mean score of the events is the observed one; none where it would be infinite.
    fn slope(&self) -> Option<f64> {
        let observed: f64 = self.strata.iter().flatten().map(|row| number(row.seen.events) * row.score).sum();
        let expected = |slope: f64| -> f64 {
            self.strata.iter().map(|stratum| events(stratum) * moments(stratum, slope).0).sum()
        };
        let margin = 1e-9 * self.strata.iter().map(|stratum| events(stratum)).sum::<f64>();
        let is_inside = expected(-FARTHEST) + margin < observed && observed < expected(FARTHEST) - margin;
        if is_inside { root(-FARTHEST, FARTHEST, |slope| expected(slope) - observed) } else { None }
    }

    /// The information about the scaled slope.
    fn information(&self, slope: f64) -> f64 {
        self.strata.iter().map(|stratum| events(stratum) * moments(stratum, slope).1).sum()
    }

    /// Pearson's chi-square over rows. A stratum without events is fitted perfectly with a rate of zero.
    fn pearson(&self, slope: f64) -> f64 {
        let of_stratum = |stratum: &Vec<TrendRow>| -> f64 {
            let all = events(stratum);
            let weights = weights(stratum, slope);
            let sum: f64 = weights.iter().sum();
            let fitted = weights.iter().map(|weight| all * weight / sum);
            let off = |(row, fitted): (&TrendRow, f64)| {
                if fitted > 0.0 { (number(row.seen.events) - fitted).powi(2) / fitted } else { 0.0 }
            };
            stratum.iter().zip(fitted).map(off).sum()
        };
        self.strata.iter().map(of_stratum).sum()
    }
}

fn events(stratum: &[TrendRow]) -> f64 {
    stratum.iter().map(|row| number(row.seen.events)).sum()
}

/// Exposure times the rate's growth, measured from the stratum's own largest growth, lest all of them vanish.
fn weights(stratum: &[TrendRow], slope: f64) -> Vec<f64> {
    let largest = stratum.iter().map(|row| slope * row.score).fold(f64::NEG_INFINITY, f64::max);
    stratum.iter().map(|row| row.seen.exposure * (slope * row.score - largest).exp()).collect()
}

/// Mean and variance of the score over a stratum's expected events.
fn moments(stratum: &[TrendRow], slope: f64) -> (f64, f64) {
    let weights = weights(stratum, slope);
    let all: f64 = weights.iter().sum();
    let weighted = |value: &dyn Fn(&TrendRow) -> f64| {
        stratum.iter().zip(&weights).map(|(row, weight)| weight * value(row)).sum::<f64>() / all
    };
    let mean = weighted(&|row| row.score);
    (mean, weighted(&|row| (row.score - mean).powi(2)))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn row(score: f64, stratum: usize, events: u64, exposure: f64) -> TrendRow {
        TrendRow { score, stratum, seen: Observed { events, exposure } }
    }

    #[test]
    fn two_rows_are_worked_out_by_hand() {
        // 4 events in 1 at score 1, 12 in 1 at score 3: slope ln(3)/2, standard error sqrt(1/4 + 1/12)/2.
        let result = trend(&[row(1.0, 0, 4, 1.0), row(3.0, 0, 12, 1.0)]);
        let error = (1.0_f64 / 4.0 + 1.0 / 12.0).sqrt() / 2.0;
        assert!(result.slope.is_some_and(|slope| (slope - 3.0_f64.ln() / 2.0).abs() < 1e-12), "{result:?}");
        assert!(result.standard_error.is_some_and(|value| (value - error).abs() < 1e-12), "{result:?}");
        assert_eq!(
            (result.residual_degrees_of_freedom, result.dispersion, result.t_adjusted),
            (0, None, None)
        );
    }

    #[test]
    fn one_score_has_no_slope_but_a_scatter() {
        // Counts 1 and 3 in equal exposure: fitted 2 and 2, chi-square 1/2 + 1/2 over one degree of freedom.
        let result = trend(&[row(5.0, 0, 1, 1.0), row(5.0, 0, 3, 1.0)]);
        assert_eq!((result.slope, result.z_poisson, result.p_adjusted), (None, None, None));
        assert!(result.dispersion.is_some_and(|value| (value - 1.0).abs() < 1e-12), "{result:?}");
    }

    #[test]
    fn events_at_the_highest_score_alone_have_no_finite_slope() {
        let result = trend(&[row(1.0, 0, 0, 1.0), row(2.0, 0, 0, 1.0), row(3.0, 0, 5, 1.0)]);
        assert_eq!((result.slope, result.standard_error, result.dispersion), (None, None, None));
    }

    #[test]
    fn no_events_have_no_trend() {
        let result = trend(&[row(1.0, 0, 0, 1.0), row(2.0, 0, 0, 1.0), row(3.0, 0, 0, 1.0)]);
        assert_eq!((result.slope, result.dispersion), (None, None));
    }

    #[test]
    fn little_scatter_never_narrows_the_test() {
        let rows: Vec<TrendRow> = [(1.0, 10), (1.0, 10), (2.0, 14), (2.0, 14), (3.0, 20), (3.0, 20)]
            .map(|(s, n)| row(s, 0, n, 1.0))
            .to_vec();
        let result = trend(&rows);
        assert!(result.dispersion.is_some_and(|value| value < 1.0));
        assert_eq!(result.t_adjusted, result.z_poisson);
    }
}
