//! The exact ratio of two rates, within strata: given how many events a stratum had in all, the count on the upper side is
//! binomial, and the sum over strata is a convolution whose shape depends on the ratio alone.
//!
//! With one stratum this is the conditional comparison of two Poisson counts with Clopper-Pearson limits.

use serde::Serialize;
use statrs::function::factorial::ln_binomial;
use thiserror::Error;

use super::root::root;
use super::{Level, Pair, number};

/// The most events that are compared exactly; the work grows with the square.
pub const MAX_EVENTS: u64 = 20_000;

/// Two outcomes whose probabilities differ by less than this share count as equally probable.
const EQUALLY_PROBABLE: f64 = 1.0 + 1e-7;

/// The logarithm of the ratio is searched between these two.
const FARTHEST_LN_RATIO: f64 = 600.0;

/// More events than are compared exactly.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Error)]
#[error("{0} events are more than the {MAX_EVENTS} that can be compared exactly")]
pub struct TooManyEvents(pub u64);

/// The ratio of the upper rate to the lower rate.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct ExactRatio {
    /// Conditional maximum likelihood; none without events below the line, or without informative strata.
    pub estimate: Option<f64>,
    /// Where the observed count or more has the probability of one tail; 0 when nothing lies above the line.
    pub low: Option<f64>,
    /// Where the observed count or less has the probability of one tail.
    pub high: Option<f64>,
    /// For a ratio of one: the total probability of all outcomes that are not more probable than the observed one.
    pub p_value: Option<f64>,
    /// Strata with exposure on both sides and at least one event; the others say nothing about the ratio.
    pub informative_strata: u64,
}

/// Compares two rates within strata. Assumes a constant rate on each side of a stratum and the same ratio in all strata.
///
/// # Errors
/// When the informative strata hold more than [`MAX_EVENTS`] events.
pub fn exact_ratio(strata: &[Pair], level: Level) -> Result<ExactRatio, TooManyEvents> {
    let informative: Vec<&Pair> = strata.iter().filter(|pair| pair.is_informative()).collect();
    let total = total_of(&informative)?;
    let informative_strata = u64::try_from(informative.len()).unwrap_or(u64::MAX);
    if total == 0 {
        return Ok(ExactRatio { informative_strata, ..ExactRatio::default() });
    }
    let seen: u64 = informative.iter().map(|pair| pair.upper.events).sum();
    let outcomes = Outcomes::of(&informative);
    let tail = level.tail();
    let solve = |target: f64, rising: &dyn Fn(f64) -> f64| {
        root(-FARTHEST_LN_RATIO, FARTHEST_LN_RATIO, |at| rising(at) - target).map(f64::exp)
    };
    let estimate = match seen {
        0 => Some(0.0),
        _ if seen == total => None,
        _ => solve(number(seen), &|ln_ratio| outcomes.mean(ln_ratio)),
    };
    let low = if seen == 0 { Some(0.0) } else { solve(tail, &|ln_ratio| outcomes.at_least(seen, ln_ratio)) };
    let high = if seen == total { None } else { solve(-tail, &|ln_ratio| -outcomes.at_most(seen, ln_ratio)) };
    let p_value = Some(outcomes.not_more_probable(seen));
    Ok(ExactRatio { estimate, low, high, p_value, informative_strata })
}

/// How surprising what was seen would be at a ratio of one.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ExactP {
    /// The total probability of all outcomes that are not more probable than the observed one.
    pub p_value: f64,
    /// Whether more events lie above the line than a ratio of one would lead to expect.
    pub is_above_expected: bool,
}

/// The probability of [`exact_ratio`] alone, without estimate and limits; none where nothing can be compared.
///
/// # Errors
/// When the informative strata hold more than [`MAX_EVENTS`] events.
pub fn exact_p(strata: &[Pair]) -> Result<Option<ExactP>, TooManyEvents> {
    let informative: Vec<&Pair> = strata.iter().filter(|pair| pair.is_informative()).collect();
    let total = total_of(&informative)?;
    if total == 0 {
        return Ok(None);
    }
    let seen: u64 = informative.iter().map(|pair| pair.upper.events).sum();
    let outcomes = Outcomes::of(&informative);
    let is_above_expected = number(seen) > outcomes.mean(0.0);
    Ok(Some(ExactP { p_value: outcomes.not_more_probable(seen), is_above_expected }))
}

