//! A way in which the pace may go.
//!
//! A way is steady, or wanders and now and then jumps, or has busy and quiet times by turns; each may grow or shrink. The pace of
//! a week lies on a ladder of levels. Which levels are probable is carried forward from week to week (the forward algorithm of
//! hidden Markov models), and a course of the pace through all weeks is drawn backwards (Carter and Kohn 1994). A season lasts
//! for some stages that each end with the same chance from week to week, so that it hardly ever lasts for a week or two only.

use super::chance::Chance;
use super::memory::Memory;
use super::resample::float;

/// Rungs of the ladder on which the pace of a quiet week lies.
pub(super) const LEVELS: usize = 32;
/// From one rung to the next, in the logarithm of the pace.
const STEP: f64 = 0.14;
/// The rung of a usual week.
const MIDDLE: f64 = 17.0;
/// Rungs with those above that only busy weeks reach.
pub(super) const RUNGS: usize = 48;
/// By how many rungs a busy week lies above a quiet one: 1.75, 2.7 or 4.1 times as much.
const BUSY_ABOVE: [usize; 3] = [4, 7, 10];
/// Stages of a season.
const STAGES: usize = 4;
/// Growth, in steps.
pub(super) const GROWTHS: [f64; 5] = [-2.0, -1.0, 0.0, 1.0, 2.0];
/// Growth goes on for at most a year.
const GROWTH_WEEKS: usize = 52;

pub(super) type Rungs = [f64; LEVELS];
/// How probable each stage and each rung is.
pub(super) type Belief = Vec<Rungs>;

/// A course of the pace through the weeks that were, and where it has come to.
#[derive(Clone, Debug)]
pub(super) struct Course {
    /// Which way.
    pub way: usize,
    /// How even the weeks are at one pace.
    pub evenness: f64,
    /// Logarithm of the pace in each whole week.
    pub past: Vec<f64>,
    /// The level and the stage after the last one.
    pub level: f64,
    /// As above.
    pub stage: usize,
}

/// Busy and quiet times by turns.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Season {
    above: usize,
    busy_ends: f64,
    quiet_ends: f64,
}

impl Season {
    const fn is_busy(stage: usize) -> bool {
        stage < STAGES
    }

    const fn ends(&self, stage: usize) -> f64 {
        if Self::is_busy(stage) { self.busy_ends } else { self.quiet_ends }
    }
}

/// A way in which the pace may go.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Way {
    /// Growth of the logarithm of the pace by week.
    pub growth: f64,
    wander: f64,
    jump: f64,
    jump_deviation: f64,
    season: Option<Season>,
    /// How probable it is before anything is known.
    pub share: f64,
}

/// All ways that are thought of.
pub(super) fn ways(memory: &Memory) -> Vec<Way> {
    let weights = GROWTHS.map(|steps| {
        if memory.growth_deviation > 0.0 {
            (-0.5 * (steps / memory.growth_deviation).powi(2)).exp()
        } else {
            f64::from(u8::from(steps == 0.0))
        }
    });
    let all: f64 = weights.iter().sum();
    let mut ways = Vec::new();
    for (steps, weight) in GROWTHS.into_iter().zip(weights) {
        let steady = Way {
            growth: steps * memory.growth_step,
            wander: 0.0,
            jump: 0.0,
            jump_deviation: memory.jump_deviation,
            season: None,
            share: weight / all * (1.0 - memory.season_share) * (1.0 - memory.wander_share),
        };
        let share = weight / all * (1.0 - memory.season_share) * memory.wander_share;
        ways.extend([steady, Way { wander: memory.wander, jump: memory.jump, share, ..steady }]);
        let share = weight / all * memory.season_share / 12.0;
        ways.extend(seasons(memory).map(|season| Way { season: Some(season), share, ..steady }));
    }
    ways.retain(|way| way.share > 0.0);
    ways
}

