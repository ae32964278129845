use super::*;
use crate::app::care::calendar::RoughDates;
use host_core::care::tasks::PLAN;
use jiff::civil::date;

fn item() -> CalendarItem {
    CalendarItem {
        uid: "care-1-oiling-1@needlehours".to_owned(),
        machine: MachineTag(1),
        machine_name: "Blue; handle, old".to_owned(),
        task: "oiling".to_owned(),
        what: "One drop.".to_owned(),
        lubricant: Some("clear oil".to_owned()),
        drive: Drive::Electric,
        due_on: date(2026, 3, 9),
        earliest: Some(date(2026, 3, 5)),
        latest: Some(date(2026, 3, 20)),
        is_due: false,
        is_put_off: false,
        sequence: 2,
        revised_at_utc_ms: UtcMillis((20_514 * 24 + 8) * 3_600_000),
    }
}

fn report(items: Vec<CalendarItem>) -> CalendarReport {
    CalendarReport {
        as_of_utc_ms: UtcMillis(0),
        items,
        cancelled: Vec::new(),
        without_date: Vec::new(),
        rough: Vec::new(),
    }
}

fn folded(line: &str) -> String {
    let mut lines = Lines::default();
    lines.add(line);
    lines.0
}

#[test]
fn an_event_takes_the_whole_day_and_reminds_on_its_own_morning() {
    // Written by hand after RFC 5545, 3.6.1, 3.6.6, 3.8.7.2 and 3.8.7.4; 20,514 days and eight hours are 2026-03-02T08:00Z.
    let expected = "BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:-//Needlehours//Care of tufting machines//EN\r\n\
        CALSCALE:GREGORIAN\r\nBEGIN:VEVENT\r\nUID:care-1-oiling-1@needlehours\r\nDTSTAMP:20260302T080000Z\r\n\
        SEQUENCE:2\r\nDTSTART;VALUE=DATE:20260309\r\nTRANSP:TRANSPARENT\r\n\
        SUMMARY:Unplug\\, then oil: Blue\\; handle\\, old\r\n\
        DESCRIPTION:One drop.\\nUse clear oil.\\nSwitch off and unplug first\\, and wa\r\n it until everything stands \
        still.\\nThe day is a forecast from your own wee\r\n ks of running\\, not an appointment. It will likely be due 5 Mar to \
        20 Ma\r\n r 2026.\r\nBEGIN:VALARM\r\nACTION:DISPLAY\r\nDESCRIPTION:Unplug\\, then oil: Blue\\; handle\\, old\r\n\
        TRIGGER:PT9H\r\nEND:VALARM\r\nEND:VEVENT\r\nEND:VCALENDAR\r\n";
    assert_eq!(file(&report(vec![item()]), Shown::Event).as_deref(), Some(expected));
}

#[test]
fn a_task_has_a_due_day_and_its_reminder_counts_from_that() {
    // RFC 5545, 3.8.6.3: in a to-do, RELATED=END counts from DUE.
    let text = file(&report(vec![item()]), Shown::ToDo).unwrap_or_default();
    assert!(text.contains("BEGIN:VTODO\r\n") && text.contains("\r\nDUE;VALUE=DATE:20260309\r\n"), "{text}");
    assert!(text.contains("\r\nTRIGGER;RELATED=END:PT9H\r\n"), "{text}");
    assert!(!text.contains("DTSTART") && !text.contains("VEVENT"), "{text}");
}

#[test]
fn an_event_of_a_machine_on_air_says_to_let_the_air_go_and_not_to_unplug() {
    let air = CalendarItem { drive: Drive::Pneumatic, ..item() };
    let said = description(&air);
    assert!(said.contains("take the hose off") && !said.contains("unplug"), "{said}");
}

