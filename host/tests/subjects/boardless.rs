//! Makers without a logger board, machines entered twice, out of use or second-hand, as a maker runs them.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::indexing_slicing,
    clippy::panic,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a test may stop at the first surprise"
)]

use crate::bench_studio::{LOG, Log, Studio};
use host_core::entries::{EntryBody, Fitting};
use serde_json::{Value, json};
use shared_types::{MachineTag, RecordSeq};

/// With one machine that has no board.
fn boardless() -> Studio {
    let studio = Studio::empty();
    studio.ok(&["machine", "add", "Blue handle", "--without-logger"]);
    studio
}

fn fit(studio: &Studio, machine: u32) {
    studio.tell(EntryBody::LoggerFitted(Fitting {
        machine: MachineTag(machine),
        logger: LOG.logger,
        log: LOG.log,
        from: RecordSeq(0),
    }));
}

fn machine(studio: &Studio, place: usize) -> Value {
    studio.json(&["machine", "list", "--json"])["machines"][place].clone()
}

#[test]
fn a_maker_without_a_board_is_never_told_to_pull() {
    let studio = boardless();
    studio.ok(&["machine", "change", "--hours-before", "40"]);
    studio.ok(&["rug", "new", "Fox", "--size", "80x120cm"]);
    studio.ok(&["rug", "start", "Fox"]);
    studio.ok(&["machine", "lend", "1", "--to", "Ada"]);
    let commands: [&[&str]; 17] = [
        &["machine", "add", "Red loop", "--without-logger"],
        &["machine", "back", "1"],
        &["machine"],
        &["heavy"],
        &["hours"],
        &["rug", "sessions"],
        &["slowing", "--machine", "1"],
        &["plot", "usage", "--out", "usage.svg"],
        &["plot", "hours", "--out", "hours.svg", "--machine", "1"],
        &["plot", "tears", "--out", "tears.svg", "--machine", "1"],
        &["plot", "cost", "--out", "cost.svg", "--machine", "1"],
        &["exposure"],
        &["due", "--all"],
        &["done", "oiling", "--machine", "1"],
        &["done", "--history"],
        &["speed", "ceiling", "set", "60", "--machine", "1"],
        &["doctor"],
    ];
    for words in commands {
        let told = studio.ask(words);
        assert_eq!((told.code(), told.err().as_str()), (0, ""), "{words:?}");
        let said = told.out();
        assert!(!said.contains("needlehours pull") && !said.contains("ull the logger"), "{words:?}: {said}");
        assert!(!said.contains("next pull") && !said.contains("before the logger"), "{words:?}: {said}");
    }
    assert!(studio.ok(&["exposure"]).contains("needlehours worked 1h40"));
    let added = studio.ok(&["machine", "add", "Third", "--without-logger"]);
    assert!(added.contains("needlehours worked 1h40"), "{added}");
}

#[test]
fn of_several_machines_one_with_a_board_is_enough_to_be_told_to_pull() {
    let studio = boardless();
    studio.ok(&["machine", "add", "Red loop"]);
    assert!(studio.ok(&["exposure"]).contains("needlehours pull"));
    assert!(!studio.ok(&["exposure", "--machine", "1"]).contains("needlehours pull"));
}

#[test]
fn a_machine_without_a_board_has_one_from_its_first_fitting_on() {
    let studio = boardless();
    assert_eq!(machine(&studio, 0)["has_logger"], json!(false));
    assert!(studio.ok(&["machine"]).contains("no board"));
    fit(&studio, 1);
    assert_eq!(machine(&studio, 0)["has_logger"], json!(true));
    assert!(studio.ok(&["exposure"]).contains("needlehours pull"));
    let mut log = Log::new();
    log.run(10, 120, 300);
    studio.pulled(&log);
    assert!(!studio.ok(&["machine"]).contains("no board"));
}

#[test]
fn what_was_said_of_a_board_can_be_put_right_and_unsaid_stays_unsaid() {
    let studio = Studio::empty();
    studio.ok(&["machine", "add", "Blue handle"]);
    assert_eq!(machine(&studio, 0)["has_logger"], json!(null));
    let said = studio.ok(&["machine", "change", "--without-logger"]);
    assert!(said.contains("without a logger board"), "{said}");
    assert_eq!(machine(&studio, 0)["has_logger"], json!(false));
    studio.ok(&["machine", "change", "--with-logger"]);
    assert_eq!(machine(&studio, 0)["has_logger"], json!(true));
    let both = studio.ask(&["machine", "add", "Other", "--with-logger", "--without-logger"]);
    assert_eq!(both.code(), 2, "{}", both.err());
}

