use super::*;
use crate::care::forecast::goal::{END_OF_DAY, Still};
use crate::care::forecast::resampling_params::{PLAIN, RESAMPLING_PARAMS};
use crate::stats::{Drift, first_passage};
use proptest::prelude::*;

const HOUR: f64 = 3_600_000.0;

fn day(hours: f64) -> Day {
    Day { run_ms: times(3_600_000, hours), sessions: u32::from(hours > 0.0) }
}

/// A past of such weeks, at the beginning of a weekday before which this week was as the last one.
fn past(weeks: Vec<Week>, weekday: usize) -> Past {
    let rests = weeks.iter().map(|week| week[weekday]).collect();
    let mut this_week = weeks.last().copied().unwrap_or_default();
    this_week[weekday..].fill(Day::default());
    Past { weeks, rests, this_week, weekday, today_over: 0.0 }
}

/// An hour on each weekday.
fn weekdays(count: usize) -> Vec<Week> {
    let mut week = Week::default();
    week[..5].fill(day(1.0));
    vec![week; count]
}

fn run(hours: f64) -> Goal {
    Goal { run_ms: Some(times(3_600_000, hours)), ..Goal::default() }
}

fn quantiles(reached: &[f64]) -> [f64; 3] {
    [0.1, 0.5, 0.9].map(|share| reached[rank(reached.len(), share)])
}

/// The futures of a goal that is asked for alone.
fn alone(past: &Past, goal: &Goal, params: &ResamplingParams, draws: usize, seed: u64) -> Vec<f64> {
    futures(past, &[*goal], params, draws, seed).remove(0)
}

/// Every future at one moment.
#[track_caller]
fn assert_at(past: &Past, goal: &Goal, days: f64) {
    let reached = alone(past, goal, &PLAIN, 20, 1);
    assert_eq!(reached.len(), 20);
    assert!(reached.iter().all(|at| (at - days).abs() < 1e-5), "{days}: {reached:?}");
}

#[test]
fn weeks_that_are_all_alike_leave_no_doubt() {
    // From Monday on an hour on each weekday: seven and a half are used up in the middle of Wednesday week.
    assert_at(&past(weekdays(9), 0), &run(7.5), 9.5);
    // From Saturday on: the first half hour in the middle of Monday.
    assert_at(&past(weekdays(9), 5), &run(0.5), 2.5);
    // What is reached with the last of a day is reached on that day.
    assert_at(&past(weekdays(9), 0), &run(1.0), END_OF_DAY);
}

#[test]
fn of_today_only_what_is_still_to_come_counts() {
    // Half of Monday is over, and no hour of it ever came in that half: the first hour is Tuesday's.
    let evening = Past { rests: vec![Day::default(); 9], today_over: 0.5, ..past(weekdays(9), 0) };
    assert_at(&evening, &run(0.5), 1.5);
    // All of it still comes, in the half that is left.
    let noon = Past { today_over: 0.5, ..past(weekdays(9), 0) };
    assert_at(&noon, &run(0.5), 0.75);
}

#[test]
fn fewer_than_four_whole_weeks_give_no_date() {
    for (weeks, draws) in [(0, 0), (3, 0), (4, 50)] {
        assert_eq!(alone(&past(weekdays(weeks), 0), &run(1.0), &RESAMPLING_PARAMS, 50, 1).len(), draws);
    }
    assert_eq!([0, 4, 7, 8, 50].map(prior_weeks), [8, 4, 1, 0, 0]);
}

#[test]
fn whichever_comes_first_decides() {
    let steady = past(weekdays(9), 0);
    let goal = run(7.5);
    assert_at(&steady, &Goal { fixed_days: Some(4.25), ..goal }, 4.25);
    assert_at(&steady, &Goal { fixed_days: Some(30.0), ..goal }, 9.5);
    assert_at(&steady, &Goal { fixed_days: Some(700.0), ..Goal::default() }, 700.0);
    // One session a day: the third begins on Wednesday, taken as half through its running.
    assert_at(&steady, &Goal { sessions: Some(3), ..goal }, 2.5);
    assert_at(&steady, &Goal { sessions: Some(30), ..goal }, 9.5);
}