fn seasons(memory: &Memory) -> impl Iterator<Item = Season> {
    let spread = memory.season_spread;
    let ends =
        move |weeks: f64| [weeks / spread, weeks * spread].map(|weeks| (float(STAGES) / weeks).min(1.0));
    let (busy, quiet) = (ends(memory.season_weeks.0), ends(memory.season_weeks.1));
    BUSY_ABOVE.into_iter().flat_map(move |above| {
        busy.into_iter().flat_map(move |busy_ends| {
            quiet.into_iter().map(move |quiet_ends| Season { above, busy_ends, quiet_ends })
        })
    })
}

impl Way {
    fn is_still(&self) -> bool {
        self.season.is_none() && self.wander <= 0.0 && self.jump <= 0.0
    }

    /// By how many rungs the pace of a stage lies above its level.
    fn above(&self, stage: usize) -> usize {
        self.season.filter(|_| Season::is_busy(stage)).map_or(0, |season| season.above)
    }

    /// The chance that a level becomes the next one up, or down, so that it wanders as far as it should.
    fn aside(&self) -> f64 {
        (self.wander / STEP).powi(2) / 2.0
    }

    /// Carries what is believed of levels and stages through the weeks, and hands out what is believed after each.
    /// The logarithm of how probable the weeks are.
    pub fn forward(
        &self,
        weeks: &[[f64; RUNGS]],
        start: &Rungs,
        after_jump: &Rungs,
        mut after_each: impl FnMut(&Belief),
    ) -> f64 {
        let mut belief = self.beginning(start);
        let mut ln_probable = 0.0;
        for (at, marks) in weeks.iter().enumerate() {
            if at > 0 {
                self.step(&mut belief, after_jump);
            }
            let mut all = 0.0;
            for (stage, rungs) in belief.iter_mut().enumerate() {
                let marks = marks.get(self.above(stage)..).unwrap_or_default();
                for (rung, mark) in rungs.iter_mut().zip(marks) {
                    *rung *= mark;
                }
                all += rungs.iter().sum::<f64>();
            }
            let scale = 1.0 / all.max(f64::MIN_POSITIVE);
            belief.iter_mut().flatten().for_each(|rung| *rung *= scale);
            ln_probable += all.max(f64::MIN_POSITIVE).ln();
            after_each(&belief);
        }
        ln_probable
    }

    /// With seasons, the mean of busy and quiet weeks is what others tell of, and each stage is as probable as it is long.
    fn beginning(&self, start: &Rungs) -> Belief {
        let Some(season) = self.season else { return vec![*start] };
        let (busy, quiet) = (1.0 / season.busy_ends, 1.0 / season.quiet_ends);
        let above = float(season.above) * busy / (busy + quiet);
        let mean_at = |rung: usize| (rung..LEVELS).nth(whole(above)).unwrap_or(LEVELS - 1);
        let level: Rungs = std::array::from_fn(|rung| start.get(mean_at(rung)).copied().unwrap_or(0.0));
        (0..2 * STAGES)
            .map(|stage| {
                let share = (1.0 / season.ends(stage)) / (busy + quiet) / float(STAGES);
                level.map(|rung| rung * share)
            })
            .collect()
    }

    fn step(&self, belief: &mut Belief, after_jump: &Rungs) {
        if let Some(season) = self.season {
            let Some(mut before) = belief.last().copied() else { return };
            let mut ended = season.ends(2 * STAGES - 1);
            for (stage, rungs) in belief.iter_mut().enumerate() {
                let (old, ends) = (*rungs, season.ends(stage));
                for ((rung, old), before) in rungs.iter_mut().zip(old).zip(before) {
                    *rung = old * (1.0 - ends) + before * ended;
                }
                (before, ended) = (old, ends);
            }
        } else if let Some(rungs) = belief.first_mut().filter(|_| !self.is_still()) {
            let (old, all, aside) = (*rungs, rungs.iter().sum::<f64>(), self.aside());
            for (at, (rung, jumped)) in rungs.iter_mut().zip(after_jump).enumerate() {
                let here = old.get(at).copied().unwrap_or(0.0);
                // At its ends the ladder reflects.
                let below = at.checked_sub(1).and_then(|at| old.get(at)).copied().unwrap_or(here);
                let over = old.get(at + 1).copied().unwrap_or(here);
                let wandered = here * (1.0 - 2.0 * aside) + (below + over) * aside;
                *rung = wandered * (1.0 - self.jump) + jumped * all * self.jump;
            }
        }
    }