#[test]
fn the_doctor_of_a_studio_without_boards_is_content_and_names_no_port() {
    let studio = boardless();
    let told = studio.ask(&["doctor"]);
    assert_eq!(told.code(), 0, "{told:?}");
    assert!(told.out().contains("none is expected") && !told.out().contains("Ports"), "{}", told.out());
    assert!(told.out().contains("Database:") && told.out().contains("Backup:"), "{}", told.out());
    // A port that is named is looked at all the same.
    assert_eq!(studio.ask(&["doctor", "--port", "/nowhere/tty"]).code(), 4);
    studio.ok(&["machine", "add", "Red loop"]);
    assert_eq!(studio.ask(&["doctor"]).code(), 4);
}

#[test]
fn a_machine_beside_one_that_entered_itself_is_told_how_to_name_that_one_instead() {
    let studio = Studio::empty();
    studio.ok(&["machine", "add", "Machine 1"]);
    let said = studio.ok(&["machine", "add", "Blue handle"]);
    assert!(
        said.contains("machine remove 2") && said.contains("machine change 1 --name \"Blue handle\""),
        "{said}"
    );
    studio.ok(&["machine", "remove", "2"]);
    studio.ok(&["machine", "change", "1", "--name", "Blue handle"]);
    assert!(!studio.ok(&["machine", "add", "Red loop"]).contains("entered itself"));
}

#[test]
fn a_machine_of_which_nothing_is_noted_is_removed_and_stays_visible_and_its_number_is_not_given_again() {
    let studio = boardless();
    studio.ok(&["machine", "add", "Slip"]);
    studio.ok(&["machine", "rest", "2", "a slip"]);
    let before = studio.entries().len();
    let said = studio.ok(&["machine", "remove", "2"]);
    assert!(said.contains("Slip"), "{said}");
    // Nothing is erased: the entry, its rest, and that both were taken back.
    assert_eq!(studio.entries().len(), before + 2);
    assert_eq!(studio.json(&["machine", "--json"])["machines"].as_array().unwrap().len(), 1);
    studio.ok(&["machine", "add", "Slip"]);
    assert_eq!(machine(&studio, 1)["machine"], 3);
    assert!(studio.ok(&["verify"]).contains("whole"));
}

#[test]
fn a_machine_of_which_something_is_noted_stays_and_resting_is_offered() {
    let noted: [(&[&str], &str); 6] = [
        (&["done", "oiling", "--machine", "2"], "care (1)"),
        (&["hours", "add", "--run-minutes", "40", "--machine", "2"], "work by hand (1)"),
        (&["machine", "lend", "2", "--to", "Ada"], "lending (1)"),
        (&["part", "fit", "needle", "--machine", "2"], "parts (1)"),
        (&["rug", "start", "Fox", "--machine", "2"], "work on a rug (1)"),
        (&["machine", "ratio", "--edges", "2", "--machine", "2"], "settings (1)"),
    ];
    for (words, why) in noted {
        let studio = boardless();
        studio.ok(&["machine", "add", "Second"]);
        studio.ok(&["rug", "new", "Fox", "--size", "80x120cm"]);
        studio.ok(words);
        let before = studio.entries().len();
        let told = studio.ask(&["machine", "remove", "2"]);
        assert_eq!(told.code(), 6);
        assert!(told.err_words().contains(why), "{words:?}: {}", told.err());
        assert!(told.err_words().contains("machine rest 2"), "{}", told.err());
        assert_eq!(studio.entries().len(), before);
    }
    let studio = boardless();
    fit(&studio, 1);
    assert!(studio.ask(&["machine", "remove", "1"]).err_words().contains("a logger (1)"));
    assert!(studio.ask(&["machine", "remove", "9"]).err().contains("there is no machine 9"));
}

