//! Due dates and the calendar, asked through the use cases and through the program itself.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a test may stop at the first surprise"
)]

use std::io::Cursor;

use crate::bench_studio::{Log, MINUTE, MONDAY_8, ONE, Still, Studio};
use host::app::care::calendar::{CalendarItem, CalendarReport, calendar};
use host::app::care::limits;
use host::view::care::calendar::{Shown, file};
use host::view::care::{due, forecast};
use host_core::care::forecast::NoDate;
use host_core::care::report::TaskReport;
use host_core::entries::{self, CareDone, CareTaskName, EntryBody};
use ical::IcalParser;
use ical::parser::Component;
use ical::parser::ical::component::IcalCalendar;
use ical::property::Property;
use jiff::civil::{Date, date};
use shared_types::UtcMillis;

const DAY: u64 = 24 * 60;

/// Half an hour of running on Monday, Wednesday and Friday at nine, for so many weeks from 2 March 2026 on.
fn steady(weeks: u64) -> Studio {
    let studio = Studio::new();
    let mut log = Log::new();
    for week in 0..weeks {
        for day in [0, 2, 4] {
            log.run((week * 7 + day) * DAY + 60, 30, 500);
        }
    }
    studio.pulled(&log);
    studio
}

/// So many days after that Monday at eight.
fn after_days(days: u64) -> Still {
    Still(MONDAY_8 + i64::try_from(days * DAY * MINUTE).unwrap())
}

fn oiled(studio: &Studio, days: u64) {
    studio.tell(EntryBody::CareDone(CareDone {
        machine: ONE,
        task: CareTaskName("oiling".to_owned()),
        at: UtcMillis(after_days(days).0),
        finding: None,
        note: None,
    }));
}

fn oiling(studio: &Studio, now: Still) -> TaskReport {
    let report = limits::due(&studio.database(), &now, None).unwrap();
    report.tasks.into_iter().find(|task| task.task == "oiling").unwrap()
}

fn published(studio: &Studio, now: Still) -> CalendarReport {
    calendar(&mut studio.database(), &now, None).unwrap()
}

fn item(report: &CalendarReport) -> &CalendarItem {
    report.items.iter().find(|item| item.task == "oiling").unwrap()
}

#[test]
fn a_steady_makers_oiling_has_a_date_in_the_week_in_which_the_hours_are_used_up() {
    // Twelve weeks of an hour and a half each; oiled on Monday 25 May before work. Four hours are used up with the second run
    // of the third week: Wednesday 10 June.
    let studio = steady(12);
    oiled(&studio, 84);
    let forecast = oiling(&studio, after_days(84)).forecast;
    assert_eq!((forecast.no_date_because, forecast.whole_weeks, forecast.prior_weeks), (None, 12, 0));
    assert_eq!((forecast.draws, forecast.today), (500, Some(date(2026, 5, 25))));
    let (earliest, latest) = (forecast.earliest.unwrap(), forecast.latest.unwrap());
    let truth = date(2026, 6, 10);
    assert!(earliest <= truth && truth <= latest, "{forecast:?}");
    assert!(date(2026, 6, 1) < earliest && latest < date(2026, 6, 25), "{forecast:?}");
    assert!((date(2026, 6, 8)..=date(2026, 6, 12)).contains(&forecast.middle.unwrap()), "{forecast:?}");
    assert_eq!(oiling(&studio, after_days(84)).forecast, forecast);
}

