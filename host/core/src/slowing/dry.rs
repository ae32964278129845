//! Dry runs at a fixed place of the knob, against the machine's own freshly oiled value.
//!
//! A dry run follows an oiling and has no cloth in it, so neither yarn nor cloth nor want of oil explains a slow one. The first
//! dry runs give the value; each later one is held against the limit below which one in five hundred would fall by chance
//! (Student's t for the next value of a normal sample, one-sided). So both charts together keep to one false alarm in two hundred
//! healthy sessions, even with a dry run after each.

use super::means::as_number;
use crate::stats::student_distance;

/// Dry runs are compared when the knob stood within so much of the usual place, per mille of its travel.
pub const SAME_PLACE_PER_MILLE: f64 = 25.0;
/// The freshly oiled value comes from so many dry runs at the most: the first ones. Twelve instead of eight make up for what the
/// wider limit would let pass.
pub const DRY_BASELINE: usize = 12;
/// ... and from so many at the least.
pub const DRY_LEAST: usize = 5;
/// A healthy machine's dry run falls below the limit with this probability.
const FALSE_ALARMS: f64 = 1.0 / 500.0;
/// Dry runs are taken to scatter by at least so much, in ln rate, however alike they are: a smaller drop matters to nobody.
const LEAST_SCATTER: f64 = 0.01;

/// A dry run.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DryRun {
    /// The knob's place, per mille of its travel.
    pub knob_per_mille: f64,
    /// The natural logarithm of strokes per second.
    pub ln_rate: f64,
}

/// A dry run on the chart.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct DryPoint {
    /// Whether the knob stood at the usual place; others are left out.
    pub at_place: bool,
    /// Its rate as a share of the freshly oiled value; none while there is no value.
    pub rate_share: Option<f64>,
    /// The share below which it counts as slow.
    pub limit_share: Option<f64>,
    /// Whether it does.
    pub slow: bool,
}

/// All dry runs.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct DryChart {
    /// The usual place of the knob, per mille.
    pub place_per_mille: Option<f64>,
    /// Strokes per second there, freshly oiled, by the baseline's geometric mean; none with fewer than [`DRY_LEAST`].
    pub fresh_strokes_per_second: Option<f64>,
    /// The dry runs in the order given.
    pub points: Vec<DryPoint>,
}

/// Draws the chart of dry runs in the order in which they were made.
#[must_use]
pub fn dry_chart(runs: &[DryRun]) -> DryChart {
    let Some(place) = usual_place(runs) else { return DryChart::default() };
    let mut before: Vec<f64> = Vec::new();
    let mut points = Vec::new();
    for run in runs {
        if !is_near(run.knob_per_mille, place) {
            points.push(DryPoint::default());
            continue;
        }
        let point = against(&before, run.ln_rate);
        points.push(point);
        // A slow one says nothing of how the machine is when well.
        if before.len() < DRY_BASELINE && !point.slow {
            before.push(run.ln_rate);
        }
    }
    DryChart {
        place_per_mille: Some(place),
        fresh_strokes_per_second: fresh(&before).map(|(mean, _)| mean.exp()),
        points,
    }
}

/// The mean and scatter of the first dry runs, in ln rate.
fn fresh(before: &[f64]) -> Option<(f64, f64)> {
    if before.len() < DRY_LEAST {
        return None;
    }
    let count = as_number(before.len());
    let mean = before.iter().sum::<f64>() / count;
    let squares: f64 = before.iter().map(|one| (one - mean).powi(2)).sum();
    Some((mean, (squares / (count - 1.0)).sqrt().max(LEAST_SCATTER)))
}

fn against(before: &[f64], ln_rate: f64) -> DryPoint {
    let count = as_number(before.len());
    let limit = fresh(before).and_then(|(mean, scatter)| {
        let distance = student_distance(FALSE_ALARMS, count - 1.0)?;
        Some((mean, (-distance * scatter * (1.0 + 1.0 / count).sqrt()).exp()))
    });
    let share = limit.map(|(mean, _)| (ln_rate - mean).exp());
    let limit_share = limit.map(|(_, share)| share);
    DryPoint {
        at_place: true,
        rate_share: share,
        limit_share,
        slow: share.zip(limit_share).is_some_and(|(share, limit)| share < limit),
    }
}

