//! Random control traces, as a baseline for the traces of presses.
//!
//! A Poisson process in run time draws the moments in advance. It is memoryless: every running moment is equally likely, a
//! restart may redraw, and no input can influence a draw.

use shared_types::limits::{BURSTS_PER_CONTROL, TRACE_STEP_MS};

use crate::split_mix::SplitMix64;

/// Typical run time of a burst, in milliseconds. Sets the rate of controls only.
const USUAL_BURST_MS: u64 = 8_000;
/// Mean run time from one control to the next, in milliseconds.
pub const MEAN_DISTANCE_MS: u64 = USUAL_BURST_MS * BURSTS_PER_CONTROL as u64;

const _: () = assert!(MEAN_DISTANCE_MS > 20 * TRACE_STEP_MS as u64, "controls must seldom overlap");

/// Draws the moments of the controls.
#[derive(Clone, Debug)]
pub struct ControlDraw {
    rng: SplitMix64,
    left_ms: u64,
}

impl ControlDraw {
    /// Draws the first moment from `seed`; any number will do.
    #[must_use]
    pub fn new(seed: u64) -> Self {
        let mut draw = Self { rng: SplitMix64::new(seed), left_ms: 0 };
        draw.left_ms = draw.distance_ms();
        draw
    }

    /// Takes the run time since the last look and tells whether a drawn moment lies in it. Two moments in one look give one
    /// control: the second trace would be the same.
    pub fn passes(&mut self, ran_ms: u64) -> bool {
        // One look is a small part of a second; the bound keeps this loop short whatever a clock says.
        let mut ran = ran_ms.min(MEAN_DISTANCE_MS);
        let mut passed = false;
        while ran >= self.left_ms {
            ran -= self.left_ms;
            self.left_ms = self.distance_ms();
            passed = true;
        }
        self.left_ms -= ran;
        passed
    }

    /// An exponential distance: the mean times -ln(u), with u in (0, 1]; never zero.
    fn distance_ms(&mut self) -> u64 {
        let u = (self.rng.next_u64() >> 32) | 1;
        // -ln(u / 2^32) = (32 - log2 u) ln 2, in 1/65536; 45426 is ln 2 in that unit.
        let minus_log2 = (32 << 16) - log2_q16(u);
        ((MEAN_DISTANCE_MS * ((minus_log2 * 45_426) >> 16)) >> 16).max(1)
    }
}

/// log2 of a number from 1 to 2^32 - 1, in 1/65536, by repeated squaring.
const fn log2_q16(number: u64) -> u64 {
    let whole = number.ilog2();
    // The number scaled to 1..2 with 31 bits behind the point.
    let mut scaled = if whole > 31 { number >> (whole - 31) } else { number << (31 - whole) };
    let mut result = (whole as u64) << 16;
    let mut bit = 1 << 15;
    while bit > 0 {
        scaled = (scaled * scaled) >> 31;
        if scaled >= 1 << 32 {
            scaled >>= 1;
            result |= bit;
        }
        bit >>= 1;
    }
    result
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_logarithm_agrees_with_the_one_of_the_standard_library() {
        for number in [1_u64, 2, 3, 10, 1_000, 65_537, 0x8000_0000, 0xFFFF_FFFF] {
            #[expect(clippy::cast_precision_loss, reason = "the numbers are below 2^53")]
            let (ours, theirs) = (log2_q16(number) as f64 / 65_536.0, (number as f64).log2());
            assert!((ours - theirs).abs() < 1e-4, "log2({number}): {ours} against {theirs}");
        }
    }

    #[test]
    fn distances_have_the_mean_and_the_spread_of_an_exponential_draw() {
        let mut draw = ControlDraw::new(1);
        let count = 20_000_u64;
        let (mut sum, mut above_mean) = (0, 0);
        for _ in 0..count {
            let distance = draw.distance_ms();
            sum += distance;
            above_mean += u64::from(distance > MEAN_DISTANCE_MS);
        }
        // Thirty bursts of eight seconds; of an exponential draw a share of 1/e = 0.368 lies above its mean.
        let mean = sum / count;
        assert!((234_000..246_000).contains(&mean), "mean distance {mean} ms");
        assert!((7_100..7_620).contains(&above_mean), "{above_mean} of {count} above the mean");
    }

    #[test]
    fn how_the_running_is_cut_into_looks_does_not_move_the_moments() {
        let (mut coarse, mut fine) = (ControlDraw::new(77), ControlDraw::new(77));
        let (mut by_coarse, mut by_fine) = (std::vec::Vec::new(), std::vec::Vec::new());
        for second in 0..20_000_u64 {
            if coarse.passes(1_000) {
                by_coarse.push(second);
            }
            let mut hit = false;
            for piece in [1, 99, 400, 0, 500] {
                hit |= fine.passes(piece);
            }
            if hit {
                by_fine.push(second);
            }
        }
        assert_eq!(by_coarse, by_fine);
        assert!((55..=112).contains(&by_coarse.len()), "{} controls in 20,000 s", by_coarse.len());
    }

    #[test]
    fn an_absurd_run_time_passes_a_moment_and_does_not_take_for_ever() {
        assert!(ControlDraw::new(1).passes(u64::MAX) || ControlDraw::new(2).passes(u64::MAX));
    }
}
