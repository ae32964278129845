//! The one pseudo-random generator of logger, simulation and tests: `SplitMix64` (Steele, Lea and Flood 2014). Not for secrets.

/// A generator: one seed, one stream, on every processor.
#[derive(Clone, Debug)]
pub struct SplitMix64(u64);

impl SplitMix64 {
    /// Starts the stream of a seed.
    #[must_use]
    pub const fn new(seed: u64) -> Self {
        Self(seed)
    }

    /// The next 64 bits.
    pub const fn next_u64(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    /// The low byte of the next 64 bits.
    pub const fn next_u8(&mut self) -> u8 {
        let [byte, ..] = self.next_u64().to_le_bytes();
        byte
    }

    /// Uniform over 0 to `bound` - 1, with a bias below `bound` / 2^64; 0 for a bound of 0.
    pub fn below(&mut self, bound: u64) -> u64 {
        self.next_u64().checked_rem(bound).unwrap_or(0)
    }

    /// True with probability 1 / `count`.
    pub fn one_in(&mut self, count: u64) -> bool {
        self.below(count) == 0
    }

    /// Uniform over [0, 1), in steps of 2^-53.
    #[must_use]
    #[expect(clippy::cast_precision_loss, reason = "53 bits fit a float exactly")]
    pub const fn uniform(&mut self) -> f64 {
        (self.next_u64() >> 11) as f64 / 9_007_199_254_740_992.0
    }
}

/// Mixes 64 bits: the first output for this seed.
pub(crate) const fn mixed(seed: u64) -> u64 {
    SplitMix64::new(seed).next_u64()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_numbers_are_those_of_the_published_generator() {
        // The first three for the seed 1234567 as its public-domain C code gives them; from memory.
        let mut rng = SplitMix64::new(1_234_567);
        let drawn = [rng.next_u64(), rng.next_u64(), rng.next_u64()];
        assert_eq!(drawn, [6_457_827_717_110_365_317, 3_203_168_211_198_807_973, 9_817_491_932_198_370_423]);
    }
}