#[test]
fn a_short_history_has_only_hours_left_and_words_for_it() {
    let studio = steady(3);
    oiled(&studio, 21);
    let task = oiling(&studio, after_days(21));
    assert_eq!(task.forecast.no_date_because, Some(NoDate::TooFewWeeks));
    assert_eq!((task.forecast.whole_weeks, task.forecast.earliest), (3, None));
    assert_eq!(forecast::words(&task), " 4 h of running left.");
    let report = limits::due(&studio.database(), &after_days(21), None).unwrap();
    let too_few = Some(NoDate::TooFewWeeks);
    let without_date = report.tasks.iter().filter(|task| task.forecast.no_date_because == too_few);
    assert!(without_date.count() > 1);
    let told = due::due(&report, &jiff::tz::TimeZone::UTC);
    let why = "A date needs 4 whole weeks of your own running; so far there are 3 weeks.";
    assert_eq!(told.matches(why).count(), 1, "{told}");
    let studio = steady(4);
    oiled(&studio, 28);
    let forecast = oiling(&studio, after_days(28)).forecast;
    assert_eq!((forecast.whole_weeks, forecast.prior_weeks), (4, 4));
    assert!(forecast.middle.is_some());
}

#[test]
fn dates_from_less_than_eight_weeks_are_said_once_to_be_rough() {
    let rough = "Dates are rough: only 7 whole weeks of your own running are known.";
    for (weeks, times) in [(7, 1), (8, 0)] {
        let studio = steady(weeks);
        oiled(&studio, 7 * weeks);
        let report = limits::due(&studio.database(), &after_days(7 * weeks), None).unwrap();
        let told = due::due(&report, &jiff::tz::TimeZone::UTC);
        assert_eq!(told.matches(rough).count(), times, "{told}");
        assert_eq!(told.contains("are rough"), times == 1, "{told}");
        assert!(told.contains("about "), "{told}");
    }
}

#[test]
fn standing_still_makes_oiling_due_when_nothing_else_does() {
    // Nothing ran since Friday 22 May; oiled on Sunday 24 May at eight, so the limit of 14 days of standing still is reached on
    // 7 June if the rest goes on.
    let studio = steady(12);
    oiled(&studio, 83);
    let forecast = oiling(&studio, after_days(94)).forecast;
    assert!(forecast.earliest >= Some(date(2026, 6, 4)), "{forecast:?}");
    assert_eq!(oiling(&studio, after_days(98)).forecast.no_date_because, Some(NoDate::DueNow));
}

#[test]
fn the_calendar_keeps_its_number_until_the_date_changes() {
    let studio = steady(12);
    oiled(&studio, 84);
    let first = published(&studio, after_days(84));
    let entries = studio.entries().len();
    assert_eq!((item(&first).sequence, item(&first).revised_at_utc_ms.0), (0, after_days(84).0));
    // Half an hour later nothing has changed, to the byte.
    let later = Still(after_days(84).0 + 3_600_000 / 2);
    assert_eq!(file(&published(&studio, later), Shown::Event), file(&first, Shown::Event));
    assert_eq!(studio.entries().len(), entries);
    // Oiled again two days later: another date under the same name.
    oiled(&studio, 86);
    let second = published(&studio, after_days(87));
    assert_eq!(item(&second).uid, item(&first).uid);
    assert_ne!(item(&second).due_on, item(&first).due_on);
    assert_eq!((item(&second).sequence, item(&second).revised_at_utc_ms.0), (1, after_days(87).0));
}

#[test]
fn what_is_due_stays_on_its_day_however_long_it_is_not_done() {
    let studio = steady(12);
    oiled(&studio, 0);
    let first = published(&studio, after_days(84));
    assert_eq!((item(&first).due_on, item(&first).sequence), (date(2026, 5, 25), 0));
    let later = published(&studio, after_days(90));
    assert_eq!((item(&later).due_on, item(&later).sequence), (date(2026, 5, 25), 0));
}

fn gone(report: &CalendarReport) -> Vec<(&str, u32)> {
    report.cancelled.iter().map(|gone| (gone.task.as_str(), gone.sequence)).collect()
}

