//! Keeps the replies of a pull as a saved log: frames as on the wire, `Hello` first.
//!
//! A pull must not fail because its copy cannot be written, so the first error is remembered and told at the end.

use std::fs::{File, OpenOptions};
use std::io::{self, BufWriter, Write};
use std::path::Path;

use shared_types::limits::MAX_FRAME;
use shared_types::link::frame::encode_frame;

/// A saved log in the making.
#[derive(Debug)]
pub struct Recording {
    file: BufWriter<File>,
    failed: Option<io::Error>,
}

impl Recording {
    /// Begins a new file.
    ///
    /// # Errors
    /// When it cannot be made, or is already there: a saved log is never written over.
    pub fn begin(path: &Path) -> io::Result<Self> {
        let file = OpenOptions::new().write(true).create_new(true).open(path)?;
        Ok(Self { file: BufWriter::new(file), failed: None })
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
        self.file.get_ref().sync_all()
    }
}
