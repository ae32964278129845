//! The product-limit estimate of the survival function (Kaplan and Meier 1958).

use super::tails::normal_distance;
use super::weibull::Life;
use super::{Level, finite, number};

/// The share just after a time at which something ended.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SurvivalStep {
    /// The time, in the caller's unit.
    pub time: f64,
    /// The share still running after it.
    pub surviving: f64,
    /// Greenwood's standard error of the share; none once nothing is left.
    pub standard_error: Option<f64>,
    /// Lower limit on the log-minus-log scale, so that it stays within 0 and 1; none once nothing is left.
    pub low: Option<f64>,
    /// Upper limit, likewise.
    pub high: Option<f64>,
}

/// One step for each distinct time at which a life ended, in rising order. Lives cut short at such a time were still
/// running at it. Assumes that being cut short says nothing about the life that was left.
#[must_use]
pub fn survival(lives: &[Life], level: Level) -> Vec<SurvivalStep> {
    let mut sorted: Vec<Life> = lives.to_vec();
    sorted.sort_by(|one, other| one.time.total_cmp(&other.time));
    let mut running = u64::try_from(sorted.len()).unwrap_or(u64::MAX);
    let (mut surviving, mut variance) = (1.0, 0.0);
    let z = normal_distance(level.tail());
    let mut steps = Vec::new();
    for tied in sorted.chunk_by(|one, other| one.time == other.time) {
        let ended = u64::try_from(tied.iter().filter(|life| life.ended).count()).unwrap_or(u64::MAX);
        if let (true, Some(life)) = (ended > 0, tied.first()) {
            let (at_risk, ends) = (number(running), number(ended));
            surviving *= (at_risk - ends) / at_risk;
            variance += ends / (at_risk * (at_risk - ends));
            steps.push(step(life.time, surviving, variance, z));
        }
        running -= u64::try_from(tied.len()).unwrap_or(running).min(running);
    }
    steps
}

fn step(time: f64, surviving: f64, variance: f64, z: Option<f64>) -> SurvivalStep {
    let spread = finite(variance).filter(|_| surviving > 0.0).map(f64::sqrt);
    let limit = |sign: f64| {
        let power = sign * z? * spread? / surviving.ln();
        finite(surviving.powf(power.exp()))
    };
    // The logarithm of a share is negative, so the positive sign gives the power below one: the upper limit.
    SurvivalStep {
        time,
        surviving,
        standard_error: spread.map(|spread| spread * surviving),
        low: limit(-1.0),
        high: limit(1.0),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn life(time: f64, ended: bool) -> Life {
        Life { time, ended }
    }

    #[test]
    fn a_life_cut_short_at_the_same_time_was_still_at_risk() {
        // Three at risk at 5, one ends: 2/3. One at risk at 9, it ends: nothing left.
        let steps = survival(&[life(5.0, false), life(9.0, true), life(5.0, true)], Level::USUAL);
        let shares: Vec<(f64, f64)> = steps.iter().map(|step| (step.time, step.surviving)).collect();
        assert_eq!(shares, [(5.0, 2.0 / 3.0), (9.0, 0.0)]);
        assert_eq!(
            steps.last().map(|step| (step.standard_error, step.low, step.high)),
            Some((None, None, None))
        );
    }

    #[test]
    fn nothing_ended_gives_no_step() {
        assert_eq!(survival(&[life(5.0, false), life(7.0, false)], Level::USUAL), []);
        assert_eq!(survival(&[], Level::USUAL), []);
    }

    proptest! {
        #[test]
        fn the_share_never_rises_and_lies_within_its_limits(
            rows in proptest::collection::vec((0_u32..60, any::<bool>()), 1..80)
        ) {
            let lives: Vec<Life> = rows.iter().map(|&(time, ended)| life(f64::from(time), ended)).collect();
            let steps = survival(&lives, Level::USUAL);
            let mut before = 1.0;
            for step in &steps {
                prop_assert!(step.surviving < before && step.surviving >= 0.0);
                before = step.surviving;
                if let (Some(low), Some(high)) = (step.low, step.high) {
                    prop_assert!(0.0 <= low && low <= step.surviving && step.surviving <= high && high <= 1.0);
                }
            }
            prop_assert!(steps.windows(2).all(|two| matches!(two, [a, b] if a.time < b.time)));
        }

        #[test]
        fn the_order_of_the_rows_does_not_matter(
            rows in proptest::collection::vec((0_u32..60, any::<bool>()), 1..40)
        ) {
            let mut lives: Vec<Life> = rows.iter().map(|&(time, ended)| life(f64::from(time), ended)).collect();
            let steps = survival(&lives, Level::USUAL);
            lives.reverse();
            prop_assert_eq!(steps, survival(&lives, Level::USUAL));
        }
    }
}
