//! The forecasts from which is learned, cell by cell.

use firmware::split_mix::SplitMix64;
use host_core::care::forecast::{HORIZON_WEEKS, ROW, Signs, WEEK, row};
use host_core::stats::log_odds;

use super::Side;
use crate::due_dates::{self, Forecast, Maker, forecast, seeds};
use crate::due_practice::{Kind, life};
use crate::two_threads::each;

/// Whole weeks of history of the makers to practise on, at least and at most.
const HISTORIES: [(u32, u32); 5] = [(4, 7), (8, 15), (16, 30), (31, 60), (61, 104)];
/// A change for good may still come so many weeks after the forecast.
const CHANGE_AHEAD: u32 = 12;
/// There are few cells of the examination, and all must hold: so many times the runs.
const EXAMINATION_RUNS: u64 = 3;

/// Makers who are alike.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Makers {
    /// Of those to practise on.
    Practice {
        /// What they have in common.
        kind: Kind,
        /// Whole weeks of history, at least and at most.
        history: (u32, u32),
        /// Hours left.
        hours_left: f64,
    },
    /// Of those of `due_simulation`, with other seeds.
    Examination(due_dates::Cell),
}

impl Makers {
    /// All of them.
    #[must_use]
    pub fn all() -> Vec<Self> {
        let mut all = Vec::new();
        for kind in Kind::ALL {
            for history in HISTORIES {
                all.extend(due_dates::HOURS_LEFT.map(|hours_left| Self::Practice {
                    kind,
                    history,
                    hours_left,
                }));
            }
        }
        all.extend(due_dates::Cell::all().into_iter().map(Self::Examination));
        all
    }

    fn forecasts(self, runs: u64, seed: u64) -> Vec<Note> {
        // Seeds of their own, so that nobody is examined with what was learned by heart.
        let mut dice = SplitMix64::new(seed);
        let (practice, examination) = (dice.next_u64(), dice.next_u64());
        match self {
            Self::Practice { kind, history, hours_left } => {
                let life =
                    |weeks, in_all, dice: &mut SplitMix64| life(kind, in_all, weeks + CHANGE_AHEAD, dice);
                let maker = Maker { history, hours_left, life };
                seeds(runs, practice).map(|seed| Note::of(&forecast(&maker, seed))).collect()
            }
            Self::Examination(cell) => {
                let maker = Maker::of(&cell);
                let seeds = seeds(runs * EXAMINATION_RUNS, examination);
                seeds.map(|seed| Note::of(&forecast(&maker, seed))).collect()
            }
        }
    }
}

/// What is kept of a forecast.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Note {
    /// What its places depend on, on the day on which it came true.
    pub row: [f64; ROW],
    /// The log odds of the share of futures that were no later than the truth.
    early: f64,
    /// The same of those that were no sooner.
    late: f64,
}

impl Note {
    fn of(forecast: &Forecast) -> Self {
        let Forecast { weeks, reached, truth } = forecast;
        let sooner = reached.partition_point(|moment| moment < truth);
        let not_later = reached.partition_point(|moment| moment <= truth);
        // Half a future more of one more keeps both ends of the draws apart from never and always.
        let log_odds = |count: usize| log_odds((number(count) + 0.5) / (number(reached.len()) + 1.0));
        let day = truth.floor().min(number(HORIZON_WEEKS * WEEK));
        Self {
            row: row(&Signs::of(weeks), day),
            early: log_odds(not_later),
            late: log_odds(reached.len() - sooner),
        }
    }

    /// An end that is read at a place with higher log odds than these is missed.
    #[must_use]
    pub const fn missed_above(&self, end: Side) -> f64 {
        match end {
            Side::Early => self.early,
            Side::Late => self.late,
        }
    }
}

/// A cell and its forecasts.
#[derive(Clone, Debug, PartialEq)]
pub struct Cell {
    /// Who they are about.
    pub makers: Makers,
    /// One for each.
    pub notes: Vec<Note>,
}

/// Makes all forecasts, so many in each cell to practise on; the same for the same seed.
#[must_use]
pub fn forecasts(runs: u64, seed: u64) -> Vec<Cell> {
    each(&Makers::all(), |makers| Cell { makers: *makers, notes: makers.forecasts(runs, seed) })
}

/// A count as a number to reckon with.
#[expect(clippy::cast_precision_loss, reason = "counts are far below 2^52")]
pub(super) const fn number(count: usize) -> f64 {
    count as f64
}

#[cfg(test)]
mod tests {
    use super::*;

    fn note(reached: &[f64], truth: f64) -> Note {
        Note::of(&Forecast { weeks: Vec::new(), reached: reached.to_vec(), truth })
    }

    #[test]
    fn a_truth_among_the_futures_has_its_share_of_them_on_both_sides() {
        let found = note(&[1.0, 2.0, 3.0, 4.0], 2.5);
        // Two of four on each side: log odds of a half.
        assert!(
            found.missed_above(Side::Early).abs() < 1e-12 && found.missed_above(Side::Late).abs() < 1e-12
        );
        let found = note(&[1.0, 2.0, 3.0, 4.0], 1.5);
        // One of four before it: 1.5 of 5; three after it: 3.5 of 5.
        assert!((found.missed_above(Side::Early) - (1.5_f64 / 3.5).ln()).abs() < 1e-12);
        assert!((found.missed_above(Side::Late) - (3.5_f64 / 1.5).ln()).abs() < 1e-12);
    }

    #[test]
    fn what_never_comes_true_misses_no_late_end_that_is_never_reached() {
        let never = f64::INFINITY;
        let found = note(&[1.0, 2.0, never, never], never);
        // Half of the futures never come either: 2.5 of 5; all are no later: 4.5 of 5.
        assert!(found.missed_above(Side::Late).abs() < 1e-12);
        assert!((found.missed_above(Side::Early) - 9.0_f64.ln()).abs() < 1e-12);
        assert!(found.row.iter().all(|number| number.is_finite()));
    }

    #[test]
    fn both_kinds_of_makers_are_tried_and_the_same_way_each_time() {
        let all = Makers::all();
        assert_eq!(all.len(), 15 * 5 * 3 + 7 * 4 * 3);
        for makers in [all[0], all[all.len() - 1]] {
            let notes = makers.forecasts(2, 3);
            assert_eq!(notes, makers.forecasts(2, 3));
            assert!(notes[0] != notes[1] && notes[0] != makers.forecasts(1, 4)[0]);
        }
    }
}
