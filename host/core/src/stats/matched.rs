//! Matched sets: in each, one of several moments is that of an event. A permutation test of the difference of a value, and the slope
//! of a conditional logistic regression with Firth's penalty.

use serde::Serialize;

use super::root::{Side, limit};
use super::tails::normal_distance;
use super::{Estimate, Level, finite};

/// A moment: the value there, and how much was done there (an event is the likelier to fall on it).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Moment {
    /// The value, 0 to 1000.
    pub value: u16,
    /// Its weight, above zero.
    pub weight: f64,
}

/// One set: the moment at which it happened first, then the others.
pub type MatchedSet = Vec<Moment>;

/// What drawing anew says.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Redrawn {
    /// The sum over sets of the value at the moment less the set's weighted mean.
    pub sum_of_differences: f64,
    /// The probability of a sum at least as far from zero, with the moment of each set drawn anew by weight. Exact.
    pub p_value: f64,
}

/// Draws the moments anew, all ways at once: the sum of whole numbers has a distribution that is worked out exactly. None without a set.
#[must_use]
pub fn redrawn(sets: &[MatchedSet]) -> Option<Redrawn> {
    if sets.iter().all(Vec::is_empty) {
        return None;
    }
    let (mut seen, mut expected) = (0_usize, 0.0);
    let mut chances = vec![1.0];
    for set in sets.iter().filter(|set| !set.is_empty()) {
        let all: f64 = set.iter().map(|moment| moment.weight).sum();
        let highest = set.iter().map(|moment| usize::from(moment.value)).max()?;
        let mut next = vec![0.0; chances.len() + highest];
        for moment in set {
            let to = next.iter_mut().skip(usize::from(moment.value));
            for (sum, chance) in to.zip(&chances) {
                *sum += chance * moment.weight / all;
            }
        }
        seen += usize::from(set.first()?.value);
        expected += set.iter().map(|moment| f64::from(moment.value) * moment.weight / all).sum::<f64>();
        chances = next;
    }
    let sum = (0_u32..).zip(&chances);
    let happened = f64::from(u32::try_from(seen).ok()?) - expected;
    let is_as_far = |at: u32| (f64::from(at) - expected).abs() >= happened.abs() - 1e-6;
    let p_value: f64 = sum.filter(|(at, _)| is_as_far(*at)).map(|(_, chance)| chance).sum();
    Some(Redrawn { sum_of_differences: happened, p_value: p_value.min(1.0) })
}

/// Places at which the best slope is sought first, in units of the widest set's range, on either side of zero.
const PLACES: i32 = 400;
const FARTHEST: f64 = 40.0;
/// Golden sections after which the bracket is a millionth of a millionth.
const SECTIONS: u32 = 60;

/// The factor by which the chance of the event grows over `units` of the value, by conditional logistic regression with the penalty
/// of Firth (1993): half the logarithm of the information is added, so that the slope stays finite. Limits where twice the loss of
/// the penalised logarithm reaches the chi-square quantile (Heinze and Schemper 2002). None where no set's values differ.
#[must_use]
pub fn matched_slope(sets: &[MatchedSet], units: f64, level: Level) -> Estimate {
    let range = sets.iter().map(spread).fold(0.0, f64::max);
    if range <= 0.0 {
        return Estimate::default();
    }
    let scaled: Vec<Vec<(f64, f64)>> = sets
        .iter()
        .map(|set| set.iter().map(|moment| (f64::from(moment.value) / range, moment.weight)).collect())
        .collect();
    let told = |slope: f64| penalised(&scaled, slope);
    let place = |step: i32| FARTHEST * f64::from(step) / f64::from(PLACES);
    let first = (-PLACES..=PLACES).max_by(|one, other| told(place(*one)).total_cmp(&told(place(*other))));
    let Some(first) = first else { return Estimate::default() };
    let best = highest(place(first - 1), place(first + 1), told);
    let top = told(best);
    let allowed = normal_distance(level.tail()).map(|z| z * z);
    let loss = |slope: f64| 2.0 * (top - told(slope));
    let factor = |slope: f64| finite((slope * units / range).exp());
    let at = |side| allowed.and_then(|allowed| limit(best, side, allowed, loss)).and_then(factor);
    Estimate { estimate: factor(best), low: at(Side::Below), high: at(Side::Above) }
}

fn spread(set: &MatchedSet) -> f64 {
    let values = || set.iter().map(|moment| f64::from(moment.value));
    values().fold(f64::NEG_INFINITY, f64::max) - values().fold(f64::INFINITY, f64::min)
}

/// The conditional log likelihood with Firth's penalty.
fn penalised(sets: &[Vec<(f64, f64)>], slope: f64) -> f64 {
    let (mut ln, mut information) = (0.0, 0.0);
    for set in sets {
        let Some((happened, own)) = set.first() else { continue };
        let largest = set.iter().map(|(value, _)| slope * value).fold(f64::NEG_INFINITY, f64::max);
        let weigh = |value: f64, weight: f64| weight * (slope * value - largest).exp();
        let all: f64 = set.iter().map(|(value, weight)| weigh(*value, *weight)).sum();
        ln += slope * happened - largest + own.ln() - all.ln();
        let mean = set.iter().map(|(value, weight)| value * weigh(*value, *weight)).sum::<f64>() / all;
        let squares = set.iter().map(|(value, weight)| (value - mean).powi(2) * weigh(*value, *weight));
        information += squares.sum::<f64>() / all;
    }
    ln + 0.5 * information.ln()
}

