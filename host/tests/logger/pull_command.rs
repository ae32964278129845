//! `needlehours pull` as the maker runs it, with a scripted logger at the other end of a pseudo-terminal.
#![cfg(unix)]
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::indexing_slicing,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a test may stop at the first surprise"
)]

use std::fs;
use std::io::{BufRead as _, BufReader};
use std::process::Stdio;

use crate::scripted::Scripted;
use crate::scripted::port::Port;
use crate::scripted::program::{Told, place, program, run};
use host::app::ports::Store;
use host::store::Database;
use serde_json::Value;
use shared_types::log::{Event, Press, PressKind, Trace};

fn json(told: &Told) -> Value {
    told.ok();
    told.json()
}

#[test]
fn a_pull_over_a_port_keeps_everything_and_says_so_in_json() {
    let (_dir, db) = place();
    let port = Port::new(Scripted::with_segments(200));
    let report = json(&run(&db, &["pull", "--port", &port.name(), "--json"]));
    assert_eq!(report["schema"], 1);
    assert_eq!((&report["new_records"], &report["machine"]), (&200.into(), &1.into()));
    // 200 runs of 1000 ms and 0 + ... + 199 ms more.
    assert_eq!(report["new_run_time_ms"], 219_900);
    assert_eq!(report["not_recorded_ms"], 0);
    let again = json(&run(&db, &["pull", "--port", &port.name(), "--json"]));
    assert_eq!(again["new_records"], 1, "the fitting");
    assert_eq!(port.let_go().acknowledged, 201);
}

#[test]
fn a_pull_in_words_names_records_running_and_machine() {
    let (_dir, db) = place();
    let port = Port::new(Scripted::with_segments(60));
    let told = run(&db, &["pull", "--port", &port.name()]);
    let said = told.out();
    assert!(said.contains("Kept 60 new records from the logger at"), "{said}");
    // 60 runs of 1000 ms and 0 + ... + 59 ms more: 61.77 s.
    assert!(said.contains("They hold 1 min of running."), "{said}");
    assert!(said.contains("Machine 1"), "{said}");
    assert_eq!(told.err_words(), "", "no progress where nobody watches");
    let quiet = run(&db, &["pull", "--port", &port.name(), "--quiet"]);
    assert_eq!((quiet.out(), quiet.err()), (String::new(), String::new()));
    drop(port.let_go());
}

#[test]
fn tears_of_the_button_are_told_by_the_number_that_an_answer_takes_and_unplugging_comes_first() {
    let (dir, db) = place();
    let file = dir.path().join("studio.log");
    let mut logger = Scripted::with_segments(5);
    let press = |kind| Event::Press(Press { kind, still_ms: 1_000, trace: Trace::default() });
    logger.add(press(PressKind::Tear));
    logger.add(press(PressKind::NearMiss));
    fs::write(&file, logger.saved()).unwrap();
    let pulled = || run(&db, &["pull", "--file", file.to_str().unwrap()]).out();
    let said = pulled();
    let told = "Before you mend: switch off and unplug (or air and hose off), and wait for standstill.\n\
        1 tear and 1 near-miss noted with the button: p5 and p6.\n";
    assert!(said.contains(told), "{said}");
    let answered = run(&db, &["tear", "answer", "p5", "--tension", "slack"]);
    assert_eq!(answered.code(), 0, "{}", answered.err_words());
    assert!(answered.out().starts_with("Before you mend"), "{}", answered.out());
    assert!(!pulled().contains("noted with the button"), "they came before");
}

