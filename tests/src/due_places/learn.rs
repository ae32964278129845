//! The weights with the least loss.

use argmin::core::{CostFunction, Error, Executor, Gradient};
use argmin::solver::linesearch::MoreThuenteLineSearch;
use argmin::solver::quasinewton::LBFGS;
use host_core::care::forecast::{ROW, score_of};

use super::Side;
use super::cells::{Cell, number};
use super::loss::{AIM, Loss};

/// Log odds over which a miss turns into a hit: first over many, for a slope that shows far, then over few, for what counts.
const SMOOTHINGS: [f64; 4] = [0.8, 0.4, 0.25, 0.15];
/// Steps with each smoothing, at most.
const STEPS: u64 = 400;
/// Steps that are remembered.
const REMEMBERED: usize = 10;
/// A step that gains less is the last.
const LEAST_GAIN: f64 = 1e-8;

/// What the mean square of the scores off the usual one costs.
const fn distance_cost(end: Side) -> f64 {
    match end {
        Side::Early => 0.2,
        Side::Late => 0.25,
    }
}

/// Learns the weights of one end.
///
/// # Errors
/// Where the search for the least loss cannot go on, in its own words.
pub fn learn(cells: &[Cell], end: Side) -> Result<Vec<f64>, Error> {
    let scales = Scales::of(cells);
    let mut weights = vec![0.0; ROW];
    if let Some(always) = weights.first_mut() {
        *always = score_of(AIM);
    }
    for smoothing in SMOOTHINGS {
        let loss = Loss { cells, end, smoothing, distance_cost: distance_cost(end) };
        let search = LBFGS::new(MoreThuenteLineSearch::new(), REMEMBERED).with_tolerance_cost(LEAST_GAIN)?;
        let mut state = Executor::new(Scaled { loss, scales: &scales }, search)
            .configure(|state| state.param(weights.clone()).max_iters(STEPS))
            .run()?
            .state;
        weights = state.take_best_param().unwrap_or(weights);
    }
    Ok(scales.unscaled(&weights))
}

/// How each number of the rows is spread; weights of numbers that are spread alike are found in fewer steps.
struct Scales {
    means: [f64; ROW],
    deviations: [f64; ROW],
}

impl Scales {
    fn of(cells: &[Cell]) -> Self {
        let notes = || cells.iter().flat_map(|cell| &cell.notes);
        let count = number(notes().count()).max(1.0);
        let mean_of = |value: fn(f64, f64) -> f64, around: &[f64; ROW]| {
            let mut sums = [0.0; ROW];
            for note in notes() {
                for ((sum, number), around) in sums.iter_mut().zip(&note.row).zip(around) {
                    *sum += value(*number, *around);
                }
            }
            sums.map(|sum: f64| sum / count)
        };
        let means = mean_of(|number, _| number, &[0.0; ROW]);
        let variances = mean_of(|number, mean| (number - mean).powi(2), &means);
        let mut scales = Self { means, deviations: variances.map(|variance| variance.sqrt().max(1e-9)) };
        // The first number is always 1.
        if let (Some(mean), Some(deviation)) = (scales.means.first_mut(), scales.deviations.first_mut()) {
            (*mean, *deviation) = (0.0, 1.0);
        }
        scales
    }

    /// The weights of the rows that mean the same as these of numbers that are spread alike.
    fn unscaled(&self, weights: &[f64]) -> Vec<f64> {
        let mut unscaled: Vec<f64> =
            weights.iter().zip(&self.deviations).map(|(weight, deviation)| weight / deviation).collect();
        let moved: f64 = unscaled.iter().zip(&self.means).map(|(weight, mean)| weight * mean).sum();
        if let Some(always) = unscaled.first_mut() {
            *always -= moved;
        }
        unscaled
    }

    /// The slope along these weights.
    fn scaled_slope(&self, slope: &[f64; ROW]) -> Vec<f64> {
        let always = slope.first().copied().unwrap_or_default();
        let spread = self.means.iter().zip(&self.deviations);
        slope
            .iter()
            .zip(spread)
            .map(|(slope, (mean, deviation))| (slope - mean * always) / deviation)
            .collect()
    }
}

/// The loss by weights of numbers that are spread alike.
struct Scaled<'a> {
    loss: Loss<'a>,
    scales: &'a Scales,
}

impl CostFunction for Scaled<'_> {
    type Param = Vec<f64>;
    type Output = f64;

    fn cost(&self, weights: &Vec<f64>) -> Result<f64, Error> {
        Ok(self.loss.at(&self.scales.unscaled(weights)).loss)
    }
}

impl Gradient for Scaled<'_> {
    type Param = Vec<f64>;
    type Gradient = Vec<f64>;

    fn gradient(&self, weights: &Vec<f64>) -> Result<Vec<f64>, Error> {
        Ok(self.scales.scaled_slope(&self.loss.at(&self.scales.unscaled(weights)).slope))
    }
}

#[cfg(test)]
mod tests {
    use host_core::care::forecast;

    use super::*;
    use crate::due_places::cells::forecasts;

    #[test]
    fn learned_weights_cost_less_than_the_usual_place_and_no_step_makes_them_much_better() {
        let cells = forecasts(4, 21);
        let loss = Loss {
            cells: &cells,
            end: Side::Late,
            smoothing: 0.15,
            distance_cost: distance_cost(Side::Late),
        };
        let mut usual = vec![0.0; ROW];
        usual[0] = score_of(AIM);
        let learned = learn(&cells, Side::Late).unwrap();
        assert!(loss.at(&learned).loss < 0.8 * loss.at(&usual).loss);
        for at in 0..ROW {
            for step in [-0.01, 0.01] {
                let mut other = learned.clone();
                other[at] += step;
                assert!(loss.at(&other).loss > loss.at(&learned).loss - 0.01, "{at} {step}");
            }
        }
    }

    #[test]
    fn weights_of_numbers_spread_alike_mean_the_same_score() {
        let cells = forecasts(1, 2);
        let scales = Scales::of(&cells);
        let row = cells[0].notes[0].row;
        let weights: Vec<f64> = (0_u8..).map(f64::from).take(ROW).collect();
        let alike = (0..ROW).map(|at| weights[at] * (row[at] - scales.means[at]) / scales.deviations[at]);
        let expected: f64 = alike.sum();
        let found = forecast::score(&scales.unscaled(&weights), &row);
        assert!((found - expected).abs() < 1e-6 * (1.0 + expected.abs()), "{found} instead of {expected}");
    }
}
