//! The system's own way to start a program when its user logs in.

use std::io::ErrorKind;
use std::path::{Path, PathBuf};

use crate::cli::shell::failure::Failure;

/// A line by which a file is known as one of ours.
const MARK: &str = "needlehours autoread --at-login";

/// The systems whose way is known.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum System {
    /// A user unit of systemd.
    Linux,
    /// An agent of launchd.
    MacOs,
    /// The start-up folder.
    Windows,
}

impl System {
    /// This one.
    pub const fn here() -> Self {
        if cfg!(windows) {
            Self::Windows
        } else if cfg!(target_os = "macos") {
            Self::MacOs
        } else {
            Self::Linux
        }
    }
}

/// What is written: a file, and on Linux a link to it that has it started.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct AtLogin {
    /// The file.
    pub file: PathBuf,
    /// Its text.
    pub text: String,
    /// The link.
    pub link: Option<PathBuf>,
}

/// What starts `program` on a database at login. `config` is the user's folder for settings, of macOS the home folder.
pub fn at_login(system: System, config: &Path, program: &Path, database: &Path) -> AtLogin {
    let (program, database) = (program.display().to_string(), database.display().to_string());
    match system {
        System::Linux => {
            let units = config.join("systemd").join("user");
            let name = "needlehours-autoread.service";
            let quoted = |text: &str| {
                let text = text.replace('\\', "\\\\").replace('"', "\\\"");
                format!("\"{}\"", text.replace('%', "%%").replace('$', "$$"))
            };
            AtLogin {
                file: units.join(name),
                text: format!(
                    "# {MARK}\n[Unit]\nDescription=Reads the logger of the tufting machine when it is plugged in\n\n\
                     [Service]\nExecStart={} autoread --db {}\nRestart=on-failure\nRestartSec=30\n\n\
                     [Install]\nWantedBy=default.target\n",
                    quoted(&program),
                    quoted(&database)
                ),
                link: Some(units.join("default.target.wants").join(name)),
            }
        }
        System::MacOs => {
            let quoted = |text: &str| {
                let text = text.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;");
                format!("    <string>{text}</string>\n")
            };
            let words: String = [&program, "autoread", "--db", &database].map(quoted).concat();
            AtLogin {
                file: config.join("Library").join("LaunchAgents").join("needlehours.autoread.plist"),
                text: format!(
                    "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<!-- {} -->\n<plist version=\"1.0\">\n<dict>\n  \
                     <key>Label</key>\n  <string>needlehours.autoread</string>\n  <key>ProgramArguments</key>\n  <array>\n{words}  \
                     </array>\n  <key>RunAtLoad</key>\n  <true/>\n  <key>KeepAlive</key>\n  <true/>\n</dict>\n</plist>\n",
                    // Two hyphens may not stand in a comment.
                    MARK.replace("--", "")
                ),
                link: None,
            }
        }
        System::Windows => {
            let quoted = |text: &str| format!("\"{}\"", text.replace('%', "%%"));
            let folder = ["Microsoft", "Windows", "Start Menu", "Programs", "Startup"];
            AtLogin {
                file: folder
                    .iter()
                    .fold(config.to_owned(), |path, part| path.join(part))
                    .join("needlehours-autoread.cmd"),
                text: format!(
                    "@rem {MARK}\r\n@start \"needlehours\" /min {} autoread --db {}\r\n",
                    quoted(&program),
                    quoted(&database)
                ),
                link: None,
            }
        }
    }
}

impl AtLogin {
    /// Writes it; returns what was written. Nothing of another hand is written over.
    ///
    /// # Errors
    /// When a file of another hand is there, or the folder cannot be written to.
    pub fn on(&self) -> Result<Vec<PathBuf>, Failure> {
        self.check_is_ours()?;
        let unwritten = |error| failed("cannot be written", &self.file, error);
        for folder in
            [Some(&self.file), self.link.as_ref()].into_iter().flatten().filter_map(|file| file.parent())
        {
            std::fs::create_dir_all(folder).map_err(unwritten)?;
        }
        std::fs::write(&self.file, &self.text).map_err(unwritten)?;
        if let Some(link) = &self.link {
            gone(link)?;
            linked(&self.file, link).map_err(unwritten)?;
        }
        Ok([Some(self.file.clone()), self.link.clone()].into_iter().flatten().collect())
    }

