//! The limit of the session chart, by simulating healthy machines that are used like this one.
//!
//! Each draw makes a baseline with session effects that hang together from day to day, fits its curve with the error that this
//! baseline's knob places allow, takes the scatter from its innovations as the chart does, and goes on for many sessions. So the
//! limit knows that curve and scatter are themselves only estimates.

use rand::{Rng as _, SeedableRng as _};
use rand_chacha::ChaCha8Rng;
use rand_distr::StandardNormal;

use super::curve::{KnobCurve, WorkSession, dot};
use super::means::{EWMA_WEIGHT, Means, as_number, root_mean_square};
use crate::stats::{moved, number, root};

/// The limit is set so that a healthy machine passes it once in so many sessions on the average. The promise is one in 200 for
/// both charts together, with a dry run after each session; the rest is room for what the simulation leaves out, and keeps false
/// alarms rare in the first sessions on a new cloth.
pub const HEALTHY_SESSIONS_PER_ALARM: f64 = 450.0;
/// How strongly the session effect of one session carries over to the next, as a correlation. Too few sessions to estimate it;
/// assumed on the high side, because more of it asks for a wider limit.
pub const ASSUMED_AUTOCORRELATION: f64 = 0.5;
/// Machines that are simulated.
const MACHINES: usize = 1_000;
/// Sessions of each after its baseline.
const SESSIONS: u32 = 120;
/// Always the same chance, so that the same log always gives the same limit.
const SEED: u64 = 20;
/// A median scatters more than a mean by this factor, for many normal values: sqrt(pi / 2).
const MEDIAN_OVER_MEAN: f64 = 1.253_314_137_315_5;
/// Sessions scatter by at least this share of what is seen; the rest is single bursts.
const LEAST_SESSION_SHARE: f64 = 0.3;

/// A healthy machine, used like the one in the baseline; the unit is the scatter of its session effects.
#[derive(Clone, Debug)]
pub(super) struct Healthy<'curve> {
    curve: &'curve KnobCurve,
    sessions: Vec<Use>,
    bursts: f64,
}

/// How a session was used.
#[derive(Clone, Debug)]
struct Use {
    rug: usize,
    hat: Vec<f64>,
    median_scatter: f64,
}

impl<'curve> Healthy<'curve> {
    /// From the baseline, the scatter of its innovations and that of single bursts.
    pub(super) fn of(
        curve: &'curve KnobCurve,
        baseline: &[WorkSession],
        scatter: f64,
        of_bursts: f64,
    ) -> Self {
        let hats: Vec<(Vec<f64>, u64)> = baseline.iter().map(|session| curve.mean_hat(session)).collect();
        let usual = hats.iter().map(|(_, many)| number(*many)).sum::<f64>() / as_number(hats.len());
        let of_median = (MEDIAN_OVER_MEAN * of_bursts).powi(2) / usual.max(1.0);
        let least = (LEAST_SESSION_SHARE * scatter).powi(2);
        let of_sessions = (scatter * scatter - of_median).max(least).sqrt();
        let bursts = if of_sessions > 0.0 { of_bursts / of_sessions } else { 0.0 };
        let sessions = baseline
            .iter()
            .zip(hats)
            .map(|(session, (hat, many))| Use {
                rug: session.rug,
                hat,
                median_scatter: MEDIAN_OVER_MEAN * bursts / number(many.max(1)).sqrt(),
            })
            .collect();
        Self { curve, sessions, bursts }
    }

    /// Runs of sessions on one commission, as ranges of the baseline.
    fn blocks(&self) -> Vec<&[Use]> {
        self.sessions.chunk_by(|one, next| one.rug == next.rug).collect()
    }

    /// One machine: when its average reached new depths after the baseline, in scatters.
    fn depths(&self, chance: &mut ChaCha8Rng, blocks: &[&[Use]]) -> Vec<(u32, f64)> {
        let mut effect: f64 = normal(chance);
        let effects: Vec<f64> = self.sessions.iter().map(|_| carried(&mut effect, chance)).collect();
        let knots = self.curve_error(&effects, chance);
        let mut means = Means::default();
        let mut innovations = Vec::new();
        for (used, effect) in self.sessions.iter().zip(&effects) {
            let level = effect + dot(&used.hat, &knots) + used.median_scatter * normal(chance);
            innovations.extend(means.innovation(used.rug, level));
        }
        let scatter = root_mean_square(&innovations);
        let (mut average, mut deepest, mut depths) = (0.0, 0.0, Vec::new());
        // Commissions after the baseline get numbers that none in it has.
        let mut rug = self.sessions.iter().map(|used| used.rug).max().unwrap_or(0);
        let mut session = 0;
        while session < SESSIONS {
            rug += 1;
            let Some(block) = blocks.get(chance.random_range(0..blocks.len().max(1))) else { break };
            for used in *block {
                session += 1;
                let effect = carried(&mut effect, chance);
                let level = effect + dot(&used.hat, &knots) + used.median_scatter * normal(chance);
                let Some(innovation) = means.innovation(rug, level) else { continue };
                average = moved(average, innovation, EWMA_WEIGHT);
                if -average / scatter > deepest {
                    deepest = -average / scatter;
                    depths.push((session, deepest));
                }
            }
        }
        depths
    }

    /// By how much each knot is off, from these session effects and from single bursts.
    fn curve_error(&self, effects: &[f64], chance: &mut ChaCha8Rng) -> Vec<f64> {
        let draws: Vec<f64> = (0..self.curve.of_bursts.size()).map(|_| normal(chance)).collect();
        let mut knots = self.curve.of_bursts.times(&draws);
        for knot in &mut knots {
            *knot *= self.bursts;
        }
        for (effect, moved) in effects.iter().zip(&self.curve.of_session) {
            for (knot, by) in knots.iter_mut().zip(moved) {
                *knot += by * effect;
            }
        }
        // A curve that is too high makes sessions look slow.
        knots.iter().map(|knot| -knot).collect()
    }
}

fn normal(chance: &mut ChaCha8Rng) -> f64 {
    chance.sample(StandardNormal)
}

fn carried(effect: &mut f64, chance: &mut ChaCha8Rng) -> f64 {
    let fresh = (1.0 - ASSUMED_AUTOCORRELATION * ASSUMED_AUTOCORRELATION).sqrt();
    *effect = ASSUMED_AUTOCORRELATION * *effect + fresh * normal(chance);
    *effect
}

/// The limit in scatters of innovations.
pub(super) fn limit(healthy: &Healthy<'_>) -> Option<f64> {
    let mut chance = ChaCha8Rng::seed_from_u64(SEED);
    let blocks = healthy.blocks();
    if blocks.iter().all(|block| block.len() < 2) {
        return None;
    }
    let machines: Vec<Vec<(u32, f64)>> =
        (0..MACHINES).map(|_| healthy.depths(&mut chance, &blocks)).collect();
    let alarms_per_session = |limit: f64| {
        let (mut alarms, mut sessions) = (0.0, 0.0);
        for depths in &machines {
            let first = depths.iter().find(|(_, depth)| *depth > limit);
            alarms += f64::from(u8::from(first.is_some()));
            sessions += first.map_or(f64::from(SESSIONS), |(session, _)| f64::from(*session));
        }
        alarms / sessions
    };
    root(0.0, 10.0, |limit| 1.0 / HEALTHY_SESSIONS_PER_ALARM - alarms_per_session(limit))
        .filter(|limit| *limit < 9.9)
}
