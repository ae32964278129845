//! The bare command: today at one glance, and one key for each answer, as a maker runs it.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::indexing_slicing,
    clippy::panic,
    reason = "a test may stop at the first surprise"
)]

use crate::bench_studio::{Log, MINUTE, MONDAY_8, ONE, Studio};
use host_core::entries::{
    CareDone, CareTaskName, Certainty, Drive, EntryBody, MachineAdded, Owner, Pile, RugName,
};
use serde_json::json;
use shared_types::log::PressKind;
use shared_types::{MachineTag, UtcMillis};

/// Two sessions on Monday while Fox is on the frame: 48 and 60 minutes.
fn two_sessions() -> Studio {
    let studio = Studio::new();
    studio.rug("Fox", "grey");
    let mut log = Log::new();
    log.run(10, 48, 500);
    log.run(120, 60, 500);
    studio.pulled(&log);
    studio
}

fn at(minutes: u64) -> UtcMillis {
    UtcMillis(MONDAY_8 + i64::try_from(minutes * MINUTE).unwrap())
}

fn done(task: &str, minutes: u64) -> EntryBody {
    let task = CareTaskName(task.to_owned());
    EntryBody::CareDone(CareDone { machine: ONE, task, at: at(minutes), finding: None, note: None })
}

/// A glance: eight lines of 80 columns at most.
#[track_caller]
fn is_a_glance(words: &str) {
    assert!(words.lines().count() <= 8, "{words}");
    assert!(words.lines().all(|line| line.chars().count() <= 80), "{words}");
}

#[test]
fn without_a_terminal_it_prints_at_most_eight_lines_and_asks_nothing() {
    let studio = two_sessions();
    let before = studio.entries().len();
    let words = studio.ok(&[]);
    is_a_glance(&words);
    // A day on a rug is one line, however many sessions.
    assert!(words.contains("1 h 48 min on Fox, 2 sessions. Right?"), "{words}");
    assert!(words.contains("End of day: brush-out and screws"), "{words}");
    assert!(words.contains("Due: oiling") && words.contains("On the frame: Fox"), "{words}");
    let last = words.lines().last().unwrap();
    assert!(
        last.contains("Unplug for care") && last.contains("r right") && last.contains("d done"),
        "{words}"
    );
    assert_eq!(studio.entries().len(), before);
}

#[test]
fn the_json_object_has_the_numbers_of_due_and_of_the_sessions() {
    let studio = two_sessions();
    let (today, due) = (studio.json(&["--json"]), studio.ask(&["due", "--json"]).json());
    let machine = &today["machines"][0];
    let named = |list: &serde_json::Value| -> Vec<String> {
        list.as_array().unwrap().iter().map(|task| task["task"].as_str().unwrap().to_owned()).collect()
    };
    let of_state = |states: &[&str]| -> Vec<String> {
        let tasks = due["tasks"].as_array().unwrap().iter();
        tasks
            .filter(|task| {
                states.contains(&task["state"].as_str().unwrap()) && task["belongs_to"] == "machine"
            })
            .map(|task| task["task"].as_str().unwrap().to_owned())
            .collect()
    };
    assert_eq!(named(&machine["due"]), of_state(&["due", "overdue"]));
    assert_eq!(named(&machine["end_of_day"]), of_state(&["end_of_day"]));
    assert_eq!(machine["to_answer"][0]["run_time_ms"], json!(108 * MINUTE));
    assert_eq!(machine["to_answer"][0]["sessions"].as_array().unwrap().len(), 2);
}

