#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "a test may stop at the first surprise")]
use super::super::memory::{MEMORY, PLAIN};
use super::*;

/// Marks that favour some rungs, differently each week.
fn marks(weeks: usize) -> Vec<[f64; RUNGS]> {
    (0..weeks)
        .map(|week| std::array::from_fn(|rung| 1.0 / (1.0 + (float(rung) - 10.0 - 3.0 * float(week)).abs())))
        .collect()
}

fn alike() -> Rungs {
    [1.0 / float(LEVELS); LEVELS]
}

#[test]
fn all_ways_together_are_certain_and_plain_memory_knows_one() {
    let shares: f64 = ways(&MEMORY).iter().map(|way| way.share).sum();
    assert!((shares - 1.0).abs() < 1e-12, "{shares}");
    let plain = ways(&PLAIN);
    assert_eq!(plain.len(), 1);
    assert!(plain[0].is_still() && plain[0].growth == 0.0);
}

#[test]
fn carrying_forward_agrees_with_adding_up_every_wandering_course() {
    let after_jump: Rungs = std::array::from_fn(|rung| if rung == 5 { 1.0 } else { 0.0 });
    let way = ways(&MEMORY).into_iter().find(|way| way.wander > 0.0).unwrap();
    let marks = marks(3);
    let aside = (way.wander / STEP).powi(2) / 2.0;
    let step = |from: usize, to: usize| {
        let wandered = match from.abs_diff(to) {
            0 if from == 0 || from == LEVELS - 1 => 1.0 - aside,
            0 => 1.0 - 2.0 * aside,
            1 => aside,
            _ => 0.0,
        };
        wandered * (1.0 - way.jump) + if to == 5 { way.jump } else { 0.0 }
    };
    let mut all = 0.0;
    for one in 0..LEVELS {
        for two in 0..LEVELS {
            for three in 0..LEVELS {
                let explained = marks[0][one] * marks[1][two] * marks[2][three];
                all += step(one, two) * step(two, three) * explained / float(LEVELS);
            }
        }
    }
    let found = way.forward(&marks, &alike(), &after_jump, |_| {});
    assert!((found - f64::ln(all)).abs() < 1e-9, "{found} {}", f64::ln(all));
}

#[test]
fn carrying_forward_agrees_with_adding_up_every_course_of_seasons() {
    let way = ways(&MEMORY).into_iter().find(|way| way.season.is_some()).unwrap();
    let season = way.season.unwrap();
    let marks = marks(3);
    let ends = |stage: usize| if stage < 4 { season.busy_ends } else { season.quiet_ends };
    let step = |from: usize, to: usize| match to {
        _ if from == to => 1.0 - ends(from),
        _ if (from + 1) % 8 == to => ends(from),
        _ => 0.0,
    };
    let above = |stage: usize| if stage < 4 { season.above } else { 0 };
    let beginning = way.beginning(&alike());
    let mut all = 0.0;
    for rung in 0..LEVELS {
        for one in 0..8 {
            for two in 0..8 {
                for three in 0..8 {
                    let explained = marks[0][rung + above(one)]
                        * marks[1][rung + above(two)]
                        * marks[2][rung + above(three)];
                    all += beginning[one][rung] * step(one, two) * step(two, three) * explained;
                }
            }
        }
    }
    let found = way.forward(&marks, &alike(), &alike(), |_| {});
    assert!((found - f64::ln(all)).abs() < 1e-9, "{found} {}", f64::ln(all));
}

#[test]
fn courses_drawn_backwards_are_as_probable_as_they_should_be() {
    // Two weeks, the first surely on rung 8 or 9, the second surely on rung 9, explained nine times as well from 8 as from 9: but
    // from 9 it stays with chance 0.75, from 8 it comes with 0.125. So 8 is right with 9 * 0.125 against 0.75, three in five.
    let way = Way {
        wander: STEP / 2.0,
        jump: 0.0,
        ..ways(&MEMORY).into_iter().find(|way| way.wander > 0.0 && way.growth == 0.0).unwrap()
    };
    let only = |marks: &[(usize, f64)]| {
        let mut row = [0.0; RUNGS];
        marks.iter().for_each(|(rung, mark)| row[*rung] = *mark);
        row
    };
    let weeks = [only(&[(8, 9.0), (9, 1.0)]), only(&[(9, 1.0)])];
    let mut kept = Vec::new();
    way.forward(&weeks, &alike(), &alike(), |belief| kept.push(belief.clone()));
    let mut chance = Chance::new(4);
    let eights = (0..10_000)
        .filter(|_| {
            let course = way.backward(0, 1.0, &kept, &alike(), &mut chance);
            assert!((course.past[1] - rung_ln(9)).abs() < 1e-12);
            (course.past[0] - rung_ln(8)).abs() < 1e-12
        })
        .count();
    // 6,000 on the average, with a deviation of 49.
    assert!((5_800..6_200).contains(&eights), "{eights}");
}

#[test]
fn seasons_last_for_weeks_and_their_pace_is_one_of_two() {
    let way = ways(&MEMORY).into_iter().find(|way| way.season.is_some() && way.growth == 0.0).unwrap();
    let season = way.season.unwrap();
    let mut chance = Chance::new(8);
    let (mut level, mut stage) = (0.25, 0);
    let mut busy = 0;
    for ahead in 0..20_000 {
        let pace = way.onward(&mut level, &mut stage, ahead, &mut chance);
        let is_busy = (pace - 0.25 - float(season.above) * STEP).abs() < 1e-12;
        assert!(is_busy || (pace - 0.25).abs() < 1e-12);
        busy += u32::from(is_busy);
    }
    // A season is as long as its four stages.
    let expected = season.quiet_ends / (season.busy_ends + season.quiet_ends);
    assert!((f64::from(busy) / 20_000.0 - expected).abs() < 0.04, "{busy} {expected}");
}
