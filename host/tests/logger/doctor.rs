//! `needlehours doctor` in front of loggers and databases with something wrong.
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
use std::io::{Seek, SeekFrom, Write};
use std::path::Path;

use crate::scripted::port::Port;
use crate::scripted::program::{place, run};
use crate::scripted::{CLOCK, Scripted};
use host::app::logger::pull::{PullWish, pull};
use host::logger_link::simulated::{Loss, simulated};
use host::store::Database;
use serde_json::Value;
use shared_types::link::Diagnostics;
use shared_types::log::StartReason;

fn doctor(db: &Path, arguments: &[&str]) -> (i32, String) {
    let told = run(db, &[&["doctor"], arguments].concat());
    (told.code(), told.out())
}

fn fill(db: &Path, mut script: Scripted) {
    let mut logger = simulated("a cable", |bytes: &[u8]| script.answer(bytes), Loss::default());
    let mut store = Database::open(db).unwrap();
    pull(&mut logger, &mut store, &CLOCK, &PullWish::default(), &mut |_| {}).unwrap();
}

#[test]
fn without_a_database_nothing_is_made_and_nothing_is_wrong() {
    let (_dir, db) = place();
    let port = Port::new(Scripted::with_segments(3));
    let (code, said) = doctor(&db, &["--port", &port.name()]);
    assert_eq!(code, 0, "{said}");
    assert!(said.contains("Database: none yet at"), "{said}");
    assert!(said.contains("Its log: fine; 3 records were not pulled by anybody yet."), "{said}");
    assert!(said.contains("Its clock: runs.") && said.contains("Nothing is wrong."), "{said}");
    assert!(said.contains("firmware 0.1.2"), "{said}");
    assert!(!db.exists());
}

#[test]
fn faults_are_told_in_plain_words_with_what_to_try() {
    let (_dir, db) = place();
    // Bits 0, 5, 6 and 14: magnet missing, clock lost, implausible rate, and one that is not known yet.
    let port = Port::new(Scripted { faults: 0b100_0000_0110_0001, ..Scripted::with_segments(3) });
    let (code, said) = doctor(&db, &["--port", &port.name()]);
    assert_eq!(code, 4);
    for words in [
        "Fault: the knob's sensor sees no magnet.",
        "Fault: the clock stood still; its battery is flat or new.",
        "Fault: more strokes were counted than a hand machine can make.",
        "Fault: one that this program does not know.",
    ] {
        assert!(said.contains(words), "{words}\n{said}");
    }
    assert_eq!(said.matches("Fault: ").count(), said.matches("  Try: ").count(), "{said}");
    assert!(!said.contains("Its clock: runs."));
    let (_, object) = doctor(&db, &["--port", &port.name(), "--json"]);
    let object: Value = serde_json::from_str(&object).unwrap();
    assert_eq!(object["schema"], 1);
    assert_eq!(object["logger"]["unknown_faults"], serde_json::json!([14]));
    assert_eq!(object["logger"]["faults"].as_array().unwrap().len(), 3);
    assert_eq!(object["logger"]["run_time_ms"], 3_003);
}

/// What a logger tells of itself that had no trouble.
const WELL: Diagnostics = Diagnostics {
    flash_id: Some(0xE660_1234_5678_9ABC),
    flash_bytes: Some(2_097_152),
    slowest_erase_ms: 47,
    failed_writes: 0,
    repaired_bits: 0,
    stamps_alone: 0,
    counts_alone: 0,
    bus_timeouts: 0,
    reason: StartReason::PowerOn,
    resets_since_power_on: 0,
    last_panic: None,
    free_stack_bytes: None,
};

#[test]
fn an_older_firmware_is_told_to_tell_no_more_and_that_is_no_trouble() {
    let (_dir, db) = place();
    let port = Port::new(Scripted::with_segments(3));
    let (code, said) = doctor(&db, &["--port", &port.name()]);
    assert_eq!(code, 0, "{said}");
    assert!(said.contains("Its firmware tells no more of itself; a newer one does"), "{said}");
    let (_, object) = doctor(&db, &["--port", &port.name(), "--json"]);
    let object: Value = serde_json::from_str(&object).unwrap();
    assert_eq!(object["logger"]["diagnostics"], Value::Null);
}