#[test]
fn a_title_read_alone_says_what_must_be_off_first() {
    let said = |task, drive| title(task, drive, "Blue handle");
    assert_eq!(said("oiling", Drive::Electric), "Unplug, then oil: Blue handle");
    assert_eq!(said("oiling", Drive::Pneumatic), "Air and hose off, then oil: Blue handle");
    assert_eq!(said("foot screw", Drive::Electric), "Unplug, then foot screw: Blue handle");
    assert_eq!(said("re-tension", Drive::Pneumatic), "Tap the cloth, tighten it: Blue handle");
    // Every task of the plan has words of its own.
    for task in PLAN {
        for drive in [Drive::Electric, Drive::Pneumatic] {
            let title = said(task.name, drive);
            assert!(!title.to_lowercase().contains(&format!("then {}:", task.name)), "{title}");
            assert!(title.contains(' ') && !title.contains("-tension"), "{title}");
        }
    }
}

#[test]
fn a_calendar_without_anything_in_it_is_none() {
    assert_eq!(file(&report(Vec::new()), Shown::Event), None);
}

#[test]
fn texts_are_escaped_as_the_rfcs_own_example() {
    // RFC 5545, 3.3.11.
    assert_eq!(
        text("Project XYZ Final Review\nConference Room - 3B\nCome Prepared."),
        "Project XYZ Final Review\\nConference Room - 3B\\nCome Prepared."
    );
    assert_eq!(text("a\\b;c,d:e\"f\r\u{7}g\th"), "a\\\\b\\;c\\,d:e\"fg\th");
}

#[test]
fn a_line_holds_seventy_five_octets_and_no_letter_is_cut() {
    let short = "x".repeat(75);
    assert_eq!(folded(&short), format!("{short}\r\n"));
    assert_eq!(folded(&format!("{short}yz")), format!("{short}\r\n yz\r\n"));
    // The blank that begins a line counts: 74 letters follow it.
    let long = folded(&"x".repeat(75 + 74 + 1));
    assert_eq!(long, format!("{}\r\n {}\r\n x\r\n", "x".repeat(75), "x".repeat(74)));
    // 74 octets and a letter of two, three or four do not fit into 75.
    for letter in ["é", "€", "🧶"] {
        assert_eq!(
            folded(&format!("{}{letter}", "x".repeat(74))),
            format!("{}\r\n {letter}\r\n", "x".repeat(74))
        );
    }
}

#[test]
fn a_line_is_never_broken_beside_a_blank() {
    // Some readers trim what stands beside a break, so "fine stone" would come back as "finestone".
    let line = format!("{} fine stone", "x".repeat(70));
    assert_eq!(folded(&line), format!("{} fin\r\n e stone\r\n", "x".repeat(70)));
    assert_eq!(folded(&" ".repeat(76)), format!("{}\r\n  \r\n", " ".repeat(75)));
}

#[test]
fn what_is_left_out_is_named_with_its_reason() {
    let without = |because| WithoutDate {
        machine: MachineTag(1),
        machine_name: "Blue".to_owned(),
        task: "oiling".to_owned(),
        because,
        whole_weeks: 2,
        least_whole_weeks: 4,
    };
    let report = CalendarReport {
        without_date: vec![without(NoDate::TooFewWeeks), without(NoDate::NotNow)],
        ..report(Vec::new())
    };
    assert_eq!(
        left_out(&report),
        "Left out: oiling (Blue): a date needs 4 whole weeks of your own running; so far there are 2 weeks.\n\
         Left out: oiling (Blue): it does not apply now, or is put off without a day.\n"
    );
}

#[test]
fn rough_dates_are_said_to_be_rough() {
    let blue = RoughDates { machine: MachineTag(1), machine_name: "Blue".to_owned(), whole_weeks: 5 };
    let report = CalendarReport { rough: vec![blue], ..report(Vec::new()) };
    let told = "Dates for Blue are rough: only 5 whole weeks of your own running are known.\n";
    assert_eq!(left_out(&report), told);
}

