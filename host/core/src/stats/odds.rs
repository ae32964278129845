//! Shares from the logarithms of their odds.

/// The share with these log odds.
#[must_use]
pub fn logistic(log_odds: f64) -> f64 {
    1.0 / (1.0 + (-log_odds).exp())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_share_follows_from_its_log_odds() {
        // scipy.special.expit(0.5).
        assert!((logistic(0.5) - 0.622_459_331_201_854_6).abs() < 1e-12);
        assert!((logistic(-900.0), logistic(900.0)) == (0.0, 1.0));
    }
}
