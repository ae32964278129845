//! The folder of the demo. A folder that the demo did not make keeps what is in it.

use std::fs;
use std::io;
use std::path::{Path, PathBuf};

use thiserror::Error;

/// Says whose the folder is.
const NOTE: &str = "made-up-studio.txt";
const NOTE_TEXT: &str =
    "Everything in this folder is made up by `needlehours demo`, which replaces it when it runs again.\n";

/// The files of one demo.
#[derive(Clone, Debug)]
pub struct DemoFolder {
    /// The database of the studio with the clock chip.
    pub database: PathBuf,
    /// The database of the studio without.
    pub without_clock: PathBuf,
    /// Hours per rug.
    pub usage_picture: PathBuf,
    /// Tears by speed.
    pub tears_picture: PathBuf,
}

/// Why the folder cannot be used.
#[derive(Debug, Error)]
pub enum FolderError {
    /// There is a database that the demo did not make.
    #[error("{} holds a database that the demo did not make", path.display())]
    NotOurs {
        /// The folder.
        path: PathBuf,
    },
    /// The folder cannot be made or written to.
    #[error("cannot write to {}", path.display())]
    Unwritable {
        /// The folder or file.
        path: PathBuf,
        /// What the system said.
        #[source]
        source: io::Error,
    },
}

/// Makes the folder ready: makes it, and takes away what an earlier demo left.
///
/// # Errors
/// When it holds a database of somebody else's, or cannot be written to; nothing was taken away then.
pub fn prepare(path: &Path) -> Result<DemoFolder, FolderError> {
    let folder = DemoFolder {
        database: path.join("demo.db"),
        without_clock: path.join("demo-without-clock.db"),
        usage_picture: path.join("usage.svg"),
        tears_picture: path.join("tears.svg"),
    };
    let note = path.join(NOTE);
    let is_ours = fs::read_to_string(&note).is_ok_and(|text| text == NOTE_TEXT);
    let files = [&folder.database, &folder.without_clock];
    if !is_ours && files.iter().any(|file| file.exists()) {
        return Err(FolderError::NotOurs { path: path.to_owned() });
    }
    let unwritable = |path: &Path| {
        let path = path.to_owned();
        move |source| FolderError::Unwritable { path, source }
    };
    fs::create_dir_all(path).map_err(unwritable(path))?;
    fs::write(&note, NOTE_TEXT).map_err(unwritable(&note))?;
    for file in files {
        for ending in ["", "-wal", "-shm"] {
            let mut name = file.as_os_str().to_owned();
            name.push(ending);
            let file = PathBuf::from(name);
            match fs::remove_file(&file) {
                Err(error) if error.kind() != io::ErrorKind::NotFound => {
                    return Err(unwritable(&file)(error));
                }
                _ => {}
            }
        }
    }
    Ok(folder)
}
