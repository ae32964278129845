//! The interval by a staircase: three clean findings in a row propose a quarter longer, one dirty finding a quarter shorter.
//!
//! A weighted up-and-down rule (after Kaernbach 1991) settles where steps up and steps down balance in the long run. With a
//! share p of dirty findings a round ends with a step up with probability (1 - p)^3, else with a step down; in logarithms the
//! steps are ln 1.25 and ln 0.75, so the balance is (1 - p)^3 = -ln 0.75 / (ln 1.25 - ln 0.75).

/// So many clean findings in a row propose a longer interval.
pub const CLEAN_IN_A_ROW: u32 = 3;
/// A longer interval is so many times the one before.
pub const LONGER: f64 = 1.25;
/// A shorter interval is so many times the one before.
pub const SHORTER: f64 = 0.75;
/// A finding made at the interval, give or take this share of it, was made at the interval.
const GIVE_OR_TAKE: f64 = 0.1;

/// What was found, and after how many hours.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Finding {
    /// Hours since the task was last done.
    pub hours: f64,
    /// Whether it was dirty.
    pub dirty: bool,
}

/// The shortest and longest interval that may be proposed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Range {
    /// The shortest, in hours.
    pub shortest_hours: f64,
    /// The longest, in hours.
    pub longest_hours: f64,
}

/// What the staircase proposes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum StairStep {
    /// Keep it; so many clean findings in a row are there by now.
    Keep {
        /// Clean findings in a row.
        clean_in_a_row: u32,
    },
    /// A quarter longer, or as long as may be.
    Longer {
        /// The proposed interval.
        hours: f64,
    },
    /// A quarter shorter, or as short as may be.
    Shorter {
        /// The proposed interval.
        hours: f64,
    },
}

/// A proposal with what it leaves out.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Staircase {
    /// The proposal; the maker decides.
    pub step: StairStep,
    /// Clean findings in a row at the end of those that count.
    pub clean_in_a_row: u32,
    /// Findings that say nothing about this interval: clean long before it, or dirty long after it.
    pub left_out: u32,
    /// Dirty findings long after the interval at the end of all: it was not kept to, so it is not lengthened.
    pub late_and_dirty: u32,
}

/// Looks at the findings since the interval was last set, the oldest first. The last ones decide: a dirty one at the end
/// proposes shorter, three clean ones at the end propose longer.
///
/// A finding counts only as far as it speaks of the interval itself: clean after more hours also means clean at the interval,
/// and dirty after fewer also means dirty at it, but not the other way round.
#[must_use]
pub fn staircase(findings: &[Finding], interval_hours: f64, range: Range) -> Staircase {
    let speaks = |finding: &&Finding| {
        if finding.dirty {
            finding.hours <= interval_hours * (1.0 + GIVE_OR_TAKE)
        } else {
            finding.hours >= interval_hours * (1.0 - GIVE_OR_TAKE)
        }
    };
    let counted: Vec<&Finding> = findings.iter().filter(speaks).collect();
    let left_out = u32::try_from(findings.len() - counted.len()).unwrap_or(u32::MAX);
    let clean = counted.iter().rev().take_while(|finding| !finding.dirty).count();
    let clean_in_a_row = u32::try_from(clean).unwrap_or(u32::MAX);
    let keep = StairStep::Keep { clean_in_a_row };
    let late = findings.iter().rev().take_while(|finding| finding.dirty && !speaks(finding)).count();
    let late_and_dirty = u32::try_from(late).unwrap_or(u32::MAX);
    let step = if counted.last().is_some_and(|finding| finding.dirty) {
        let hours = (interval_hours * SHORTER).max(range.shortest_hours);
        if hours < interval_hours { StairStep::Shorter { hours } } else { keep }
    } else if clean_in_a_row >= CLEAN_IN_A_ROW && late_and_dirty == 0 {
        let hours = (interval_hours * LONGER).min(range.longest_hours);
        if hours > interval_hours { StairStep::Longer { hours } } else { keep }
    } else {
        keep
    };
    Staircase { step, clean_in_a_row, left_out, late_and_dirty }
}