    /// Draws a course, from the last week back to the first.
    pub fn backward(
        &self,
        way: usize,
        evenness: f64,
        kept: &[Belief],
        after_jump: &Rungs,
        chance: &mut Chance,
    ) -> Course {
        let last: Vec<f64> = kept.last().into_iter().flatten().flatten().copied().collect();
        let drawn = chance.pick(&last);
        let (mut stage, mut rung) = (drawn / LEVELS, drawn % LEVELS);
        let (level, end) = (rung_ln(rung), stage);
        let mut past: Vec<f64> = Vec::with_capacity(kept.len());
        for (at, _) in kept.iter().enumerate().rev() {
            past.push(rung_ln(rung + self.above(stage)) + self.growth * (float(at) - float(kept.len())));
            if let Some(before) = at.checked_sub(1).and_then(|at| kept.get(at)) {
                (stage, rung) = self.came_from(before, stage, rung, after_jump, chance);
            }
        }
        past.reverse();
        Course { way, evenness, past, level, stage: end }
    }

    fn came_from(
        &self,
        before: &Belief,
        stage: usize,
        rung: usize,
        after_jump: &Rungs,
        chance: &mut Chance,
    ) -> (usize, usize) {
        let at = |stage: usize, rung: usize| {
            before.get(stage).and_then(|rungs| rungs.get(rung)).copied().unwrap_or(0.0)
        };
        if let Some(season) = self.season {
            let other = stage.checked_sub(1).unwrap_or(2 * STAGES - 1);
            let stayed = at(stage, rung) * (1.0 - season.ends(stage));
            let came = at(other, rung) * season.ends(other);
            return (if chance.pick(&[stayed, came]) == 0 { stage } else { other }, rung);
        }
        if self.is_still() {
            return (stage, rung);
        }
        let jumped = self.jump * after_jump.get(rung).copied().unwrap_or(0.0);
        let weights: Rungs = std::array::from_fn(|from| {
            let wandered = match from.abs_diff(rung) {
                0 => 1.0 - 2.0 * self.aside(),
                1 => self.aside(),
                _ => 0.0,
            };
            at(0, from) * (wandered * (1.0 - self.jump) + jumped)
        });
        (stage, chance.pick(&weights))
    }

    /// One week on from where a course has come to; `ahead` counts from 0 for this week. Logarithm of that week's pace.
    pub fn onward(&self, level: &mut f64, stage: &mut usize, ahead: usize, chance: &mut Chance) -> f64 {
        let (turn, normal, other) = (chance.unit(), chance.normal(), chance.normal());
        if let Some(season) = self.season {
            if turn < season.ends(*stage) {
                *stage = (*stage + 1) % (2 * STAGES);
            }
        } else {
            *level =
                if turn < self.jump { self.jump_deviation * other } else { *level + self.wander * normal };
        }
        let grown = self.growth * float((ahead + 1).min(GROWTH_WEEKS));
        *level + grown + float(self.above(*stage)) * STEP
    }
}

/// Logarithm of the pace on a rung, relative to a usual week.
pub(super) fn rung_ln(rung: usize) -> f64 {
    (float(rung) - MIDDLE) * STEP
}

fn whole(steps: f64) -> usize {
    (0..LEVELS).find(|at| float(*at) + 0.5 > steps).unwrap_or(0)
}

/// A share for each rung, by the logarithm of its pace.
pub(super) fn rungs(weight: impl Fn(f64) -> f64) -> Rungs {
    let weights: Rungs = std::array::from_fn(|rung| weight(rung_ln(rung)));
    let all: f64 = weights.iter().sum();
    weights.map(|weight| weight / all)
}

#[cfg(test)]
#[path = "way_tests.rs"]
mod tests;
