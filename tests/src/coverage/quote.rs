//! How often a quote's range holds, tried on made-up makers whose truth is known: the next rug, and each of the own rugs
//! foretold from the others.

use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, Gamma, LogNormal};

use host_core::stats::{Level, held_when_left_out, next_value, number};

/// The same makers every time.
pub const SEED: u64 = 20_260_302;
/// Makers for each number in the table.
pub const MAKERS: u32 = 1_000;
/// Own rugs of a made-up maker.
const RUGS: [usize; 4] = [4, 5, 8, 12];

/// One line of the table: shares of rugs that lay in the range.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CoverageLine {
    /// Own rugs.
    pub rugs: usize,
    /// How the hours per area scatter.
    pub scatter: &'static str,
    /// The next rug.
    pub next: f64,
    /// Own rugs, each left out in turn; none where too few are left.
    pub left_out: Option<f64>,
}

/// The table at a level.
#[must_use]
pub fn table(level: Level) -> Vec<CoverageLine> {
    let mut lines = Vec::new();
    for rugs in RUGS {
        if let (Ok(steady), Ok(wild), Ok(other)) =
            (LogNormal::new(0.1, 0.2), LogNormal::new(0.1, 0.6), Gamma::new(4.0, 0.3))
        {
            lines.push(line(rugs, "log-normal, s = 0.2", level, &steady));
            lines.push(line(rugs, "log-normal, s = 0.6", level, &wild));
            lines.push(line(rugs, "gamma, shape 4", level, &other));
        }
    }
    lines
}

fn line(rugs: usize, scatter: &'static str, level: Level, hours: &impl Distribution<f64>) -> CoverageLine {
    let mut chance = ChaCha8Rng::seed_from_u64(SEED);
    let (mut next_held, mut left_out_held, mut left_out) = (0, 0, 0);
    for _ in 0..MAKERS {
        let values: Vec<f64> = (0..rugs).map(|_| hours.sample(&mut chance)).collect();
        let truth = hours.sample(&mut chance);
        let range = next_value(&values, level).unwrap_or_default();
        next_held += u64::from(
            range.low.is_some_and(|low| low <= truth) && range.high.is_some_and(|high| truth <= high),
        );
        if let Some(held) = held_when_left_out(&values, level) {
            left_out_held += held;
            left_out += u64::try_from(rugs).unwrap_or(0);
        }
    }
    let share = |held: u64, of: u64| number(held) / number(of);
    CoverageLine {
        rugs,
        scatter,
        next: share(next_held, u64::from(MAKERS)),
        left_out: (left_out > 0).then(|| share(left_out_held, left_out)),
    }
}