/// The place near which most dry runs were made; of several the earliest.
fn usual_place(runs: &[DryRun]) -> Option<f64> {
    let near =
        |run: &DryRun| runs.iter().filter(|other| is_near(other.knob_per_mille, run.knob_per_mille)).count();
    let mut best: Option<(usize, f64)> = None;
    for run in runs {
        let many = near(run);
        if best.is_none_or(|(most, _)| many > most) {
            best = Some((many, run.knob_per_mille));
        }
    }
    best.map(|(_, place)| place)
}

fn is_near(one: f64, other: f64) -> bool {
    (one - other).abs() <= SAME_PLACE_PER_MILLE
}

#[cfg(test)]
mod tests {
    use super::*;

    fn runs(rates: &[f64]) -> Vec<DryRun> {
        rates.iter().map(|rate| DryRun { knob_per_mille: 150.0, ln_rate: rate.ln() }).collect()
    }

    #[test]
    fn the_limit_after_five_dry_runs_is_worked_out_by_hand() {
        // Ln rates of 2, 2 + a, 2 - a, 2 + a, 2 - a with a = 0.02: mean 2, deviation sqrt(4 a^2 / 4) = 0.02.
        // t(0.998; 4) = 5.951373 (density integrated by Simpson's rule), times 0.02 times sqrt(1.2) = 0.130388;
        // exp(-0.130388) = 0.877755.
        let logs = [2.0, 2.02, 1.98, 2.02, 1.98, 1.95];
        let runs: Vec<DryRun> =
            logs.iter().map(|ln_rate| DryRun { knob_per_mille: 150.0, ln_rate: *ln_rate }).collect();
        let chart = dry_chart(&runs);
        let last = chart.points[5];
        assert!((last.limit_share.unwrap() - 0.877_755).abs() < 1e-5, "{last:?}");
        assert!((last.rate_share.unwrap() - (-0.05_f64).exp()).abs() < 1e-12);
        assert!(!last.slow);
    }

    #[test]
    fn a_tenth_slower_is_told_at_once_and_four_dry_runs_tell_nothing() {
        let chart = dry_chart(&runs(&[8.0, 8.05, 7.95, 8.02, 7.98, 8.01, 7.99, 8.0, 7.2]));
        assert!(chart.points[8].slow && chart.points[..8].iter().all(|point| !point.slow), "{chart:?}");
        assert!((chart.fresh_strokes_per_second.unwrap() - 8.0).abs() < 0.01);
        let few = dry_chart(&runs(&[8.0, 8.0, 8.0, 8.0]));
        assert!(
            few.fresh_strokes_per_second.is_none()
                && few.points.iter().all(|point| point.rate_share.is_none())
        );
    }

    #[test]
    fn a_slow_dry_run_does_not_become_part_of_what_is_well() {
        let chart = dry_chart(&runs(&[8.0, 8.05, 7.95, 8.02, 7.98, 6.8, 6.8, 8.0]));
        let slow: Vec<bool> = chart.points.iter().skip(5).map(|point| point.slow).collect();
        assert_eq!(slow, [true, true, false]);
    }

    #[test]
    fn the_value_stays_that_of_the_first_twelve_however_slowly_it_sinks() {
        let sinking: Vec<f64> = (0..40_u8).map(|place| 8.0 * (1.0 - 0.004 * f64::from(place))).collect();
        let chart = dry_chart(&runs(&sinking));
        assert!(chart.points[39].slow, "{:?}", chart.points[39]);
    }

    #[test]
    fn dry_runs_at_another_place_are_left_out() {
        let mut all = runs(&[8.0, 8.05, 7.95, 8.02, 7.98]);
        all.insert(2, DryRun { knob_per_mille: 600.0, ln_rate: 3.0 });
        all.push(DryRun { knob_per_mille: 170.0, ln_rate: 8.0_f64.ln() });
        let chart = dry_chart(&all);
        assert_eq!(chart.place_per_mille, Some(150.0));
        assert!(!chart.points[2].at_place && chart.points[6].at_place);
        assert!(chart.points[6].rate_share.is_some());
        assert_eq!(dry_chart(&[]), DryChart::default());
    }
}
