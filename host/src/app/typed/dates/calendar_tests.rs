//! Days and times in every form, held against the calendar of the crate `chrono` 0.4, which shares no code with `jiff`. The
//! clocks of Central Europe change by Directive 2000/84/EC: at 01:00 UTC on the last Sundays of March and October.

use chrono::{DateTime, Datelike, Days, NaiveDate, NaiveDateTime, NaiveTime, TimeDelta, Timelike, Weekday};
use jiff::civil::Date;
use jiff::tz::{TimeZone, offset};
use proptest::prelude::*;
use shared_types::UtcMillis;

use super::tests::Stopped;
use super::{DateError, Given, parse};

const MONTHS: [&str; 12] = [
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
];

fn day_after_1970(days: u64) -> NaiveDate {
    NaiveDate::from_ymd_opt(1970, 1, 1).unwrap() + Days::new(days)
}

/// The same day as the program names it, number by number.
fn same(day: NaiveDate) -> Date {
    let small = |number: u32| i8::try_from(number).unwrap();
    Date::new(i16::try_from(day.year()).unwrap(), small(day.month()), small(day.day())).unwrap()
}

/// How a maker may write this day with its year.
fn with_year(day: NaiveDate) -> Vec<String> {
    let (y, m, d) = (day.year(), day.month(), day.day());
    let name = MONTHS[day.month0() as usize];
    let cut = &name[..3];
    vec![
        format!("{y}-{m:02}-{d:02}"),
        format!("{y}/{m}/{d}"),
        format!("{d}.{m}.{y}"),
        format!("{d:02}.{m:02}.{y}"),
        format!("{d} {cut} {y}"),
        format!("{d:02} {name} {y}"),
        format!("{d}. {} {y}", name.to_lowercase()),
        format!("{cut} {d} {y}"),
        format!("{} {d}, {y}", name.to_uppercase()),
        format!("{y} {cut} {d}"),
    ]
}

/// How a maker may write this day without its year.
fn without_year(day: NaiveDate) -> Vec<String> {
    let (m, d) = (day.month(), day.day());
    let name = MONTHS[day.month0() as usize];
    let cut = &name[..3];
    vec![
        format!("{d}.{m}."),
        format!("{d:02}.{m:02}."),
        format!("{d} {cut}"),
        format!("{name} {d}"),
        format!("{d}  {name} "),
    ]
}

/// How a maker may write a day that is so many days ago.
fn seen_from_today(day: NaiveDate, back: u64) -> Vec<String> {
    let mut forms = vec![format!("{back} days ago")];
    if back.is_multiple_of(7) {
        forms.push(format!("{} weeks ago", back / 7));
    }
    let name = match day.weekday() {
        Weekday::Mon => "Monday",
        Weekday::Tue => "Tuesday",
        Weekday::Wed => "Wednesday",
        Weekday::Thu => "Thursday",
        Weekday::Fri => "Friday",
        Weekday::Sat => "Saturday",
        Weekday::Sun => "Sunday",
    };
    match back {
        0 => forms.push("today".to_owned()),
        1 => forms.extend(["yesterday", "a day ago"].map(str::to_owned)),
        7 => forms.push("a week ago".to_owned()),
        _ => {}
    }
    if (1..=7).contains(&back) {
        forms.extend([name.to_owned(), name[..3].to_lowercase()]);
    }
    forms
}

fn times(time: NaiveTime) -> Vec<String> {
    let (h, m) = (time.hour(), time.minute());
    let (is_pm, h12) = time.hour12();
    let half = if is_pm { "pm" } else { "am" };
    let mut forms = vec![
        format!("{h}:{m:02}"),
        format!("{h:02}:{m:02}:00"),
        format!("{h}.{m:02}"),
        format!("{h}h{m:02}"),
        format!("{h12}:{m:02} {half}"),
        format!("{h12}.{m:02}{half}"),
        format!("at {h:02}:{m:02}"),
    ];
    if m == 0 {
        forms.extend([format!("{h}h"), format!("{h12}{half}"), format!("{h12} {}", half.to_uppercase())]);
    }
    forms
}

