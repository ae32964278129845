//! `needlehours live`, and the knob's ends read from it.
#![cfg(unix)]
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::indexing_slicing,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a test may stop at the first surprise"
)]

use std::io::{Read, Write};
use std::path::Path;
use std::process::{Command, Output};

use crate::scripted::program::run_at_terminal;
use crate::scripted::{NOW, Scripted, framed};
use host::app::logger::live::{Scale, watch};
use host::app::ports::Store;
use host::logger_link::simulated::{Loss, simulated};
use host::store::Database;
use host_core::entries::{
    Drive, EdgeRatio, EntryBody, KnobMarks, MachineAdded, Pile, RugName, RugOrdered, RugWork, WorkChange,
};
use serialport::{SerialPort, TTYPort};
use shared_types::link::{Live, Reply};
use shared_types::log::{Event, Press, PressKind, Trace};
use shared_types::{MachineTag, RawAngle, UptimeMillis, UtcMillis};

fn needlehours(db: &Path, arguments: &[&str]) -> Output {
    let mut command = Command::new(env!("CARGO_BIN_EXE_needlehours"));
    command
        .arg("--db")
        .arg(db)
        .args(arguments)
        .env("NO_COLOR", "1")
        .env_remove("NEEDLEHOURS_DB")
        .output()
        .unwrap()
}

/// Answers on a pseudo-terminal until the near end is dropped.
fn serve(mut logger: Scripted) -> TTYPort {
    let (mut far, near) = TTYPort::pair().unwrap();
    far.set_timeout(std::time::Duration::from_secs(60)).unwrap();
    std::thread::spawn(move || {
        let mut chunk = [0; 4096];
        while let Ok(count) = far.read(&mut chunk) {
            far.write_all(&logger.answer(&chunk[..count])).unwrap();
        }
    });
    near
}

/// A machine with two magnets for each stroke, whose knob goes from 1000 up to 3000.
fn studio(db: &Path) -> Database {
    let mut store = Database::open(db).unwrap();
    let machine = MachineTag(1);
    let bodies = [
        EntryBody::MachineAdded(MachineAdded {
            machine,
            name: "Blue handle".to_owned(),
            pile: Pile::Cut,
            before_logger: None,
            since: NOW,
            drive: Drive::Electric,
            has_logger: None,
            is_second_hand: None,
        }),
        EntryBody::EdgeRatioSet(EdgeRatio { machine, edges: 2, strokes: 1 }),
        EntryBody::KnobMarked(KnobMarks {
            machine,
            slow: RawAngle::new(1_000),
            fast: RawAngle::new(3_000),
            rising: true,
        }),
    ];
    for body in &bodies {
        store.add_entry(NOW, body).unwrap();
    }
    store
}

fn rates(script: &[(u64, u32)], scale: Scale) -> Vec<Option<f64>> {
    let mut looks = script.iter().map(|&(uptime_ms, edges)| Live {
        uptime: UptimeMillis(uptime_ms),
        edges_since_start: edges,
        angle: Some(RawAngle::new(2_500)),
        gain: None,
        faults: 0,
    });
    let mut logger =
        simulated("a script", |_: &[u8]| framed(&Reply::Live(looks.next().unwrap())), Loss::default());
    let mut left = script.len();
    let samples = watch(&mut logger, scale, None, &mut |_| {}, &mut || {
        left -= 1;
        left > 0
    });
    samples.unwrap().iter().map(|sample| sample.strokes_per_second).collect()
}

#[test]
fn the_rate_is_told_over_the_last_second() {
    // By hand: 5 edges in 250 ms are 20 a second; after that the rate halves, and a second later nothing of the old one is left.
    let script = [(0, 0), (250, 5), (500, 7), (750, 10), (1_000, 12), (1_250, 15), (1_500, 17), (1_750, 20)];
    let told = rates(&script, Scale::UNKNOWN);
    assert_eq!(told[0], None, "one look is no rate");
    assert_eq!(told[1], Some(20.0));
    assert_eq!(told[4], Some(12.0));
    assert_eq!(told[5], Some(10.0));
    assert_eq!(told[7], Some(10.0));
}

#[test]
fn a_logger_that_starts_again_in_between_makes_no_negative_strokes() {
    assert_eq!(
        rates(&[(9_000, 500), (9_250, 505), (40, 0), (290, 5)], Scale::UNKNOWN),
        [None, Some(20.0), None, Some(20.0)]
    );
}

#[test]
fn what_was_entered_of_the_machine_turns_passes_into_strokes() {
    let dir = tempfile::tempdir().unwrap();
    let store = studio(&dir.path().join("studio.db"));
    let scale = Scale::of(&store, MachineTag(1)).unwrap();
    assert_eq!(
        rates(&[(0, 0), (500, 20)], scale),
        [None, Some(20.0)],
        "40 passes a second, two for a stroke"
    );
    let unknown = Scale::of(&store, MachineTag(2)).unwrap();
    assert_eq!(rates(&[(0, 0), (500, 20)], unknown), [None, Some(40.0)]);
}