#[test]
fn what_a_logger_had_to_put_up_with_is_told_in_words_and_in_numbers() {
    let (_dir, db) = place();
    let port = Port::new(Scripted { diagnostics: Some(WELL), ..Scripted::with_segments(3) });
    let (code, said) = doctor(&db, &["--port", &port.name()]);
    assert_eq!(code, 0, "{said}");
    assert!(said.contains("its memory, its wires and its program have had no trouble."), "{said}");
    assert!(said.contains("Nothing is wrong."), "{said}");
    let reason = StartReason::Panic { place: 0x1A2B };
    let told = Diagnostics { slowest_erase_ms: 612, bus_timeouts: 4, reason, stamps_alone: 3, ..WELL };
    let port = Port::new(Scripted { diagnostics: Some(told), ..Scripted::with_segments(3) });
    let (code, said) = doctor(&db, &["--port", &port.name()]);
    assert_eq!(code, 4, "{said}");
    for words in [
        "it takes 612 ms to erase a piece",
        "4 questions were not answered in time",
        "3 pulses were timed and not counted",
        "the place is 00001a2b",
        "Try: unplug the machine and the logger",
    ] {
        assert!(said.contains(words), "{words}\n{said}");
    }
    assert!(!said.contains("Nothing is wrong."), "{said}");
    let (_, object) = doctor(&db, &["--port", &port.name(), "--json"]);
    let object: Value = serde_json::from_str(&object).unwrap();
    let diagnostics = &object["logger"]["diagnostics"];
    assert_eq!(diagnostics["flash_id"], "e660123456789abc");
    assert_eq!((&diagnostics["restart"], &diagnostics["last_panic"]), (&"stopped".into(), &0x1A2B.into()));
    assert_eq!(
        (&diagnostics["slowest_erase_ms"], &diagnostics["free_stack_bytes"]),
        (&612.into(), &Value::Null)
    );
}

#[test]
fn the_three_faults_of_the_senses_are_told_with_unplugging_first() {
    let (_dir, db) = place();
    // Bits 11, 12 and 13, by the format's page.
    for (bit, words) in
        [(11, "timed, and not counted"), (12, "counted, and not timed"), (13, "reading shakes")]
    {
        let port = Port::new(Scripted { faults: 1 << bit, ..Scripted::with_segments(3) });
        let (code, said) = doctor(&db, &["--port", &port.name()]);
        assert_eq!(code, 4, "{said}");
        assert!(said.contains(words) && said.contains("Try: unplug the machine and the logger"), "{said}");
    }
}

#[test]
fn a_logger_that_cannot_read_its_log_is_trouble() {
    let (_dir, db) = place();
    let port = Port::new(Scripted { is_readable: false, ..Scripted::default() });
    let (code, said) = doctor(&db, &["--port", &port.name()]);
    assert_eq!(code, 4);
    assert!(said.contains("it cannot read its own log"), "{said}");
}

#[test]
fn a_log_in_the_making_is_no_trouble_and_is_waited_for() {
    let (_dir, db) = place();
    let port = Port::new(Scripted { making: 300, ..Scripted::with_segments(3) });
    let (code, said) = doctor(&db, &["--port", &port.name()]);
    assert_eq!(code, 0, "{said}");
    assert!(said.contains("Its log: is being made; 300 parts of its memory are left"), "{said}");
    assert!(said.contains("Try: leave it plugged in and the machine switched off"), "{said}");
}

#[test]
fn a_dial_s_loose_wire_is_told_by_the_wires_to_look_at() {
    let (_dir, db) = place();
    // Bits 9 and 10, by the format's page.
    for (faults, words) in [(1 << 9, "wires to GP26 and to 3V3"), (1 << 10, "wires to GND and to GP26")] {
        let port = Port::new(Scripted { faults, ..Scripted::with_segments(3) });
        let (code, said) = doctor(&db, &["--port", &port.name()]);
        assert_eq!(code, 4);
        assert!(said.contains("Fault: the dial's voltage is") && said.contains(words), "{said}");
    }
}