#[test]
fn an_evening_without_oiling_is_one_command_and_three_keys() {
    let studio = two_sessions();
    studio.tell(done("oiling", 200));
    studio.tell(done("needle", 200));
    let before = studio.entries().len();
    let screen = studio.at_terminal(&[], &[("Right?", "r"), ("noted as right", "d"), ("Noted: ", "\r")]);
    assert!(screen.contains("Noted: brush-out and screws."), "{screen}");
    let new = studio.entries().split_off(before);
    let confirmed = new.iter().filter(|entry| {
        matches!(&entry.body, EntryBody::BurstsAssigned(given)
            if given.certainty == Certainty::Confirmed && given.owner == Owner::Rug(RugName("Fox".to_owned())))
    });
    assert_eq!(confirmed.count(), 2, "{new:?}");
    let care: Vec<&str> = new
        .iter()
        .filter_map(|entry| match &entry.body {
            EntryBody::CareDone(done) => Some(done.task.0.as_str()),
            _ => None,
        })
        .collect();
    assert_eq!(care, ["brush-out", "screws"]);
    // Asked again, nothing of the evening is left.
    let words = studio.ok(&[]);
    assert!(!words.contains("Right?") && !words.contains("End of day"), "{words}");
}

#[test]
fn enter_and_a_key_that_is_not_offered_leave_all_as_it_is() {
    let studio = two_sessions();
    let before = studio.entries().len();
    studio.at_terminal(&[], &[("Right?", "x"), ("", "t"), ("", "h"), ("", "\r")]);
    assert_eq!(studio.entries().len(), before);
}

#[test]
fn another_rug_is_asked_for_by_its_name_and_a_wrong_one_changes_nothing() {
    let studio = two_sessions();
    studio.rug("Owl", "grey");
    studio.tell(done("oiling", 200));
    let open = studio.json(&["--json"])["machines"][0]["to_answer"][0].clone();
    // Two rugs are on the frame, so that the running is nobody's yet.
    assert_eq!(open["rug"], json!(null));
    let screen = studio.at_terminal(
        &[],
        &[
            ("Whose is it?", "o"),
            ("Which rug?", "Owlet\n"),
            ("Not taken", "o"),
            ("Which rug?", "Owl\n"),
            ("counted to Owl", "\r"),
        ],
    );
    assert!(screen.contains("1 day counted to Owl."), "{screen}");
    let rugs = studio.json(&["rug", "list", "--json"]);
    let owl = rugs["rugs"].as_array().unwrap().iter().find(|rug| rug["rug"] == "Owl").unwrap();
    assert_eq!(owl["run_time_ms"], json!(108 * MINUTE), "{rugs}");
}

#[test]
fn care_that_needs_hands_is_led_through_step_by_step_and_a_stop_notes_nothing() {
    let studio = two_sessions();
    studio.ok(&["done", "oil", "brush", "screws"]);
    // Of a needle that nobody looked at since a tear.
    let mut log = Log::new();
    log.run(10, 48, 500);
    log.run(120, 60, 500);
    log.press(185, PressKind::Tear, 500);
    studio.pulled(&log);
    let words = studio.ok(&[]);
    assert!(words.contains("Due: needle, after 1 tear"), "{words}");
    let before = studio.entries().len();
    studio.at_terminal(&[], &[("Due: needle", "s"), ("unplug", "q\n"), ("nothing was noted", "\r")]);
    assert_eq!(studio.entries().len(), before);
    studio.at_terminal(
        &[],
        &[("Due: needle", "s"), ("unplug", "\n"), ("2. ", "\n"), ("3. ", "\n"), ("Noted: needle", "\r")],
    );
    assert_eq!(studio.entries().len(), before + 1);
    assert!(!studio.ok(&[]).contains("Due: needle"));
}

#[test]
fn a_tear_of_the_last_days_asks_once_how_the_cloth_felt_and_the_plug_comes_first() {
    let studio = two_sessions();
    studio.ok(&["tear", "--when", "yesterday"]);
    let screen = studio.at_terminal(
        &[],
        &[("unplug before you mend", "t"), ("Unplug before you mend", "s"), ("Noted with the tear", "\r")],
    );
    assert!(screen.contains("How was the cloth?"), "{screen}");
    let tears = studio.json(&["tear", "list", "--json"]);
    assert_eq!(tears["harms"][0]["answers"]["tension"], "slack", "{tears}");
    assert!(!studio.ok(&[]).contains("How was the cloth?"));
}

