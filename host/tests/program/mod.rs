//! The program run on a database of one test, and what it told.
#![allow(
    dead_code,
    clippy::indexing_slicing,
    clippy::unwrap_used,
    clippy::panic,
    reason = "each test file uses its part; a test may stop at the first surprise"
)]

use std::fs::OpenOptions;
use std::io::{Read as _, Write as _};
use std::path::{Path, PathBuf};
use std::process::{Command, Output};
use std::time::Duration;

use host::app::ports::Clock;
use serialport::{SerialPort as _, TTYPort};
use shared_types::UtcMillis;
use tempfile::TempDir;

/// A clock that stands still, in UTC.
#[derive(Clone, Copy, Debug)]
pub struct Still(pub i64);

impl Clock for Still {
    fn now(&self) -> UtcMillis {
        UtcMillis(self.0)
    }

    fn zone(&self) -> jiff::tz::TimeZone {
        jiff::tz::TimeZone::UTC
    }
}

/// A folder that goes away with the test, and the place of a database in it.
pub fn place() -> (TempDir, PathBuf) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("studio.db");
    (folder, path)
}

/// Runs the program in UTC.
pub fn run(db: &Path, arguments: &[&str]) -> Told {
    run_in("UTC", db, arguments)
}

/// Runs the program in a zone, in the folder of its database and with no settings of whoever runs the test.
pub fn run_in(zone: &str, db: &Path, arguments: &[&str]) -> Told {
    Told(program(zone, db, arguments).output().unwrap())
}

/// The program in a zone, as [`run_in`] runs it.
pub fn program(zone: &str, db: &Path, arguments: &[&str]) -> Command {
    let folder = db.parent().unwrap();
    let mut command = Command::new(env!("CARGO_BIN_EXE_needlehours"));
    command
        .args(arguments)
        .current_dir(folder)
        .env_clear()
        .env("HOME", folder)
        .env("NEEDLEHOURS_DB", db)
        .env("NO_COLOR", "1")
        .env("TZ", zone)
        // The days of a test stand still; the computer's do not.
        .env("NEEDLEHOURS_CLOCK_IS_RIGHT", "true");
    command
}

/// Runs the program of somebody who names no database and whose home is a folder.
pub fn run_at_home(home: &Path, arguments: &[&str]) -> Told {
    let mut command = Command::new(env!("CARGO_BIN_EXE_needlehours"));
    command.args(arguments).current_dir(home).env_clear().env("HOME", home).env("NO_COLOR", "1");
    Told(command.output().unwrap())
}

/// After so many reads without a word nothing more comes: a minute of silence.
const SILENT_READS: u32 = 1_200;

/// Runs the program at a terminal. Of each step the first is waited for on the screen, the second is then typed. Returns the
/// screen.
pub fn run_at_terminal(zone: &str, db: &Path, arguments: &[&str], steps: &[(&str, &str)]) -> String {
    let (mut far, near) = TTYPort::pair().unwrap();
    far.set_timeout(Duration::from_millis(50)).unwrap();
    let path = near.name().unwrap();
    let terminal = || OpenOptions::new().read(true).write(true).open(&path).unwrap();
    let mut child = program(zone, db, arguments)
        .env("TERM", "dumb")
        .stdin(terminal())
        .stdout(terminal())
        .stderr(terminal())
        .spawn()
        .unwrap();
    let (mut screen, mut seen, mut steps) = (Vec::new(), 0, steps.iter());
    let (mut next, mut silent) = (steps.next(), 0);
    loop {
        let mut chunk = [0; 4096];
        // The time that a read may take is over when nothing comes; what fails shows in what is missing on the screen.
        let count = far.read(&mut chunk).unwrap_or(0);
        silent = if count == 0 { silent + 1 } else { 0 };
        screen.extend(&chunk[..count]);
        let text = String::from_utf8_lossy(&screen).into_owned();
        if let Some((awaited, keys)) = next
            && let Some(at) = text[seen..].find(awaited)
        {
            seen += at + awaited.len();
            far.write_all(keys.as_bytes()).unwrap();
            next = steps.next();
        }
        if count == 0 && child.try_wait().unwrap().is_some() {
            assert_eq!(next, None, "the program ended before it was asked; the screen:\n{text}");
            return text;
        }
        if silent == SILENT_READS {
            child.kill().unwrap();
            panic!("the program waits, and {next:?} was not seen; the screen:\n{text}");
        }
    }
}

/// What the program told, and how it ended.
#[derive(Debug)]
pub struct Told(Output);

impl Told {
    pub fn code(&self) -> i32 {
        self.0.status.code().unwrap()
    }

    pub fn out(&self) -> String {
        String::from_utf8(self.0.stdout.clone()).unwrap()
    }

    pub fn err(&self) -> String {
        String::from_utf8(self.0.stderr.clone()).unwrap()
    }

    /// What went to standard error without the frame around messages, which breaks lines where they are long.
    pub fn err_words(&self) -> String {
        let err = self.err();
        let words: Vec<&str> = err.split_whitespace().filter(|word| *word != "│").collect();
        words.join(" ")
    }

    /// Standard output of a run that must have succeeded in silence.
    #[track_caller]
    pub fn ok(&self) -> String {
        assert_eq!((self.code(), self.err().as_str()), (0, ""), "{self:?}");
        self.out()
    }

    /// The one JSON object on standard output.
    #[track_caller]
    pub fn json(&self) -> serde_json::Value {
        serde_json::from_str(&self.out()).unwrap_or_else(|error| panic!("{error}: {self:?}"))
    }
}