#[test]
fn a_date_that_holds_no_more_is_cancelled_once_and_its_number_grows_on() {
    let studio = steady(12);
    oiled(&studio, 84);
    let first = published(&studio, after_days(84));
    let uid = item(&first).uid.clone();
    assert!(first.cancelled.is_empty());
    studio.ok(&["care", "off", "oiling"]);
    let second = published(&studio, after_days(85));
    assert_eq!(gone(&second), [("oiling", 1)]);
    let entries = studio.entries().len();
    // The same for a month, in every file, under the same number; then no more.
    let third = published(&studio, after_days(86));
    assert_eq!((gone(&third), studio.entries().len()), (vec![("oiling", 1)], entries));
    assert_eq!(third.cancelled[0].revised_at_utc_ms.0, after_days(85).0);
    let much_later = published(&studio, after_days(116));
    assert!(much_later.cancelled.iter().all(|gone| gone.task != "oiling"), "{much_later:?}");
    let read = read_by_another_library(&file(&second, Shown::Event).unwrap());
    let event = read.events.iter().find(|event| value(&event.properties, "UID") == uid).unwrap();
    assert_eq!(value(&event.properties, "STATUS"), "CANCELLED");
    assert_eq!(value(&event.properties, "SEQUENCE"), "1");
    assert!(event.alarms.is_empty());
    studio.ok(&["care", "on", "oiling"]);
    let back = published(&studio, after_days(86));
    assert_eq!((&item(&back).uid, item(&back).sequence), (&uid, 2));
    assert!(back.cancelled.iter().all(|gone| gone.task != "oiling"), "{back:?}");
}

#[test]
fn what_is_put_off_until_a_day_stands_on_it_and_without_one_is_taken_out() {
    let studio = steady(12);
    oiled(&studio, 0);
    let now = after_days(90);
    let first = published(&studio, now);
    assert_eq!(item(&first).sequence, 0);
    let snooze = |until: Option<UtcMillis>| {
        studio.tell(EntryBody::CareSnoozed(entries::CareSnoozed {
            machine: ONE,
            task: CareTaskName("oiling".to_owned()),
            at: UtcMillis(now.0),
            for_run: Some(shared_types::RunMillis(3_600_000)),
            until,
            reason: "rug first".to_owned(),
        }));
    };
    snooze(Some(UtcMillis(after_days(95).0)));
    let put_off = published(&studio, now);
    // 95 days after Monday, 2 March 2026.
    assert_eq!((item(&put_off).due_on, item(&put_off).sequence), (date(2026, 6, 5), 1));
    assert!(
        file(&put_off, Shown::Event).unwrap().replace("\r\n ", "").contains("You put it off until this day")
    );
    snooze(None);
    assert_eq!(gone(&published(&studio, now)), [("oiling", 2)]);
}

#[test]
fn the_day_of_an_old_cloth_goes_when_another_one_comes_on_the_frame() {
    let studio = Studio::new();
    studio.rug("Fox", "lot 7");
    studio.rug("Owl", "lot 8");
    let work = |rug: &str, change, days| {
        studio.tell(EntryBody::RugWork(entries::RugWork {
            rug: entries::RugName(rug.to_owned()),
            machine: None,
            change,
            at: UtcMillis(after_days(days).0),
        }));
    };
    work("Owl", entries::WorkChange::Finished, 0);
    let mut log = Log::new();
    log.run(60, 30, 500).run(4 * DAY + 60, 30, 500);
    studio.pulled(&log);
    let cloth = |report: &CalendarReport| {
        report.items.iter().find(|item| item.task == "re-tension").map(|item| item.due_on)
    };
    // Half an hour on the Fox on Monday, limit 15 minutes; on Thursday the Owl comes on, and on Friday it runs as long.
    assert_eq!(cloth(&published(&studio, after_days(1))), Some(date(2026, 3, 3)));
    work("Fox", entries::WorkChange::Finished, 3);
    assert_eq!(cloth(&published(&studio, after_days(3))), None);
    work("Owl", entries::WorkChange::Started, 3);
    let new = published(&studio, after_days(5));
    assert_eq!(cloth(&new), Some(date(2026, 3, 7)), "{:?}", new.items);
}