#[test]
fn without_a_logger_nobody_says_that_nothing_is_wrong() {
    let (_dir, db) = place();
    let (code, said) = doctor(&db, &[]);
    // Whatever ports this computer has, no logger is on one of them; README: 4, the logger was not found.
    assert_eq!(code, 4, "{said}");
    assert!(!said.contains("Nothing is wrong."), "{said}");
    assert!(said.contains("Logger: none found; ") && said.contains("Try: plug it in with a cable"), "{said}");
    let (code, object) = doctor(&db, &["--json"]);
    let object: Value = serde_json::from_str(&object).unwrap();
    assert_eq!((code, &object["logger"]["state"]), (4, &Value::from("not_found")));
}

#[test]
fn a_port_that_is_not_there_is_said() {
    let (_dir, db) = place();
    let (code, said) = doctor(&db, &["--port", "/dev/there-is-no-such-port"]);
    assert_eq!(code, 4);
    assert!(said.contains("Logger: at /dev/there-is-no-such-port, but cannot open"), "{said}");
}

#[test]
fn counts_conflicts_and_gaps_are_told() {
    let (_dir, db) = place();
    let mut script = Scripted::with_segments(30);
    script.records.remove(&7);
    script.records.remove(&8);
    script.add_raw(vec![1, 1, 0, 99]);
    fill(&db, script.clone());
    let mut other = script.clone();
    other.records.insert(3, vec![1, 1, 0, 98]);
    other.totals.run.0 += 1;
    let file = db.with_file_name("other.log");
    fs::write(&file, other.saved()).unwrap();
    assert_eq!(run(&db, &["pull", "--quiet", "--file", file.to_str().unwrap()]).code(), 0);
    let port = Port::new(script);
    let (code, said) = doctor(&db, &["--port", &port.name()]);
    assert_eq!(code, 0, "{said}");
    assert!(said.contains("machines: 1, entries: 2."), "{said}");
    assert!(said.contains("1 came twice with different content"), "{said}");
    assert!(said.contains("1 are of a kind that this program does not know"), "{said}");
    // Runs 7 and 8 took 1007 and 1008 ms, and the saved log knew of one more.
    assert!(said.contains("2 are missing; 2 s of running is known from the totals only."), "{said}");
}

#[test]
fn a_database_that_cannot_be_used_is_explained() {
    let (dir, db) = place();
    drop(Database::open(&db).unwrap());
    rusqlite::Connection::open(&db).unwrap().pragma_update(None, "user_version", 40).unwrap();
    let (code, said) = doctor(&db, &["--port", "/dev/there-is-no-such-port"]);
    assert_eq!(code, 5);
    assert!(said.contains("written by a newer Needlehours"), "{said}");
    assert!(said.contains("Try: Install the newer Needlehours"), "{said}");
    let letter = dir.path().join("letter.db");
    fs::write(&letter, "no database, but a letter ".repeat(50)).unwrap();
    let (code, said) = doctor(&letter, &[]);
    assert_eq!(code, 5);
    assert!(said.contains("is not a Needlehours database"), "{said}");
}

#[test]
fn a_damaged_database_is_noticed() {
    let (_dir, db) = place();
    fill(&db, Scripted::with_segments(2_000));
    let size = fs::metadata(&db).unwrap().len();
    let mut file = fs::OpenOptions::new().write(true).open(&db).unwrap();
    // Far from the first pages, where the tables are described.
    file.seek(SeekFrom::Start(size / 2)).unwrap();
    file.write_all(&[0xA5; 8_192]).unwrap();
    drop(file);
    let (code, said) = doctor(&db, &[]);
    assert_eq!(code, 5, "{said}");
    assert!(said.contains("Its file is damaged:") || said.contains("cannot be used"), "{said}");
    assert!(said.contains("Try: "), "{said}");
}
