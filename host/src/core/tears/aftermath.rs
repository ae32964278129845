//! The running just after a tear. A tear makes the hand turn the knob down, so slow running follows fast tears; counted as it was run
//! it would make fast running look rarer on just the rugs that tore, and a fair comparison find that "faster tears more" where speed
//! does nothing. So twenty run minutes after a tear are counted as the running around them: the mean of the ten minutes before the
//! tear and of the ten minutes after the twenty. Where one of the two is missing, they are counted as they were run.
//!
//! Both sides are needed: a rug begins with its slow outline and goes on with its fast fill, and the running before alone would be
//! slower than what was to come. Longer stretches would reach over from one stage of a rug to the next, and the simulation of
//! made-up studios shows that they do more harm than good.

use std::collections::BTreeMap;

use super::course::{Ran, Step};
use super::strata::{Side, Strata, place_of};
use super::verdict::side;
use crate::core::entries::Harm;
use crate::core::stats::number;
use crate::core::studio::RugIndex;

/// Run time on the rug after a tear that is counted as the running around it. Milliseconds; twenty run minutes. A choice: long
/// enough for most of a hand's caution, short against a stage of a rug.
pub const AFTERMATH_MS: u64 = 1_200_000;

/// Run time at either side from which that is taken. Milliseconds; ten run minutes.
pub const AROUND_MS: u64 = 600_000;

/// One stretch of a rug, with the share of it that counts as fast.
#[derive(Clone, Copy, Debug)]
struct Row {
    ran: Ran,
    /// Run time of the rug before it, in milliseconds.
    from_ms: u64,
    fast_share: f64,
    is_aftermath: bool,
}

/// One rug: its running and the run time at which it tore.
#[derive(Clone, Debug, Default)]
struct RugCourse {
    rows: Vec<Row>,
    run_ms: u64,
    tears_ms: Vec<u64>,
}

/// Strokes and tears, fast above the line and slow below it, by rug.
#[must_use]
pub fn fast_and_slow(steps: &[Step], cut: u32) -> Strata {
    let mut strata = Strata::default();
    let mut rugs: BTreeMap<RugIndex, RugCourse> = BTreeMap::new();
    for step in steps {
        match step {
            Step::Ran(ran) => {
                let (Some(knob), Some(rug)) = (ran.knob, ran.rug) else { continue };
                rugs.entry(rug).or_default().ran(ran, side(cut, knob));
            }
            Step::Hurt(hurt) if hurt.harm == Harm::Tear => {
                if let Some(rug) = hurt.rug.and_then(|rug| rugs.get_mut(&rug)) {
                    rug.tears_ms.push(rug.run_ms);
                }
                if let Some(knob) = hurt.knob.filter(|_| place_of(hurt).is_some()) {
                    strata.add_harm(hurt, side(cut, knob));
                }
            }
            _ => {}
        }
    }
    for rug in rugs.values_mut() {
        rug.count_aftermaths();
        for row in &rug.rows {
            strata.add_shared(&row.ran, row.fast_share);
        }
    }
    strata
}

impl RugCourse {
    fn ran(&mut self, ran: &Ran, side: Side) {
        let fast_share = if side == Side::Upper { 1.0 } else { 0.0 };
        self.rows.push(Row { ran: *ran, from_ms: self.run_ms, fast_share, is_aftermath: false });
        self.run_ms = self.run_ms.saturating_add(ran.run_ms);
    }

    fn count_aftermaths(&mut self) {
        for tear_ms in &self.tears_ms {
            for row in &mut self.rows {
                row.is_aftermath |= row.from_ms >= *tear_ms && row.from_ms - tear_ms < AFTERMATH_MS;
            }
        }
        for tear_ms in self.tears_ms.clone() {
            let end = tear_ms + AFTERMATH_MS;
            let before = self.share_between(tear_ms.saturating_sub(AROUND_MS), tear_ms);
            let after = self.share_between(end, end + AROUND_MS);
            let Some((before, after)) = before.zip(after) else { continue };
            for row in &mut self.rows {
                if row.from_ms >= tear_ms && row.from_ms < end {
                    row.fast_share = (before + after) / 2.0;
                }
            }
        }
    }

    /// The share of fast strokes in the running that begins between two moments and is no aftermath; none without any.
    fn share_between(&self, from_ms: u64, to_ms: u64) -> Option<f64> {
        let (mut strokes, mut fast) = (0.0, 0.0);
        for row in self.rows.iter().filter(|row| !row.is_aftermath) {
            if row.from_ms >= from_ms && row.from_ms < to_ms {
                strokes += number(row.ran.edges);
                fast += number(row.ran.edges) * row.fast_share;
            }
        }
        (strokes > 0.0).then(|| fast / strokes)
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "a test may stop at the first surprise")]
    use super::super::course::Hurt;
    use super::*;

    fn ran(minutes: u64, knob: u32) -> Step {
        Step::Ran(Ran {
            rug: Some(RugIndex(0)),
            knob: Some(knob),
            run_ms: minutes * 60_000,
            edges: minutes,
            ..Ran::default()
        })
    }

    const TEAR: Step =
        Step::Hurt(Hurt { harm: Harm::Tear, rug: Some(RugIndex(0)), lot: None, knob: Some(700) });

    fn minutes(steps: &[Step]) -> (f64, f64) {
        let pair = fast_and_slow(steps, 500).pairs()[0];
        (pair.upper.exposure, pair.lower.exposure)
    }

    #[test]
    fn twenty_minutes_after_a_tear_count_as_the_running_around_them() {
        // Slow 60 fast 30, a tear, slow 20, fast 5 slow 45: around it all fast before and half fast after, so that the slow
        // twenty minutes count as 15 fast ones and 5 slow ones: 30 + 15 + 5 and 60 + 5 + 45.
        let mut steps = vec![ran(60, 300)];
        steps.extend((0..6).map(|_| ran(5, 700)));
        steps.extend([TEAR, ran(20, 300), ran(5, 700), ran(5, 300), ran(40, 300)]);
        assert_eq!(minutes(&steps), (50.0, 110.0));
    }

    #[test]
    fn without_running_on_both_sides_it_counts_as_it_was_run() {
        assert_eq!(minutes(&[ran(60, 700), TEAR, ran(20, 300)]), (60.0, 20.0));
        assert_eq!(minutes(&[ran(10, 700), TEAR]), (10.0, 0.0));
    }

    #[test]
    fn a_rug_without_a_tear_before_keeps_its_running() {
        assert_eq!(minutes(&[ran(60, 700), ran(40, 300), TEAR]), (60.0, 40.0));
    }
}