/// The probability of exactly `events` out of `of`, each with the same probability.
#[must_use]
pub fn binomial(events: u64, of: u64, probability: f64) -> f64 {
    let term = |count: u64, share: f64| if count == 0 { 0.0 } else { number(count) * share.ln() };
    if events > of {
        return 0.0;
    }
    (ln_binomial(of, events) + term(events, probability) + term(of - events, 1.0 - probability)).exp()
}

fn total_of(informative: &[&Pair]) -> Result<u64, TooManyEvents> {
    let total = informative
        .iter()
        .fold(0_u64, |sum, pair| sum.saturating_add(pair.upper.events).saturating_add(pair.lower.events));
    if total > MAX_EVENTS { Err(TooManyEvents(total)) } else { Ok(total) }
}

/// The logarithms of the weights of 0, 1, 2 ... events above the line at a ratio of one, up to a common factor.
struct Outcomes {
    ln_weights: Vec<f64>,
}

impl Outcomes {
    fn of(strata: &[&Pair]) -> Self {
        let mut ln_weights = vec![0.0];
        for pair in strata {
            let events = pair.upper.events.saturating_add(pair.lower.events);
            let ln_odds = pair.upper.exposure.ln() - pair.lower.exposure.ln();
            let stratum: Vec<f64> =
                (0..=events).map(|k| ln_binomial(events, k) + number(k) * ln_odds).collect();
            ln_weights = convolved(&ln_weights, &stratum);
        }
        Self { ln_weights }
    }

    /// Adds up `value(count) * probability(count)` at a ratio.
    fn expectation(&self, ln_ratio: f64, value: impl Fn(u64) -> f64) -> f64 {
        let tilted = || (0_u64..).zip(&self.ln_weights).map(|(k, weight)| (k, weight + number(k) * ln_ratio));
        let highest = tilted().map(|(_, weight)| weight).fold(f64::NEG_INFINITY, f64::max);
        let (mut sum, mut all) = (0.0, 0.0);
        for (k, weight) in tilted() {
            let probability = (weight - highest).exp();
            sum += value(k) * probability;
            all += probability;
        }
        sum / all
    }

    fn mean(&self, ln_ratio: f64) -> f64 {
        self.expectation(ln_ratio, number)
    }

    fn at_least(&self, seen: u64, ln_ratio: f64) -> f64 {
        self.expectation(ln_ratio, |k| if k >= seen { 1.0 } else { 0.0 })
    }

    fn at_most(&self, seen: u64, ln_ratio: f64) -> f64 {
        self.expectation(ln_ratio, |k| if k <= seen { 1.0 } else { 0.0 })
    }

    fn not_more_probable(&self, seen: u64) -> f64 {
        let weight_of = |k: u64| usize::try_from(k).ok().and_then(|k| self.ln_weights.get(k)).copied();
        let bound = weight_of(seen).unwrap_or(f64::NEG_INFINITY) + EQUALLY_PROBABLE.ln();
        let counts = |k| if weight_of(k).is_some_and(|weight| weight <= bound) { 1.0 } else { 0.0 };
        self.expectation(0.0, counts).min(1.0)
    }
}