#[test]
fn standing_still_is_counted_from_the_last_running_and_begins_anew_with_the_next() {
    let steady = past(weekdays(9), 5);
    let still = |limit_days| Goal { still: Some(Still { limit_days, since_days: -0.25 }), ..Goal::default() };
    // It is Saturday; Friday's running ended a quarter of a day ago. Two days of standing still are over on Sunday at 18 h.
    assert_at(&steady, &still(2.0), 1.75);
    // Three are not: Monday runs. From the end of the next Friday on it stands still until the Monday after, too.
    let reached = alone(&steady, &still(3.0), &PLAIN, 5, 1);
    assert!(reached.iter().all(|at| at.is_infinite()), "{reached:?}");
    // Weekends that are two days long from midnight on are enough for exactly less than that.
    let other = Goal { still: Some(Still { limit_days: 1.5, since_days: -0.25 }), ..Goal::default() };
    assert_at(&steady, &other, 1.25);
}

#[test]
fn a_maker_who_never_runs_never_gets_there() {
    let idle = past(vec![Week::default(); 10], 2);
    assert!(alone(&idle, &run(1.0), &RESAMPLING_PARAMS, 50, 1).iter().all(|at| at.is_infinite()));
}

#[test]
fn the_same_past_tells_the_same_future_and_another_seed_another() {
    let mut weeks = weekdays(12);
    weeks[3] = Week::default();
    weeks[7][2] = day(5.0);
    let past = past(weeks, 1);
    let of = |seed| alone(&past, &run(9.0), &RESAMPLING_PARAMS, 100, seed);
    assert_eq!(of(7), of(7));
    assert_ne!(of(7), of(8));
}

#[test]
fn independent_days_agree_with_the_first_passage_formula() {
    // Inverse Gaussian: 20 hours at 1.25 a day with a deviation of 1.5 have mean 16 and tenths at 10.5051, 15.3155 and 22.3727
    // days (scipy's invgauss). Days of 0 or 3.05 hours, the latter with chance 1 / 2.44, have that mean and deviation; they are
    // coarse against 20 hours, so half a day of difference is expected. Against 200 hours they are fine.
    let mut rng = ChaCha8Rng::seed_from_u64(17);
    let chance_to_run = 1.0 / 2.44;
    let weeks: Vec<Week> = (0..4_000)
        .map(|_| {
            [(); WEEK].map(|()| if rng.random::<f64>() < chance_to_run { day(3.05) } else { Day::default() })
        })
        .collect();
    let past = past(weeks, 0);
    let found = quantiles(&alone(&past, &run(20.0), &PLAIN, 4_000, 3));
    for (found, published) in found.into_iter().zip([10.5051, 15.3155, 22.3727]) {
        assert!((found - published).abs() < 0.8, "{found} {published}");
    }
    let passage = first_passage(200.0, Drift { mean: 1.25, standard_deviation: 1.5 }).unwrap();
    let found = quantiles(&alone(&past, &run(200.0), &PLAIN, 4_000, 3));
    for (found, share) in found.into_iter().zip([0.1, 0.5, 0.9]) {
        let formula = passage.time_of(share).unwrap();
        assert!((found / formula - 1.0).abs() < 0.015, "{found} {formula}");
    }
}

#[test]
fn a_short_history_has_a_wider_range_than_a_long_one() {
    let mut weeks = weekdays(40);
    for (at, week) in weeks.iter_mut().enumerate() {
        week[at % 5] = day(2.0);
    }
    let width = |count: usize| {
        let [low, _, high] =
            quantiles(&alone(&past(weeks[..count].to_vec(), 0), &run(12.0), &RESAMPLING_PARAMS, 500, 1));
        high - low
    };
    assert!(width(4) > 1.5 * width(40), "{} {}", width(4), width(40));
}

