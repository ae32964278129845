//! Every command of every page runs, in a fresh database for each page, and answers as the page shows.

use std::fs;
use std::path::Path;
use std::thread;

use jiff::Timestamp;
use shared_types::log::{Anchor, ClockSource, Event, Press, PressKind, Segment, Trace};
use shared_types::{Edges, RawAngle, RunMillis, UtcMillis};

use crate::page::{Step, Typed, fits, folder, pages, steps};
use crate::scripted::Scripted;
use crate::scripted::port::Port;
use crate::scripted::program::{place, run, run_in};

/// The page whose maker has a logger plugged in.
const WITH_A_BOARD: &str = "first-evening-with-a-board.md";

/// A clock chip, then an hour at the frame with fifteen strokes a second for ten seconds of each minute, and a near-miss.
fn logger() -> Scripted {
    let (run, edges) = (RunMillis(10_000), 150);
    let mut logger = Scripted::default();
    // It tells its newest record a moment ago, a minute after the one before.
    let began = Timestamp::now().as_millisecond() - 62 * 60_000;
    logger.add(Event::Anchor(Anchor { utc: UtcMillis(began), source: ClockSource::ClockChip }));
    for _ in 0..60 {
        logger.totals = logger.totals.plus(run, Edges(u64::from(edges)));
        let angle = Some(RawAngle::new(1_234));
        logger.add(Event::Segment(Segment { run, edges, angle, continues: false }));
    }
    logger.add(Event::Press(Press { kind: PressKind::NearMiss, still_ms: 1_000, trace: Trace::default() }));
    logger
}

/// A zone in which it is evening now: a session that ends now then began today, whenever the test runs.
fn evening() -> String {
    let hour = (Timestamp::now().as_millisecond() / 3_600_000).rem_euclid(24);
    let east = (20 - hour + 12).rem_euclid(24) - 12;
    // The names have their signs the other way round.
    if east == 0 { "UTC".to_owned() } else { format!("Etc/GMT{:+}", -east) }
}

/// Does what a page tells, and what of it came otherwise.
fn follow(name: &str, text: &str) -> String {
    let (folder, db) = place();
    let zone = evening();
    let port = (name == WITH_A_BOARD).then(|| Port::new(logger()));
    let mut otherwise = String::new();
    for step in steps(text) {
        match step {
            Step::Write { name, content } => fs::write(folder.path().join(name), content).unwrap(),
            Step::Type(typed) => {
                otherwise += &differs(&zone, &db, &typed, port.as_ref().map(Port::name)).unwrap_or_default();
            }
        }
    }
    otherwise
}

/// What a command tells where it is not what is shown. A pseudo-terminal is not found by itself, so its port is named here.
fn differs(zone: &str, db: &Path, typed: &Typed, port: Option<String>) -> Option<String> {
    let mut arguments = typed.arguments();
    let reads_logger = |word: &String| ["pull", "live", "doctor"].contains(&word.as_str());
    if let Some(port) = port
        && arguments.first().is_some_and(reads_logger)
        && !arguments.contains(&"--file".to_owned())
    {
        arguments.extend(["--port".to_owned(), port]);
    }
    let told = run_in(zone, db, &arguments.iter().map(String::as_str).collect::<Vec<_>>());
    let all = told.out() + &told.err();
    let lines: Vec<&str> = all.trim_matches('\n').lines().map(str::trim_end).collect();
    let is_as_shown = told.code() == typed.code && (typed.shown.is_empty() || fits(&typed.shown, &lines));
    if is_as_shown {
        return None;
    }
    Some(format!("$ {}\n{}\n(ends with {})\n", typed.line, lines.join("\n"), told.code()))
}

#[test]
fn every_command_in_the_manual_answers_as_its_page_shows() {
    let pages = pages();
    let otherwise: Vec<String> = thread::scope(|scope| {
        let following: Vec<_> =
            pages.iter().map(|(name, text)| (name, scope.spawn(move || follow(name, text)))).collect();
        following
            .into_iter()
            .map(|(name, followed)| (name, followed.join().unwrap()))
            .filter(|(_, otherwise)| !otherwise.is_empty())
            .map(|(name, otherwise)| format!("{name} shows something else than:\n{otherwise}"))
            .collect()
    });
    assert!(otherwise.is_empty(), "{}", otherwise.join("\n"));
}

#[test]
fn every_page_but_the_contents_has_commands_that_are_tried() {
    let without: Vec<String> = pages()
        .into_iter()
        .filter(|(_, text)| !steps(text).iter().any(|step| matches!(step, Step::Type(_))))
        .map(|(name, _)| name)
        .collect();
    assert_eq!(without, ["README.md"]);
}

#[test]
fn every_picture_in_the_manual_is_the_one_that_the_demo_draws() {
    let (drawn, own) = place();
    assert_eq!(run(&own, &["demo"]).code(), 0);
    let mut pictures = 0;
    for entry in fs::read_dir(folder().join("pictures")).unwrap() {
        let shown = entry.unwrap().path();
        let name = shown.file_name().unwrap();
        let drawn = drawn.path().join("needlehours-demo").join(name);
        assert!(drawn.exists(), "the demo draws no {}", name.display());
        assert!(
            fs::read_to_string(&drawn).unwrap() == fs::read_to_string(&shown).unwrap(),
            "host/MANUAL/pictures/{0} is an older one; copy needlehours-demo/{0} there after looking at it",
            name.display()
        );
        pictures += 1;
    }
    assert!(pictures > 0, "the pictures have moved");
}