#[test]
fn live_gives_one_json_object_with_its_looks() {
    let dir = tempfile::tempdir().unwrap();
    let db = dir.path().join("studio.db");
    drop(studio(&db));
    let mut logger = Scripted { faults: 1, ..Scripted::default() };
    logger.settings.machine = MachineTag(1);
    let port = serve(logger);
    let output = needlehours(&db, &["live", "--port", &port.name().unwrap(), "--seconds", "0", "--json"]);
    assert_eq!(output.status.code(), Some(0), "{}", String::from_utf8_lossy(&output.stderr));
    let object: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
    assert_eq!((&object["schema"], &object["logger"]), (&1.into(), &"feed000000000001".into()));
    let [sample] = &object["samples"].as_array().unwrap()[..] else { panic!("one look: {object}") };
    assert_eq!(sample["angle_steps"], 9);
    assert_eq!(sample["edges_since_start"], 3);
    assert_eq!(sample["strokes_per_second"], serde_json::Value::Null);
    assert_eq!(sample["knob_per_mille"], 0, "below the slow end counts as the slow end");
    assert_eq!(sample["faults"], serde_json::json!(["MagnetMissing"]));
}

#[test]
fn live_shows_one_line_for_each_look_and_makes_no_database() {
    let dir = tempfile::tempdir().unwrap();
    let db = dir.path().join("studio.db");
    let port = serve(Scripted::default());
    let output = needlehours(&db, &["live", "--port", &port.name().unwrap(), "--seconds", "0"]);
    assert_eq!(output.status.code(), Some(0));
    assert_eq!(
        String::from_utf8_lossy(&output.stdout),
        "     0 strokes,    - a second        knob at    9\n"
    );
    assert!(!db.exists());
}

#[test]
fn live_tells_how_long_the_cloth_on_the_frame_is_tight_with_what_ran_since_the_pull() {
    let dir = tempfile::tempdir().unwrap();
    let db = dir.path().join("studio.db");
    drop(studio(&db));
    // Tightened after about ten minutes, about six more: 240 runs of 1 s and 501, 502, ... 740 ms.
    let mut logger = Scripted::with_segments(500);
    logger.settings.machine = MachineTag(1);
    let still_ms = 5_000;
    logger.add(Event::Press(Press { kind: PressKind::Retension, still_ms, trace: Trace::default() }));
    logger.run(240);
    let at_pull = 240 * 1_000 + (501..741).sum::<u64>();
    let port = serve(logger.clone());
    let pulled = needlehours(&db, &["pull", "--port", &port.name().unwrap(), "--quiet"]);
    assert_eq!(pulled.status.code(), Some(0), "{}", String::from_utf8_lossy(&pulled.stderr));
    drop(port);
    let live = |logger: &Scripted| {
        let port = serve(logger.clone());
        let output = needlehours(&db, &["live", "--port", &port.name().unwrap(), "--seconds", "0", "--json"]);
        assert_eq!(output.status.code(), Some(0), "{}", String::from_utf8_lossy(&output.stderr));
        let object: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
        object["samples"][0]["cloth"].clone()
    };
    assert_eq!(live(&logger), serde_json::Value::Null, "no rug is on the frame");
    let started = RugWork {
        rug: RugName("Fox".to_owned()),
        change: WorkChange::Started,
        at: UtcMillis(1_600_000_000_000),
        machine: None,
    };
    let ordered = RugOrdered {
        rug: started.rug.clone(),
        width_mm: None,
        height_mm: None,
        cloth_lot: None,
        at: started.at,
    };
    for body in [EntryBody::RugOrdered(ordered), EntryBody::RugWork(started)] {
        Database::open(&db).unwrap().add_entry(NOW, &body).unwrap();
    }
    let told = live(&logger);
    assert_eq!(told["run_time_since_at_most_ms"], at_pull, "{told:#}");
    assert_eq!(told["tightened_by"], "pressed");
    // Two minutes more, of which no record was pulled.
    logger.totals.run.0 += 120_000;
    let told = live(&logger);
    assert_eq!(told["run_time_since_at_most_ms"], at_pull + 120_000, "{told:#}");
    assert_eq!(told["remaining_run_time_ms"], 900_000 - at_pull - 120_000);
    let port = serve(logger);
    let words = needlehours(&db, &["live", "--port", &port.name().unwrap(), "--seconds", "0"]);
    let words = String::from_utf8_lossy(&words.stdout).into_owned();
    let cloth = "Cloth tightened 8 motor minutes ago; again in 7";
    assert!(words.contains(cloth), "{words}");
    // On a terminal it stands beneath the line that is written over, and the prompt comes after both.
    let screen =
        run_at_terminal("UTC", &db, &["live", "--port", &port.name().unwrap(), "--seconds", "0"], &[]);
    let [look, beneath, ..] = &screen.split('\n').collect::<Vec<_>>()[..] else { panic!("{screen}") };
    assert!(
        look.contains("0 strokes") && beneath.contains(cloth) && beneath.contains("\x1b[A"),
        "{screen:?}"
    );
    assert_eq!(screen.matches('\n').count(), 3, "{screen:?}");
}

#[test]
fn live_wants_a_logger_and_an_end_before_it_writes_json() {
    let dir = tempfile::tempdir().unwrap();
    let db = dir.path().join("studio.db");
    assert_eq!(needlehours(&db, &["live", "--port", "/dev/there-is-no-such-port"]).status.code(), Some(4));
    assert_eq!(needlehours(&db, &["live", "--json"]).status.code(), Some(2));
}

#[test]
fn calibrate_without_angles_asks_nobody_where_nobody_is() {
    let dir = tempfile::tempdir().unwrap();
    let db = dir.path().join("studio.db");
    drop(studio(&db));
    let output = needlehours(&db, &["machine", "calibrate"]);
    assert_eq!(output.status.code(), Some(6));
    let said = String::from_utf8_lossy(&output.stderr).into_owned();
    assert!(said.contains("no angles were given") && said.contains("--slow ANGLE --fast ANGLE"), "{said}");
    assert_eq!(needlehours(&db, &["machine", "calibrate", "--slow", "100"]).status.code(), Some(2));
}
