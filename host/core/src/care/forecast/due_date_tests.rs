use super::*;
use crate::care::done::{Evidence, LastDone};
use crate::care::forecast::week::Day;
use crate::care::plan::TaskLimits;
use crate::care::run_pieces::Moment;
use crate::care::schedule::{Besides, PlannedTask, Used, judge};
use crate::care::tasks::PLAN;
use jiff::civil::date;
use shared_types::RunMillis;

const HOUR: u64 = 3_600_000;

/// A moment on a clock that is put forward on 29 March 2026 and back on 25 October (Directive 2000/84/EC).
fn at(month: i8, day: i8, hour: i8) -> UtcMillis {
    let zoned = date(2026, month, day).at(hour, 0, 0, 0).to_zoned_datetime(zone()).unwrap();
    UtcMillis(zoned.timestamp().as_millisecond())
}

fn zone() -> TimeZone {
    TimeZone::posix("CET-1CEST,M3.5.0,M10.5.0/3").unwrap()
}

fn due(limits: TaskLimits, used: Used, done: UtcMillis) -> Due<'static> {
    let last = LastDone { moment: Moment::dated(done), evidence: Evidence::Entered, finding: None };
    let besides = Besides::default();
    judge(PlannedTask { task: PLAN[0], limits, limits_by_maker: false, last, applies: true, besides }, used)
}

fn forecast(outlook: &Outlook, due: &Due) -> DueForecast {
    outlook.forecasts(std::slice::from_ref(due)).remove(0)
}

/// Two hours by hand every Tuesday at ten from 6 January 2026 on.
fn tuesdays(count: i64) -> History {
    let first = at(1, 6, 10).0;
    let by_hand = (0..count).map(|week| (UtcMillis(first + week * 7 * 86_400_000), RunMillis(2 * HOUR)));
    History { by_hand: by_hand.collect(), ..History::default() }
}

#[test]
fn a_limit_by_calendar_alone_is_a_day_without_any_guess() {
    let now = at(3, 20, 12);
    let limits = TaskLimits { days: Some(30), ..TaskLimits::default() };
    let used = Used { time_ms: 20 * DAY_MS, ..Used::default() };
    let outlook = Outlook::of(&History::default(), now, &zone());
    let forecast = forecast(&outlook, &due(limits, used, at(2, 28, 12)));
    // Ten days of 24 hours from noon; the clock is put forward in between, so it is 13 h on the 30th.
    let expected = Some(date(2026, 3, 30));
    assert_eq!((forecast.earliest, forecast.middle, forecast.latest), (expected, expected, expected));
    assert_eq!((forecast.by_calendar, forecast.draws, forecast.no_date_because), (expected, 0, None));
}

#[test]
fn with_too_short_a_history_only_the_last_possible_day_is_known() {
    let limits = TaskLimits { run_time_ms: Some(10 * HOUR), days: Some(30), ..TaskLimits::default() };
    let outlook = Outlook::of(&tuesdays(3), at(1, 26, 12), &zone());
    let forecast = forecast(&outlook, &due(limits, Used::default(), at(1, 26, 12)));
    assert_eq!(forecast.no_date_because, Some(NoDate::TooFewWeeks));
    assert_eq!((forecast.whole_weeks, forecast.middle), (2, None));
    assert_eq!(forecast.by_calendar, Some(date(2026, 2, 25)));
}

#[test]
fn the_range_falls_on_days_on_which_the_maker_runs() {
    // On a Wednesday after eight whole weeks; the next two hours are used up on a Tuesday.
    let limits = TaskLimits { run_time_ms: Some(4 * HOUR), ..TaskLimits::default() };
    let outlook = Outlook::of(&tuesdays(10), at(3, 11, 12), &zone());
    let forecast = forecast(&outlook, &due(limits, Used::default(), at(3, 11, 12)));
    assert_eq!((forecast.whole_weeks, forecast.prior_weeks, forecast.draws), (8, 0, DRAWS));
    for day in [forecast.earliest, forecast.middle, forecast.latest] {
        assert_eq!(day.unwrap().weekday(), jiff::civil::Weekday::Tuesday, "{forecast:?}");
    }
    assert!(forecast.earliest.unwrap() >= date(2026, 3, 17), "{forecast:?}");
}

#[test]
fn what_is_due_or_does_not_apply_has_no_date_to_come() {
    let limits = TaskLimits { run_time_ms: Some(HOUR), ..TaskLimits::default() };
    let mut used = Used::default();
    used.run.at_most_ms = HOUR;
    let outlook = Outlook::of(&tuesdays(10), at(3, 11, 12), &zone());
    let of = |limits, used| forecast(&outlook, &due(limits, used, at(3, 1, 0))).no_date_because;
    assert_eq!(of(limits, used), Some(NoDate::DueNow));
    assert_eq!(of(TaskLimits::default(), used), Some(NoDate::NotNow));
}

#[test]
fn the_seed_comes_from_the_weeks_and_not_from_the_clock() {
    let limits = TaskLimits { run_time_ms: Some(4 * HOUR), ..TaskLimits::default() };
    let seed = |count, now| {
        let outlook = Outlook::of(&tuesdays(count), now, &zone());
        forecast(&outlook, &due(limits, Used::default(), at(3, 1, 0))).seed
    };
    assert_eq!(seed(10, at(3, 11, 12)), seed(10, at(3, 12, 9)));
    assert_ne!(seed(10, at(3, 11, 12)), seed(10, at(3, 18, 12)));
}

#[test]
fn tasks_that_are_asked_for_together_have_the_dates_that_each_has_alone() {
    let run = |hours| TaskLimits { run_time_ms: Some(hours * HOUR), ..TaskLimits::default() };
    let limits = [
        run(4),
        TaskLimits { days: Some(30), ..TaskLimits::default() },
        run(40),
        TaskLimits::default(),
        TaskLimits { days: Some(25), ..run(20) },
        TaskLimits { sessions: Some(6), ..TaskLimits::default() },
        TaskLimits { idle_days: Some(9), ..run(9) },
    ];
    let outlook = Outlook::of(&tuesdays(10), at(3, 11, 12), &zone());
    let dues: Vec<Due> = limits.map(|limits| due(limits, Used::default(), at(3, 11, 0))).to_vec();
    let alone: Vec<DueForecast> = dues.iter().map(|due| forecast(&outlook, due)).collect();
    assert_eq!(outlook.forecasts(&dues), alone);
}

#[test]
fn another_day_or_another_order_is_another_seed() {
    let day = |run_ms, sessions| Day { run_ms, sessions };
    let week = |days: [Day; 2]| {
        let mut week = Week::default();
        week[..2].copy_from_slice(&days);
        week
    };
    let seeds = [
        seed_of(&[week([day(1, 1), day(2, 1)])]),
        seed_of(&[week([day(2, 1), day(1, 1)])]),
        seed_of(&[week([day(1, 1), day(2, 0)])]),
        seed_of(&[week([day(1, 1), day(2, 1)]), Week::default()]),
    ];
    let mut distinct = seeds.to_vec();
    distinct.sort_unstable();
    distinct.dedup();
    assert_eq!(distinct.len(), seeds.len());
}