/// The distribution of a sum of two independent counts, all in logarithms so that far tails do not vanish.
fn convolved(one: &[f64], other: &[f64]) -> Vec<f64> {
    let length = one.len() + other.len() - 1;
    (0..length)
        .map(|sum| {
            let first = sum.saturating_sub(other.len() - 1);
            let terms = || {
                one.iter()
                    .enumerate()
                    .skip(first)
                    .take_while(move |(k, _)| *k <= sum)
                    .filter_map(|(k, a)| other.get(sum - k).map(|b| a + b))
            };
            let highest = terms().fold(f64::NEG_INFINITY, f64::max);
            highest + terms().map(|term| (term - highest).exp()).sum::<f64>().ln()
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::Observed;
    use proptest::prelude::*;
    use statrs::function::beta::checked_beta_reg;

    fn pair(a: u64, t1: f64, b: u64, t0: f64) -> Pair {
        Pair { upper: Observed { events: a, exposure: t1 }, lower: Observed { events: b, exposure: t0 } }
    }

    #[test]
    fn two_events_on_one_side_are_worked_out_by_hand() {
        // Two events above the line, none below, equal exposure: the count is binomial(2, r/(1+r)). P(2) = 0.025 at
        // r/(1+r) = sqrt(0.025), so the lower limit is sqrt(0.025)/(1-sqrt(0.025)); both 0 and 2 have probability 1/4: p = 1/2.
        let ratio = exact_ratio(&[pair(2, 1.0, 0, 1.0)], Level::USUAL).unwrap();
        let root = 0.025_f64.sqrt();
        assert_eq!((ratio.estimate, ratio.high), (None, None));
        assert!((ratio.low.unwrap() - root / (1.0 - root)).abs() < 1e-12);
        assert!((ratio.p_value.unwrap() - 0.5).abs() < 1e-12);
    }

    #[test]
    fn two_strata_of_one_event_each_are_worked_out_by_hand() {
        // One event above in stratum 1 (exposures 1:1), one below in stratum 2 (exposures 2:1). Weights of 0, 1, 2 above are
        // 1, (1 + 2) r, 2 r^2. The mean is 1 where 3 r + 4 r^2 = 1 + 3 r + 2 r^2, so r = 1/sqrt(2). At r = 1 the
        // probabilities are 1/6, 3/6, 2/6: nothing is more probable than what was seen, p = 1.
        let ratio = exact_ratio(&[pair(1, 1.0, 0, 1.0), pair(0, 2.0, 1, 1.0)], Level::USUAL).unwrap();
        assert!((ratio.estimate.unwrap() - 0.5_f64.sqrt()).abs() < 1e-12, "{ratio:?}");
        assert!((ratio.p_value.unwrap() - 1.0).abs() < 1e-12);
        assert_eq!(ratio.informative_strata, 2);
    }

    #[test]
    fn strata_with_one_band_only_or_without_events_say_nothing() {
        let alone = exact_ratio(&[pair(4, 10.0, 2, 20.0)], Level::USUAL).unwrap();
        let with_idle = [pair(4, 10.0, 2, 20.0), pair(9, 50.0, 0, 0.0), pair(0, 5.0, 0, 5.0)];
        assert_eq!(exact_ratio(&with_idle, Level::USUAL).unwrap(), alone);
    }

    #[test]
    fn nothing_to_compare_gives_nothing() {
        assert_eq!(exact_ratio(&[], Level::USUAL), Ok(ExactRatio::default()));
    }

    #[test]
    fn too_many_events_are_refused_with_their_number() {
        assert_eq!(exact_ratio(&[pair(20_000, 1.0, 1, 1.0)], Level::USUAL), Err(TooManyEvents(20_001)));
    }

    proptest! {
        #[test]
        fn limits_are_where_the_beta_distribution_says(a in 1_u64..60, b in 1_u64..60, t in 0.01_f64..100.0) {
            // Clopper and Pearson (1934): the lower limit of the share is the beta(a, b + 1) quantile, the upper that of
            // beta(a + 1, b); here checked through the library's distribution function, which the code under test never uses.
            let ratio = exact_ratio(&[pair(a, t, b, 1.0)], Level::USUAL).unwrap();
            let share = |r: f64| r * t / (r * t + 1.0);
            let below = checked_beta_reg(number(a), number(b) + 1.0, share(ratio.low.unwrap())).unwrap();
            let above = checked_beta_reg(number(a) + 1.0, number(b), share(ratio.high.unwrap())).unwrap();
            prop_assert!((below - 0.025).abs() < 1e-9 && (above - 0.975).abs() < 1e-9);
            prop_assert!((ratio.estimate.unwrap() / (number(a) / number(b) / t) - 1.0).abs() < 1e-9);
        }

        #[test]
        fn exchanging_the_sides_inverts_the_ratio(
            cells in prop::collection::vec((0_u64..8, 1_u32..50, 0_u64..8, 1_u32..50), 1..5)
        ) {
            let strata: Vec<Pair> =
                cells.iter().map(|&(a, t, b, u)| pair(a, f64::from(t), b, f64::from(u))).collect();
            let turned: Vec<Pair> =
                strata.iter().map(|pair| Pair { upper: pair.lower, lower: pair.upper }).collect();
            let (one, other) =
                (exact_ratio(&strata, Level::USUAL).unwrap(), exact_ratio(&turned, Level::USUAL).unwrap());
            if let (Some(low), Some(high)) = (one.low.filter(|low| *low > 0.0), other.high) {
                prop_assert!((low * high - 1.0).abs() < 1e-6, "{one:?} {other:?}");
            }
            if let (Some(p), Some(q)) = (one.p_value, other.p_value) {
                prop_assert!((p - q).abs() < 1e-9);
            }
        }
    }
}
