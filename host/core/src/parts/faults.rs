//! Do faults come more often the longer the machine has run?

use serde::Serialize;

use crate::stats::{Estimate, Faults, Level, PowerLaw, TrendTest};

/// A trend is stated when the test would find one so clear by chance at most this often, in that direction.
pub const TREND_P: f64 = 0.05;

/// Of fewer faults no trend is told, whatever a test finds.
pub const LEAST_FAULTS: u64 = 3;

/// What the words say.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FaultTrend {
    /// They come more often.
    MoreOften,
    /// They come less often.
    Rarer,
    /// Neither is sure.
    CannotTell,
}

/// Faults of one machine over its run hours.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FaultReport {
    /// Laplace's test; positive when they come more often.
    pub laplace_z: Option<f64>,
    /// The handbook's test; this one decides the words.
    pub mil_hdbk_chi2: Option<f64>,
    /// Its degrees of freedom.
    pub degrees_of_freedom: Option<u64>,
    /// The power law of the expected number of faults.
    pub power_law: PowerLaw,
    /// Hours between faults if that never changed; without a fault the lower limit alone, one-sided.
    pub mtbf_hours: Estimate,
    /// Hours between faults at the end, by the power law with its maximum-likelihood shape.
    pub mtbf_now_hours: Option<f64>,
    /// What is shown in words only.
    #[serde(skip)]
    pub beside: FaultBeside,
}

/// What is shown in words only.
#[derive(Clone, Debug, PartialEq)]
pub struct FaultBeside {
    /// How many faults.
    pub faults: u64,
    /// Run hours at the end of the observation.
    pub end_hours: f64,
    /// How sure the limits are to hold the truth.
    pub level: Level,
    /// The verdict.
    pub trend: FaultTrend,
    /// The test behind it.
    pub test: TrendTest,
    /// Hours between faults up to each fault.
    pub up_to_each_hours: Vec<f64>,
}

/// From the run hours of the faults. Assumes one machine that is mended to the state just before each fault; the limits of
/// `mtbf_hours` assume besides that nothing gets better or worse.
#[must_use]
pub fn fault_report(faults: &Faults, level: Level) -> FaultReport {
    let test = faults.trend_test();
    let is_clear = |p: Option<f64>| faults.count() >= LEAST_FAULTS && p.is_some_and(|p| p <= TREND_P);
    let trend = if is_clear(test.p_more_often) {
        FaultTrend::MoreOften
    } else if is_clear(test.p_rarer) {
        FaultTrend::Rarer
    } else {
        FaultTrend::CannotTell
    };
    FaultReport {
        laplace_z: faults.laplace(),
        mil_hdbk_chi2: test.chi_square,
        degrees_of_freedom: test.degrees_of_freedom,
        power_law: faults.power_law(),
        mtbf_hours: faults.mean_between(level),
        mtbf_now_hours: faults.mean_between_now(),
        beside: FaultBeside {
            faults: faults.count(),
            end_hours: faults.end(),
            level,
            trend,
            test,
            up_to_each_hours: faults.mean_between_up_to_each(),
        },
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::Ending;

    fn report(times: &[f64], end: f64) -> FaultReport {
        fault_report(&Faults::new(times.to_vec(), end, Ending::Time).unwrap(), Level::new(0.9).unwrap())
    }

    #[test]
    fn early_faults_are_getting_rarer_and_late_ones_come_more_often() {
        let early = report(&[1.0, 2.0, 4.0, 7.0, 12.0, 30.0], 1000.0);
        assert_eq!(early.beside.trend, FaultTrend::Rarer);
        assert!(early.laplace_z.unwrap() < 0.0);
        let late = report(&[800.0, 850.0, 900.0, 950.0, 980.0, 990.0, 995.0], 1000.0);
        assert_eq!(late.beside.trend, FaultTrend::MoreOften);
        assert!(late.laplace_z.unwrap() > 0.0);
    }

    #[test]
    fn evenly_spread_faults_have_no_trend() {
        let even = report(&[100.0, 200.0, 300.0, 400.0, 500.0, 600.0], 700.0);
        assert_eq!(even.beside.trend, FaultTrend::CannotTell);
    }

    #[test]
    fn without_a_fault_nothing_but_the_lower_limit_is_said() {
        let none = report(&[], 500.0);
        assert_eq!(none.beside.trend, FaultTrend::CannotTell);
        assert_eq!((none.laplace_z, none.mil_hdbk_chi2, none.degrees_of_freedom), (None, None, None));
        assert_eq!((none.mtbf_hours.estimate, none.mtbf_hours.high, none.mtbf_now_hours), (None, None, None));
        assert!(none.mtbf_hours.low.is_some());
    }
}
