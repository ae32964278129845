//! Notifications on the desktop through the system's own program for them, so that nothing needs to be built in.

use std::io::Write as _;
use std::process::{Child, Command, Stdio};
use std::sync::mpsc;
use std::time::Duration;

use crate::app::care::notify::{Notice, Notifier, NotifyError};
use crate::view;
use host_core::care::DueReport;

/// The program that shows notifications on desktops after the open desktop notifications specification.
const PROGRAM: &str = "notify-send";
/// A program that takes longer is left to itself.
const TIMEOUT: Duration = Duration::from_secs(3);

/// Shows what is due. Whatever goes wrong becomes one line on standard error; nothing else depends on it.
pub fn send(report: &DueReport, notifier: &dyn Notifier) {
    let Some(notice) = view::care::notice::of_due(report) else { return };
    if let Err(error) = notifier.notify(&notice) {
        // Where nobody reads standard error that is no failure either.
        let told = writeln!(anstream::stderr(), "No notification: {error}.");
        drop(told);
    }
}

/// The desktop.
#[derive(Clone, Copy, Debug)]
pub struct Desktop;

impl Notifier for Desktop {
    fn notify(&self, notice: &Notice) -> Result<(), NotifyError> {
        let child = Command::new(PROGRAM)
            .args(["--app-name=Needlehours", "--", &notice.title, &notice.text])
            .stdin(Stdio::null())
            .stdout(Stdio::null())
            .stderr(Stdio::piped())
            .spawn()
            .map_err(|_| NotifyError::Missing { program: PROGRAM })?;
        wait(child)
    }
}

fn wait(child: Child) -> Result<(), NotifyError> {
    let (done, ended) = mpsc::channel();
    // A thread of its own waits, because the program may wait for a desktop that never answers.
    let waiting = std::thread::Builder::new().spawn(move || done.send(child.wait_with_output()));
    let refused = |said: String| NotifyError::Refused { program: PROGRAM, said };
    waiting.map_err(|error| refused(error.to_string()))?;
    match ended.recv_timeout(TIMEOUT) {
        Err(_) => Err(NotifyError::Silent { program: PROGRAM }),
        Ok(Err(error)) => Err(refused(error.to_string())),
        Ok(Ok(output)) if output.status.success() => Ok(()),
        Ok(Ok(output)) => {
            let said = String::from_utf8_lossy(&output.stderr);
            Err(refused(said.lines().next().unwrap_or_default().trim().trim_end_matches('.').to_owned()))
        }
    }
}
