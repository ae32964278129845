use super::*;
use jiff::civil::date;
use jiff::tz::offset;
use miette::Diagnostic;
use rstest::rstest;

/// A clock that stands still.
#[derive(Clone, Debug)]
pub(super) struct Stopped(pub UtcMillis, pub TimeZone);

impl Clock for Stopped {
    fn now(&self) -> UtcMillis {
        self.0
    }
    fn zone(&self) -> TimeZone {
        self.1.clone()
    }
}

/// 2026-03-04T16:00:00Z, that is 18:00 by the maker's clock: 20,516 days after 1970, and 16 hours.
const NOW: i64 = 20_516 * 86_400_000 + 16 * 3_600_000;
const MINUTE: i64 = 60_000;

/// UTC offset of two hours.
fn clock() -> Stopped {
    Stopped(UtcMillis(NOW), TimeZone::fixed(offset(2)))
}

#[rstest]
#[case::a_day("2026-03-04", date(2026, 3, 4))]
#[case::with_blanks_and_capitals(" Yesterday ", date(2026, 3, 3))]
#[case::this_day("today", date(2026, 3, 4))]
fn a_day_is_read_in_the_makers_zone(#[case] text: &str, #[case] expected: Date) {
    assert_eq!(parse(text, &clock()), Ok(Given::Day(expected)));
    assert_eq!(day(Some(text), &clock()), Ok(Some(expected)));
}

#[rstest]
#[case::now("now", 0)]
#[case::with_a_blank("2026-03-04 17:30", -30)]
#[case::with_a_letter("2026-03-04T18:00", 0)]
#[case::an_hour_of_one_digit("2026-03-04 9:30", -8 * 60 - 30)]
#[case::with_seconds("2026-03-04 17:59:00", -1)]
#[case::today("today 7:30", -10 * 60 - 30)]
#[case::yesterday("Yesterday 18:00", -24 * 60)]
#[case::with_its_own_offset("2026-03-04T16:00+01:00", -60)]
#[case::in_greenwich("2026-03-04T15:00Z", -60)]
fn a_moment_is_read_in_the_makers_zone(#[case] text: &str, #[case] minutes: i64) {
    let expected = UtcMillis(NOW + minutes * MINUTE);
    assert_eq!(parse(text, &clock()), Ok(Given::Moment(expected)));
    assert_eq!(moment(Some(text), &clock()), Ok(Some(expected)));
    assert_eq!(day(Some(text), &clock()), Err(DateError::NotADay(text.to_owned())));
}

#[rstest]
#[case("2026-03-05")]
#[case("2026-03-04 18:01")]
#[case("today 18:01")]
#[case("2026-03-04T18:01+02:00")]
fn what_has_not_come_yet_is_refused(#[case] text: &str) {
    assert_eq!(parse(text, &clock()), Err(DateError::Future(text.to_owned())));
}

#[test]
fn what_is_no_date_is_refused() {
    for text in [
        "",
        "soon",
        "2026-02-30",
        "2026-3",
        "2026-03-04 25:00",
        "2026-03-04 12",
        "today 9",
        "today 25:00",
        "2026-02-30 10:00",
        "today 9:30:15:20",
        "yesterday 9:30+02:00",
        "today +9:30",
        "today 9:+30",
        "today 9:30:+5",
        "today 9:3",
        "today 009:30",
    ] {
        assert_eq!(parse(text, &clock()), Err(DateError::NotADate(text.to_owned())), "{text}");
    }
    for text in ["1066-10-14", "1949-12-31 10:00"] {
        assert_eq!(parse(text, &clock()), Err(DateError::TooLongAgo(text.to_owned())), "{text}");
    }
}

#[test]
fn what_is_left_out_stays_out() {
    assert_eq!(given(None, &clock()), Ok(None));
    assert_eq!(moment(None, &clock()), Ok(None));
    assert_eq!(day(None, &clock()), Ok(None));
}

#[test]
fn a_day_begins_at_local_midnight_and_its_end_is_never_in_the_future() {
    let clock = clock();
    let today = Given::Day(date(2026, 3, 4));
    assert_eq!(today.start(&clock), UtcMillis(NOW - 18 * 60 * MINUTE));
    assert_eq!(today.middle(&clock), UtcMillis(NOW - 6 * 60 * MINUTE));
    assert_eq!(today.end(&clock), UtcMillis(NOW));
    let before = Given::Day(date(2026, 3, 3));
    assert_eq!(before.end(&clock), UtcMillis(NOW - 18 * 60 * MINUTE - 1));
}