#[test]
fn a_port_that_vanishes_keeps_what_came_and_the_next_pull_goes_on() {
    let (_dir, db) = place();
    let logger = Scripted { batch: 10, ..Scripted::with_segments(200) };
    let port = Port::breaking_after(logger.clone(), 3_000);
    let told = run(&db, &["pull", "--port", &port.name()]);
    assert_eq!(told.code(), 4, "{}", told.err_words());
    let said = told.err_words();
    assert!(said.contains("broke off") && said.contains("they are kept"), "{said}");
    assert!(said.contains("pull::broke_off") && said.contains("Plug the cable in again"), "{said}");
    let held = Database::open(&db).unwrap().logs().unwrap()[0].segments.len() as u64;
    assert!(held > 0 && held < 200 && held.is_multiple_of(10), "{held}");
    assert_eq!(port.let_go().acknowledged, 0);
    let port = Port::new(logger);
    let report = json(&run(&db, &["pull", "--port", &port.name(), "--json"]));
    assert_eq!(report["new_records"], 200 - held);
    assert_eq!(report["known_records"], 0);
    drop(port.let_go());
}

#[test]
fn a_saved_copy_is_made_on_the_way_and_reads_back() {
    let (dir, db) = place();
    let copy = dir.path().join("studio.log");
    let copy = copy.to_str().unwrap();
    let port = Port::new(Scripted::with_segments(50));
    let report = json(&run(&db, &["pull", "--port", &port.name(), "--save", copy, "--json"]));
    assert_eq!(report["new_records"], 50);
    let other = dir.path().join("other.db");
    let report = json(&run(&other, &["pull", "--file", copy, "--json"]));
    assert_eq!((&report["new_records"], &report["from_saved_log"]), (&50.into(), &true.into()));
    let refused = run(&db, &["pull", "--port", &port.name(), "--save", copy]);
    assert_eq!(refused.code(), 6);
    assert!(refused.err_words().contains("never written over"), "{}", refused.err_words());
    drop(port.let_go());
}

#[test]
fn two_pulls_at_once_are_refused_clearly() {
    let (_dir, db) = place();
    let port = Port::new(Scripted::with_segments(5));
    let database = Database::open(&db).unwrap();
    let lock = database.lock_for_pull().unwrap();
    let told = run(&db, &["pull", "--port", &port.name()]);
    assert_eq!(told.code(), 5);
    assert!(told.err_words().contains("in use by another run"), "{}", told.err_words());
    drop(lock);
    let held = serialport::new(port.name(), 115_200).open().unwrap();
    let told = run(&db, &["pull", "--port", &port.name()]);
    assert_eq!(told.code(), 4);
    let said = told.err_words();
    assert!(said.contains("cannot open") && said.contains("does no other program hold the port"), "{said}");
    drop(held);
    assert_eq!(json(&run(&db, &["pull", "--port", &port.name(), "--json"]))["new_records"], 5);
    drop(port.let_go());
}

#[test]
fn a_port_that_is_not_there_and_files_that_are_no_log_are_named() {
    let (dir, db) = place();
    let told = run(&db, &["pull", "--port", "/dev/there-is-no-such-port"]);
    assert_eq!(told.code(), 4);
    assert!(told.err_words().contains("/dev/there-is-no-such-port"));
    for (name, content) in [("empty", &b""[..]), ("foreign", &b"rug,hours\nFox,3\n"[..])] {
        let file = dir.path().join(name);
        fs::write(&file, content).unwrap();
        let told = run(&db, &["pull", "--file", file.to_str().unwrap()]);
        assert_eq!(told.code(), 6, "{name}");
        assert!(told.err_words().contains("cannot be read as a saved log"), "{name}");
        assert!(told.out().is_empty());
    }
    assert!(!db.exists(), "a file that cannot be read makes no database");
}

