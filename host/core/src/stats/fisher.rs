//! Fisher's exact test of a table of two by two.

use statrs::function::factorial::ln_binomial;

use super::number;

/// Two outcomes whose probabilities differ by less than this share count as equally probable.
const EQUALLY_PROBABLE: f64 = 1.0 + 1e-7;

/// How surprising it would be, with the margins as they are, that two shares differ as much as `one[0]` of `one` and `other[0]` of
/// `other` do: the probability of all tables that are not more probable (Fisher 1935; the rule of R's `fisher.test`).
#[must_use]
pub fn fisher(one: [u64; 2], other: [u64; 2]) -> f64 {
    let (one_all, other_all) = (one[0].saturating_add(one[1]), other[0].saturating_add(other[1]));
    let (first, all) = (one[0].saturating_add(other[0]), one_all.saturating_add(other_all));
    let ln_probability = |seen: u64| {
        ln_binomial(one_all, seen) + ln_binomial(other_all, first - seen) - ln_binomial(all, first)
    };
    let bound = ln_probability(one[0]) + EQUALLY_PROBABLE.ln();
    let possible = first.saturating_sub(other_all)..=first.min(one_all);
    possible.map(ln_probability).filter(|ln| *ln <= bound).map(f64::exp).sum::<f64>().min(1.0)
}

/// The share of the first of two counts; none without any.
#[must_use]
pub fn share(counts: [u64; 2]) -> Option<f64> {
    let all = counts[0].saturating_add(counts[1]);
    (all > 0).then(|| number(counts[0]) / number(all))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_lady_and_the_twins_are_judged_as_on_rs_help_page() {
        // R's help page of fisher.test: the tea tasting of Fisher (1935), 3 1 / 1 3, p = 0.4857; the criminal twins, 2 10 / 15 3,
        // p = 0.0005367.
        assert!((fisher([3, 1], [1, 3]) - 0.4857).abs() < 5.1e-5);
        assert!((fisher([2, 10], [15, 3]) - 0.000_536_7).abs() < 5.1e-8);
    }

    #[test]
    fn empty_rows_surprise_nobody() {
        assert!((fisher([0, 0], [5, 3]) - 1.0).abs() < 1e-12);
        assert!((fisher([0, 0], [0, 0]) - 1.0).abs() < 1e-12);
        assert_eq!(share([0, 0]), None);
    }
}