/// The share of dirty findings around which the staircase settles when its proposals are followed: about 0.174.
#[must_use]
pub fn long_run_dirty_share() -> f64 {
    let (up, down) = (LONGER.ln(), -SHORTER.ln());
    1.0 - (down / (up + down)).powf(1.0 / f64::from(CLEAN_IN_A_ROW))
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::{Rng as _, SeedableRng as _};
    use rand_chacha::ChaCha8Rng;

    const RANGE: Range = Range { shortest_hours: 1.0, longest_hours: 10.0 };

    fn at(hours: f64, words: &str) -> Vec<Finding> {
        words.chars().map(|letter| Finding { hours, dirty: letter == 'd' }).collect()
    }

    fn step(words: &str, interval_hours: f64) -> StairStep {
        staircase(&at(interval_hours, words), interval_hours, RANGE).step
    }

    #[test]
    fn three_clean_in_a_row_propose_a_quarter_longer() {
        assert_eq!(step("ccc", 4.0), StairStep::Longer { hours: 5.0 });
        assert_eq!(step("dccc", 4.0), StairStep::Longer { hours: 5.0 });
        assert_eq!(step("cc", 4.0), StairStep::Keep { clean_in_a_row: 2 });
        assert_eq!(step("cdcc", 4.0), StairStep::Keep { clean_in_a_row: 2 });
        assert_eq!(step("", 4.0), StairStep::Keep { clean_in_a_row: 0 });
    }

    #[test]
    fn one_dirty_proposes_a_quarter_shorter() {
        assert_eq!(step("ccd", 4.0), StairStep::Shorter { hours: 3.0 });
        assert_eq!(step("d", 4.0), StairStep::Shorter { hours: 3.0 });
    }

    #[test]
    fn proposals_stay_within_the_range() {
        assert_eq!(step("ccc", 9.0), StairStep::Longer { hours: 10.0 });
        assert_eq!(step("ccc", 10.0), StairStep::Keep { clean_in_a_row: 3 });
        assert_eq!(step("d", 1.2), StairStep::Shorter { hours: 1.0 });
        assert_eq!(step("d", 1.0), StairStep::Keep { clean_in_a_row: 0 });
    }

    #[test]
    fn findings_that_say_nothing_about_the_interval_are_left_out() {
        let dirty_late = Finding { hours: 8.0, dirty: true };
        let clean_early = Finding { hours: 1.0, dirty: false };
        let findings = [at(4.0, "ccc"), vec![dirty_late, clean_early]].concat();
        let found = staircase(&findings, 4.0, RANGE);
        assert_eq!((found.step, found.left_out), (StairStep::Longer { hours: 5.0 }, 2));
        let dirty_early = Finding { hours: 1.0, dirty: true };
        assert_eq!(staircase(&[dirty_early], 4.0, RANGE).step, StairStep::Shorter { hours: 3.0 });
        let clean_late = Finding { hours: 8.0, dirty: false };
        assert_eq!(staircase(&[clean_late; 3], 4.0, RANGE).step, StairStep::Longer { hours: 5.0 });
    }

    #[test]
    fn what_was_late_and_dirty_last_lengthens_nothing() {
        let late = |count| vec![Finding { hours: 8.0, dirty: true }; count];
        let found = staircase(&[at(4.0, "ccc"), late(2)].concat(), 4.0, RANGE);
        assert_eq!((found.step, found.late_and_dirty), (StairStep::Keep { clean_in_a_row: 3 }, 2));
        // Clean at the interval again: it was kept to.
        let found = staircase(&[at(4.0, "ccc"), late(2), at(4.0, "c")].concat(), 4.0, RANGE);
        assert_eq!((found.step, found.late_and_dirty), (StairStep::Longer { hours: 5.0 }, 0));
    }

    #[test]
    fn the_long_run_share_is_worked_out_by_hand() {
        // ln 1.25 = 0.2231436, -ln 0.75 = 0.2876821; 0.2876821 / 0.5108257 = 0.5631708, cube root 0.8258098.
        assert!((long_run_dirty_share() - 0.174_190_2).abs() < 2e-7, "{}", long_run_dirty_share());
    }

    #[test]
    fn followed_for_long_the_staircase_settles_near_its_target() {
        // A machine whose chance to be dirty after h hours is 1 - exp(-(h / 8)^2); the maker follows every proposal. Jumps
        // of a quarter around a bent curve shift the share a little, so it must come near, not meet it.
        let mut chance = ChaCha8Rng::seed_from_u64(7);
        let wide = Range { shortest_hours: 0.01, longest_hours: 1000.0 };
        let (mut interval, mut since_set, mut dirty) = (1.0_f64, Vec::new(), 0_u32);
        for round in 0..60_000 {
            let is_dirty = chance.random::<f64>() < 1.0 - (-(interval / 8.0).powi(2)).exp();
            dirty += u32::from(is_dirty && round >= 10_000);
            since_set.push(Finding { hours: interval, dirty: is_dirty });
            match staircase(&since_set, interval, wide).step {
                StairStep::Keep { .. } => {}
                StairStep::Longer { hours } | StairStep::Shorter { hours } => {
                    interval = hours;
                    since_set.clear();
                }
            }
        }
        let share = f64::from(dirty) / 50_000.0;
        assert!((share - long_run_dirty_share()).abs() < 0.03, "{share}");
    }
}