#[test]
fn a_machine_out_of_use_is_asked_for_no_care_and_is_not_the_one_that_is_meant() {
    let studio = boardless();
    studio.ok(&["machine", "add", "Second", "--without-logger"]);
    studio.ok(&["hours", "add", "--run-minutes", "600", "--machine", "2"]);
    assert_eq!(studio.ask(&["due"]).code(), 3);
    let said = studio.ok(&["machine", "rest", "2", "gear broken"]);
    assert!(said.contains("gear broken") && said.contains("machine rest 2 --back"), "{said}");
    let due = studio.ok(&["due"]);
    assert!(due.contains("Second is out of use") && due.contains("gear broken"), "{due}");
    assert!(!due.contains("(Second)"), "{due}");
    let due = studio.json(&["due", "--json"]);
    assert_eq!(
        (&due["resting"][0]["machine"], &due["resting"][0]["reason"]),
        (&json!(2), &json!("gear broken"))
    );
    assert!(due["tasks"].as_array().unwrap().iter().all(|task| task["machine"] == 1));
    assert!(studio.ok(&["machine"]).contains("Out of use: Second since"));
    assert_eq!(machine(&studio, 1)["resting"]["reason"], "gear broken");
    assert!(studio.ok(&["machine", "spread"]).contains("it is the only one that is not out of use"));
    // The only one in use is meant, but all running counts where all machines are meant.
    assert!(studio.ok(&["done", "oiling"]).contains("Blue handle"));
    assert_eq!(studio.json(&["exposure", "--json"])["machines"].as_array().unwrap().len(), 2);
    assert_eq!(studio.json(&["heavy", "--json"])["machines"].as_array().unwrap().len(), 2);
    studio.ok(&["machine", "rest", "2", "--back"]);
    assert_eq!(studio.ask(&["due"]).code(), 3);
    assert_eq!(machine(&studio, 1)["resting"], json!(null));
    assert!(studio.ask(&["done", "oiling"]).err().contains("there are 2 machines"));
}

#[test]
fn rest_is_told_in_the_record_book_and_refused_where_it_would_say_nothing_new() {
    let studio = boardless();
    let refused: [(&[&str], &str); 4] = [
        (&["machine", "rest", "1", "--back"], "machine 1 is in use"),
        (&["machine", "rest", "1", "  "], "1 to 300 letters"),
        (&["machine", "rest", "1"], "REASON"),
        (&["machine", "rest", "7", "broken"], "there is no machine 7"),
    ];
    for (words, why) in refused {
        let told = studio.ask(words);
        assert!(told.err().contains(why), "{words:?}: {}", told.err());
    }
    studio.ok(&["machine", "rest", "1", "waits for a belt"]);
    assert!(studio.ask(&["machine", "rest", "1", "again"]).err().contains("out of use already"));
    studio.ok(&["machine", "rest", "1", "--back"]);
    studio.ok(&["book", "--out", "book.html"]);
    let page = std::fs::read_to_string(studio.path().with_file_name("book.html")).unwrap();
    assert!(page.contains("Taken out of use") && page.contains("waits for a belt"), "{page}");
    assert!(page.contains("Taken back into use"));
}

#[test]
fn nobody_is_asked_about_quiet_days_where_nobody_is_at_a_terminal() {
    let studio = Studio::new();
    // Entered on 2 March 2026, which is long ago by the computer's clock.
    studio.rug("Fox", "A");
    assert_eq!(studio.ask(&["due"]).err(), "");
    assert_eq!(studio.ask(&["due", "--json"]).err(), "");
}

#[test]
fn dates_that_a_calendar_was_told_are_taken_out_when_the_machine_goes_out_of_use() {
    let studio = boardless();
    assert!(studio.ask(&["calendar"]).out().contains("then grease the gears: Blue handle"));
    studio.ok(&["machine", "rest", "1", "gear broken"]);
    let calendar = studio.ask(&["calendar"]).out();
    assert!(calendar.contains("STATUS:CANCELLED") && calendar.contains("Blue handle"), "{calendar}");
    studio.ok(&["machine", "rest", "1", "--back"]);
    let calendar = studio.ask(&["calendar"]).out();
    assert!(
        calendar.contains("then grease the gears: Blue handle") && !calendar.contains("CANCELLED"),
        "{calendar}"
    );
}
