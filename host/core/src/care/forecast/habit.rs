//! What a maker's whole weeks tell of the pace: whether it grows, how much it varies, how restless it is.

use super::line::Line;
use super::resampling_params::{NOISE_WEEKS, PRIOR_NOISE, PRIOR_RUN_MS, ResamplingParams};
use super::week::{LEAST_WEEKS, Week, float, run_in};

/// What the whole weeks tell of the pace.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Habit {
    /// Growth of the logarithm of the pace by week.
    pub growth: f64,
    /// Its deviation.
    pub growth_deviation: f64,
    /// Variance of the mean week, relative to its square.
    pub mean_variance: f64,
    /// By what the prior belief about wandering and jumping is multiplied; 1 where nothing is known.
    pub unrest: f64,
    /// Run time of a usual week, in milliseconds.
    pub usual_run_ms: f64,
}

impl Habit {
    /// Looks at whole weeks, the oldest first.
    #[must_use]
    pub fn of(weeks: &[Week], params: &ResamplingParams) -> Self {
        let sums: Vec<f64> = weeks.iter().map(run_in).collect();
        let (count, all) = (float(sums.len()), sums.iter().sum::<f64>());
        let usual_run_ms = (all + PRIOR_RUN_MS) / (count + 1.0);
        if all <= 0.0 || sums.len() < LEAST_WEEKS {
            let mean_variance = PRIOR_NOISE / count.max(1.0);
            return Self { growth: 0.0, growth_deviation: 0.0, mean_variance, unrest: 1.0, usual_run_ms };
        }
        // A straight line through the weeks, each relative to the mean; what is left over is noise.
        let off: Vec<f64> = sums.iter().map(|sum| sum * count / all - 1.0).collect();
        let Line { slope, square, rest, variance } = Line::through(&off);
        let of_slope = variance / square;
        // A normal prior about no growth, and the line's own uncertainty.
        let believed = params.growth.powi(2);
        let kept = if believed > 0.0 { believed / (believed + of_slope) } else { 0.0 };
        Self {
            growth: kept * slope,
            growth_deviation: (kept * of_slope).sqrt(),
            mean_variance: (PRIOR_NOISE * NOISE_WEEKS + variance * count) / (NOISE_WEEKS + count) / count,
            unrest: (params.unrest_weeks + count * variance_ratio(&rest, variance))
                / (params.unrest_weeks + count),
            usual_run_ms,
        }
    }
}

/// Four weeks in a row vary four times as much as one where weeks are independent; by how much more they do
/// (Lo and MacKinlay 1988).
fn variance_ratio(rest: &[f64], variance: f64) -> f64 {
    let fours: Vec<f64> = rest.windows(4).map(|four| four.iter().sum::<f64>().powi(2)).collect();
    if fours.is_empty() || variance <= 0.0 {
        return 1.0;
    }
    fours.iter().sum::<f64>() / float(fours.len()) / (4.0 * variance)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::care::forecast::resampling_params::{PLAIN, RESAMPLING_PARAMS};
    use crate::care::forecast::week::{Day, WEEK};

    /// Weeks with so many hours, all on Monday.
    fn weeks(hours: &[u64]) -> Vec<Week> {
        let week = |hours: &u64| {
            let mut week = [Day::default(); WEEK];
            week[0] = Day { run_ms: hours * 3_600_000, sessions: 1 };
            week
        };
        hours.iter().map(week).collect()
    }

    fn assert_near(one: f64, other: f64) {
        assert!((one - other).abs() < 1e-6, "{one} {other}");
    }

    #[test]
    fn a_straight_line_is_growth_and_nothing_else() {
        // 2, 4, 6, 8 hours: mean 5, so 0.4 of the mean by week, with no noise that could cast doubt on it.
        let habit = Habit::of(&weeks(&[2, 4, 6, 8]), &RESAMPLING_PARAMS);
        assert_near(habit.growth, 0.4);
        assert_near(habit.growth_deviation, 0.0);
        // (0.36 * 4 + 0 * 4) / 8 / 4
        assert_near(habit.mean_variance, 0.045);
        // (20 h + 3 h) / 5
        assert_near(habit.usual_run_ms, 4.6 * 3_600_000.0);
    }

    #[test]
    fn noise_casts_doubt_on_growth() {
        // Up and down around 4: the line through 2 6 2 6 has slope (-1.5 * -0.5 + -0.5 * 0.5 + 0.5 * -0.5 + 1.5 * 0.5) / 5 = 0.2;
        // what is left is -0.2 0.6 -0.6 0.2, its variance 0.8 / 2 = 0.4, that of the slope 0.4 / 5 = 0.08.
        let believed = ResamplingParams { growth: 0.08_f64.sqrt(), ..RESAMPLING_PARAMS };
        let habit = Habit::of(&weeks(&[2, 6, 2, 6]), &believed);
        assert_near(habit.growth, 0.1);
        assert_near(habit.growth_deviation, 0.2);
        assert_near(Habit::of(&weeks(&[2, 6, 2, 6]), &PLAIN).growth, 0.0);
    }

    #[test]
    fn rushes_that_last_are_unrest_and_ups_and_downs_are_none() {
        let rushes =
            Habit::of(&weeks(&[8, 8, 8, 8, 8, 8, 1, 1, 1, 1, 1, 1, 8, 8, 8, 8, 8, 8]), &RESAMPLING_PARAMS);
        let ups_and_downs =
            Habit::of(&weeks(&[8, 1, 8, 1, 8, 1, 8, 1, 8, 1, 8, 1, 8, 1, 8, 1, 8, 1]), &RESAMPLING_PARAMS);
        assert!(rushes.unrest > 1.3, "{rushes:?}");
        assert!(ups_and_downs.unrest < 0.6, "{ups_and_downs:?}");
    }

    #[test]
    fn weeks_without_any_running_tell_nothing() {
        let idle = Habit::of(&weeks(&[0, 0, 0, 0, 0]), &RESAMPLING_PARAMS);
        assert_near(idle.unrest, 1.0);
        assert_near(idle.usual_run_ms, 1_800_000.0);
        assert_near(idle.growth, 0.0);
    }
}
