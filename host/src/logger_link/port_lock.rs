//! One command of this program at a port at a time.
//!
//! The lock is a file beside the database, named after the port and held by the system, so it ends with the process whatever
//! happens; the file stays and tells who held it last. Other programs do not see it: the port itself refuses to be opened twice.

use std::fmt;
use std::fs::{self, File, OpenOptions, TryLockError};
use std::io::{self, Read, Write};
use std::path::{Path, PathBuf};
use std::thread;
use std::time::{Duration, Instant};

use serialport::SerialPort;

use super::serial;
use super::wire::{RetryPolicy, Wire};
use crate::app::ports::LoggerError;

/// So long a command waits for another one to let go of the port.
const TIMEOUT: Duration = Duration::from_secs(5);
/// From one try to the next.
const PAUSE: Duration = Duration::from_millis(50);

/// A command that holds a port.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Holder {
    /// `autoread`, while it reads.
    Autoread,
    /// The bare command.
    Today,
    /// `pull`.
    Pull,
    /// `live`, until it is ended.
    Live,
    /// `doctor`.
    Doctor,
    /// `machine calibrate`.
    Calibrate,
    /// `page`, while somebody looks at it.
    Page,
}

impl Holder {
    const ALL: [Self; 7] =
        [Self::Autoread, Self::Today, Self::Pull, Self::Live, Self::Doctor, Self::Calibrate, Self::Page];

    /// Its name in the file.
    const fn name(self) -> &'static str {
        match self {
            Self::Autoread => "autoread",
            Self::Today => "today",
            Self::Pull => "pull",
            Self::Live => "live",
            Self::Doctor => "doctor",
            Self::Calibrate => "calibrate",
            Self::Page => "page",
        }
    }

    /// What it does there.
    const fn words(self) -> &'static str {
        match self {
            Self::Autoread => "autoread is reading; try again in a moment",
            Self::Today => "needlehours is reading; try again in a moment",
            Self::Pull => "pull is reading; try again in a moment",
            Self::Live => "live is watching; end it first with Ctrl-C",
            Self::Doctor => "doctor is looking; try again in a moment",
            Self::Calibrate => "machine calibrate is reading the knob; end it first",
            Self::Page => {
                "the page watches it, and reads it when it rests; close the page in the browser first"
            }
        }
    }

    /// How long it waits for its turn. What comes by itself comes again.
    const fn timeout(self) -> Duration {
        match self {
            Self::Autoread => Duration::ZERO,
            _ => TIMEOUT,
        }
    }
}

/// The right to a port.
#[derive(Debug)]
pub struct PortLock {
    /// None where no file can be made: then the port alone refuses a second one.
    _file: Option<File>,
}

/// A logger on a serial port, which no other command of this program opens meanwhile.
pub type SerialLogger = Wire<LockedPort>;

/// A port and the right to it.
pub struct LockedPort {
    port: Box<dyn SerialPort>,
    lock: PortLock,
}

impl Read for LockedPort {
    fn read(&mut self, bytes: &mut [u8]) -> io::Result<usize> {
        self.port.read(bytes)
    }
}

impl Write for LockedPort {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.port.write(bytes)
    }

    fn flush(&mut self) -> io::Result<()> {
        self.port.flush()
    }
}

impl fmt::Debug for LockedPort {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("LockedPort").field("lock", &self.lock).finish_non_exhaustive()
    }
}

/// Waits for the turn and opens the logger at a port.
///
/// # Errors
/// `Held` when another command of this program does not let go in time; else as [`serial::open`].
pub fn open(database: &Path, port: &str, holder: Holder) -> Result<SerialLogger, LoggerError> {
    let lock = take(database, port, holder)?;
    let stream = LockedPort { port: serial::open(port)?, lock };
    Ok(Wire::new(stream, port, RetryPolicy::CABLE))
}

/// Waits for the turn at a port.
///
/// # Errors
/// `Held` when another command of this program does not let go in time.
pub fn take(database: &Path, port: &str, holder: Holder) -> Result<PortLock, LoggerError> {
    let path = file_of(database, port);
    // A port that is not there leaves no file; Windows has no files for ports.
    let is_there = !cfg!(unix) || fs::exists(port).unwrap_or(false);
    let open = || OpenOptions::new().write(true).create(true).truncate(false).open(&path).ok();
    let Some(mut file) = is_there.then(open).flatten() else { return Ok(PortLock { _file: None }) };
    let begun = Instant::now();
    loop {
        match file.try_lock() {
            Ok(()) => break,
            // Some network disks know no locks.
            Err(TryLockError::Error(_)) => return Ok(PortLock { _file: None }),
            Err(TryLockError::WouldBlock) if begun.elapsed() >= holder.timeout() => {
                return Err(LoggerError::Held { place: port.to_owned(), by: held_by(&path) });
            }
            Err(TryLockError::WouldBlock) => thread::sleep(PAUSE),
        }
    }
    // Only the words of an error depend on it.
    file.set_len(0).and_then(|()| file.write_all(holder.name().as_bytes())).unwrap_or_default();
    Ok(PortLock { _file: Some(file) })
}

/// Who holds a port, in words. Some systems let nobody read a file that is locked.
fn held_by(path: &Path) -> &'static str {
    let name = fs::read_to_string(path).unwrap_or_default();
    let holder = Holder::ALL.into_iter().find(|holder| holder.name() == name);
    holder.map_or("another needlehours is reading; try again in a moment", Holder::words)
}

/// One file for a port, whichever of its names was given.
fn file_of(database: &Path, port: &str) -> PathBuf {
    let real = fs::canonicalize(port).map_or_else(|_| port.to_owned(), |real| real.display().to_string());
    let safe = real.trim_start_matches(|letter: char| !letter.is_alphanumeric());
    let safe = safe.replace(|letter: char| !letter.is_alphanumeric(), "-");
    let mut name = database.file_name().unwrap_or_default().to_owned();
    name.push(format!(".port-{safe}"));
    database.with_file_name(name)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_port_has_one_file_beside_the_database_that_any_system_can_name() {
        let file = |port| file_of(Path::new("/home/ann/studio.db"), port);
        assert_eq!(file("/dev/ttyACM7"), Path::new("/home/ann/studio.db.port-dev-ttyACM7"));
        assert_eq!(file("COM12"), Path::new("/home/ann/studio.db.port-COM12"));
        assert_eq!(file(r"\\.\COM12"), Path::new("/home/ann/studio.db.port-COM12"));
        assert_eq!(file("../../etc/x y"), Path::new("/home/ann/studio.db.port-etc-x-y"));
    }

    #[test]
    fn a_port_is_held_by_one_at_a_time_and_a_folder_that_is_not_there_hinders_nobody() {
        let folder = tempfile::tempdir().unwrap();
        let (port, database) = (folder.path().join("port"), folder.path().join("studio.db"));
        fs::write(&port, "").unwrap();
        let port = port.to_str().unwrap();
        let lock = take(&database, port, Holder::Live).unwrap();
        let refused = take(&database, port, Holder::Autoread).unwrap_err();
        assert!(refused.to_string().ends_with("live is watching; end it first with Ctrl-C"), "{refused}");
        drop(lock);
        let lock = take(&database, port, Holder::Autoread).unwrap();
        assert!(take(&folder.path().join("no folder/studio.db"), port, Holder::Pull).is_ok());
        drop(lock);
        let nowhere = folder.path().join("nowhere");
        assert!(take(&database, nowhere.to_str().unwrap(), Holder::Pull).is_ok());
        assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 2, "the port and its lock");
    }
}
