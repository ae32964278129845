//! How long a part lasts, and whether to replace it before it fails.

use serde::Serialize;

use crate::stats::{
    Costs, Estimate, Level, Life, Lives, NoAge, Replacement, Weibull, WeibullFit, best_age, survival,
};

/// An age is proposed only after so many parts wore out.
pub const WORN_OUT_NEEDED: u64 = 6;
/// ... and only when the shape lies above 1 with this confidence, one-sided.
const CONFIDENCE_SHARE: f64 = 0.9;

/// The share still running after a part wore out.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Surviving {
    /// At these hours.
    pub hours: f64,
    /// Kaplan and Meier's share after it.
    pub surviving: f64,
    /// Its limits, 95 %; only shown in words.
    #[serde(skip)]
    pub limits: Estimate,
}

/// Why there is an age at which to replace, or none.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Reason {
    /// Replacing at that age costs less per hour than running to failure.
    AgePays,
    /// No costs were given.
    NoCosts,
    /// Fewer than two parts wore out.
    TooFewWornOut,
    /// All that wore out did so at the longest hours of the table: an ever steeper curve fits ever better.
    NoCurveFits,
    /// An old part is no more likely to fail in the next hour than a new one (shape 1 or below).
    WearDoesNotGrow,
    /// A failure costs no more than a planned replacement.
    FailureCostsNoMore,
    /// The best age saves less than a billionth, because hardly any part reaches it.
    SavesNothing,
}

impl From<NoAge> for Reason {
    fn from(why: NoAge) -> Self {
        match why {
            NoAge::WearDoesNotGrow => Self::WearDoesNotGrow,
            NoAge::FailureCostsNoMore => Self::FailureCostsNoMore,
            NoAge::SavesNothing => Self::SavesNothing,
        }
    }
}

/// What is proposed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum ProposedAction {
    /// Replace at an age.
    ReplaceAtAge,
    /// Replace when it is worn.
    ReplaceOnWear,
}

/// Why that is proposed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Because {
    /// Enough parts wore out, wear surely grows, and the age pays.
    EnoughEvidence,
    /// Fewer than [`WORN_OUT_NEEDED`] parts wore out, or no curve fits those that did.
    TooFewWornOut,
    /// It is not sure enough that wear grows with age.
    WearMayNotGrow,
    /// No costs were given.
    NoCosts,
    /// No age pays at these costs.
    NoAgePays,
}

/// The proposal with the evidence behind it. It never changes a setting.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Proposal {
    /// What to do.
    pub action: ProposedAction,
    /// The age, if one is proposed.
    pub replace_at_hours: Option<f64>,
    /// Why.
    pub because: Because,
    /// How many parts wore out.
    pub worn_out: u64,
    /// How many it takes.
    pub worn_out_needed: u64,
    /// The shape lies above this with 90 % confidence (likelihood ratio, one-sided); it takes more than 1.
    pub shape_at_least: Option<f64>,
}

/// Lives of parts, and what follows.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct WearReport {
    /// Weibull shape; maximum likelihood, or as given.
    pub shape: Option<f64>,
    /// Weibull scale; likewise.
    pub scale_hours: Option<f64>,
    /// The logarithm of the likelihood at its maximum, densities per hour.
    pub log_likelihood: Option<f64>,
    /// The mean life under that curve.
    pub mean_life_hours: Option<f64>,
    /// One row for each distinct worn-out time.
    pub survival: Vec<Surviving>,
    /// The age with the lowest cost per hour, from the point estimates.
    pub replace_at_hours: Option<f64>,
    /// The cost per hour at that age, or of running to failure when no age pays.
    pub cost_per_hour: Option<f64>,
    /// Why there is an age, or none.
    pub reason: Reason,
    /// What is proposed; none when a curve was given instead of lives.
    pub proposal: Option<Proposal>,
    /// What the words need besides.
    #[serde(skip)]
    pub beside: Beside,
}

/// What is shown in words only.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Beside {
    /// Parts that wore out.
    pub worn_out: u64,
    /// Parts that still run or were taken out for another reason.
    pub cut_short: u64,
    /// The longest hours of all.
    pub longest_hours: f64,
    /// The shape with 95 % limits.
    pub shape: Estimate,
    /// The scale with 95 % limits.
    pub scale_hours: Estimate,
    /// By these hours one in ten, one in two and nine in ten have worn out, under the curve.
    pub worn_by_hours: [Option<f64>; 3],
    /// Cost per hour of running to failure.
    pub failure_cost_per_hour: Option<f64>,
}