#[test]
fn an_idle_fortnight_makes_the_next_idle_week_more_probable() {
    let mut resting = weekdays(20);
    let mut worked = resting.clone();
    resting[18..].fill(Week::default());
    worked[8..10].fill(Week::default());
    let middle =
        |weeks: Vec<Week>| quantiles(&alone(&past(weeks, 0), &run(3.0), &RESAMPLING_PARAMS, 500, 1))[2];
    assert!(middle(resting) > middle(worked) + 2.0);
}

#[test]
fn a_week_that_has_stood_still_so_far_goes_on_as_such_weeks_did() {
    // Every other week is idle. On a Thursday that nothing ran before, this one is probably idle too.
    let mut weeks = weekdays(20);
    weeks.iter_mut().step_by(2).for_each(|week| *week = Week::default());
    let so_far = |hours: f64| {
        let mut this_week = Week::default();
        this_week[..3].fill(day(hours));
        let past = Past { this_week, ..past(weeks.clone(), 3) };
        let reached = alone(&past, &run(0.5), &PLAIN, 400, 1);
        reached.iter().filter(|at| **at < 1.0).count()
    };
    assert!(so_far(1.0) > 350, "{}", so_far(1.0));
    assert!(so_far(0.0) < 50, "{}", so_far(0.0));
}

#[test]
fn few_weeks_do_not_show_every_day_on_which_a_maker_may_run() {
    // Mondays alone, and it is Tuesday of a week that stands still so far.
    let mondays = |count: usize| {
        let mut week = Week::default();
        week[0] = day(1.0);
        Past { this_week: Week::default(), ..past(vec![week; count], 1) }
    };
    let before_monday = |count: usize| {
        let reached = alone(&mondays(count), &run(0.1), &RESAMPLING_PARAMS, 400, 1);
        reached.iter().filter(|at| **at < 6.0).count()
    };
    // Each future that comes before Monday is a week moved on; of four weeks many are possible, of sixty hardly one.
    assert!((40..300).contains(&before_monday(4)), "{}", before_monday(4));
    assert!(before_monday(60) < 12, "{}", before_monday(60));
}

proptest! {
    #[test]
    fn more_hours_left_are_never_used_up_sooner(
        days in proptest::collection::vec(0.0_f64..4.0, 28..140), weekday in 0_usize..7, left in 0.1_f64..30.0, more in 0.0_f64..10.0
    ) {
        let weeks = days.chunks_exact(WEEK).map(|days| std::array::from_fn(|at| day(days[at]))).collect();
        let past = past(weeks, weekday);
        let sooner = alone(&past, &run(left), &RESAMPLING_PARAMS, 40, 5);
        let later = alone(&past, &run(left + more), &RESAMPLING_PARAMS, 40, 5);
        prop_assert!(sooner.iter().zip(&later).all(|(sooner, later)| sooner <= later));
        let limited = alone(&past, &Goal { fixed_days: Some(9.0), ..run(left) }, &RESAMPLING_PARAMS, 40, 5);
        prop_assert!(limited.iter().zip(&sooner).all(|(limited, free)| *limited == free.min(9.0)));
    }

    #[test]
    fn nothing_is_reached_before_now_or_twice(
        days in proptest::collection::vec(0.0_f64..4.0, 28..70), weekday in 0_usize..7, over in 0.0_f64..1.0, seed: u64
    ) {
        let weeks = days.chunks_exact(WEEK).map(|days| std::array::from_fn(|at| day(days[at]))).collect();
        let past = Past { today_over: over, ..past(weeks, weekday) };
        let reached = alone(&past, &run(1.0), &RESAMPLING_PARAMS, 40, seed);
        prop_assert!(reached.iter().all(|at| *at >= over));
        prop_assert!(reached.is_sorted());
        prop_assert_eq!(reached.len(), 40);
    }
}

#[test]
fn ranks_are_those_of_the_nearest_place() {
    // Of 500 values in order 0.1 lies at place 49.9, 0.5 at 249.5 and 0.9 at 449.1.
    assert_eq!([0.1, 0.5, 0.9].map(|share| rank(500, share)), [50, 250, 449]);
    assert_eq!((rank(0, 0.5), rank(1, 0.9)), (0, 0));
    assert!((as_float(3_600_000) - HOUR).abs() < 1e-9);
}