#[test]
fn only_the_machine_that_was_asked_for_is_taken_out_of_the_calendar() {
    let studio = steady(12);
    oiled(&studio, 84);
    published(&studio, after_days(84));
    studio.ok(&["machine", "add", "Second"]);
    studio.ok(&["care", "off", "oiling", "--machine", "1"]);
    let other = calendar(&mut studio.database(), &after_days(85), Some(2)).unwrap();
    assert_eq!(gone(&other), []);
    assert_eq!(gone(&published(&studio, after_days(85))), [("oiling", 1)]);
}

#[test]
fn a_forecast_that_creeps_by_a_day_stays_where_it_was_told() {
    // Seven files on seven mornings on which nothing ran and nothing was done: the number may grow only for a date that is
    // two days from the one that was told.
    let studio = steady(12);
    oiled(&studio, 84);
    let mut told = item(&published(&studio, after_days(84))).clone();
    for day in 85..91 {
        let middle = oiling(&studio, after_days(day)).forecast.middle.unwrap();
        let now = item(&published(&studio, after_days(day))).clone();
        let moved = told.due_on.until(middle).unwrap().get_days().abs();
        if moved <= 1 {
            assert_eq!((now.due_on, now.sequence), (told.due_on, told.sequence), "day {day}");
        } else {
            assert_eq!((now.due_on, now.sequence), (middle, told.sequence + 1), "day {day}");
        }
        told = now;
    }
}

#[test]
fn a_limit_in_days_has_its_day_in_the_calendar_and_in_due_however_short_the_history_is() {
    let studio = steady(1);
    studio.tell(EntryBody::CareDone(CareDone {
        machine: ONE,
        task: CareTaskName("gear-grease".to_owned()),
        at: UtcMillis(MONDAY_8),
        finding: None,
        note: None,
    }));
    let now = after_days(7);
    let due = limits::due(&studio.database(), &now, None).unwrap();
    let grease = due.tasks.iter().find(|task| task.task == "gear-grease").unwrap();
    // 365 days after 2 March 2026.
    assert!(forecast::words(grease).contains("Due on 2 Mar 2027 at the latest"));
    let report = published(&studio, now);
    let item = report.items.iter().find(|item| item.task == "gear-grease").unwrap();
    assert_eq!((item.due_on, item.earliest, item.latest), (date(2027, 3, 2), None, Some(date(2027, 3, 2))));
    assert!(report.without_date.iter().all(|task| task.task != "gear-grease"));
}

#[test]
fn another_program_reads_the_calendar_as_it_was_meant() {
    let studio = steady(12);
    oiled(&studio, 84);
    let report = published(&studio, after_days(84));
    assert!(report.items.len() > 4, "{report:?}");
    let text = file(&report, Shown::Event).unwrap();
    let calendar = read_by_another_library(&text);
    assert_eq!(calendar.events.len(), report.items.len());
    for (event, item) in calendar.events.iter().zip(&report.items) {
        assert_eq!(value(&event.properties, "UID"), item.uid);
        assert_eq!(value(&event.properties, "SEQUENCE"), item.sequence.to_string());
        let start = property(&event.properties, "DTSTART");
        assert_eq!(start.params, Some(vec![("VALUE".to_owned(), vec!["DATE".to_owned()])]));
        assert_eq!(Date::strptime("%Y%m%d", start.value.as_deref().unwrap()).unwrap(), item.due_on);
        assert_eq!(value(&event.properties, "DTSTAMP"), "20260525T080000Z");
        assert!(value(&event.properties, "SUMMARY").ends_with(": Rosie"));
        let (told, escaped) =
            (value(&event.properties, "DESCRIPTION"), item.what.replace(',', "\\,").replace(';', "\\;"));
        assert!(told.starts_with(&escaped), "{told}\n{escaped}");
        let [alarm] = event.alarms.as_slice() else { panic!("{event:?}") };
        assert_eq!(value(&alarm.properties, "ACTION"), "DISPLAY");
        assert_eq!(value(&alarm.properties, "TRIGGER"), "PT9H");
    }
    let tasks = read_by_another_library(&file(&report, Shown::ToDo).unwrap());
    assert_eq!((tasks.todos.len(), tasks.events.len()), (report.items.len(), 0));
    let due: Vec<String> = tasks.todos.iter().map(|task| value(&task.properties, "DUE")).collect();
    let meant: Vec<String> =
        report.items.iter().map(|item| item.due_on.strftime("%Y%m%d").to_string()).collect();
    assert_eq!(due, meant);
    assert!(text.split("\r\n").all(|line| line.len() <= 75 && !line.contains('\n')));
}