#[test]
fn tasks_of_one_machine_that_are_left_out_for_one_reason_share_a_line() {
    let without = |machine, task: &str, because| WithoutDate {
        machine: MachineTag(machine),
        machine_name: "Blue".to_owned(),
        task: task.to_owned(),
        because,
        whole_weeks: 0,
        least_whole_weeks: 4,
    };
    let report = CalendarReport {
        without_date: vec![
            without(1, "oiling", NoDate::TooFewWeeks),
            without(1, "belt", NoDate::TooFar),
            without(1, "screws", NoDate::TooFewWeeks),
            without(2, "oiling", NoDate::TooFewWeeks),
        ],
        ..report(Vec::new())
    };
    assert_eq!(
        left_out(&report),
        "Left out: oiling and screws (Blue): a date needs 4 whole weeks of your own running; so far there are none.\n\
         Left out: belt (Blue): at this pace it is not due within a year.\n\
         Left out: oiling (Blue): a date needs 4 whole weeks of your own running; so far there are none.\n"
    );
}

#[test]
fn a_day_that_holds_no_more_is_cancelled_without_a_reminder() {
    // Written by hand after RFC 5545, 3.8.1.11; an event needs its DTSTART all the same (3.6.1).
    let gone = Cancelled {
        uid: "care-1-oiling-1@needlehours".to_owned(),
        machine: MachineTag(1),
        machine_name: "Blue".to_owned(),
        task: "oiling".to_owned(),
        drive: Drive::Electric,
        due_on: date(2026, 3, 9),
        sequence: 3,
        revised_at_utc_ms: UtcMillis((20_514 * 24 + 8) * 3_600_000),
    };
    let report = CalendarReport { cancelled: vec![gone], ..report(Vec::new()) };
    let expected = "BEGIN:VEVENT\r\nUID:care-1-oiling-1@needlehours\r\nDTSTAMP:20260302T080000Z\r\nSEQUENCE:3\r\n\
        STATUS:CANCELLED\r\nDTSTART;VALUE=DATE:20260309\r\nTRANSP:TRANSPARENT\r\nSUMMARY:Unplug\\, then oil: Blue\r\nEND:VEVENT\r\n";
    let text = file(&report, Shown::Event).unwrap_or_default();
    assert!(text.contains(expected), "{text}");
    assert!(!text.contains("VALARM"), "{text}");
    assert!(
        file(&report, Shown::ToDo)
            .unwrap_or_default()
            .contains("\r\nSTATUS:CANCELLED\r\nDUE;VALUE=DATE:20260309\r\n")
    );
    assert_eq!(left_out(&report), "Taken out: oiling (Blue), told for Mon 9 Mar 2026.\n");
}

#[test]
fn each_kind_of_day_says_what_it_is() {
    let said = |item: CalendarItem| kind_of_day(&item);
    let bare = CalendarItem { earliest: None, latest: None, ..item() };
    assert!(said(bare.clone()).contains("due already"));
    assert!(said(CalendarItem { latest: Some(date(2026, 3, 9)), ..bare.clone() }).contains("At the latest"));
    assert!(said(CalendarItem { is_put_off: true, ..bare }).contains("put it off until"));
    assert!(said(CalendarItem { latest: None, ..item() }).contains("Not likely before 5 Mar 2026."));
}

#[test]
fn what_was_written_is_told_in_the_order_of_days_and_what_is_due_is_called_that() {
    let at = |task: &str, due_on| CalendarItem { task: task.to_owned(), due_on, ..item() };
    let items = vec![
        CalendarItem { is_due: true, ..at("oiling", date(2026, 3, 2)) },
        at("belt", date(2027, 8, 27)),
        at("gear-grease", date(2027, 3, 2)),
    ];
    assert_eq!(
        written(&report(items), "care.ics"),
        "Mon 2 Mar 2026: oiling (Blue; handle, old), due since then\n\
         Tue 2 Mar 2027: gear-grease (Blue; handle, old)\n\
         Fri 27 Aug 2027: belt (Blue; handle, old)\n\
         Written: care.ics\n"
    );
}
