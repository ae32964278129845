//! The list of an export's files with their sums: written last, checked first.

use std::fmt::Write as _;
use std::fs::{self, File};
use std::io::{self, BufRead as _, BufReader, ErrorKind, Read as _};
use std::path::{Component, Path, PathBuf};

use serde_json::Value;
use sha2::{Digest as _, Sha256};

use super::{CONTENTS, CONTENTS_SUM, WHOLE, unwritten};
use crate::app::keeping::whole::{Contents, EXPORT_VERSION, FileSum, WHAT, WholePart};
use crate::app::keeping::{ExportError, ImportError};

/// An export whose list of contents is whole and understood.
#[derive(Debug)]
pub struct Export {
    folder: PathBuf,
    contents: Contents,
}

/// Length of a file and SHA-256 over it, in hexadecimal.
fn sum_of(path: &Path) -> io::Result<(u64, String)> {
    let mut file = File::open(path)?;
    let (mut hash, mut bytes, mut chunk) = (Sha256::new(), 0_u64, vec![0; 1 << 16]);
    loop {
        let read = file.read(&mut chunk)?;
        let Some(read) = chunk.get(..read).filter(|read| !read.is_empty()) else { break };
        hash.update(read);
        bytes = bytes.saturating_add(u64::try_from(read.len()).unwrap_or(u64::MAX));
    }
    Ok((bytes, digits(hash.finalize().as_slice())))
}

fn digits(bytes: &[u8]) -> String {
    bytes.iter().fold(String::new(), |mut digits, byte| {
        // A text takes whatever is written to it.
        write!(digits, "{byte:02x}").unwrap_or_default();
        digits
    })
}

/// The line that the file beside the list holds, in the format of `sha256sum`.
fn sum_line(list: &[u8]) -> String {
    format!("{}  contents.json\n", digits(Sha256::digest(list).as_slice()))
}

/// Sums up every file below an export's folder, has each of them on the disk, and writes the list: from here on it is an export.
///
/// # Errors
/// When a file cannot be read or written.
pub fn write_contents(root: &Path, mut contents: Contents) -> Result<(), ExportError> {
    let mut files = Vec::new();
    files_below(root, "", &mut files)?;
    files.sort();
    for file in files {
        let path = root.join(&file);
        let (bytes, sha256) = sum_of(&path).map_err(unwritten(&path))?;
        on_disk(&path)?;
        contents.files.push(FileSum { file, bytes, sha256 });
    }
    let (list_path, sum_path) = (root.join(CONTENTS), root.join(CONTENTS_SUM));
    let mut list = serde_json::to_string_pretty(&contents).map_err(unwritten(&list_path))?;
    list.push('\n');
    fs::write(&sum_path, sum_line(list.as_bytes())).map_err(unwritten(&sum_path))?;
    on_disk(&sum_path)?;
    fs::write(&list_path, &list).map_err(unwritten(&list_path))?;
    on_disk(&list_path)
}

fn on_disk(path: &Path) -> Result<(), ExportError> {
    File::options().write(true).open(path).and_then(|file| file.sync_all()).map_err(unwritten(path))
}

fn files_below(root: &Path, inside: &str, files: &mut Vec<String>) -> Result<(), ExportError> {
    let folder = root.join(inside);
    for entry in fs::read_dir(&folder).map_err(unwritten(&folder))? {
        let entry = entry.map_err(unwritten(&folder))?;
        let name = entry.file_name().to_string_lossy().into_owned();
        let name = if inside.is_empty() { name } else { format!("{inside}/{name}") };
        if entry.file_type().map_err(unwritten(&folder))?.is_dir() {
            files_below(root, &name, files)?;
        } else {
            files.push(name);
        }
    }
    Ok(())
}

