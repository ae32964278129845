//! Getting at the file: what may be named, who may read it, and what to do where nothing can be written.

use std::fs;
use std::io::ErrorKind;
use std::path::{Path, PathBuf};

use rusqlite::{Connection, ErrorCode, OpenFlags};

use super::folder_of;
use crate::app::ports::StoreError;

/// A connection, and whether it can only read.
pub struct Opened {
    /// The connection.
    pub connection: Connection,
    /// Whether nothing can be written.
    pub is_read_only: bool,
}

/// Opens the file, making it when there is none: for its owner alone, and so are the files that SQLite puts beside it.
///
/// # Errors
/// When the name is none of a file, its folder is not there, or it cannot be opened.
pub fn open(path: &Path) -> Result<Opened, StoreError> {
    refuse_addresses(path)?;
    if let Some(folder) = folder_of(path).filter(|folder| matches!(fs::exists(folder), Ok(false))) {
        return Err(StoreError::NoFolder { folder: folder.to_owned(), path: path.to_owned() });
    }
    let unopened =
        |source: Box<dyn std::error::Error + Send + Sync>| StoreError::Open { path: path.to_owned(), source };
    match made(path) {
        Ok(()) => {}
        Err(error) if is_written_nowhere(&error) && path.is_file() => return open_to_read(path),
        Err(error) if error.kind() == ErrorKind::StorageFull => return Err(StoreError::DiskFull),
        Err(error) => return Err(unopened(error.into())),
    }
    let flags =
        OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_CREATE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let connection = Connection::open_with_flags(path, flags).map_err(|source| unopened(source.into()))?;
    Ok(Opened { connection, is_read_only: false })
}

/// SQLite takes some names for something else than a file, and would forget what is entered there.
fn refuse_addresses(path: &Path) -> Result<(), StoreError> {
    let name = path.to_string_lossy();
    if name.trim().is_empty() || name.starts_with(':') || name.starts_with("file:") {
        return Err(StoreError::NoFile { path: path.to_owned() });
    }
    Ok(())
}

/// Makes the file where there is none, and looks whether it can be written to.
fn made(path: &Path) -> std::io::Result<()> {
    let mut options = fs::OpenOptions::new();
    options.read(true).write(true).create(true).truncate(false);
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
    options.open(path).map(drop)
}

/// Whether no file can be made beside this one.
pub fn is_in_closed_folder(path: &Path) -> bool {
    let probe = beside(path, &format!(".{}.probe", std::process::id()));
    match fs::OpenOptions::new().write(true).create_new(true).open(&probe) {
        Ok(_) => {
            fs::remove_file(&probe).unwrap_or_default();
            false
        }
        Err(error) => is_written_nowhere(&error),
    }
}

fn is_written_nowhere(error: &std::io::Error) -> bool {
    matches!(error.kind(), ErrorKind::PermissionDenied | ErrorKind::ReadOnlyFilesystem)
}

/// Opens a file where nothing can be written. Its journal, if there is one, must be readable as well: without it the newest
/// entries would be missing in silence.
///
/// # Errors
/// When it cannot be opened, or a journal beside it cannot be read.
pub fn open_to_read(path: &Path) -> Result<Opened, StoreError> {
    let unopened =
        |source: rusqlite::Error| StoreError::Open { path: path.to_owned(), source: source.into() };
    let flags = OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let has_journal = fs::metadata(beside(path, "-wal")).is_ok_and(|journal| journal.len() > 0);
    let connection = if has_journal {
        Connection::open_with_flags(path, flags).map_err(unopened)?
    } else {
        // Without a journal SQLite need not make the files for sharing one.
        let address = format!("file:{}?immutable=1", escaped(path));
        let flags = flags | OpenFlags::SQLITE_OPEN_URI;
        Connection::open_with_flags(address, flags).map_err(unopened)?
    };
    match connection.query_row("SELECT count(*) FROM sqlite_schema", (), |row| row.get::<_, i64>(0)) {
        Ok(_) => Ok(Opened { connection, is_read_only: true }),
        Err(error) if has_journal && error.sqlite_error_code() != Some(ErrorCode::NotADatabase) => {
            let why = "its journal beside it holds entries that are not in it yet";
            Err(StoreError::NotReadable { path: path.to_owned(), why })
        }
        Err(error) => Err(unopened(error)),
    }
}

/// A file beside another, whose name goes on.
pub fn beside(path: &Path, ending: &str) -> PathBuf {
    let mut name = path.file_name().unwrap_or_default().to_owned();
    name.push(ending);
    path.with_file_name(name)
}

/// A path within an address: what means something there is written as its bytes.
fn escaped(path: &Path) -> String {
    let mut out = String::new();
    for byte in path.to_string_lossy().bytes() {
        if byte.is_ascii_alphanumeric() || matches!(byte, b'/' | b'.' | b'-' | b'_' | b':' | b'\\') {
            out.push(char::from(byte));
        } else {
            out.push_str(&format!("%{byte:02X}"));
        }
    }
    out
}
