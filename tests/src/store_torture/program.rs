//! The program that is built beside these checks, run in a folder of its own.

use std::path::{Path, PathBuf};
use std::process::{Child, Command, Output, Stdio};

use tempfile::TempDir;

/// The program and a folder for its files, which goes away with it.
#[derive(Debug)]
pub struct Program {
    exe: PathBuf,
    folder: TempDir,
}

/// What one run told.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Told {
    /// How it ended; none when it was killed.
    pub code: Option<i32>,
    /// Standard output.
    pub out: String,
    /// Standard error.
    pub err: String,
}

impl Program {
    /// Finds the program in the folder of the running one, or above it, where tests run.
    ///
    /// # Errors
    /// When it was not built, or no folder can be made.
    pub fn found() -> Result<Self, String> {
        let here = std::env::current_exe().map_err(|error| error.to_string())?;
        let exe = here
            .ancestors()
            .skip(1)
            .take(2)
            .map(|folder| folder.join(format!("needlehours{}", std::env::consts::EXE_SUFFIX)))
            .find(|exe| exe.is_file())
            .ok_or("needlehours is not built: cargo build -p host, with --release where this runs so")?;
        let folder = tempfile::tempdir().map_err(|error| error.to_string())?;
        Ok(Self { exe, folder })
    }

    /// Where its files are.
    #[must_use]
    pub fn folder(&self) -> &Path {
        self.folder.path()
    }

    /// The database that most runs are about.
    #[must_use]
    pub fn database(&self) -> PathBuf {
        self.folder().join("studio.db")
    }

    /// A made-up studio's database of three months, as bytes.
    ///
    /// # Errors
    /// When it could not be made.
    pub fn made_up_studio(&self) -> Result<Vec<u8>, String> {
        let told = self.run(&["demo", "--dir", "demo"], &[])?;
        if told.code != Some(0) {
            return Err(told.err);
        }
        std::fs::read(self.folder().join("demo").join("demo.db")).map_err(|error| error.to_string())
    }

    /// Puts a database there, without any journal.
    ///
    /// # Errors
    /// As the system.
    pub fn put(&self, content: &[u8]) -> Result<(), String> {
        for end in ["", "-wal", "-shm", ".reached", ".pulling"] {
            let mut name = self.database().into_os_string();
            name.push(end);
            match std::fs::remove_file(&name) {
                Err(error) if error.kind() != std::io::ErrorKind::NotFound => return Err(error.to_string()),
                _ => {}
            }
        }
        std::fs::write(self.database(), content).map_err(|error| error.to_string())
    }

    fn command(&self, words: &[&str], around: &[(&str, &str)]) -> Command {
        let mut command = Command::new(&self.exe);
        command
            .args(words)
            .current_dir(self.folder())
            .env_clear()
            .env("HOME", self.folder())
            .env("NEEDLEHOURS_DB", self.database())
            .env("NO_COLOR", "1")
            .env("TZ", "UTC")
            .envs(around.iter().copied())
            .stdin(Stdio::null())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped());
        command
    }

    /// Runs it to its end.
    ///
    /// # Errors
    /// When it cannot be started.
    pub fn run(&self, words: &[&str], around: &[(&str, &str)]) -> Result<Told, String> {
        self.command(words, around).output().map(told).map_err(|error| error.to_string())
    }

    /// Starts it.
    ///
    /// # Errors
    /// When it cannot be started.
    pub fn start(&self, words: &[&str]) -> Result<Child, String> {
        self.command(words, &[]).spawn().map_err(|error| error.to_string())
    }
}

/// What a run that has ended told.
#[must_use]
pub fn told(output: Output) -> Told {
    let text = |bytes: Vec<u8>| String::from_utf8_lossy(&bytes).into_owned();
    Told { code: output.status.code(), out: text(output.stdout), err: text(output.stderr) }
}