#[test]
fn several_machines_have_a_line_each_and_one_is_chosen_by_its_number() {
    let studio = two_sessions();
    studio.tell(EntryBody::MachineAdded(MachineAdded {
        machine: MachineTag(2),
        name: "Loop".to_owned(),
        pile: Pile::Loop,
        before_logger: None,
        since: at(0),
        drive: Drive::Electric,
        has_logger: Some(false),
        is_second_hand: None,
    }));
    let words = studio.ok(&[]);
    is_a_glance(&words);
    assert!(words.contains("1 Rosie: ") && words.contains("2 Loop: "), "{words}");
    let screen =
        studio.at_terminal(&[], &[("Which machine?", "1"), ("Right?", "r"), ("noted as right", "\r")]);
    assert!(screen.contains("On the frame: Fox"), "{screen}");
}

#[test]
fn a_machine_whose_number_has_two_digits_is_chosen_by_typing_it() {
    let studio = two_sessions();
    for machine in [MachineTag(2), MachineTag(12)] {
        studio.tell(EntryBody::MachineAdded(MachineAdded {
            machine,
            name: format!("Loop {}", machine.0),
            pile: Pile::Loop,
            before_logger: None,
            since: at(0),
            drive: Drive::Pneumatic,
            has_logger: Some(false),
            is_second_hand: None,
        }));
    }
    is_a_glance(&studio.ok(&[]));
    let screen = studio.at_terminal(&[], &[("Its number, then Enter.", "12\n"), ("Hose off for care", "\r")]);
    let after = screen.split("then Enter.").nth(1).unwrap();
    assert!(after.contains("Loop 12") || after.contains("Nothing was worked yet"), "{screen}");
    let screen = studio
        .at_terminal(&[], &[("Its number, then Enter.", "1\n"), ("Right?", "r"), ("noted as right", "\r")]);
    assert!(screen.contains("On the frame: Fox"), "{screen}");
    for nothing in ["\n", "3\n", "x1\n", "99999999999999999999\n"] {
        let screen = studio.at_terminal(&[], &[("Its number, then Enter.", nothing)]);
        assert!(!screen.contains("On the frame") && !screen.contains("panicked"), "{screen}");
    }
}

#[test]
fn an_empty_place_is_left_empty_without_a_terminal_and_is_the_way_in_at_one() {
    let studio = Studio::empty();
    let words = studio.ok(&[]);
    is_a_glance(&words);
    assert!(words.contains("machine add") && !studio.path().exists(), "{words}");
    // Every command that is named there is one.
    for command in ["machine add", "rug new", "rug start", "worked", "pull", "demo"] {
        assert!(words.contains(command), "{command} in {words}");
        let help: Vec<&str> = command.split(' ').chain(["--help"]).collect();
        studio.ok(&help);
    }
    assert_eq!(studio.json(&["--json"])["machines"], json!([]));
    assert!(!studio.path().exists());
    let screen = studio.at_terminal(
        &[],
        &[
            ("1. ", "Blue handle\n"),
            ("2. ", "\n"),
            ("3. ", "\n"),
            ("4. ", "n\n"),
            ("5. ", "Fox\n"),
            ("6. ", "80x120cm\n"),
            ("On the frame: Fox", "\r"),
        ],
    );
    assert!(screen.contains("Nothing was worked yet."), "{screen}");
    let machine = &studio.json(&["machine", "--json"])["machines"][0];
    assert_eq!(
        (&machine["name"], &machine["has_logger"]),
        (&json!("Blue handle"), &json!(false)),
        "{machine}"
    );
    assert_eq!(studio.json(&["rug", "list", "--json"])["rugs"][0]["state"], "on_the_frame");
}

#[test]
fn an_option_of_the_bare_command_before_another_one_is_refused() {
    let told = two_sessions().ask(&["--json", "due"]);
    assert_eq!(told.code(), 2, "{told:?}");
    assert!(told.err_words().contains("needlehours due --json"), "{told:?}");
}

