//! The running just after a tear. A tear makes the hand turn the knob down, so slow running follows fast tears; counted as it was run
//! it would make fast running look rarer on just the rugs that tore, and a fair comparison find that "faster tears more" where speed
//! does nothing. So twenty run minutes after a tear are counted as the running around them: the mean of the ten minutes before the
//! tear and of the ten minutes after the twenty. Where one of the two is missing, they are counted as they were run.
//!
//! Both sides are needed: a rug begins with its slow outline and goes on with its fast fill, and the running before alone would be
//! slower than what was to come. Longer stretches would reach over from one stage of a rug to the next, and the simulation of
//! made-up studios shows that they do more harm than good.

use std::collections::{BTreeMap, BTreeSet};
use std::mem::take;

use super::exposure_sequence::{Ran, Step};
use super::strata::{Parted, Side, Strata, Within, place_of, side};
use crate::entries::Harm;
use crate::stats::{MINUTE_MS, number};
use crate::studio::RugIndex;

/// Run time on the rug after a tear that is counted as the running around it. Milliseconds; twenty run minutes. A choice: long
/// enough for most of a hand's caution, short against a stage of a rug.
pub const AFTERMATH_MS: u64 = 20 * MINUTE_MS;

/// Run time at either side from which that is taken. Milliseconds; ten run minutes.
pub const AROUND_MS: u64 = 10 * MINUTE_MS;

/// One stretch of a rug, with the shares of it that count to each part.
#[derive(Clone, Copy, Debug)]
struct Row<'a, const PARTS: usize> {
    ran: &'a Ran,
    /// Run time of the rug before it, in milliseconds.
    from_ms: u64,
    shares: [f64; PARTS],
    is_aftermath: bool,
}

/// One rug: its running and the run time at which it tore.
#[derive(Clone, Debug)]
struct RugCourse<'a, const PARTS: usize> {
    /// In the order of their run time.
    rows: Vec<Row<'a, PARTS>>,
    run_ms: u64,
    tears_ms: Vec<u64>,
}

/// Strokes and tears, fast above the line and slow below it, by rug.
#[must_use]
pub fn fast_and_slow(steps: &[Step], cut: u32) -> Strata {
    let part = |knob| usize::from(side(cut, knob) == Side::Upper);
    Strata::of_two(parted::<2>(steps, part))
}

/// Strokes and tears in parts of the knob's travel, by rug, for rugs and cloths that ever tore; `part` gives the part of a knob
/// place, from 0.
#[must_use]
pub fn parted<const PARTS: usize>(steps: &[Step], part: impl Fn(u32) -> usize) -> Parted<PARTS> {
    let mut strata = Parted::default();
    let mut rugs: BTreeMap<RugIndex, RugCourse<'_, PARTS>> = BTreeMap::new();
    let torn = torn(steps);
    // Rugs and cloths without a tear say nothing, and there are many of them.
    let says_something = |ran: &Ran| {
        ran.rug.is_some_and(|rug| torn.contains(&Within::Rug(rug)))
            || ran.lot.is_some_and(|lot| torn.contains(&Within::Lot(lot)))
    };
    for step in steps {
        match step {
            Step::Ran(ran) if says_something(ran) => {
                let (Some(knob), Some(rug)) = (ran.knob, ran.rug) else { continue };
                rugs.entry(rug).or_insert_with(RugCourse::new).ran(ran, part(knob));
            }
            Step::Hurt(hurt) if hurt.harm == Harm::Tear => {
                if let Some(rug) = hurt.rug.and_then(|rug| rugs.get_mut(&rug)) {
                    rug.tears_ms.push(rug.run_ms);
                }
                if let Some((knob, place)) = hurt.knob.zip(place_of(hurt)) {
                    strata.add_tear(place, part(knob));
                }
            }
            _ => {}
        }
    }
    for rug in rugs.values_mut() {
        rug.count_aftermaths();
        for row in &rug.rows {
            strata.add_shared(row.ran, &row.shares);
        }
    }
    strata
}

/// Where cloth ever tore.
fn torn(steps: &[Step]) -> BTreeSet<Within> {
    let place = |step: &Step| match step {
        Step::Hurt(hurt) if hurt.harm == Harm::Tear => place_of(hurt),
        _ => None,
    };
    steps.iter().filter_map(place).collect()
}

impl<'a, const PARTS: usize> RugCourse<'a, PARTS> {
    const fn new() -> Self {
        Self { rows: Vec::new(), run_ms: 0, tears_ms: Vec::new() }
    }

    fn ran(&mut self, ran: &'a Ran, part: usize) {
        let mut shares = [0.0; PARTS];
        if let Some(share) = shares.get_mut(part) {
            *share = 1.0;
        }
        self.rows.push(Row { ran, from_ms: self.run_ms, shares, is_aftermath: false });
        self.run_ms = self.run_ms.saturating_add(ran.run_ms);
    }

    fn count_aftermaths(&mut self) {
        let tears_ms = take(&mut self.tears_ms);
        for tear_ms in &tears_ms {
            for row in self.begun_between(*tear_ms, tear_ms.saturating_add(AFTERMATH_MS)) {
                row.is_aftermath = true;
            }
        }
        for tear_ms in tears_ms {
            let end = tear_ms.saturating_add(AFTERMATH_MS);
            let before = self.shares_between(tear_ms.saturating_sub(AROUND_MS), tear_ms);
            let after = self.shares_between(end, end.saturating_add(AROUND_MS));
            let Some((before, after)) = before.zip(after) else { continue };
            let mut around = before;
            for (share, after) in around.iter_mut().zip(after) {
                *share = (*share + after) / 2.0;
            }
            for row in self.begun_between(tear_ms, end) {
                row.shares = around;
            }
        }
    }

    /// The rows that begin between two moments.
    fn begun_between(&mut self, from_ms: u64, to_ms: u64) -> &mut [Row<'a, PARTS>] {
        let place = |at| self.rows.partition_point(|row| row.from_ms < at);
        let between = place(from_ms)..place(to_ms);
        self.rows.get_mut(between).unwrap_or_default()
    }

    /// The shares of the parts in the running that begins between two moments and is no aftermath; none without any.
    fn shares_between(&mut self, from_ms: u64, to_ms: u64) -> Option<[f64; PARTS]> {
        let (mut strokes, mut shares) = (0.0, [0.0; PARTS]);
        for row in self.begun_between(from_ms, to_ms).iter().filter(|row| !row.is_aftermath) {
            strokes += number(row.ran.edges);
            for (sum, share) in shares.iter_mut().zip(row.shares) {
                *sum += number(row.ran.edges) * share;
            }
        }
        (strokes > 0.0).then(|| shares.map(|sum| sum / strokes))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::cloth::exposure_sequence::Hurt;

    fn ran(minutes: u64, knob: u32) -> Step {
        Step::Ran(Ran {
            rug: Some(RugIndex::of(0)),
            knob: Some(knob),
            run_ms: minutes * 60_000,
            edges: minutes,
            ..Ran::default()
        })
    }

    const TEAR: Step = Step::Hurt(Hurt {
        id: None,
        harm: Harm::Tear,
        rug: Some(RugIndex::of(0)),
        lot: None,
        knob: Some(700),
    });

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
    fn a_rug_without_a_tear_before_keeps_its_running_and_one_without_any_is_left_out() {
        assert_eq!(minutes(&[ran(60, 700), ran(40, 300), TEAR]), (60.0, 40.0));
        assert_eq!(fast_and_slow(&[ran(60, 700), ran(40, 300)], 500), Strata::default());
    }
}
