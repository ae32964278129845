//! Draws from distributions.

use crate::split_mix::SplitMix64;

impl SplitMix64 {
    /// Standard normal (Box and Muller 1958).
    pub fn normal(&mut self) -> f64 {
        let (one, other) = (1.0 - self.uniform(), self.uniform());
        (-2.0 * one.ln()).sqrt() * (core::f64::consts::TAU * other).cos()
    }

    /// Gamma with mean 1 and this variance; 1 for a variance of 0 (Marsaglia and Tsang 2000, with their step for shapes below
    /// one).
    pub fn gamma_of_mean_one(&mut self, variance: f64) -> f64 {
        if variance <= 0.0 {
            return 1.0;
        }
        let shape = 1.0 / variance;
        let (d, lift) = if shape < 1.0 {
            (shape + 2.0 / 3.0, (1.0 - self.uniform()).powf(variance))
        } else {
            (shape - 1.0 / 3.0, 1.0)
        };
        let c = 1.0 / (9.0 * d).sqrt();
        loop {
            let x = self.normal();
            let v = (1.0 + c * x).powi(3);
            if v > 0.0 && (1.0 - self.uniform()).ln() < 0.5 * x * x + d * (1.0 - v + v.ln()) {
                return d * v * lift * variance;
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use std::vec::Vec;

    use super::*;

    #[test]
    fn frailties_have_the_mean_and_variance_that_they_should() {
        for variance in [1.0, 3.0] {
            let mut rng = SplitMix64::new(7);
            let drawn: Vec<f64> = (0..200_000).map(|_| rng.gamma_of_mean_one(variance)).collect();
            let mean = drawn.iter().sum::<f64>() / 200_000.0;
            let spread = drawn.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / 200_000.0;
            assert!((mean - 1.0).abs() < 0.02, "mean {mean}");
            assert!((spread / variance - 1.0).abs() < 0.05, "variance {spread} instead of {variance}");
        }
    }
}
