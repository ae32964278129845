//! Random streams (ChaCha8): the same seed gives the same studio, on every computer.

use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, LogNormal};

/// One stream of a seed.
#[derive(Clone, Debug)]
pub struct RandomStream(ChaCha8Rng);

impl RandomStream {
    /// Starts a stream. Streams of one seed with different `purpose` do not depend on each other, so that one decision
    /// more in one of them leaves the others as they were.
    pub fn new(seed: u64, purpose: u64) -> Self {
        let mut stream = ChaCha8Rng::seed_from_u64(seed);
        stream.set_stream(purpose);
        Self(stream)
    }

    /// The next 64 bits, to seed another generator.
    pub fn next_u64(&mut self) -> u64 {
        self.0.random()
    }

    /// True with this probability.
    pub fn bernoulli(&mut self, probability: f64) -> bool {
        self.0.random_bool(probability.clamp(0.0, 1.0))
    }

    /// Uniform from `low` to `high`, both included.
    pub fn uniform(&mut self, low: u64, high: u64) -> u64 {
        self.0.random_range(low..=high.max(low))
    }

    /// Log-normal, in milliseconds; clamped to between a hundredth and a hundred times the median.
    pub fn log_normal_ms(&mut self, median_ms: f64, sigma: f64) -> u64 {
        let drawn = LogNormal::new(median_ms.max(1.0).ln(), sigma)
            .map_or(median_ms, |curve| curve.sample(&mut self.0));
        whole(drawn.clamp(median_ms / 100.0, median_ms * 100.0))
    }
}

/// The nearest whole number; zero for what is none.
pub fn whole(number: f64) -> u64 {
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "saturates, which is what is meant"
    )]
    let whole = number.round().max(0.0) as u64;
    whole
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_seed_gives_one_stream_and_another_purpose_another() {
        let draw = |seed, purpose| RandomStream::new(seed, purpose).uniform(0, u64::MAX);
        assert_eq!(draw(1, 1), draw(1, 1));
        assert_ne!(draw(1, 1), draw(1, 2));
        assert_ne!(draw(1, 1), draw(2, 1));
    }

    #[test]
    fn half_of_the_draws_lie_below_the_median() {
        let mut rng = RandomStream::new(7, 0);
        let below = (0..10_000).filter(|_| rng.log_normal_ms(6_000.0, 0.8) < 6_000).count();
        // 10,000 draws at one half: four standard deviations are 200.
        assert!((4_800..=5_200).contains(&below), "{below}");
    }
}