fn read_by_another_library(text: &str) -> IcalCalendar {
    let mut calendars = IcalParser::new(Cursor::new(text.as_bytes()));
    let calendar = calendars.next().unwrap().unwrap();
    assert!(calendars.next().is_none());
    assert_eq!(calendar.get_property("VERSION").unwrap().value.as_deref(), Some("2.0"));
    calendar
}

fn property<'a>(properties: &'a [Property], name: &str) -> &'a Property {
    let mut found = properties.iter().filter(|property| property.name == name);
    let one = found.next().unwrap_or_else(|| panic!("no {name}"));
    assert!(found.next().is_none(), "{name} twice");
    one
}

fn value(properties: &[Property], name: &str) -> String {
    property(properties, name).value.clone().unwrap()
}

#[test]
fn the_command_writes_a_file_or_prints_it_and_says_what_it_leaves_out() {
    // The program's own clock is later than any of this running, so oiling is due now and stands on today.
    let studio = steady(2);
    let printed = studio.ask(&["calendar"]);
    assert_eq!(printed.code(), 0);
    assert!(printed.out().starts_with("BEGIN:VCALENDAR\r\n") && printed.out().ends_with("END:VCALENDAR\r\n"));
    assert!(
        read_by_another_library(&printed.out())
            .events
            .iter()
            .any(|event| { value(&event.properties, "SUMMARY") == "Unplug\\, then oil: Rosie" })
    );
    let to_file = studio.ask(&["calendar", "--out", "care.ics"]);
    assert_eq!(to_file.code(), 0);
    let path = studio.path().parent().unwrap().join("care.ics");
    assert_eq!(std::fs::read_to_string(path).unwrap(), printed.out());
    assert!(to_file.out().ends_with("Written: care.ics\n"));
    let refused = studio.ask(&["calendar", "--out", "no/such/folder/care.ics"]);
    assert_eq!(refused.code(), 6);
    assert!(refused.err_words().contains("cannot write no/such/folder/care.ics"));
    let json = studio.ask(&["calendar", "--json"]).json();
    assert_eq!(json["schema"], 1);
    assert_eq!(json["items"].as_array().unwrap().len(), read_by_another_library(&printed.out()).events.len());
}

/// Names of the files beside the database that do not belong to it.
fn beside(studio: &Studio) -> Vec<String> {
    let folder = std::fs::read_dir(studio.path().parent().unwrap()).unwrap();
    let names = folder.map(|file| file.unwrap().file_name().into_string().unwrap());
    names.filter(|name| !name.starts_with("studio.db")).collect()
}

