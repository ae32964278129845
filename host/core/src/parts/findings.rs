//! Is the interval right? A curve of "dirty after so many hours" when there is enough to go by, else the plain share.

use serde::Serialize;

use crate::stats::{Estimate, Level, Look, are_separated, dirty_curve, quantile, share_limits};

/// The share of dirty findings whose hours are asked for.
pub const DIRTY_SHARE: f64 = 0.2;
/// The curve needs so many findings.
pub const FINDINGS_NEEDED: u64 = 10;
/// ... so many of each kind.
pub const OF_EACH_KIND_NEEDED: u64 = 3;
/// ... and hours spread so far: the 90th percentile over the 10th.
pub const SPREAD_NEEDED: f64 = 2.0;
/// Rounding may not decide about the spread.
const ROUNDING: f64 = 1e-9;

/// What is still missing for a curve.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Missing {
    /// Findings.
    pub findings: u64,
    /// Dirty ones.
    pub dirty: u64,
    /// Clean ones.
    pub clean: u64,
    /// The spread that there is, where it is too little.
    pub spread_is_only: Option<f64>,
    /// One time parts clean from dirty, or no curve could be closed in on.
    pub is_separated: bool,
}

/// Whether the interval is right.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct IntervalReport {
    /// Whether a curve is shown.
    pub enough_evidence: bool,
    /// Weibull shape at the top of likelihood times prior.
    pub shape: Option<f64>,
    /// Weibull scale there.
    pub scale_hours: Option<f64>,
    /// After these hours one in five is dirty; 95 % profile-likelihood limits.
    pub hours_for_20_percent_dirty: Estimate,
    /// What is missing; shown in words.
    #[serde(skip)]
    pub missing: Missing,
    /// Findings in all; shown in words.
    #[serde(skip)]
    pub findings: u64,
    /// Dirty ones.
    #[serde(skip)]
    pub dirty: u64,
    /// Their share with exact 95 % limits.
    #[serde(skip)]
    pub dirty_share: Estimate,
}

/// From findings: hours since the last cleaning or oiling, and whether it was dirty. Assumes that the machine was clean after
/// each, that it only gets dirtier with hours, and that hours at the look do not depend on how dirty it seemed.
#[must_use]
pub fn interval_report(looks: &[Look]) -> IntervalReport {
    let count =
        |of: &dyn Fn(&&Look) -> bool| u64::try_from(looks.iter().filter(of).count()).unwrap_or(u64::MAX);
    let (findings, dirty) = (count(&|_| true), count(&|look| look.dirty));
    let clean = findings - dirty;
    let hours: Vec<f64> = looks.iter().map(|look| look.time).collect();
    let spread = quantile(&hours, 0.9).zip(quantile(&hours, 0.1)).map(|(late, early)| late / early);
    let mut missing = Missing {
        findings: FINDINGS_NEEDED.saturating_sub(findings),
        dirty: OF_EACH_KIND_NEEDED.saturating_sub(dirty),
        clean: OF_EACH_KIND_NEEDED.saturating_sub(clean),
        spread_is_only: spread.filter(|spread| *spread < SPREAD_NEEDED - ROUNDING),
        is_separated: dirty > 0 && clean > 0 && are_separated(looks),
    };
    let is_enough = missing == Missing::default();
    let curve = dirty_curve(looks, DIRTY_SHARE, Level::USUAL).filter(|_| is_enough);
    missing.is_separated |= is_enough && curve.is_none();
    IntervalReport {
        enough_evidence: curve.is_some(),
        shape: curve.map(|curve| curve.best.shape),
        scale_hours: curve.map(|curve| curve.best.scale),
        hours_for_20_percent_dirty: curve.map(|curve| curve.time_of_share).unwrap_or_default(),
        missing,
        findings,
        dirty,
        dirty_share: share_limits(dirty, findings, Level::USUAL),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn looks(dirty: &[f64], clean: &[f64]) -> Vec<Look> {
        let of = |dirty| move |&time: &f64| Look { time, dirty };
        dirty.iter().map(of(true)).chain(clean.iter().map(of(false))).collect()
    }

    #[test]
    fn ten_findings_of_both_kinds_spread_over_hours_are_enough() {
        let report = interval_report(&looks(&[4.0, 6.0, 8.0, 9.0], &[1.0, 2.0, 3.0, 5.0, 2.5, 4.5]));
        assert!(report.enough_evidence, "{report:?}");
        let hours = report.hours_for_20_percent_dirty;
        assert!(hours.low < hours.estimate && hours.estimate < hours.high, "{hours:?}");
        assert!(report.shape.is_some() && report.scale_hours.is_some());
    }

    #[test]
    fn nine_findings_or_two_of_a_kind_are_not_enough() {
        let nine = interval_report(&looks(&[4.0, 6.0, 8.0], &[1.0, 2.0, 3.0, 5.0, 2.5, 4.5]));
        assert_eq!((nine.enough_evidence, nine.missing.findings), (false, 1));
        let two = interval_report(&looks(&[4.0, 6.0], &[1.0, 2.0, 3.0, 5.0, 2.5, 4.5, 7.0, 8.0]));
        assert_eq!((two.enough_evidence, two.missing.dirty, two.missing.clean), (false, 1, 0));
        assert_eq!((two.shape, two.hours_for_20_percent_dirty), (None, Estimate::default()));
        assert_eq!((two.findings, two.dirty), (10, 2));
        assert!(two.dirty_share.high.is_some());
    }

    #[test]
    fn hours_too_much_alike_are_not_enough_and_twice_is() {
        let narrow: Vec<f64> = vec![4.0, 4.2, 4.4, 4.6, 4.8, 5.0];
        let report = interval_report(&looks(&narrow, &[4.1, 4.3, 4.5, 4.7]));
        assert!(!report.enough_evidence && report.missing.spread_is_only.is_some_and(|spread| spread < 1.3));
        // Eleven values: the 10th percentile is the second, the 90th the tenth: 3 and 6.
        let twice = interval_report(&looks(&[3.0, 6.0, 6.5, 5.0, 4.0], &[2.0, 3.5, 4.5, 5.5, 3.2, 5.2]));
        assert_eq!(twice.missing, Missing::default(), "{twice:?}");
    }

    #[test]
    fn findings_parted_by_one_time_are_not_enough() {
        let report = interval_report(&looks(&[6.0, 7.0, 8.0, 9.0, 10.0], &[1.0, 2.0, 3.0, 4.0, 5.0]));
        assert_eq!((report.enough_evidence, report.missing.is_separated), (false, true));
    }
}
