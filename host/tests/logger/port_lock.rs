//! One command at a port at a time, with real processes.
#![cfg(unix)]
#![allow(
    clippy::unwrap_used,
    clippy::indexing_slicing,
    clippy::panic,
    reason = "a test may stop at the first surprise"
)]

use std::io::{BufRead as _, BufReader, Lines};
use std::path::Path;
use std::process::{Child, ChildStdout, Stdio};
use std::slice::from_ref;
use std::thread;

use crate::scripted::Scripted;
use crate::scripted::port::Port;
use crate::scripted::program::{place, program, run};
use host::app::care::notify::{Notice, Notifier, NotifyError};
use host::cli::{CommandEnv, PortReader};
use host::logger_link::port_lock::{Holder, take};

struct NoDesktop;

impl Notifier for NoDesktop {
    fn notify(&self, _notice: &Notice) -> Result<(), NotifyError> {
        Err(NotifyError::Missing { program: "desktop" })
    }
}

/// Starts `live` and waits until it has looked once. The lines are to be kept: it ends when nobody reads them.
fn live(db: &Path, port: &Port, more: &[&str]) -> (Child, Lines<BufReader<ChildStdout>>) {
    let name = port.name();
    let arguments = [&["live", "--port", &name], more].concat();
    let mut child = program("UTC", db, &arguments).stdout(Stdio::piped()).spawn().unwrap();
    let mut lines = BufReader::new(child.stdout.take().unwrap()).lines();
    assert!(lines.next().unwrap().unwrap().contains("knob at"));
    (child, lines)
}

#[test]
fn while_live_watches_others_say_so_autoread_waits_in_silence_and_a_kill_sets_the_port_free() {
    let (_dir, db) = place();
    let port = Port::new(Scripted::with_segments(60));
    let name = port.name();
    let (mut live, lines) = live(&db, &port, &[]);
    let around = CommandEnv::new(Some(db.clone()), true);
    let mut autoread = PortReader::new(&around, &NoDesktop);
    assert!(autoread.turn(0, from_ref(&name)).is_empty(), "it waits in silence");
    let [pull, bare, doctor] = thread::scope(|scope| {
        let asked = [vec!["pull", "--port", &name], vec!["--port", &name], vec!["doctor", "--port", &name]];
        let told = asked.map(|arguments| scope.spawn(|| run(&db, &{ arguments })));
        told.map(|told| told.join().unwrap())
    });
    let held = "live is watching; end it first with Ctrl-C";
    assert_eq!(pull.code(), 4, "{pull:?}");
    assert!(pull.err_words().contains("logger::held") && pull.err_words().contains(held), "{pull:?}");
    assert_eq!(bare.code(), 0, "what is kept is shown all the same: {bare:?}");
    assert!(bare.err().contains(held), "{bare:?}");
    assert!(
        doctor.out().contains(&format!("at {name}, not looked at: the port")) || doctor.out().contains(held)
    );
    assert_eq!(doctor.err(), "", "{doctor:?}");
    live.kill().unwrap();
    live.wait().unwrap();
    drop(lines);
    let read = autoread.turn(60_000, &[name]);
    let [(_, Ok(report))] = &read[..] else { panic!("free again: {read:?}") };
    assert_eq!(report.new_records, 60);
    drop(port.let_go());
}

#[test]
fn a_command_waits_until_another_one_has_ended() {
    let (_dir, db) = place();
    let port = Port::new(Scripted::with_segments(60));
    // It ends by itself before the other one would give up.
    let (mut live, lines) = live(&db, &port, &["--seconds", "2"]);
    let told = run(&db, &["pull", "--port", &port.name(), "--json"]);
    assert_eq!((told.code(), told.err().as_str()), (0, ""), "{told:?}");
    assert_eq!(told.json()["new_records"], 60);
    drop(lines);
    live.wait().unwrap();
    drop(port.let_go());
}

#[test]
fn a_reading_of_autoread_is_named_to_whoever_waits_in_vain() {
    let (_dir, db) = place();
    let port = Port::new(Scripted::with_segments(1));
    let lock = take(&db, &port.name(), Holder::Autoread).unwrap();
    let told = run(&db, &["live", "--port", &port.name(), "--seconds", "0"]);
    assert_eq!(told.code(), 4, "{told:?}");
    assert!(told.err_words().contains("autoread is reading; try again in a moment"), "{told:?}");
    drop(lock);
    assert_eq!(run(&db, &["live", "--port", &port.name(), "--seconds", "0"]).code(), 0);
    drop(port.let_go());
}

#[test]
fn each_of_several_loggers_is_read_in_turn_and_one_that_cannot_be_is_told() {
    let (_dir, db) = place();
    let known = Scripted::with_segments(5);
    let stranger = Scripted { logger: 9, log: 0xB0B0_0001, ..Scripted::with_segments(7) };
    assert_eq!(run(&db, &["machine", "add", "Rosie"]).code(), 0);
    assert_eq!(run(&db, &["machine", "add", "Loop", "--pile", "loop"]).code(), 0);
    let first = Port::new(known.clone());
    assert_eq!(run(&db, &["pull", "--port", &first.name(), "--machine", "1"]).code(), 0);
    drop(first.let_go());
    let ports = [Port::new(known), Port::new(stranger)];
    let names = ports.each_ref().map(Port::name);
    let around = CommandEnv::new(Some(db.clone()), true);
    let mut autoread = PortReader::new(&around, &NoDesktop);
    let read = autoread.turn(0, &names);
    let [(one, Ok(_)), (other, Err(failure))] = &read[..] else { panic!("{read:?}") };
    assert_eq!([one, other], [&names[0], &names[1]]);
    assert!(failure.to_string().contains("machine"), "{failure}");
    // Said once on which machine it sits, it is read like the other.
    assert_eq!(run(&db, &["pull", "--port", &names[1], "--machine", "Loop"]).code(), 0);
    assert!(autoread.turn(1, &[]).is_empty());
    let read = autoread.turn(2, &names);
    assert!(matches!(&read[..], [(_, Ok(_)), (_, Ok(_))]), "{read:?}");
    for port in ports {
        drop(port.let_go());
    }
}
