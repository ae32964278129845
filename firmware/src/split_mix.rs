//! Spreading few random bits over all: the output function of SplitMix64 (Steele, Lea and Flood 2014).

/// How far the generator's state goes from one number to the next.
pub(crate) const STEP: u64 = 0x9E37_79B9_7F4A_7C15;

/// The number that follows a state.
pub(crate) const fn mixed(state: u64) -> u64 {
    let mut z = state.wrapping_add(STEP);
    z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
    z ^ (z >> 31)
}

/// The next number of a generator, whose state goes on.
pub(crate) const fn next(state: &mut u64) -> u64 {
    let number = mixed(*state);
    *state = state.wrapping_add(STEP);
    number
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_numbers_are_those_of_the_published_generator() {
        // The first three for the seed 1234567 as its public-domain C code gives them; from memory.
        let mut state = 1_234_567;
        let drawn = [next(&mut state), next(&mut state), next(&mut state)];
        assert_eq!(drawn, [6_457_827_717_110_365_317, 3_203_168_211_198_807_973, 9_817_491_932_198_370_423]);
    }
}