#[test]
fn dates_are_noted_only_when_their_file_lies_ready_and_an_older_file_stays_whole_until_then() {
    let studio = steady(2);
    let before = studio.entries().len();
    for place in ["no/such/folder/care.ics", "."] {
        let refused = studio.ask(&["calendar", "--out", place]);
        assert_eq!(refused.code(), 6, "{refused:?}");
        assert!(refused.err_words().contains(&format!("cannot write {place}")), "{refused:?}");
    }
    assert_eq!((studio.entries().len(), beside(&studio)), (before, vec![]));
    let older = studio.path().with_file_name("care.ics");
    std::fs::write(&older, "an older file").unwrap();
    // Somebody else is writing, so the dates cannot be noted, and the file must not tell them.
    let other = rusqlite::Connection::open(studio.path()).unwrap();
    other.execute_batch("BEGIN IMMEDIATE").unwrap();
    assert_eq!(studio.ask(&["calendar", "--out", "care.ics"]).code(), 5);
    assert_eq!(std::fs::read_to_string(&older).unwrap(), "an older file");
    assert_eq!(beside(&studio), ["care.ics"]);
    other.execute_batch("ROLLBACK").unwrap();
    assert_eq!(studio.ask(&["calendar", "--out", "care.ics"]).code(), 0);
    assert!(std::fs::read_to_string(&older).unwrap().starts_with("BEGIN:VCALENDAR"));
    assert!(studio.entries().len() > before);
    assert_eq!(beside(&studio), ["care.ics"]);
}

#[test]
fn a_date_that_was_noted_and_never_shown_does_no_harm() {
    let studio = steady(12);
    oiled(&studio, 84);
    // As after a power cut between the note and the file.
    drop(published(&studio, after_days(84)));
    let shown = published(&studio, after_days(84));
    assert_eq!((item(&shown).sequence, item(&shown).revised_at_utc_ms.0), (0, after_days(84).0));
}

#[test]
fn without_a_machine_there_is_no_calendar_to_write() {
    let told = Studio::empty().ask(&["calendar"]);
    assert_eq!((told.code(), told.out().as_str()), (1, ""));
    assert!(told.err_words().contains("no machine has been entered yet"), "{told:?}");
}

/// Runs `due --notify` where only one folder is searched for programs; its exit code and standard error.
fn notified(studio: &Studio, programs: &std::path::Path) -> (i32, String) {
    let output = std::process::Command::new(env!("CARGO_BIN_EXE_needlehours"))
        .args(["due", "--notify"])
        .env_clear()
        .env("NEEDLEHOURS_DB", studio.path())
        .env("PATH", programs)
        .env("TZ", "UTC")
        .output()
        .unwrap();
    (output.status.code().unwrap(), String::from_utf8(output.stderr).unwrap())
}

#[test]
fn a_missing_notifier_is_one_line_and_changes_nothing() {
    let (studio, folder) = (steady(12), tempfile::tempdir().unwrap());
    assert_eq!(studio.ask(&["due"]).code(), 3);
    let said = "No notification: this computer has no notify-send, which shows notifications.\n";
    assert_eq!(notified(&studio, folder.path()), (3, said.to_owned()));
}

#[cfg(unix)]
#[test]
fn a_notifier_is_told_what_is_due_and_may_refuse() {
    use std::os::unix::fs::PermissionsExt as _;
    let (studio, folder) = (steady(12), tempfile::tempdir().unwrap());
    let program = folder.path().join("notify-send");
    let told = folder.path().join("told");
    let script = |last: &str| format!("#!/bin/sh\nprintf '%s|' \"$@\" > '{}'\n{last}\n", told.display());
    for (last, said) in [
        ("exit 0", ""),
        (
            "echo 'no desktop here.' >&2; exit 1",
            "No notification: notify-send showed no notification: no desktop here.\n",
        ),
    ] {
        std::fs::write(&program, script(last)).unwrap();
        std::fs::set_permissions(&program, std::fs::Permissions::from_mode(0o755)).unwrap();
        assert_eq!(notified(&studio, folder.path()), (3, said.to_owned()));
        let words = std::fs::read_to_string(&told).unwrap();
        assert!(
            words.starts_with("--app-name=Needlehours|--|Care is due|") && words.contains("oiling"),
            "{words}"
        );
    }
}
