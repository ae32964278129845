//! Shares and the logarithms of their odds.

/// The logarithm of a share over what is left of 1. Infinite at 0 and 1.
#[must_use]
pub fn log_odds(share: f64) -> f64 {
    (share / (1.0 - share)).ln()
}

/// The share with these log odds.
#[must_use]
pub fn logistic(log_odds: f64) -> f64 {
    1.0 / (1.0 + (-log_odds).exp())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn shares_and_their_log_odds_belong_together() {
        // scipy.special.logit(0.1) and expit(0.5).
        assert!((log_odds(0.1) - -2.197_224_577_336_219_6).abs() < 1e-12);
        assert!((logistic(0.5) - 0.622_459_331_201_854_6).abs() < 1e-12);
        assert!(log_odds(0.0).is_infinite() && log_odds(1.0).is_infinite());
        assert!((logistic(-900.0), logistic(900.0)) == (0.0, 1.0));
    }
}
