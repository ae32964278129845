//! Machines by name: everywhere as well as by number, in capitals or not, by the beginning of the name where that is enough.
#![allow(clippy::unwrap_used, reason = "a test may stop at the first surprise")]

use crate::bench_studio::{Log, Studio};

fn two_machines() -> Studio {
    let studio = Studio::empty();
    for name in ["Blue handle", "Blueberry"] {
        studio.ok(&[
            "machine",
            "add",
            name,
            "--without-logger",
            "--hours-before",
            "0",
            "--since",
            "2025-01-01",
        ]);
    }
    studio.ok(&["rug", "new", "Fox", "--when", "2025-03-03"]);
    studio
}

#[test]
fn a_machine_is_named_in_every_command_that_takes_its_number() {
    let studio = two_machines();
    let commands: [&[&str]; 20] = [
        &["rug", "start", "Fox", "--machine"],
        &["worked", "1h", "--when", "2025-03-04 10:00", "--machine"],
        &["worked", "share", "25min", "--machine"],
        &["hours", "--machine"],
        &["hours", "add", "--run-minutes", "5", "--machine"],
        &["done", "oiling", "--machine"],
        &["due", "snooze", "brush-out", "--for-days", "3", "--reason", "late", "--machine"],
        &["care", "--machine"],
        &["part", "fit", "needle", "--machine"],
        &["trend", "add", "belt slipped", "--machine"],
        &["tear", "--machine"],
        &["speed", "ceiling", "--machine"],
        &["slowing", "--machine"],
        &["heavy", "set", "--run-minutes", "10", "--machine"],
        &["exposure", "set", "--vibration", "3", "--machine"],
        &["rate", "set", "--price=600", "--resale=0", "--life-hours=900", "--machine"],
        &["machine", "ratio", "--edges", "2", "--machine"],
        &["machine", "pile-height", "12mm", "--machine"],
        &["machine", "rest", "BLUEB", "gear broken"],
        &["machine", "change", "blueb", "--pile", "loop"],
    ];
    for command in commands {
        let named = match command.last() {
            Some(&"--machine") => [command, &["blueb"]].concat(),
            _ => command.to_vec(),
        };
        studio.ok(&named);
    }
    let hours = studio.json(&["hours", "--machine", "blueberry", "--json"]);
    assert_eq!(hours, studio.json(&["hours", "--machine", "2", "--json"]));
}

#[test]
fn a_beginning_that_two_names_share_is_refused_and_names_both() {
    let studio = two_machines();
    let before = studio.entries().len();
    for command in [&["worked", "1h", "--machine", "blue"][..], &["machine", "rest", "blue", "gear broken"]] {
        let told = studio.ask(command);
        assert_eq!(told.code(), 6, "{told:?}");
        let words = told.err_words();
        assert!(words.contains("\"blue\" may be 1 (Blue handle) or 2 (Blueberry)"), "{words}");
    }
    let told = studio.ask(&["worked", "1h", "--machine", "blueberri"]).err_words();
    assert!(
        told.contains("Did you mean Blueberry?") && told.contains("1 (Blue handle), 2 (Blueberry)"),
        "{told}"
    );
    assert_eq!(studio.entries().len(), before, "nothing was written");
}

#[test]
fn a_logger_can_sit_on_no_machine_and_nothing_else_takes_that_number() {
    let studio = Studio::new();
    let mut log = Log::new();
    log.run(10, 5, 500);
    studio.pulled(&log);
    studio.ok(&["machine", "fit", "--machine", "0"]);
    assert_ne!(studio.ask(&["hours", "--machine", "0"]).code(), 0);
}
