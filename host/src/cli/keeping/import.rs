//! `import`.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use clap::Args;

use crate::app::book::verify::verify;
use crate::app::keeping::ImportError;
use crate::app::keeping::backup::Holds;
use crate::app::keeping::whole::{Contents, ImportReport, StudioId};
use crate::app::ports::book::Names as _;
use crate::app::ports::{Store as _, StoreError};
use crate::cli::shell::command_env::CommandEnv;
use crate::cli::shell::failure::Failure;
use crate::cli::shell::{exit, show};
use crate::export_folder::Export;
use crate::store::{Copy, Database, database_version, folder_of, make_whole, replacing};
use crate::view;

/// Make a new database of an export, equal in every answer to the one that was exported.
#[derive(Debug, Args)]
pub struct Import {
    /// The folder that `needlehours export` made. The new database is the usual one, or named with --db.
    #[arg(value_name = "DIR")]
    folder: PathBuf,
    /// Although tables beside `whole` are missing or were changed; they are not read.
    #[arg(long)]
    whole_only: bool,
    /// One JSON object on standard output and nothing else.
    #[arg(long)]
    json: bool,
}

impl Import {
    /// Runs the command.
    pub fn run(self, around: &CommandEnv) -> Result<ExitCode, Failure> {
        let path = around.database_path()?;
        check_target(&path, around.would_make(&path))?;
        let export = Export::open(&self.folder)?;
        let contents = export.contents();
        check_version(&self.folder, contents)?;
        export.check(self.whole_only)?;
        if around.would_make(&path)
            && let Some(folder) = folder_of(&path)
        {
            fs::create_dir_all(folder)
                .map_err(|source| StoreError::Open { path: path.clone(), source: source.into() })?;
        }
        let copy = make_whole(&path, (contents.last_entry, contents.last_status), |take| {
            export.parts().try_for_each(|part| export.lines(part, |line| take(part, line)))
        })?;
        let holds = checked(&copy, contents)?;
        let kept_aside = replacing::replace(&path, copy, "before-import")?;
        let report = ImportReport {
            folder: self.folder.clone(),
            database: path,
            studio: contents.studio.clone(),
            head: contents.head.clone(),
            with_names: contents.with_names,
            holds,
            kept_aside,
        };
        show::report(&report, self.json, view::keeping::hand_on::imported)?;
        Ok(exit::code(exit::FINE))
    }
}

/// Refuses a place at which there is a database that holds something, or that has no folder.
fn check_target(path: &Path, would_be_made: bool) -> Result<(), Failure> {
    if would_be_made {
        return Ok(());
    }
    if let Some(folder) = folder_of(path).filter(|folder| !folder.is_dir()) {
        return Err(StoreError::NoFolder { folder: folder.to_owned(), path: path.to_owned() }.into());
    }
    if path.is_dir() || path.file_name().is_none() {
        return Err(StoreError::NoFile { path: path.to_owned() }.into());
    }
    if fs::metadata(path).is_ok_and(|about| about.len() == 0) {
        return Ok(());
    }
    let there = Database::open_to_read(path)?;
    let is_empty = there.first_link()?.is_none() && there.logs()?.is_empty() && there.names()?.is_empty();
    if is_empty { Ok(()) } else { Err(ImportError::NotEmpty { path: path.to_owned() }.into()) }
}

fn check_version(folder: &Path, contents: &Contents) -> Result<(), ImportError> {
    let (found, known) = (contents.database_version, database_version());
    if found <= known {
        return Ok(());
    }
    let (folder, program) = (folder.to_owned(), contents.program.clone());
    Err(ImportError::Newer { folder, program, of_what: "database", found, known })
}

/// Looks whether the new database holds together and is the one that was exported, and counts what it holds.
fn checked(copy: &Copy, contents: &Contents) -> Result<Holds, Failure> {
    let new = Database::open_to_read(copy.part())?;
    let not_whole = |why: &str| ImportError::NotWhole { why: why.to_owned() };
    if let Some(damage) = new.look_for_damage()?.first() {
        return Err(not_whole(damage).into());
    }
    let report = verify(&new, None)?;
    if !report.is_fine {
        return Err(not_whole("something in it was changed after it was kept").into());
    }
    if report.chain.head.to_string() != contents.head {
        return Err(not_whole("its head is not the one that it names").into());
    }
    if StudioId::of(new.first_link()?.as_deref()) != contents.studio {
        return Err(not_whole("it is another studio's than it says").into());
    }
    Ok(Holds::of(&new)?)
}
