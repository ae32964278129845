//! How often the rules of `wear` and `interval` are right, on lives and findings drawn from known curves. Every seed is fixed.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::indexing_slicing,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a test may stop at the first surprise"
)]

use host_core::parts::{ProposedAction, interval_report, wear_report};
use host_core::stats::{Costs, Life, Look};
use rand::{Rng as _, SeedableRng as _};
use rand_chacha::ChaCha8Rng;
use rstest::rstest;

/// One Weibull life, by inverting its distribution function.
fn life(chance: &mut ChaCha8Rng, shape: f64, scale: f64) -> f64 {
    scale * (-(1.0 - chance.random::<f64>()).ln()).powf(1.0 / shape)
}

/// How often an age is proposed for so many parts, of which a part may be cut short at a fixed time.
fn proposed_share(parts: u32, shape: f64, cut_at: f64) -> f64 {
    const RUNS: u32 = 1_500;
    let mut chance = ChaCha8Rng::seed_from_u64(11);
    let costs = Costs::new(1.0, 20.0);
    let proposes = |_: &u32| {
        let lives: Vec<Life> = (0..parts)
            .map(|_| {
                let time = life(&mut chance, shape, 100.0);
                Life { time: time.min(cut_at), ended: time <= cut_at }
            })
            .collect();
        wear_report(&lives, costs).proposal.unwrap().action == ProposedAction::ReplaceAtAge
    };
    f64::from(u32::try_from((0..RUNS).filter(proposes).count()).unwrap()) / f64::from(RUNS)
}

/// The limit is one in ten for many parts; with few the likelihood leans towards wear, as `host/core/STATISTICS/parts.md` states.
#[rstest]
#[case::six(6, f64::INFINITY, 0.26)]
#[case::twelve(12, f64::INFINITY, 0.20)]
#[case::twelve_cut_short(12, 120.0, 0.20)]
#[case::sixty(60, f64::INFINITY, 0.14)]
fn parts_that_do_not_wear_are_seldom_proposed_for_an_age(
    #[case] parts: u32,
    #[case] cut_at: f64,
    #[case] most: f64,
) {
    let share = proposed_share(parts, 1.0, cut_at);
    assert!(share <= most, "{parts} parts: {share}");
    assert!(share > 0.02, "{parts} parts: {share}: the rule must be able to err");
}

#[test]
fn parts_that_wear_plainly_are_nearly_always_proposed_for_an_age() {
    let share = proposed_share(12, 4.0, f64::INFINITY);
    assert!(share > 0.97, "{share}");
}

/// Findings at the hours of a maker who is early and late, from curves whose shape is drawn from the stated prior.
#[rstest]
#[case::few(14)]
#[case::some(40)]
#[case::many(90)]
fn limits_of_the_dirty_hours_hold_the_truth_about_as_often_as_they_say(#[case] findings: u32) {
    let mut chance = ChaCha8Rng::seed_from_u64(5);
    let (mut shown, mut held) = (0_u32, 0_u32);
    for _ in 0..250 {
        // The logarithm of the shape is normal around ln 2 with deviation 0.5: twelve uniforms less six are nearly normal.
        let normal = (0..12).map(|_| chance.random::<f64>()).sum::<f64>() - 6.0;
        let shape = (2.0_f64.ln() + 0.5 * normal).exp();
        let scale = 6.0;
        let looks: Vec<Look> = (0..findings)
            .map(|_| {
                let time = 1.0 + 11.0 * chance.random::<f64>();
                Look { time, dirty: life(&mut chance, shape, scale) <= time }
            })
            .collect();
        let report = interval_report(&looks);
        if !report.enough_evidence {
            continue;
        }
        shown += 1;
        let truth = scale * (-(0.8_f64.ln())).powf(1.0 / shape);
        let hours = report.hours_for_20_percent_dirty;
        held += u32::from(
            hours.low.is_none_or(|low| low <= truth) && hours.high.is_none_or(|high| truth <= high),
        );
    }
    let share = f64::from(held) / f64::from(shown);
    assert!(shown > 120, "{shown}");
    assert!((0.92..=0.99).contains(&share), "{findings} findings: {share} of {shown}");
}
