//! Keeps the replies of a pull as a saved log: frames as on the wire, `LoggerStatus` first.
//!
//! A pull must not fail because its copy cannot be written, so the first error is remembered and told at the end.

use std::fs::{self, File, OpenOptions};
use std::io::{self, BufWriter, ErrorKind, Write};
use std::path::{Path, PathBuf};

use shared_types::limits::MAX_FRAME;
use shared_types::link::frame::encode_frame;

/// A saved log in the making: it lies beside its place until it is whole, and goes away with a run that fails before.
#[derive(Debug)]
pub struct Recording {
    file: BufWriter<File>,
    target: PathBuf,
    /// None once it is in its place.
    part: Option<PathBuf>,
    failed: Option<io::Error>,
}

impl Recording {
    /// Begins a new file.
    ///
    /// # Errors
    /// When it cannot be made, or is already there: a saved log is never written over.
    pub fn begin(path: &Path) -> io::Result<Self> {
        if fs::exists(path)? {
            return Err(ErrorKind::AlreadyExists.into());
        }
        let mut name = path.file_name().ok_or(ErrorKind::InvalidInput)?.to_owned();
        name.push(format!(".{}.part", std::process::id()));
        let part = path.with_file_name(name);
        let file = OpenOptions::new().write(true).create_new(true).open(&part)?;
        Ok(Self { file: BufWriter::new(file), target: path.to_owned(), part: Some(part), failed: None })
    }

    /// Adds one message, as a frame.
    pub fn keep(&mut self, message: &[u8]) {
        if self.failed.is_some() {
            return;
        }
        let mut room = [0; MAX_FRAME + 1];
        let written = match encode_frame(message, &mut room) {
            Ok(frame) => self.file.write_all(frame),
            Err(error) => Err(io::Error::other(error)),
        };
        self.failed = written.err();
    }

    /// Ends the file; on `Ok` it is on the disk.
    ///
    /// # Errors
    /// The first error met.
    pub fn finish(mut self) -> io::Result<()> {
        if let Some(error) = self.failed.take() {
            return Err(error);
        }
        self.file.flush()?;
        self.file.get_ref().sync_all()?;
        let Some(part) = &self.part else { return Ok(()) };
        // A second name, where the system has them, never replaces what somebody else has put there meanwhile.
        match fs::hard_link(part, &self.target) {
            Ok(()) => Ok(()),
            Err(error) if error.kind() == ErrorKind::AlreadyExists => Err(error),
            Err(_) => fs::rename(part, &self.target).map(|()| self.part = None),
        }
    }
}

impl Drop for Recording {
    fn drop(&mut self) {
        if let Some(part) = self.part.take() {
            // Of what is in its place only the first name goes.
            fs::remove_file(part).unwrap_or_default();
        }
    }
}