fn in_zone(zone: TimeZone) -> Stopped {
    let now = "2027-01-01T00:00Z".parse::<Timestamp>().unwrap();
    Stopped(UtcMillis(now.as_millisecond()), zone)
}

fn utc(text: &str) -> UtcMillis {
    UtcMillis(text.parse::<Timestamp>().unwrap().as_millisecond())
}

#[test]
fn where_the_clocks_change_a_skipped_time_and_a_double_one_are_asked_about() {
    // Central Europe (Directive 2000/84/EC): forward at 01:00 UTC on 29 March 2026, back at 01:00 UTC on 25 October 2026.
    let clock = in_zone(TimeZone::posix("CET-1CEST,M3.5.0,M10.5.0/3").unwrap());
    for (text, moment) in [
        ("2026-03-29 01:59", "2026-03-29T00:59Z"),
        ("2026-03-29 03:00", "2026-03-29T01:00Z"),
        ("2026-10-25 01:59", "2026-10-24T23:59Z"),
        ("2026-10-25 03:00", "2026-10-25T02:00Z"),
    ] {
        assert_eq!(parse(text, &clock), Ok(Given::Moment(utc(moment))), "{text}");
    }
    let either = |one: &str, other: &str| [one.to_owned(), other.to_owned()];
    let typed = "2026-03-29 02:30".to_owned();
    assert_eq!(
        parse(&typed, &clock),
        Err(DateError::Skipped {
            typed: typed.clone(),
            either: either("2026-03-29T01:30+01:00", "2026-03-29T03:30+02:00")
        })
    );
    let typed = "2026-10-25 02:30:15".to_owned();
    let twice = either("2026-10-25T02:30:15+02:00", "2026-10-25T02:30:15+01:00");
    assert_eq!(parse(&typed, &clock), Err(DateError::Twice { typed: typed.clone(), either: twice.clone() }));
    // What is proposed is read, and as the moment that it says.
    let [first, second] = twice.map(|moment| parse(&moment, &clock));
    assert_eq!(first, Ok(Given::Moment(utc("2026-10-25T00:30:15Z"))));
    assert_eq!(second, Ok(Given::Moment(utc("2026-10-25T01:30:15Z"))));
}

#[test]
fn a_day_on_which_midnight_comes_twice_or_not_at_all_is_whole() {
    // The tz database: America/Sao_Paulo went back from 24:00 to 23:00 on 17 February 2018 (02:00 UTC on the 18th), and
    // forward from 00:00 to 01:00 on 4 November 2018 (03:00 UTC); Pacific/Apia had no 30 December 2011.
    let clock = in_zone(TimeZone::get("America/Sao_Paulo").unwrap());
    let day = Given::Day(date(2018, 2, 17));
    assert_eq!(day.start(&clock), utc("2018-02-17T02:00:00Z"));
    assert_eq!(day.end(&clock), utc("2018-02-18T02:59:59.999Z"), "25 hours");
    let day = Given::Day(date(2018, 11, 4));
    assert_eq!(day.start(&clock), utc("2018-11-04T03:00:00Z"), "its first moment is one o'clock");
    assert_eq!(day.end(&clock), utc("2018-11-05T01:59:59.999Z"), "23 hours");
    assert!(matches!(parse("2018-11-04 00:15", &clock), Err(DateError::Skipped { .. })));
    let clock = in_zone(TimeZone::get("Pacific/Apia").unwrap());
    let skipped = parse("2011-12-30 09:00", &clock);
    let either = ["2011-12-29T09:00-10:00".to_owned(), "2011-12-31T09:00+14:00".to_owned()];
    assert_eq!(skipped, Err(DateError::Skipped { typed: "2011-12-30 09:00".to_owned(), either }));
}

#[test]
fn what_has_not_come_yet_is_not_asked_about() {
    let clock = in_zone(TimeZone::posix("CET-1CEST,M3.5.0,M10.5.0/3").unwrap());
    let typed = "2027-10-31 02:30";
    assert_eq!(parse(typed, &clock), Err(DateError::Future(typed.to_owned())));
}