fn utc(moment: NaiveDateTime) -> i64 {
    moment.and_utc().timestamp_millis()
}

fn last_sunday(year: i32, month: u32) -> NaiveDateTime {
    let mut day = NaiveDate::from_ymd_opt(year, month, 31).unwrap();
    while day.weekday() != Weekday::Sun {
        day = day.pred_opt().unwrap();
    }
    day.and_hms_opt(1, 0, 0).unwrap()
}

/// The moments at which clocks showed this; `has_summer` is whether they change as in Central Europe.
fn moments(local: NaiveDateTime, has_summer: bool) -> Vec<i64> {
    let hours = |moment: NaiveDateTime| {
        let year = moment.year();
        let is_summer = last_sunday(year, 3) <= moment && moment < last_sunday(year, 10);
        if has_summer && is_summer { 2 } else { 1 }
    };
    let at = |ahead: i64| Some(local - TimeDelta::hours(ahead)).filter(|moment| hours(*moment) == ahead);
    [2, 1].into_iter().filter_map(at).map(utc).collect()
}

/// A clock that shows this, one hour ahead of UTC in winter.
fn clock(local: NaiveDateTime, has_summer: bool) -> Stopped {
    let zone = match has_summer {
        true => TimeZone::posix("CET-1CEST,M3.5.0,M10.5.0/3").unwrap(),
        false => TimeZone::fixed(offset(1)),
    };
    Stopped(UtcMillis(*moments(local, has_summer).last().unwrap()), zone)
}

fn assert_reads(text: &str, day: NaiveDate, clock: &Stopped) {
    assert_eq!(parse(text, clock), Ok(Given::Day(same(day))), "{text}");
}

fn assert_reads_time(text: &str, local: NaiveDateTime, clock: &Stopped, has_summer: bool) {
    let read = parse(text, clock);
    match moments(local, has_summer).as_slice() {
        [moment] => assert_eq!(read, Ok(Given::Moment(UtcMillis(*moment))), "{text}"),
        [] => assert!(matches!(read, Err(DateError::Skipped { .. })), "{text}: {read:?}"),
        _ => assert!(matches!(read, Err(DateError::Twice { .. })), "{text}: {read:?}"),
    }
}

/// The last such day that has come, looked for day by day.
fn last_such(day: NaiveDate, today: NaiveDate) -> NaiveDate {
    let mut before = today;
    while (before.month(), before.day()) != (day.month(), day.day()) {
        before = before.pred_opt().unwrap();
    }
    before
}

/// Days between these two are typed and lie in the past: 1970 to 2069.
const MOST_DAYS: u64 = 36_500;

