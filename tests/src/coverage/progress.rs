//! How often the ranges of `rug progress` hold, tried on made-up makers whose truth is known: how far along the rug is, and
//! the hours that are left.

use rand::{Rng, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, Gamma, LogNormal};

use host_core::stats::{Level, next_value_above, number};

/// The same makers every time.
pub const SEED: u64 = 20_260_303;
/// Makers for each number in the table.
pub const MAKERS: u32 = 1_000;
/// How much the rest of a rug goes faster or slower than what was done of it, as the standard deviation of the logarithm.
pub const PACE_SCATTER: f64 = 0.1;
/// Own rugs of a made-up maker.
const RUGS: [usize; 3] = [4, 6, 12];

/// When a maker asks.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum AskedAt {
    /// When this share of the rug is done.
    Share(f64),
    /// At any moment of the work.
    AnyMoment,
}

/// When the made-up makers ask.
const ASKED_AT: [AskedAt; 4] =
    [AskedAt::Share(0.25), AskedAt::Share(0.5), AskedAt::Share(0.75), AskedAt::AnyMoment];

/// One line of the table.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ProgressCoverage {
    /// Own rugs.
    pub rugs: usize,
    /// How the strokes per area scatter.
    pub scatter: &'static str,
    /// When it was asked.
    pub asked_at: AskedAt,
    /// Share of the answers of which the range held how far along the rug was; the strokes that are left are held just as
    /// often.
    pub share_held: f64,
    /// Share of the answers of which the range held the hours that were left.
    pub hours_held: f64,
    /// Share of the askings that got an answer.
    pub answered: f64,
}

/// The table at a level.
#[must_use]
pub fn table(level: Level) -> Vec<ProgressCoverage> {
    let mut lines = Vec::new();
    for rugs in RUGS {
        for asked_at in ASKED_AT {
            if let (Ok(steady), Ok(wild), Ok(other)) =
                (LogNormal::new(0.1, 0.2), LogNormal::new(0.1, 0.6), Gamma::new(4.0, 0.3))
            {
                lines.extend(line((rugs, "log-normal, s = 0.2", asked_at), level, &steady));
                lines.extend(line((rugs, "log-normal, s = 0.6", asked_at), level, &wild));
                lines.extend(line((rugs, "gamma, shape 4", asked_at), level, &other));
            }
        }
    }
    lines
}

fn line(
    (rugs, scatter, asked_at): (usize, &'static str, AskedAt),
    level: Level,
    strokes: &impl Distribution<f64>,
) -> Option<ProgressCoverage> {
    let pace = LogNormal::new(0.0, PACE_SCATTER).ok()?;
    let mut chance = ChaCha8Rng::seed_from_u64(SEED);
    let (mut share_held, mut hours_held, mut answered) = (0_u64, 0_u64, 0_u64);
    for _ in 0..MAKERS {
        let own: Vec<f64> = (0..rugs).map(|_| strokes.sample(&mut chance)).collect();
        let whole = strokes.sample(&mut chance);
        let share = match asked_at {
            AskedAt::Share(share) => share,
            AskedAt::AnyMoment => chance.random_range(0.05..0.99),
        };
        let rest_pace = pace.sample(&mut chance);
        let done = whole * share;
        let Some(range) = next_value_above(&own, done, level) else { continue };
        let (Some(low), Some(high)) = (range.low, range.high) else { continue };
        answered += 1;
        share_held += u64::from(low <= whole && whole <= high);
        // Hours are told by the pace so far, which is one here.
        let hours_left = (whole - done) * rest_pace;
        hours_held += u64::from(low - done <= hours_left && hours_left <= high - done);
    }
    let of = |held: u64| number(held) / number(answered.max(1));
    Some(ProgressCoverage {
        rugs,
        scatter,
        asked_at,
        share_held: of(share_held),
        hours_held: of(hours_held),
        answered: number(answered) / f64::from(MAKERS),
    })
}