#[rstest]
#[case::with_points("28.9.2025", date(2025, 9, 28))]
#[case::without_a_year("28.9.", date(2025, 9, 28))]
#[case::this_year("3.3.", date(2026, 3, 3))]
#[case::this_day("4.3.", date(2026, 3, 4))]
#[case::without_the_last_point("28.9", date(2025, 9, 28))]
#[case::no_hour_of_the_day("24.12", date(2025, 12, 24))]
#[case::no_minutes("9.3", date(2025, 3, 9))]
#[case::a_month_in_words("26 Nov", date(2025, 11, 26))]
#[case::the_month_first("nov 26", date(2025, 11, 26))]
#[case::ordinal("26th November", date(2025, 11, 26))]
#[case::four_letters("1 Sept. 2025", date(2025, 9, 1))]
#[case::a_leap_day("29 Feb", date(2024, 2, 29))]
#[case::year_first("2026/3/4", date(2026, 3, 4))]
#[case::only_one_can_be("13/4/2025", date(2025, 4, 13))]
#[case::only_one_can_be_and_the_month_is_first("4/13", date(2025, 4, 13))]
#[case::both_are_one("3/3/2026", date(2026, 3, 3))]
// 4 March 2026 was a Wednesday.
#[case::yesterday_by_its_name("Tuesday", date(2026, 3, 3))]
#[case::this_day_by_its_name("wed", date(2026, 2, 25))]
#[case::tomorrow_by_its_name("thurs", date(2026, 2, 26))]
#[case::two_days_ago("2 days ago", date(2026, 3, 2))]
#[case::a_week_ago("A week  ago", date(2026, 2, 25))]
fn a_day_is_read_as_it_is_said(#[case] text: &str, #[case] expected: Date) {
    assert_eq!(day(Some(text), &clock()), Ok(Some(expected)));
}

#[rstest]
#[case("yesterday 18.30", "2026-03-03T16:30Z")]
#[case("friday 2pm", "2026-02-27T12:00Z")]
#[case("26 Nov 18:30", "2025-11-26T16:30Z")]
#[case("26 Nov, 2:30 pm", "2025-11-26T12:30Z")]
#[case("28.9. 18.30", "2025-09-28T16:30Z")]
#[case("28.9 18h30", "2025-09-28T16:30Z")]
#[case("10.10 10.10", "2025-10-10T08:10Z")]
#[case("2 days ago 9am", "2026-03-02T07:00Z")]
#[case("today 12am", "2026-03-03T22:00Z")]
#[case("today 12pm", "2026-03-04T10:00Z")]
#[case("17.59", "2026-03-04T15:59Z")]
#[case("18:00", "2026-03-04T16:00Z")]
#[case("9am", "2026-03-04T07:00Z")]
#[case("18h", "2026-03-04T16:00Z")]
#[case("3 hours ago", "2026-03-04T13:00Z")]
#[case("40 minutes ago", "2026-03-04T15:20Z")]
#[case("1 hour 40 minutes ago", "2026-03-04T14:20Z")]
fn a_moment_is_read_as_it_is_said(#[case] text: &str, #[case] expected: &str) {
    assert_eq!(parse(text, &clock()), Ok(Given::Moment(utc(expected))));
}

#[test]
fn what_is_nearly_a_date_is_refused() {
    for text in [
        "12",
        "9:3",
        "18.3O",
        "25.30",
        "18.60",
        "0.0",
        "31.4",
        "30.2.2026",
        "28.13.2025",
        "28.9.2025.",
        "28.9.2025 12",
        "13pm",
        "0am",
        "2 : 30",
        "18h5",
        "h30",
        "pm",
        "24h",
        "nov",
        "nov 2025",
        "31 Nov",
        "nov nov 26",
        "26 26 nov",
        "wednes",
        "next friday",
        "2 days",
        "days ago",
        "1.5 days ago",
        "-2 days ago",
        "40 ago",
        "ago",
        "0 hours ago",
        "3 hours ago 18:30",
        "99999 days ago",
        "1000 hours ago",
        "28-9",
        "1/2/3/4",
        "2026/3",
        "at",
        "at noon",
        "friday friday",
        "friday t 18:30",
        "18:30 yesterday",
        "28,9,2025",
        "28.9.20255",
        "\u{661}.9.",
    ] {
        let refused = parse(text, &clock());
        assert_eq!(refused, Err(DateError::NotADate(text.to_owned())), "{text}");
    }
}

