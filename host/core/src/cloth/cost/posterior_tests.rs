use super::*;
use crate::cloth::cost::running::Place;
use proptest::prelude::*;

/// Two places, 8 and 16 strokes a second, with so many strokes and tears; two rugs.
pub(in super::super) fn two_rugs() -> (Vec<Stratum>, Running) {
    let part = |events, exposure| Observed { events, exposure };
    let strata = vec![vec![part(1, 60_000.0), part(4, 40_000.0)], vec![part(0, 30_000.0), part(3, 70_000.0)]];
    (strata, running([90_000.0, 110_000.0], [1, 7], 2))
}

fn running(strokes: [f64; 2], tears: [u64; 2], rugs: u64) -> Running {
    let all = strokes[0] + strokes[1];
    let share = strokes.map(|part| part / all);
    // One doubling apart; their mean, by strokes, is 0.
    let doublings = [-share[1], share[0]];
    let place = |at: usize| Place {
        part: [5, 15][at],
        strokes_per_second: [8.0, 16.0][at],
        share: share[at],
        doublings: doublings[at],
        strokes: strokes[at],
        tears: tears[at],
    };
    Running {
        places: vec![place(0), place(1)],
        rugs,
        strokes_per_rug: Some(all / number(rugs)),
        strokes: all,
        tears: tears[0] + tears[1],
        scatter: 1.0,
    }
}

fn moments(belief: &Posterior) -> (f64, f64) {
    let mean = belief.mean(|point| point.b);
    (mean, belief.mean(|point| (point.b - mean).powi(2)).sqrt())
}

#[test]
fn the_belief_is_the_integral_that_a_general_library_finds() {
    // scipy 1.17.1, integrate.quad over b with the same prior and the product of the two rugs' multinomial probabilities.
    let (strata, running) = two_rugs();
    let belief = Posterior::of(&strata, &running).unwrap();
    let (mean, deviation) = moments(&belief);
    assert!((mean - 0.505_296_17).abs() < 1e-5, "{mean}");
    assert!((deviation - 0.419_430_20).abs() < 1e-5, "{deviation}");
    let faster = belief.share_above(0.0).unwrap();
    assert!((faster - 0.886_487_3).abs() < 5e-4, "{faster}");
}

#[test]
fn without_a_tear_the_belief_is_the_prior() {
    let (_, running) = two_rugs();
    let (mean, deviation) = moments(&Posterior::prior(&running).unwrap());
    assert!(mean.abs() < 1e-9 && (deviation - 0.5).abs() < 1e-6, "{mean} {deviation}");
    // Standard normal tables: 97.5 % lie below 1.959964.
    let limit = Posterior::prior(&running).unwrap().effect_quantile(0.975).unwrap();
    assert!((limit - 0.5 * 1.959_964).abs() < 1e-3, "{limit}");
}

#[test]
fn many_tears_make_the_belief_the_normal_curve_at_its_top() {
    // Laplace's approximation: the top where the slope of the logarithm vanishes, the deviation from its curvature. With one
    // rug, equal strokes and places one doubling apart, b is at the top where 300 - 400 e^b/(1+e^b) = b / 0.25, and the curvature
    // is 400 p (1 - p) + 1 / 0.25.
    let strata = vec![vec![
        Observed { events: 100, exposure: 50_000.0 },
        Observed { events: 300, exposure: 50_000.0 },
    ]];
    let running = running([50_000.0, 50_000.0], [100, 300], 1);
    let belief = Posterior::of(&strata, &running).unwrap();
    let (mut low, mut high) = (0.0, 3.0);
    for _ in 0..60 {
        let b = f64::midpoint(low, high);
        if 300.0 - 400.0 * b.exp() / (1.0 + b.exp()) > b / 0.25 { low = b } else { high = b }
    }
    let share = low.exp() / (1.0 + low.exp());
    let curvature = 400.0 * share * (1.0 - share) + 4.0;
    let (mean, deviation) = moments(&belief);
    assert!((mean - low).abs() < 0.01, "{mean} {low}");
    assert!((deviation * curvature.sqrt() - 1.0).abs() < 0.01, "{deviation} {curvature}");
}

#[test]
fn a_rug_made_at_one_place_says_nothing_of_the_effect() {
    let strata = vec![vec![Observed::default(), Observed { events: 9, exposure: 50_000.0 }]];
    let (_, running) = two_rugs();
    let (mean, deviation) = moments(&Posterior::of(&strata, &running).unwrap());
    assert!(mean.abs() < 1e-9 && (deviation - 0.5).abs() < 1e-6, "{mean} {deviation}");
}

#[test]
fn without_a_rug_or_running_there_is_nothing_to_believe() {
    assert_eq!(Posterior::of(&[], &Running::default()), None);
    let (_, running) = two_rugs();
    assert_eq!(Posterior::prior(&Running { strokes_per_rug: None, ..running }), None);
}

#[test]
fn scatter_between_rugs_makes_the_tear_rate_less_sure_and_not_the_effect() {
    let (strata, running) = two_rugs();
    let wide = Running { scatter: 4.0, ..running.clone() };
    let sure = Posterior::of(&strata, &running).unwrap();
    let unsure = Posterior::of(&strata, &wide).unwrap();
    assert!((moments(&sure).0 - moments(&unsure).0).abs() < 1e-12);
    let width = |belief: &Posterior| {
        belief.rate_quantile(0, 0.975).unwrap() / belief.rate_quantile(0, 0.025).unwrap()
    };
    assert!(width(&unsure) > 1.5 * width(&sure));
}

proptest! {
    #[test]
    fn weights_add_up_and_turning_fast_and_slow_round_turns_the_effect_round(
        slow in 0_u64..40, fast in 0_u64..40, strokes in 1_u32..100,
    ) {
        let exposure = [f64::from(strokes) * 1_000.0, 50_000.0];
        let one = |events: [u64; 2], exposure: [f64; 2]| {
            let strata = vec![vec![
                Observed { events: events[0], exposure: exposure[0] },
                Observed { events: events[1], exposure: exposure[1] },
            ]];
            Posterior::of(&strata, &running(exposure, events, 1)).unwrap()
        };
        let straight = one([slow, fast], exposure);
        let turned = one([fast, slow], [exposure[1], exposure[0]]);
        let sum: f64 = straight.points.iter().map(|point| point.weight).sum();
        prop_assert!((sum - 1.0).abs() < 1e-9);
        prop_assert!((moments(&straight).0 + moments(&turned).0).abs() < 1e-3);
    }
}
