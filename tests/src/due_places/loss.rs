//! How far weights are from what is wanted, and which way is better.

use host_core::care::forecast::{ROW, SHARES, score, score_of, share};
use host_core::stats::{log_odds, logistic};

use super::Side;
use super::cells::{Cell, Makers, Note, number};

/// At what share of misses a cell is as it should be, and what a square of what is missing to that costs.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Bounds {
    least: f64,
    most: f64,
    cost: f64,
}

const PRACTICE: Bounds = Bounds { least: 0.055, most: 0.145, cost: 100.0 };
const EXAMINATION: Bounds = Bounds { least: 0.07, most: 0.12, cost: 3_000.0 };
/// The share of misses that is the aim.
pub(super) const AIM: f64 = 0.1;

/// The loss of one end.
#[derive(Clone, Copy, Debug)]
pub struct Loss<'a> {
    /// The forecasts from which is learned.
    pub cells: &'a [Cell],
    /// The end.
    pub end: Side,
    /// Over how many log odds a miss turns into a hit, so that there is a slope.
    pub smoothing: f64,
    /// What the mean square of the scores off that of a place of 0.1 costs.
    pub distance_cost: f64,
}

/// A loss and its slope along each weight.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sloped {
    /// The loss.
    pub loss: f64,
    /// How fast it grows with each weight.
    pub slope: [f64; ROW],
}

/// One forecast, looked at with some weights.
struct Looked<'a> {
    note: &'a Note,
    /// Its score off the usual one.
    off: f64,
    /// How much of a miss it is, 0 to 1.
    missed: f64,
    /// How fast that grows with the score.
    slope: f64,
}

impl Loss<'_> {
    /// Works it out.
    #[must_use]
    pub fn at(&self, weights: &[f64]) -> Sloped {
        let mut sum = Sloped { loss: 0.0, slope: [0.0; ROW] };
        for cell in self.cells {
            self.add_cell(cell, weights, &mut sum);
        }
        sum
    }

    fn add_cell(&self, cell: &Cell, weights: &[f64], sum: &mut Sloped) {
        let count = number(cell.notes.len());
        let looked: Vec<Looked<'_>> = cell.notes.iter().map(|note| self.look(note, weights)).collect();
        let bounds = match cell.makers {
            Makers::Practice { .. } => PRACTICE,
            Makers::Examination(_) => EXAMINATION,
        };
        let missed = looked.iter().map(|looked| looked.missed).sum::<f64>() / count;
        // Above 0 where too many, below 0 where too few are missed.
        let outside = missed - missed.clamp(bounds.least, bounds.most);
        // Each cell has the same say, however many forecasts it has.
        let distance_cost = self.distance_cost / (count * number(self.cells.len()));
        let squares: f64 = looked.iter().map(|looked| looked.off * looked.off).sum();
        sum.loss += bounds.cost * outside * outside + distance_cost * squares;
        for Looked { note, off, slope, .. } in looked {
            let by_score = 2.0 * (bounds.cost * outside * slope / count + distance_cost * off);
            for (sum, number) in sum.slope.iter_mut().zip(&note.row) {
                *sum += by_score * number;
            }
        }
    }

    fn look<'a>(&self, note: &'a Note, weights: &[f64]) -> Looked<'a> {
        let score = score(weights, &note.row);
        let place = log_odds(share(score));
        let missed = logistic((place - note.missed_above(self.end)) / self.smoothing);
        let squeezed = logistic(score);
        let by_score = (log_odds(SHARES.1) - log_odds(SHARES.0)) * squeezed * (1.0 - squeezed);
        let slope = missed * (1.0 - missed) / self.smoothing * by_score;
        Looked { note, off: score - score_of(AIM), missed, slope }
    }
}

/// The share of forecasts of a cell that miss an end.
#[must_use]
pub fn missed(cell: &Cell, end: Side, weights: &[f64]) -> f64 {
    let misses = |note: &&Note| log_odds(share(score(weights, &note.row))) > note.missed_above(end);
    number(cell.notes.iter().filter(misses).count()) / number(cell.notes.len())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::due_places::cells::forecasts;

    #[test]
    fn the_slope_is_how_fast_the_loss_grows() {
        let cells = forecasts(2, 7);
        for end in Side::BOTH {
            let loss = Loss { cells: &cells, end, smoothing: 0.4, distance_cost: 0.2 };
            let mut weights = [0.02; ROW];
            weights[0] = score_of(AIM);
            let Sloped { slope, .. } = loss.at(&weights);
            for (at, slope) in slope.into_iter().enumerate() {
                let with = |step: f64| {
                    let mut weights = weights;
                    weights[at] += step;
                    loss.at(&weights).loss
                };
                let found = (with(1e-5) - with(-1e-5)) / 2e-5;
                assert!((found - slope).abs() < 1e-4 * (1.0 + slope.abs()), "{end:?} {at}: {found}, {slope}");
            }
        }
    }

    #[test]
    fn the_usual_place_is_no_distance_away_and_misses_what_lies_beyond_it() {
        let cells = forecasts(2, 7);
        let mut weights = [0.0; ROW];
        weights[0] = score_of(AIM);
        let at = |distance_cost| {
            Loss { cells: &cells, end: Side::Late, smoothing: 0.4, distance_cost }.at(&weights).loss
        };
        assert!((at(0.0) - at(5.0)).abs() < 1e-12 && at(0.0) > 0.0);
        let beyond = |cell: &Cell| {
            cell.notes.iter().filter(|note| note.missed_above(Side::Early) < log_odds(0.1)).count()
        };
        for cell in &cells {
            assert!(
                (missed(cell, Side::Early, &weights) * number(cell.notes.len()) - number(beyond(cell))).abs()
                    < 1e-9
            );
        }
    }
}