#[rstest]
#[case("3/4/2025", "3 April 2025 or 4 March 2025", "2025-04-03 or 2025-03-04")]
#[case("03/04", "3 April 2025 or 4 March 2026", "2025-04-03 or 2026-03-04")]
#[case("3-4-2025", "3 April 2025 or 4 March 2025", "2025-04-03 or 2025-03-04")]
#[case("28.9.25", "28 September 2025", "2025-09-28")]
#[case("12.9.25 18:30", "12 September 2025 or 25 September 2012", "2025-09-12 or 2012-09-25")]
#[case("05.09.12", "5 September 2012 or 12 September 2005", "2012-09-05 or 2005-09-12")]
#[case("26 Nov 25", "26 November 2025", "2025-11-26")]
#[case("11 Nov 12", "11 November 2012 or 12 November 2011", "2012-11-11 or 2011-11-12")]
#[case("3/4/25", "3 April 2025 or 4 March 2025", "2025-04-03 or 2025-03-04")]
#[case("03/04/05", "3 April 2005, 4 March 2005 or 5 April 2003", "2005-04-03, 2005-03-04 or 2003-04-05")]
fn a_day_that_is_left_open_is_asked_about(#[case] text: &str, #[case] meant: &str, #[case] written: &str) {
    let refused = parse(text, &clock()).unwrap_err();
    assert_eq!(refused.to_string(), format!("\"{text}\" leaves the day open: it may mean {meant}"));
    assert_eq!(refused.help().unwrap().to_string(), format!("Write the day that is meant as {written}."));
}

#[test]
fn a_time_that_may_be_a_day_is_asked_about() {
    for (text, time, day) in
        [("10.10", "10:10", "2025-10-10"), ("12.05", "12:05", "2025-05-12"), ("01.02", "1:02", "2026-02-01")]
    {
        let refused = parse(text, &clock()).unwrap_err();
        assert!(
            refused.to_string().starts_with(&format!("\"{text}\" may mean {time} today or ")),
            "{refused}"
        );
        let help = format!("Write {time} for the time, {day} for the day.");
        assert_eq!(refused.help().unwrap().to_string(), help);
        assert!(matches!(parse(time, &clock()), Ok(Given::Moment(_))));
        assert_eq!(parse(day, &clock()), Ok(Given::Day(day.parse().unwrap())));
    }
}

#[test]
fn a_time_that_is_still_to_come_today_is_refused() {
    for text in ["18:01", "18.30", "9pm", "23h59"] {
        assert_eq!(parse(text, &clock()), Err(DateError::LaterToday(text.to_owned())), "{text}");
        assert_eq!(
            parse(&format!("today {text}"), &clock()),
            Err(DateError::Future(format!("today {text}")))
        );
        assert!(parse(&format!("yesterday {text}"), &clock()).is_ok());
    }
}

#[test]
fn a_change_of_the_clocks_is_asked_about_in_every_form() {
    let mut clock = in_zone(TimeZone::posix("CET-1CEST,M3.5.0,M10.5.0/3").unwrap());
    clock.0 = utc("2026-10-25T12:00Z");
    for text in
        ["25.10. 2.30", "25 Oct 2:30 am", "today 2h30", "2:30", "2.30", "0 days ago 2:30", "25/10/2026 2:30"]
    {
        let refused = parse(text, &clock);
        assert!(
            matches!(&refused, Err(DateError::Twice { typed, .. }) if typed == text),
            "{text}: {refused:?}"
        );
    }
    for text in ["29.3. 2.30", "29 March 2:30 am", "Mar 29, 2026 2h30", "29/3 2:30"] {
        let refused = parse(text, &clock);
        assert!(
            matches!(&refused, Err(DateError::Skipped { typed, .. }) if typed == text),
            "{text}: {refused:?}"
        );
    }
    // Ten hours before 12:00 UTC, and half an hour: the second time that the clocks showed 2:30 was at 1:30 UTC.
    assert_eq!(parse("10h30 ago", &clock), Ok(Given::Moment(utc("2026-10-25T01:30Z"))));
}
