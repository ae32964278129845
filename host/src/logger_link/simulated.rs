//! A logger without a cable: bytes in, bytes out, on request with a link that loses and bends some of them.

use std::collections::VecDeque;
use std::fmt;
use std::io::{self, Read, Write};
use std::time::Duration;

use super::wire::{RetryPolicy, Wire};

/// How bad a link is, and from which seed; the same seed spoils the same bytes.
#[derive(Clone, Copy, Debug, Default)]
pub struct Loss {
    /// Seed of the sequence.
    pub seed: u64,
    /// Of a million bytes, this many vanish.
    pub dropped_per_million: u32,
    /// Of a million bytes, this many have one bit turned.
    pub flipped_per_million: u32,
}

/// A byte stream to a simulated logger.
pub struct SimulatedStream<F> {
    answer: F,
    loss: Loss,
    waiting: VecDeque<u8>,
}

impl<F> fmt::Debug for SimulatedStream<F> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("SimulatedStream").field("loss", &self.loss).finish_non_exhaustive()
    }
}

/// A simulated logger.
pub type SimulatedLogger<F> = Wire<SimulatedStream<F>>;

/// A logger whose link server is `answer`: it gets the bytes that were sent and returns the bytes that come back.
pub fn simulated<F: FnMut(&[u8]) -> Vec<u8>>(
    place: impl Into<String>,
    answer: F,
    loss: Loss,
) -> SimulatedLogger<F> {
    // The answer is there at once or never, so there is nothing to wait for; a lossy link is worth more attempts.
    let attempts = if loss.dropped_per_million + loss.flipped_per_million > 0 { 25 } else { 3 };
    let policy = RetryPolicy { attempt: Duration::ZERO, attempts };
    Wire::new(SimulatedStream { answer, loss, waiting: VecDeque::new() }, place, policy)
}

impl<F> SimulatedStream<F> {
    fn spoil(&mut self, bytes: &[u8]) -> Vec<u8> {
        let mut out = Vec::with_capacity(bytes.len());
        for &byte in bytes {
            let draw = self.draw();
            let (chance, bit) = (draw % 1_000_000, (draw >> 40) % 8);
            if chance < u64::from(self.loss.dropped_per_million) {
                continue;
            }
            let spoilt = u64::from(self.loss.dropped_per_million) + u64::from(self.loss.flipped_per_million);
            out.push(if chance < spoilt { byte ^ (1 << bit) } else { byte });
        }
        out
    }

    /// `SplitMix64` (Steele, Lea and Flood 2014): one addition and a mix, good enough for noise.
    const fn draw(&mut self) -> u64 {
        self.loss.seed = self.loss.seed.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.loss.seed;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }
}

impl<F: FnMut(&[u8]) -> Vec<u8>> Write for SimulatedStream<F> {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        let arriving = self.spoil(bytes);
        let answer = (self.answer)(&arriving);
        let coming = self.spoil(&answer);
        self.waiting.extend(coming);
        Ok(bytes.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        Ok(())
    }
}

impl<F> Read for SimulatedStream<F> {
    fn read(&mut self, out: &mut [u8]) -> io::Result<usize> {
        if self.waiting.is_empty() {
            return Err(io::ErrorKind::TimedOut.into());
        }
        self.waiting.read(out)
    }
}