/// From lives in hours; `ended` means worn out. Assumes equal parts in equal use, and that being cut short (a strike on the
/// frame, a part still running) says nothing about the life that was left.
#[must_use]
pub fn wear_report(lives: &[Life], costs: Option<Costs>) -> WearReport {
    let prepared = Lives::new(lives);
    let fit = prepared.as_ref().and_then(Lives::fit);
    let worn_out = u64::try_from(lives.iter().filter(|life| life.ended).count()).unwrap_or(u64::MAX);
    let all = u64::try_from(lives.len()).unwrap_or(u64::MAX);
    let life = fit.map(|fit| fit.best);
    let replacement = life.zip(costs).map(|(life, costs)| best_age(life, costs));
    let both = prepared.as_ref().zip(fit);
    let shape_at_least = both
        .zip(Level::new(CONFIDENCE_SHARE))
        .and_then(|((lives, fit), confidence)| lives.shape_at_least(&fit, confidence));
    let limits = |of: fn(&Lives, &WeibullFit, Level) -> Estimate| {
        both.map(|(lives, fit)| of(lives, &fit, Level::USUAL)).unwrap_or_default()
    };
    let beside = Beside {
        worn_out,
        cut_short: all.saturating_sub(worn_out),
        longest_hours: lives.iter().map(|life| life.time).fold(0.0, f64::max),
        shape: limits(Lives::shape_limits),
        scale_hours: limits(Lives::scale_limits),
        ..Beside::default()
    };
    let no_age = match (worn_out, life) {
        (0 | 1, _) => Reason::TooFewWornOut,
        (_, None) => Reason::NoCurveFits,
        _ => Reason::NoCosts,
    };
    let survival = survival(lives, Level::USUAL)
        .into_iter()
        .map(|step| Surviving {
            hours: step.time,
            surviving: step.surviving,
            limits: Estimate { estimate: Some(step.surviving), low: step.low, high: step.high },
        })
        .collect();
    WearReport {
        log_likelihood: fit.map(|fit| fit.log_likelihood),
        survival,
        proposal: Some(proposal(worn_out, shape_at_least, replacement)),
        ..under_curve(life, replacement, no_age, beside)
    }
}

/// From a curve that is known, or believed, instead of lives.
#[must_use]
pub fn wear_of_curve(life: Weibull, costs: Costs) -> WearReport {
    under_curve(Some(life), Some(best_age(life, costs)), Reason::NoCosts, Beside::default())
}

fn under_curve(
    life: Option<Weibull>,
    replacement: Option<Replacement>,
    no_age: Reason,
    beside: Beside,
) -> WearReport {
    let worn_by = |share: f64| life.and_then(|life| life.time_of_share(share));
    WearReport {
        shape: life.map(|life| life.shape),
        scale_hours: life.map(|life| life.scale),
        log_likelihood: None,
        mean_life_hours: life.and_then(Weibull::mean),
        survival: Vec::new(),
        replace_at_hours: replacement.and_then(|best| best.age.ok()),
        cost_per_hour: replacement.and_then(|best| best.cost_rate),
        reason: replacement.map_or(no_age, |best| best.age.map_or_else(Reason::from, |_| Reason::AgePays)),
        proposal: None,
        beside: Beside {
            worn_by_hours: [0.1, 0.5, 0.9].map(worn_by),
            failure_cost_per_hour: replacement.and_then(|best| best.failure_cost_rate),
            ..beside
        },
    }
}

