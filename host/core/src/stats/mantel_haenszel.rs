//! The ratio of two rates as a weighted mean over strata, and whether the strata disagree.

use serde::Serialize;

use super::odds::logistic;
use super::root::root;
use super::tails::{chi_square_above, normal_distance};
use super::{Level, Pair, finite, number};

/// The Mantel-Haenszel ratio of the upper rate to the lower rate.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct MantelHaenszel {
    /// The weighted ratio.
    pub estimate: Option<f64>,
    /// Lower limit with the variance of Greenland and Robins; none when one side has no event.
    pub low: Option<f64>,
    /// Upper limit, likewise.
    pub high: Option<f64>,
    /// How surprising the differences between the strata's own ratios would be if all had one ratio (likelihood ratio,
    /// chi-square). Small: they disagree, and one ratio for all hides something. None with fewer than two strata.
    pub p_strata_differ: Option<f64>,
}

/// Compares two rates within strata by weights. Assumes one ratio in all strata; good for few events in many strata.
#[must_use]
pub fn mantel_haenszel(strata: &[Pair], level: Level) -> MantelHaenszel {
    let (mut above, mut below, mut variance) = (0.0, 0.0, 0.0);
    for pair in strata.iter().filter(|pair| pair.is_informative()) {
        let all = pair.upper.exposure + pair.lower.exposure;
        let (a, b) = (number(pair.upper.events), number(pair.lower.events));
        above += a * pair.lower.exposure / all;
        below += b * pair.upper.exposure / all;
        variance += (a + b) * (pair.upper.exposure / all) * (pair.lower.exposure / all);
    }
    let estimate = finite(above / below);
    let spread = finite((variance / (above * below)).sqrt());
    let distance = spread.zip(normal_distance(level.tail())).map(|(spread, z)| spread * z);
    let limit = |sign: f64| {
        estimate.zip(distance).and_then(|(ratio, distance)| finite(ratio * (sign * distance).exp()))
    };
    MantelHaenszel { estimate, low: limit(-1.0), high: limit(1.0), p_strata_differ: strata_differ(strata) }
}

/// Twice the log likelihood that separate ratios gain over one common ratio, against chi-square.
fn strata_differ(strata: &[Pair]) -> Option<f64> {
    let informative: Vec<&Pair> = strata.iter().filter(|pair| pair.is_informative()).collect();
    let degrees = u64::try_from(informative.len()).ok()?.checked_sub(1).filter(|degrees| *degrees > 0)?;
    let seen: u64 = informative.iter().map(|pair| pair.upper.events).sum();
    let total: u64 = informative.iter().map(|pair| pair.upper.events + pair.lower.events).sum();
    // With all events on one side every stratum agrees perfectly.
    if seen == 0 || seen == total {
        return Some(1.0);
    }
    let expected = |ln_ratio: f64| -> f64 {
        informative
            .iter()
            .map(|pair| number(pair.upper.events + pair.lower.events) * shares(pair, ln_ratio).0)
            .sum()
    };
    let common = root(-600.0, 600.0, |ln_ratio| expected(ln_ratio) - number(seen))?;
    let deviance: f64 = informative
        .iter()
        .map(|pair| {
            let (a, b) = (number(pair.upper.events), number(pair.lower.events));
            let (above, below) = shares(pair, common);
            2.0 * (gain(a, (a + b) * above) + gain(b, (a + b) * below))
        })
        .sum();
    chi_square_above(deviance, number(degrees))
}

/// The shares of a stratum's events that a ratio puts above and below the line; each from the odds, because one minus the other
/// would be nothing where exposures lie far apart.
fn shares(pair: &Pair, ln_ratio: f64) -> (f64, f64) {
    let ln_odds = ln_ratio + pair.upper.exposure.ln() - pair.lower.exposure.ln();
    (logistic(ln_odds), logistic(-ln_odds))
}

/// Observed times the logarithm of observed over expected; zero for nothing observed.
fn gain(observed: f64, expected: f64) -> f64 {
    if observed > 0.0 { observed * (observed / expected).ln() } else { 0.0 }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::Observed;

    fn pair(a: u64, t1: f64, b: u64, t0: f64) -> Pair {
        Pair { upper: Observed { events: a, exposure: t1 }, lower: Observed { events: b, exposure: t0 } }
    }

    #[test]
    fn one_stratum_gives_the_plain_ratio_and_nothing_to_disagree() {
        // 6/10 over 3/20 = 4; Greenland and Robins in one stratum is sqrt(1/6 + 1/3) = 0.707107: by hand.
        let result = mantel_haenszel(&[pair(6, 10.0, 3, 20.0)], Level::USUAL);
        assert!(result.estimate.is_some_and(|ratio| (ratio - 4.0).abs() < 1e-12), "{result:?}");
        let low = 4.0 * (-1.959_964 * 0.5_f64.sqrt()).exp();
        assert!(result.low.is_some_and(|value| (value - low).abs() < 1e-5), "{result:?}");
        assert_eq!(result.p_strata_differ, None);
    }

    #[test]
    fn without_events_below_the_line_there_is_no_ratio() {
        let result = mantel_haenszel(&[pair(3, 10.0, 0, 20.0)], Level::USUAL);
        assert_eq!((result.estimate, result.low, result.high), (None, None, None));
    }

    #[test]
    fn strata_of_equal_ratio_do_not_differ() {
        let result = mantel_haenszel(&[pair(4, 10.0, 2, 10.0), pair(8, 5.0, 4, 5.0)], Level::USUAL);
        assert!(result.p_strata_differ.is_some_and(|p| p > 0.999_999), "{result:?}");
    }

    #[test]
    fn strata_of_exposures_far_apart_disagree_by_the_whole_likelihood() {
        // Twice the gain in log likelihood against chi-square, worked out with mpmath at 30 digits.
        let found = |strata: &[Pair]| mantel_haenszel(strata, Level::USUAL).p_strata_differ;
        let near = |found: Option<f64>, p: f64| found.is_some_and(|found| (found / p - 1.0).abs() < 1e-6);
        let two = found(&[pair(30, 1e-6, 3, 1e6), pair(2, 2000.0, 5, 1e-6)]);
        assert!(near(two, 1.968_181_344_369_553_6e-110), "{two:?}");
        let three = found(&[pair(3, 1e-8, 4, 1.0), pair(2, 1e-8, 1, 3.0), pair(0, 1.0, 2, 1e-7)]);
        assert!(near(three, 4.177_097_971_220_438e-31), "{three:?}");
    }
}