/// The highest place of a curve with one top between two places, by golden sections.
fn highest(mut low: f64, mut high: f64, curve: impl Fn(f64) -> f64) -> f64 {
    let golden = (5.0_f64.sqrt() - 1.0) / 2.0;
    for _ in 0..SECTIONS {
        let (left, right) = (high - golden * (high - low), low + golden * (high - low));
        if curve(left) < curve(right) { low = left } else { high = right }
    }
    f64::midpoint(low, high)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn set(moments: &[(u16, f64)]) -> MatchedSet {
        moments.iter().map(|(value, weight)| Moment { value: *value, weight: *weight }).collect()
    }

    fn five() -> Vec<MatchedSet> {
        vec![
            set(&[(700, 10.0), (400, 20.0), (500, 5.0)]),
            set(&[(600, 8.0), (650, 8.0)]),
            set(&[(300, 12.0), (200, 6.0), (800, 9.0), (100, 3.0)]),
            set(&[(900, 10.0), (200, 10.0)]),
            set(&[(500, 7.0), (400, 9.0), (450, 11.0)]),
        ]
    }

    #[test]
    fn drawing_anew_agrees_with_every_outcome_counted_one_by_one() {
        // All 3 * 2 * 4 * 2 * 3 outcomes of the five sets, counted one by one in a separate script: 468.7037, p = 0.4208995.
        let found = redrawn(&five()).unwrap();
        assert!((found.sum_of_differences - 468.703_703_7).abs() < 1e-6, "{found:?}");
        assert!((found.p_value - 0.420_899_470_9).abs() < 1e-9, "{found:?}");
        assert_eq!(redrawn(&[]), None);
    }

    #[test]
    fn two_even_moments_are_drawn_by_hand() {
        // Three sets with the higher of two even moments each: the sum is at its end, with either end 1/8: p = 1/4.
        let high = set(&[(800, 5.0), (200, 5.0)]);
        let found = redrawn(&[high.clone(), high.clone(), high]).unwrap();
        assert!(
            (found.sum_of_differences - 900.0).abs() < 1e-9 && (found.p_value - 0.25).abs() < 1e-12,
            "{found:?}"
        );
    }

    #[test]
    fn pairs_have_the_odds_with_half_a_pair_added_on_both_sides() {
        // For pairs the penalty is Jeffreys' prior: (157 + 1/2) / (24 + 1/2), by hand; the pairs of Redelmeier and Tibshirani (1997).
        let (high, low) = (set(&[(1000, 1.0), (0, 1.0)]), set(&[(0, 1.0), (1000, 1.0)]));
        let sets: Vec<MatchedSet> =
            std::iter::repeat_n(high, 157).chain(std::iter::repeat_n(low, 24)).collect();
        let found = matched_slope(&sets, 1000.0, Level::USUAL);
        assert!((found.estimate.unwrap() - 157.5 / 24.5).abs() < 1e-6, "{found:?}");
    }

    #[test]
    fn the_penalised_slope_is_that_of_a_general_minimiser() {
        // scipy 1.17.1, minimize_scalar of the penalised likelihood coded apart, with values in hundreds: slope 0.179297, limits by
        // brentq at the chi-square quantile -0.193771 and 0.699566.
        let found = matched_slope(&five(), 100.0, Level::USUAL);
        let ln = |value: Option<f64>| value.unwrap().ln();
        assert!((ln(found.estimate) - 0.179_297_45).abs() < 1e-6, "{found:?}");
        assert!((ln(found.low) + 0.193_770_56).abs() < 1e-6, "{found:?}");
        assert!((ln(found.high) - 0.699_565_73).abs() < 1e-6, "{found:?}");
    }

    #[test]
    fn sets_that_all_point_one_way_have_a_finite_slope() {
        let found = matched_slope(&vec![set(&[(900, 1.0), (100, 1.0)]); 4], 100.0, Level::USUAL);
        // Four of four: (4 + 1/2) / (1/2) = 9 over 800, so 9^(1/8) over 100.
        assert!((found.estimate.unwrap() - 9.0_f64.powf(0.125)).abs() < 1e-6, "{found:?}");
        let alike = set(&[(500, 1.0), (500, 3.0)]);
        assert_eq!(matched_slope(&[alike], 100.0, Level::USUAL), Estimate::default());
    }

    proptest! {
        #[test]
        fn a_draw_is_a_probability_and_the_most_usual_moment_is_no_surprise(
            values in prop::collection::vec((0_u16..=1000, 0_u16..=1000, 1_u32..50, 1_u32..50), 1..8),
        ) {
            let sets: Vec<MatchedSet> = values
                .iter()
                .map(|(one, other, w, v)| set(&[(*one, f64::from(*w)), (*other, f64::from(*v))]))
                .collect();
            let p = redrawn(&sets).unwrap().p_value;
            prop_assert!((0.0..=1.0).contains(&p) && p > 0.0);
            let same: Vec<MatchedSet> = values.iter().map(|(one, _, w, v)| {
                set(&[(*one, f64::from(*w)), (*one, f64::from(*v))])
            }).collect();
            prop_assert!((redrawn(&same).unwrap().p_value - 1.0).abs() < 1e-9);
        }
    }
}