fn proposal(worn_out: u64, shape_at_least: Option<f64>, replacement: Option<Replacement>) -> Proposal {
    let age = replacement.map(|best| best.age.ok());
    let because = match (shape_at_least, age) {
        (None, _) => Because::TooFewWornOut,
        _ if worn_out < WORN_OUT_NEEDED => Because::TooFewWornOut,
        (Some(shape), _) if shape <= 1.0 => Because::WearMayNotGrow,
        (_, None) => Because::NoCosts,
        (_, Some(None)) => Because::NoAgePays,
        (_, Some(Some(_))) => Because::EnoughEvidence,
    };
    let replace_at_hours = age.flatten().filter(|_| because == Because::EnoughEvidence);
    let action = match replace_at_hours {
        Some(_) => ProposedAction::ReplaceAtAge,
        None => ProposedAction::ReplaceOnWear,
    };
    Proposal { action, replace_at_hours, because, worn_out, worn_out_needed: WORN_OUT_NEEDED, shape_at_least }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn lives(worn: &[f64], running: &[f64]) -> Vec<Life> {
        let of = |ended| move |&time: &f64| Life { time, ended };
        worn.iter().map(of(true)).chain(running.iter().map(of(false))).collect()
    }

    fn costs() -> Option<Costs> {
        Costs::new(5.0, 60.0)
    }

    #[test]
    fn one_worn_out_part_has_no_curve_but_its_share() {
        let report = wear_report(&lives(&[120.0], &[150.0, 160.0, 20.0]), costs());
        assert_eq!((report.shape, report.scale_hours, report.mean_life_hours), (None, None, None));
        assert_eq!((report.replace_at_hours, report.cost_per_hour), (None, None));
        assert_eq!(report.reason, Reason::TooFewWornOut);
        assert_eq!(report.survival.len(), 1);
        assert!((report.survival[0].surviving - 2.0 / 3.0).abs() < 1e-12);
        let proposal = report.proposal.unwrap();
        assert_eq!(
            (proposal.action, proposal.because),
            (ProposedAction::ReplaceOnWear, Because::TooFewWornOut)
        );
    }

    #[test]
    fn parts_that_all_still_run_say_nothing() {
        let report = wear_report(&lives(&[], &[10.0, 20.0]), None);
        assert_eq!((report.shape, report.reason, report.survival.len()), (None, Reason::TooFewWornOut, 0));
        assert_eq!(report.beside.cut_short, 2);
    }

    #[test]
    fn without_costs_there_is_a_curve_and_no_age() {
        let report = wear_report(&lives(&[90.0, 100.0, 110.0, 95.0, 105.0, 108.0], &[]), None);
        assert!(report.shape.is_some_and(|shape| shape > 5.0), "{report:?}");
        assert_eq!(
            (report.replace_at_hours, report.cost_per_hour, report.reason),
            (None, None, Reason::NoCosts)
        );
        assert_eq!(report.proposal.unwrap().because, Because::NoCosts);
    }

    #[test]
    fn five_worn_out_parts_give_an_age_but_no_proposal_and_six_give_both() {
        let five = wear_report(&lives(&[90.0, 100.0, 110.0, 95.0, 105.0], &[]), costs());
        assert!(five.replace_at_hours.is_some_and(|age| age < 110.0), "{five:?}");
        assert_eq!(five.reason, Reason::AgePays);
        assert_eq!(five.proposal.unwrap().because, Because::TooFewWornOut);
        let six = wear_report(&lives(&[90.0, 100.0, 110.0, 95.0, 105.0, 108.0], &[]), costs());
        let proposal = six.proposal.unwrap();
        assert_eq!(
            (proposal.action, proposal.because),
            (ProposedAction::ReplaceAtAge, Because::EnoughEvidence)
        );
        assert_eq!(proposal.replace_at_hours, six.replace_at_hours);
    }

    #[test]
    fn wear_that_may_not_grow_is_not_proposed_even_where_the_curve_leans_that_way() {
        // Six lives a little more even than an exponential sample: the shape is above 1, surely above 1 it is not.
        let report = wear_report(&lives(&[10.0, 30.0, 60.0, 90.0, 150.0, 260.0], &[]), costs());
        assert!(report.shape.is_some_and(|shape| shape > 1.0), "{report:?}");
        assert!(report.replace_at_hours.is_some());
        let proposal = report.proposal.unwrap();
        assert!(proposal.shape_at_least.is_some_and(|shape| shape < 1.0), "{proposal:?}");
        assert_eq!((proposal.because, proposal.replace_at_hours), (Because::WearMayNotGrow, None));
    }

    #[test]
    fn early_failures_are_run_to_failure_at_its_cost() {
        let report = wear_report(&lives(&[0.1, 1.0, 5.0, 40.0, 90.0, 300.0], &[400.0]), costs());
        assert!(report.shape.is_some_and(|shape| shape < 1.0));
        assert_eq!((report.replace_at_hours, report.reason), (None, Reason::WearDoesNotGrow));
        let at_failure = 60.0 / report.mean_life_hours.unwrap();
        assert!((report.cost_per_hour.unwrap() / at_failure - 1.0).abs() < 1e-12);
    }

    #[test]
    fn parts_alike_to_the_hour_have_no_curve() {
        let report = wear_report(&lives(&[100.0; 7], &[50.0]), costs());
        assert_eq!((report.shape, report.reason), (None, Reason::NoCurveFits));
    }

    #[test]
    fn a_given_curve_has_no_lives_and_no_proposal() {
        let report = wear_of_curve(Weibull::new(2.0, 100.0).unwrap(), costs().unwrap());
        assert_eq!((report.shape, report.scale_hours, report.log_likelihood), (Some(2.0), Some(100.0), None));
        // Mean of a Weibull of shape 2: scale * sqrt(pi) / 2.
        assert!((report.mean_life_hours.unwrap() - 100.0 * std::f64::consts::PI.sqrt() / 2.0).abs() < 1e-9);
        assert!(report.survival.is_empty() && report.proposal.is_none());
    }
}