#[test]
fn a_database_that_cannot_be_used_stops_the_pull_before_the_logger_is_told_anything() {
    let (dir, db) = place();
    let file = dir.path().join("studio.log");
    fs::write(&file, Scripted::with_segments(5).saved()).unwrap();
    let file = file.to_str().unwrap();
    fs::write(&db, "no database, but a letter ".repeat(50)).unwrap();
    let told = run(&db, &["pull", "--file", file]);
    assert_eq!(told.code(), 5);
    assert!(told.err_words().contains("db::foreign"));
    let newer = dir.path().join("newer.db");
    drop(Database::open(&newer).unwrap());
    rusqlite::Connection::open(&newer).unwrap().pragma_update(None, "user_version", 40).unwrap();
    let port = Port::new(Scripted::with_segments(5));
    let told = run(&newer, &["pull", "--port", &port.name()]);
    assert_eq!(told.code(), 5);
    assert!(told.err_words().contains("db::newer"));
    assert_eq!(port.let_go().requests, []);
}

#[test]
fn several_machines_are_listed_for_the_maker_to_choose() {
    let (dir, db) = place();
    let file = dir.path().join("studio.log");
    fs::write(&file, Scripted::with_segments(5).saved()).unwrap();
    let file = file.to_str().unwrap();
    run(&db, &["pull", "--file", file]);
    let other = dir.path().join("second.log");
    fs::write(&other, Scripted { logger: 9, ..Scripted::with_segments(5) }.saved()).unwrap();
    let told = run(&db, &["pull", "--file", other.to_str().unwrap(), "--machine", "2"]);
    assert_eq!(told.code(), 6);
    let said = told.err_words();
    assert!(said.contains("there is no machine 2") && said.contains("1 (Machine 1)"), "{said}");
}

#[test]
fn the_bare_command_reads_the_logger_first_and_says_what_cannot_be_read() {
    let (_dir, db) = place();
    let port = Port::new(Scripted::with_segments(60));
    let told = run(&db, &["--port", &port.name()]);
    assert_eq!((told.code(), told.err().as_str()), (0, ""), "{told:?}");
    assert!(told.out().lines().count() <= 8 && told.out().contains("1 min, no rug yet"), "{told:?}");
    assert_eq!(Database::open(&db).unwrap().logs().unwrap()[0].segments.len(), 60);
    drop(port.let_go());
    let silent = run(&db, &["--port", "/dev/nowhere"]);
    assert_eq!(silent.code(), 0, "what is kept is shown all the same: {silent:?}");
    assert!(
        silent.err().contains("The logger was not read") && silent.out().contains("1 min, no rug yet"),
        "{silent:?}"
    );
}

#[test]
fn autoread_reads_a_logger_that_is_plugged_in_and_leaves_the_port_free() {
    let (_dir, db) = place();
    let port = Port::new(Scripted::with_segments(60));
    let mut child = program("UTC", &db, &["autoread", "--port", &port.name()])
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    let mut lines = BufReader::new(child.stdout.take().unwrap()).lines();
    let kept = lines.find(|line| line.as_ref().unwrap().starts_with("Kept 60 new records"));
    assert!(kept.is_some());
    // Another command has the port meanwhile: only the fitting is new.
    let again = json(&run(&db, &["pull", "--port", &port.name(), "--json"]));
    assert!(again["new_records"].as_u64().unwrap() <= 1, "{again}");
    child.kill().unwrap();
    child.wait().unwrap();
    drop(port.let_go());
}

#[cfg(target_os = "linux")]
#[test]
fn autoread_at_login_says_what_it_wrote_and_takes_it_away_again() {
    let (dir, db) = place();
    let on = run(&db, &["autoread", "--at-login", "on"]).ok();
    let unit = dir.path().join(".config/systemd/user/needlehours-autoread.service");
    assert!(on.contains(&format!("Written: {}", unit.display())), "{on}");
    let text = std::fs::read_to_string(&unit).unwrap();
    assert!(text.contains("autoread --db") && text.contains(&db.display().to_string()), "{text}");
    let off = run(&db, &["autoread", "--at-login", "off"]).ok();
    assert!(off.contains("Taken away: ") && !unit.exists(), "{off}");
    assert!(run(&db, &["autoread", "--at-login", "off"]).ok().contains("Nothing was there"));
}