    /// Takes it away; returns what went.
    ///
    /// # Errors
    /// As [`Self::on`].
    pub fn off(&self) -> Result<Vec<PathBuf>, Failure> {
        self.check_is_ours()?;
        let mut went = Vec::new();
        for path in [self.link.as_ref(), Some(&self.file)].into_iter().flatten() {
            if gone(path)? {
                went.push(path.clone());
            }
        }
        Ok(went)
    }

    fn check_is_ours(&self) -> Result<(), Failure> {
        let mark = MARK.replace("--", "");
        match std::fs::read_to_string(&self.file) {
            Ok(text) if !text.replace("--", "").contains(&mark) => Err(Failure::bad_input(
                "autoread::foreign",
                format!("{} was not written by this program", self.file.display()),
                "It is left as it is. Move it away, and say it again.",
            )),
            Ok(_) => Ok(()),
            Err(error) if error.kind() == ErrorKind::NotFound => Ok(()),
            Err(error) => Err(failed("cannot be read", &self.file, error)),
        }
    }
}

fn gone(path: &Path) -> Result<bool, Failure> {
    match std::fs::remove_file(path) {
        Ok(()) => Ok(true),
        Err(error) if error.kind() == ErrorKind::NotFound => Ok(false),
        Err(error) => Err(failed("cannot be taken away", path, error)),
    }
}

#[cfg(unix)]
fn linked(file: &Path, link: &Path) -> std::io::Result<()> {
    std::os::unix::fs::symlink(file, link)
}

#[cfg(not(unix))]
fn linked(file: &Path, link: &Path) -> std::io::Result<()> {
    std::fs::copy(file, link).map(|_| ())
}

fn failed(what: &str, path: &Path, error: std::io::Error) -> Failure {
    Failure::other(
        "autoread::file",
        format!("{} {what}", path.display()),
        "Check that you may write to its folder.",
    )
    .because(error)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn of(system: System, folder: &Path) -> AtLogin {
        at_login(
            system,
            folder,
            Path::new("/opt/my \"tools\"/100%/needlehours"),
            Path::new("/home/a & b/studio.db"),
        )
    }

    #[test]
    fn on_writes_what_off_takes_away_again() {
        for system in [System::Linux, System::MacOs, System::Windows] {
            let folder = tempfile::tempdir().unwrap();
            let at_login = of(system, folder.path());
            let written = at_login.on().unwrap();
            assert!(written.iter().all(|path| path.starts_with(folder.path())), "{written:?}");
            assert_eq!(std::fs::read_to_string(&at_login.file).unwrap(), at_login.text);
            assert_eq!(at_login.on().unwrap(), written, "twice is no harm");
            let mut went = at_login.off().unwrap();
            went.reverse();
            assert_eq!(went, written);
            assert!(at_login.off().unwrap().is_empty());
        }
    }

    #[test]
    fn a_file_of_another_hand_stays() {
        let folder = tempfile::tempdir().unwrap();
        let at_login = of(System::Linux, folder.path());
        std::fs::create_dir_all(at_login.file.parent().unwrap()).unwrap();
        std::fs::write(&at_login.file, "[Unit]\n").unwrap();
        assert!(at_login.on().is_err() && at_login.off().is_err());
        assert_eq!(std::fs::read_to_string(&at_login.file).unwrap(), "[Unit]\n");
    }

    #[test]
    fn names_with_signs_are_quoted_as_each_system_wants_it() {
        let text = |system| of(system, Path::new("/c")).text;
        // Per cent and quotes after systemd's rules for a command line, the ampersand after XML's.
        assert!(text(System::Linux).contains(
            "ExecStart=\"/opt/my \\\"tools\\\"/100%%/needlehours\" autoread --db \"/home/a & b/studio.db\"\n"
        ));
        assert!(text(System::MacOs).contains("<string>/home/a &amp; b/studio.db</string>"));
        assert!(text(System::Windows).contains("100%%"));
    }
}
