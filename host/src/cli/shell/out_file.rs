//! A file that is written in two steps: its content beside its place, then, when all else has gone well, in one stroke into
//! its place. Until then an older file of that name stays whole.

use std::fs::{self, File, OpenOptions};
use std::io::{self, Write};
use std::path::{Path, PathBuf};

/// Content that lies ready beside its place; it goes away again when it is dropped.
#[derive(Debug)]
pub struct OutFile {
    target: PathBuf,
    /// None for what is no file, such as a pipe, into which there is no second way than to write.
    ready: Option<PathBuf>,
    content: Vec<u8>,
}

impl OutFile {
    /// Writes the content beside its place.
    ///
    /// # Errors
    /// When that cannot be done, or the place is a folder; nothing has changed then.
    pub fn prepare(path: &Path, content: &[u8]) -> io::Result<Self> {
        // Of a link the file that it leads to is replaced, not the link.
        let target = fs::canonicalize(path).unwrap_or_else(|_| path.to_owned());
        let mut file = Self { target, ready: None, content: content.to_owned() };
        match fs::metadata(&file.target) {
            Ok(there) if there.is_dir() => return Err(io::Error::from(io::ErrorKind::IsADirectory)),
            Ok(there) if !there.is_file() => {}
            Ok(there) => {
                file.lay_ready()?;
                if let Some(ready) = &file.ready {
                    fs::set_permissions(ready, there.permissions())?;
                }
            }
            Err(_) => file.lay_ready()?,
        }
        Ok(file)
    }

    fn lay_ready(&mut self) -> io::Result<()> {
        let name = self.target.file_name().ok_or_else(|| io::Error::from(io::ErrorKind::InvalidInput))?;
        let mut beside = name.to_owned();
        beside.push(format!(".{}.part", std::process::id()));
        let ready = self.target.with_file_name(beside);
        let mut out: File = OpenOptions::new().write(true).create_new(true).open(&ready)?;
        self.ready = Some(ready);
        out.write_all(&self.content)?;
        // Without it a power cut can leave an empty file under the name.
        out.sync_all()
    }

    /// Puts it in its place.
    ///
    /// # Errors
    /// When the system does not let it; an older file is whole then.
    pub fn put_in_place(mut self) -> io::Result<()> {
        match self.ready.take() {
            Some(ready) => fs::rename(&ready, &self.target).inspect_err(|_| self.ready = Some(ready)),
            None => fs::write(&self.target, &self.content),
        }
    }
}

impl Drop for OutFile {
    fn drop(&mut self) {
        if let Some(ready) = self.ready.take()
            && let Err(error) = fs::remove_file(&ready)
        {
            anstream::eprintln!("{} was left behind: {error}", ready.display());
        }
    }
}
