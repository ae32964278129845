use super::*;
use crate::cloth::cost::posterior::tests::two_rugs;
use proptest::prelude::*;

const COSTS: Costs = Costs { tear: 60.0, hour: 20.0 };

#[test]
fn the_saving_is_the_integral_that_a_general_library_finds() {
    // scipy 1.17.1: integrate.quad over b of the gamma distribution's upper tail. The time lost by hand: 100,000 strokes a rug, 55 %
    // of them at 16 instead of 8 a second, 20 an hour: 55,000 / 3600 * (1/8 - 1/16) * 20 = 19.0972.
    let (strata, running) = two_rugs();
    let belief = Posterior::of(&strata, &running).unwrap();
    let weighing = Weighing { running: &running, belief: &belief, costs: COSTS };
    let ceilings = weighing.ceilings();
    assert_eq!((ceilings.len(), ceilings[0].knob_per_mille), (1, 300));
    assert!((ceilings[0].probability_saves - 0.735_423_84).abs() < 1e-3, "{ceilings:?}");
    assert!((ceilings[0].saving_per_rug - 24.917_822).abs() < 1e-3, "{ceilings:?}");
    assert_eq!(weighing.best(), None);
}

#[test]
fn what_a_rug_costs_at_each_speed_has_the_range_that_a_general_library_finds() {
    // The same integrals; the limits where 2.5 % lie beyond, by brentq.
    let (strata, running) = two_rugs();
    let belief = Posterior::of(&strata, &running).unwrap();
    let speeds = Weighing { running: &running, belief: &belief, costs: COSTS }.speeds(0.025);
    let expected =
        [(69.444_444, 198.203_81, 116.344_59, 333.582_19), (34.722_222, 243.508_94, 121.002_38, 427.190_58)];
    for (speed, (time, mean, low, high)) in speeds.iter().zip(expected) {
        assert!((speed.time_cost_per_rug - time).abs() < 1e-5, "{speed:?}");
        assert!((speed.cost_per_rug.estimate.unwrap() - mean).abs() < 1e-2, "{speed:?}");
        assert!((speed.cost_per_rug.low.unwrap() - low).abs() < 5e-2, "{speed:?}");
        assert!((speed.cost_per_rug.high.unwrap() - high).abs() < 5e-2, "{speed:?}");
    }
    assert_eq!((speeds[0].knob_low_per_mille, speeds[0].knob_high_per_mille), (251, 300));
}

#[test]
fn the_prior_alone_saves_as_often_as_a_general_library_finds() {
    let (_, running) = two_rugs();
    let belief = Posterior::prior(&running).unwrap();
    let surest = Weighing { running: &running, belief: &belief, costs: COSTS }.surest();
    assert!((surest - 0.045_565_45).abs() < 1e-3, "{surest}");
}

proptest! {
    #[test]
    fn the_prior_alone_never_proposes_a_ceiling(tear in 0.0_f64..1e6, hour in 0.0_f64..1e4) {
        let (_, running) = two_rugs();
        let belief = Posterior::prior(&running).unwrap();
        let weighing = Weighing { running: &running, belief: &belief, costs: Costs { tear, hour } };
        prop_assert_eq!(weighing.best(), None);
        // Slower running saves only if fast running tears more, for which the prior gives an even chance.
        prop_assert!(weighing.surest() <= 0.5 + 1e-3);
    }

    #[test]
    fn only_the_ratio_of_the_two_costs_decides_and_a_dearer_tear_never_speaks_against_a_ceiling(
        tear in 1.0_f64..1e4, hour in 1.0_f64..1e3, times in 1.0_f64..50.0,
    ) {
        let (strata, running) = two_rugs();
        let belief = Posterior::of(&strata, &running).unwrap();
        let surest = |tear, hour| {
            Weighing { running: &running, belief: &belief, costs: Costs { tear, hour } }.surest()
        };
        let now = surest(tear, hour);
        prop_assert!((surest(tear * times, hour * times) - now).abs() < 1e-9);
        prop_assert!(surest(tear * times, hour) >= now - 1e-9);
        prop_assert!(surest(tear, hour * times) <= now + 1e-9);
    }
}