impl Export {
    /// Reads what an export says of itself.
    ///
    /// # Errors
    /// When it is none, was never finished, is of a newer program, or its list was changed.
    pub fn open(folder: &Path) -> Result<Self, ImportError> {
        let foreign = || ImportError::Foreign { folder: folder.to_owned() };
        let list = match fs::read(folder.join(CONTENTS)) {
            Err(error) if error.kind() == ErrorKind::NotFound || error.kind() == ErrorKind::NotADirectory => {
                return Err(foreign());
            }
            other => other.map_err(unread(&folder.join(CONTENTS)))?,
        };
        let sum = match fs::read(folder.join(CONTENTS_SUM)) {
            Err(error) if error.kind() == ErrorKind::NotFound => {
                return Err(ImportError::Missing { file: CONTENTS_SUM.to_owned() });
            }
            other => other.map_err(unread(&folder.join(CONTENTS_SUM)))?,
        };
        if sum != sum_line(&list).as_bytes() {
            return Err(ImportError::Changed { file: CONTENTS.to_owned() });
        }
        let told = not_understood(serde_json::from_slice::<Value>(&list))?;
        if told.get("what").and_then(Value::as_str) != Some(WHAT) {
            return Err(foreign());
        }
        let version = told.get("export_version").and_then(Value::as_u64);
        if let Some(found) = version.filter(|found| *found > EXPORT_VERSION.into()) {
            let program = told.get("program").and_then(Value::as_str).unwrap_or_default().to_owned();
            let found = u32::try_from(found).unwrap_or(u32::MAX);
            let (folder, known) = (folder.to_owned(), EXPORT_VERSION);
            return Err(ImportError::Newer { folder, program, of_what: "export", found, known });
        }
        let contents = not_understood(serde_json::from_value(told))?;
        Ok(Self { folder: folder.to_owned(), contents })
    }

    /// What it says of itself.
    #[must_use]
    pub const fn contents(&self) -> &Contents {
        &self.contents
    }

    /// Holds every file against its sum; with `whole_only`, what gives the database back alone.
    ///
    /// # Errors
    /// When a file is missing, has another length or another sum.
    pub fn check(&self, whole_only: bool) -> Result<(), ImportError> {
        for part in self.parts() {
            if !self.contents.files.iter().any(|sum| sum.file == part.file()) {
                return Err(ImportError::Missing { file: part.file().to_owned() });
            }
        }
        for sum in &self.contents.files {
            let is_whole = sum.file.split('/').next() == Some(WHOLE);
            match self.check_file(sum) {
                Err(why) if !is_whole && !whole_only => {
                    return Err(ImportError::Tables { why: Box::new(why) });
                }
                Err(error) if is_whole => return Err(error),
                _ => {}
            }
        }
        Ok(())
    }

    fn check_file(&self, sum: &FileSum) -> Result<(), ImportError> {
        let inside = Path::new(&sum.file);
        if !inside.components().all(|component| matches!(component, Component::Normal(_))) {
            let what = format!("{} lies outside the export", sum.file);
            return not_understood(Err(io::Error::new(ErrorKind::InvalidData, what)));
        }
        let path = self.folder.join(inside);
        let missing = || ImportError::Missing { file: sum.file.clone() };
        let length = match fs::metadata(&path) {
            Ok(about) if about.is_file() => about.len(),
            Ok(_) => return Err(missing()),
            Err(error) if error.kind() == ErrorKind::NotFound => return Err(missing()),
            Err(error) => return Err(unread(&path)(error)),
        };
        if length != sum.bytes {
            return Err(ImportError::Length { file: sum.file.clone(), bytes: length, should: sum.bytes });
        }
        let (_, sha256) = sum_of(&path).map_err(unread(&path))?;
        if sha256 == sum.sha256 { Ok(()) } else { Err(ImportError::Changed { file: sum.file.clone() }) }
    }

    /// Its parts, in the order in which they are put back.
    pub fn parts(&self) -> impl Iterator<Item = WholePart> {
        let with_names = self.contents.with_names;
        WholePart::ALL.into_iter().filter(move |part| with_names || *part != WholePart::Names)
    }

    /// Shows the lines of a part to `take`, which says why it does not take one.
    ///
    /// # Errors
    /// When the file cannot be read, or a line is not taken.
    pub fn lines<W: ToString>(
        &self,
        part: WholePart,
        mut take: impl FnMut(&str) -> Result<(), W>,
    ) -> Result<(), ImportError> {
        let path = self.folder.join(part.file());
        let file = File::open(&path).map_err(unread(&path))?;
        for (number, line) in (1..).zip(BufReader::new(file).lines()) {
            let line = line.map_err(unread(&path))?;
            take(&line).map_err(|why| ImportError::Line {
                file: part.file().to_owned(),
                line: number,
                why: why.to_string(),
            })?;
        }
        Ok(())
    }
}

fn unread(path: &Path) -> impl FnOnce(io::Error) -> ImportError {
    let path = path.to_owned();
    move |source| ImportError::Read { path, source }
}

fn not_understood<T, E: Into<Box<dyn std::error::Error + Send + Sync>>>(
    told: Result<T, E>,
) -> Result<T, ImportError> {
    told.map_err(|error| ImportError::Contents { file: CONTENTS.to_owned(), source: error.into() })
}