proptest! {
    #[test]
    fn a_day_in_any_form_is_that_day(today in 4_000..MOST_DAYS, back in 0..4_000_u64, has_summer: bool) {
        let (today, day) = (day_after_1970(today), day_after_1970(today - back));
        let clock = clock(today.and_hms_opt(12, 0, 0).unwrap(), has_summer);
        for text in with_year(day).into_iter().chain(seen_from_today(day, back)) {
            assert_reads(&text, day, &clock);
        }
        for text in without_year(day) {
            assert_reads(&text, last_such(day, today), &clock);
        }
    }

    #[test]
    fn a_day_of_the_last_week_and_a_time_in_any_form_are_that_moment(
        today in 8..MOST_DAYS, back in 1..8_u64, minute in 0..1_440_u32, has_summer: bool
    ) {
        let (today, day) = (day_after_1970(today), day_after_1970(today - back));
        let local = day.and_hms_opt(minute / 60, minute % 60, 0).unwrap();
        let clock = clock(today.and_hms_opt(23, 59, 0).unwrap(), has_summer);
        for day in with_year(day).into_iter().chain(without_year(day)).chain(seen_from_today(day, back)) {
            for time in times(local.time()) {
                assert_reads_time(&format!("{day} {time}"), local, &clock, has_summer);
            }
        }
    }

    #[test]
    fn a_time_alone_is_todays(today in 1..MOST_DAYS, now in 180..1_440_u32, minute in 0..1_440_u32, has_summer: bool) {
        let today = day_after_1970(today);
        let at = |minute: u32| today.and_hms_opt(minute / 60, minute % 60, 0).unwrap();
        let clock = clock(at(now), has_summer);
        for text in times(at(minute).time()) {
            match parse(&text, &clock) {
                Err(DateError::TimeOrDay { day, .. }) => {
                    let is_dotted = text.contains('.') && !text.ends_with('m');
                    prop_assert!(is_dotted && (1..=12).contains(&at(minute).minute()), "{} {}", text, day);
                }
                read if minute > now => prop_assert_eq!(read, Err(DateError::LaterToday(text.trim().to_owned()))),
                _ => assert_reads_time(&text, at(minute), &clock, has_summer),
            }
        }
    }

    #[test]
    fn so_long_ago_is_so_long_before_now(today in 100..MOST_DAYS, count in 1..700_i64, has_summer: bool) {
        let clock = clock(day_after_1970(today).and_hms_opt(12, 0, 0).unwrap(), has_summer);
        let now = DateTime::from_timestamp_millis(clock.0.0).unwrap();
        for (text, before) in [
            (format!("{count} hours ago"), TimeDelta::hours(count)),
            (format!("{count} minutes ago"), TimeDelta::minutes(count)),
            (format!("{count}h30 ago"), TimeDelta::hours(count) + TimeDelta::minutes(30)),
            ("an hour ago".to_owned(), TimeDelta::hours(1)),
        ] {
            let then = UtcMillis((now - before).timestamp_millis());
            prop_assert_eq!(parse(&text, &clock), Ok(Given::Moment(then)), "{}", text);
        }
    }

    #[test]
    fn numbers_with_strokes_are_a_day_only_where_they_can_be_one_alone(back in 0..20_000_u64, has_summer: bool) {
        let day = day_after_1970(20_000 - back);
        let clock = clock(day_after_1970(20_000).and_hms_opt(12, 0, 0).unwrap(), has_summer);
        let (y, m, d) = (day.year(), day.month(), day.day());
        for text in [format!("{d}/{m}/{y}"), format!("{m}/{d}/{y}"), format!("{d:02}-{m:02}-{y}")] {
            if d > 12 || d == m {
                assert_reads(&text, day, &clock);
            } else {
                let other = NaiveDate::from_ymd_opt(y, d, m).unwrap();
                let read = parse(&text, &clock);
                let Err(DateError::WhichDay { days, .. }) = &read else { panic!("{text}: {read:?}") };
                prop_assert!(days.len() == 2 && days.contains(&same(day)) && days.contains(&same(other)), "{}", text);
            }
        }
    }
}

#[test]
fn the_leap_days_of_a_century_are_read_and_others_are_not() {
    let clock = clock(NaiveDate::from_ymd_opt(2101, 6, 1).unwrap().and_hms_opt(12, 0, 0).unwrap(), true);
    for year in 1970..=2100 {
        let day = NaiveDate::from_ymd_opt(year, 2, 29);
        for text in [
            format!("29.2.{year}"),
            format!("29 Feb {year}"),
            format!("{year}-02-29"),
            format!("29/2/{year}"),
        ] {
            let expected =
                day.map(|day| Given::Day(same(day))).ok_or_else(|| DateError::NotADate(text.clone()));
            assert_eq!(parse(&text, &clock), expected);
        }
    }
    // 2100 has none, so the last one that had come is that of 2096.
    assert_reads("29.2.", NaiveDate::from_ymd_opt(2096, 2, 29).unwrap(), &clock);
}