#[test]
fn a_session_that_is_timed_is_told_first_and_ended_with_one_key() {
    let studio = Studio::empty();
    studio.ok(&["machine", "add", "Blue handle", "--without-logger"]);
    studio.ok(&["rug", "new", "Fox"]);
    studio.ok(&["rug", "start", "Fox", "--when", "2 days ago"]);
    studio.ok(&["worked", "begin"]);
    let words = studio.ok(&[]);
    is_a_glance(&words);
    assert!(words.starts_with("Timed since ") && words.contains("e end"), "{words}");
    let screen = studio.at_terminal(&[], &[("Is it over?", "e"), ("Unplug for care", "\r")]);
    assert!(screen.contains("take-back"), "the entry is told: {screen}");
    assert_eq!(studio.json(&["rug", "sessions", "--json"])["sessions"].as_array().unwrap().len(), 1);
    assert!(!studio.ok(&[]).contains("Timed since"));
}

#[test]
fn what_the_care_button_left_open_is_answered_with_task_names_and_noted_at_its_moment() {
    let studio = Studio::new();
    let mut log = Log::new();
    log.run(10, 30, 500);
    log.press(41, PressKind::CareDone, 500);
    log.run(50, 10, 500);
    studio.pulled(&log);
    let screen = studio.at_terminal(
        &[],
        &[
            ("The care button was held", "c"),
            ("What was done? For", "nonsense\n"),
            ("Not taken", "c"),
            ("What was done? For", "oil, brush\n"),
            ("Noted: brush-out and oiling", "\r"),
        ],
    );
    assert!(!screen.contains("panicked"), "{screen}");
    let due = studio.ask(&["due", "--json"]).json();
    assert_eq!(due["questions"], json!([]));
    let oiling = due["tasks"].as_array().unwrap().iter().find(|task| task["task"] == "oiling").unwrap();
    assert_eq!(oiling["last_done"]["earliest_utc_ms"], json!(at(41).0));
}

#[test]
fn end_of_day_care_left_out_for_five_working_days_is_asked_for_by_hours_with_one_key() {
    let studio = Studio::new();
    let mut log = Log::new();
    for day in 0..4 {
        log.run(day * 1440 + 10, 20, 500);
    }
    studio.pulled(&log);
    let offer = "was left out for five working days";
    assert!(!studio.ok(&[]).contains(offer), "four days are not five");
    log.run(4 * 1440 + 10, 20, 500);
    studio.pulled(&log);
    let screen = studio.at_terminal(&[], &[("by hours instead?", "h"), ("by hours instead?", "\r")]);
    assert!(screen.contains("brush-out on Rosie: 4 h of running."), "{screen}");
    let due = studio.ask(&["due", "--json"]).json();
    let brush_out = due["tasks"].as_array().unwrap().iter().find(|task| task["task"] == "brush-out").unwrap();
    assert_eq!((&brush_out["limits"]["sessions"], &brush_out["state"]), (&json!(null), &json!("fine")));
    // A sixth day, and it is not offered again.
    log.run(5 * 1440 + 10, 20, 500);
    studio.pulled(&log);
    assert!(!studio.ok(&[]).contains(offer));
}

#[test]
fn the_longest_names_leave_the_questions_on_their_lines() {
    let studio = Studio::new();
    let name = "A rug whose name is as long as any name of a rug may ever be";
    assert_eq!(name.chars().count(), 60);
    studio.rug(name, "grey");
    let mut log = Log::new();
    log.run(10, 48, 500);
    studio.pulled(&log);
    studio.ok(&["tear", "--when", "yesterday", "--rug", name]);
    let words = studio.ok(&[]);
    is_a_glance(&words);
    assert!(
        words.contains("48 min at the frame so far.")
            && words.contains("1 session. Right?")
            && words.contains("How was the cloth?"),
        "{words}"
    );
}
