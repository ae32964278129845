//! What is promised of due dates, and whether a simulation keeps it.
//!
//! On makers that nobody tuned on, about one in twelve of the dates misses on each side; of hard cases up to one in five. Of who
//! stands idle for a season of each year nothing is promised.

use std::fmt::{self, Display, Formatter};

use crate::due_dates::Cell;

/// Over all cells, about one in twelve misses on each side: at least and at most this share.
const OVER_ALL: (f64, f64) = (1.0 / 20.0, 1.0 / 10.0);
/// In each cell, at most this share misses on each side.
const IN_A_CELL: f64 = 1.0 / 5.0;
/// The share of misses that the table of a range of 80 % would aim at, give or take a half.
const ABOUT_A_TENTH: (f64, f64) = (0.05, 0.15);
/// So many standard deviations of a binomial number may a count lie off by chance. At a true share of 1/5, 120 runs have 42 or
/// more with probability 0.0001; there are some 300 counts.
const DEVIATIONS: f64 = 4.0;

/// A table of cells, put together.
#[derive(Clone, Debug)]
pub struct Summary {
    cells: Vec<Cell>,
}

impl Summary {
    /// Puts cells together.
    #[must_use]
    pub const fn of(cells: Vec<Cell>) -> Self {
        Self { cells }
    }

    /// What breaks the promise beyond chance; nothing where it is kept.
    #[must_use]
    pub fn broken(&self) -> Vec<String> {
        let mut broken = Vec::new();
        for (side, of) in SIDES {
            let missed = self.cells.iter().map(of).sum();
            let runs = self.cells.iter().map(|cell| cell.runs).sum();
            // The cells of one life hang together: as many lives as one in three.
            let lives = float(runs) / 3.0;
            let share = share(missed, runs);
            let within = |limit: f64| DEVIATIONS * (limit * (1.0 - limit) / lives).sqrt();
            if share < OVER_ALL.0 - within(OVER_ALL.0) || share > OVER_ALL.1 + within(OVER_ALL.1) {
                broken.push(format!("over all, {:.1} % come {side}", 100.0 * share));
            }
            for cell in self.cells.iter().filter(|cell| is_above(IN_A_CELL, of(cell), cell.runs)) {
                let share = 100.0 * self::share(of(cell), cell.runs);
                broken.push(format!(
                    "{}, {:?} weeks, {} h left: {share:.1} % come {side}",
                    cell.maker.name(),
                    cell.history,
                    cell.hours_left
                ));
            }
        }
        broken
    }
}

type Side = (&'static str, fn(&Cell) -> u64);

const SIDES: [Side; 2] = [("early", |cell| cell.early), ("late", |cell| cell.late)];

impl Display for Summary {
    fn fmt(&self, out: &mut Formatter<'_>) -> fmt::Result {
        for (side, of) in SIDES {
            let mut shares: Vec<f64> = self.cells.iter().map(|cell| share(of(cell), cell.runs)).collect();
            shares.sort_by(f64::total_cmp);
            let mean = 100.0 * shares.iter().sum::<f64>() / shares.iter().map(|_| 1.0).sum::<f64>();
            let about = shares.iter().filter(|share| (ABOUT_A_TENTH.0..=ABOUT_A_TENTH.1).contains(share));
            write!(
                out,
                "{side} {mean:.1} % (median {:.1}, worst {:.1}; {} of {} cells 5 to 15, {} above 20); ",
                100.0 * median(&shares),
                100.0 * shares.last().copied().unwrap_or(f64::NAN),
                about.count(),
                shares.len(),
                shares.iter().filter(|share| **share > IN_A_CELL).count(),
            )?;
        }
        let sum = |of: fn(&Cell) -> u64| self.cells.iter().map(of).sum::<u64>();
        let by_days = |of| 100.0 * share(sum(of), sum(|cell| cell.runs));
        let mut days: Vec<f64> = self.cells.iter().map(|cell| cell.median_days).collect();
        days.sort_by(f64::total_cmp);
        write!(
            out,
            "in whole days {:.1} / {:.1} %; range {:.1} days (median of the cells' medians)",
            by_days(|cell| cell.early_by_days),
            by_days(|cell| cell.late_by_days),
            median(&days)
        )
    }
}

/// Whether so many of so many are more than chance explains at this share.
fn is_above(limit: f64, missed: u64, runs: u64) -> bool {
    float(missed) > limit * float(runs) + DEVIATIONS * (limit * (1.0 - limit) * float(runs)).sqrt()
}

fn median(sorted: &[f64]) -> f64 {
    sorted.get(sorted.len() / 2).copied().unwrap_or(f64::NAN)
}

/// So many of so many.
#[must_use]
pub fn share(count: u64, of: u64) -> f64 {
    float(count) / float(of)
}

#[expect(clippy::cast_precision_loss, reason = "runs are far below 2^52")]
const fn float(count: u64) -> f64 {
    count as f64
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::due_dates::{Maker, TENTHS};
    use crate::due_judges::Kind;

    fn cell(early: u64, late: u64) -> Cell {
        Cell {
            maker: Maker::JudgeOnly(Kind::Rota),
            history: (4, 7),
            hours_left: 1.0,
            places: TENTHS,
            runs: 1_000,
            early,
            late,
            early_by_days: early,
            late_by_days: late,
            median_days: 10.0,
        }
    }

    #[test]
    fn a_cell_breaks_the_promise_above_one_in_five_and_all_of_them_far_from_one_in_twelve() {
        let broken = |cells: Vec<Cell>| Summary::of(cells).broken().len();
        assert_eq!(broken(vec![cell(83, 83); 30]), 0);
        // 200 of 1,000 with a deviation of 12.6: 250 is chance, 251 is none; one of thirty moves the whole little.
        let with = |early| [vec![cell(83, 83); 29], vec![cell(early, 83)]].concat();
        assert_eq!((broken(with(250)), broken(with(251))), (0, 1));
        // 30,000 forecasts of 10,000 lives: a tenth with a deviation of 0.3 of a hundred.
        assert_eq!((broken(vec![cell(111, 83); 30]), broken(vec![cell(113, 83); 30])), (0, 1));
        assert_eq!((broken(vec![cell(83, 42); 30]), broken(vec![cell(83, 40); 30])), (0, 1));
    }
}
