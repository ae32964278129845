//! `backup`, `restore`, and what is remembered of backups.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use clap::Args;

use crate::app::book::verify::verify;
use crate::app::keeping::backup::{
    BackupNote, BackupReport, BackupSeen, Holds, RestoreReport, lost_by_restoring,
};
use crate::app::ports::{Clock as _, StoreError};
use crate::cli::shell::command_env::CommandEnv;
use crate::cli::shell::failure::Failure;
use crate::cli::shell::out_file::OutFile;
use crate::cli::shell::{ask, exit, show};
use crate::store::Copy;
use crate::store::{Database, folder_of, replacing};
use crate::view;

/// Copy the database into one file, and look whether the copy is whole; without a file: when that was done last.
#[derive(Debug, Args)]
pub struct Backup {
    /// Where to put the copy; an older copy there is replaced when the new one is whole.
    file: Option<PathBuf>,
    /// Days after which `doctor` calls a backup old.
    #[arg(long, value_name = "DAYS", value_parser = clap::value_parser!(u32).range(1..=3650))]
    limit_days: Option<u32>,
    /// One JSON object on standard output and nothing else.
    #[arg(long)]
    json: bool,
}

/// Put a backup in the place of the database; the one that was there is kept beside it.
#[derive(Debug, Args)]
pub struct Restore {
    /// The backup.
    file: PathBuf,
    /// Although the database holds what the backup does not.
    #[arg(long)]
    over_newer: bool,
    /// One JSON object on standard output and nothing else.
    #[arg(long)]
    json: bool,
}

impl Backup {
    /// Runs the command.
    pub fn run(self, around: &CommandEnv) -> Result<ExitCode, Failure> {
        let path = around.database_path()?;
        if around.would_make(&path) {
            return Err(Failure::bad_input(
                "backup::nothing",
                format!("there is no database at {}", path.display()),
                "There is nothing to copy yet; the first pull or entry makes it.",
            ));
        }
        let now = around.clock().now();
        let mut note = read_note(&path);
        if self.limit_days.is_some() {
            note.limit_days = self.limit_days;
            write_note(&path, &note)?;
        }
        let Some(file) = self.file else {
            let seen = BackupSeen::of(&note, now);
            show::report(&seen, self.json, |seen| view::keeping::backup::seen(seen, &around.clock().zone()))?;
            return Ok(exit::code(exit::FINE));
        };
        check_target(&path, &file)?;
        let database = around.open_database()?;
        let copy = database.prepare_copy(&file)?;
        let holds =
            checked(&copy, "backup::not_whole", "The older backup, if there is one, was left as it is.")?;
        copy.put_in_place()?;
        let whole = fs::canonicalize(&file).unwrap_or_else(|_| file.clone());
        write_note(&path, &BackupNote { last_utc_ms: Some(now.0), file: Some(whole), ..note })?;
        let report = BackupReport { file, made_utc_ms: now, holds };
        show::report(&report, self.json, view::keeping::backup::made)?;
        Ok(exit::code(exit::FINE))
    }
}

/// Refuses a place at which a backup would harm the database, or is none.
fn check_target(database: &Path, file: &Path) -> Result<(), Failure> {
    let refuse = |what: String, remedy: &str| Err(Failure::bad_input("backup::place", what, remedy));
    if let Some(folder) = folder_of(file).filter(|folder| !folder.is_dir()) {
        let what = format!("there is no folder {}", folder.display());
        return refuse(what, "Check how it is written, or make the folder first. Nothing was made.");
    }
    if file.is_dir() || file.file_name().is_none() {
        let what = format!("{} is a folder", file.display());
        return refuse(what, "Name a file in it, for example studio-backup.db.");
    }
    if replacing::is_of_database(database, file) {
        let what = format!("{} is the database itself or belongs to it", file.display());
        return refuse(what, "Name another file, best on another disk.");
    }
    if is_something_else(file) {
        let what = format!("{} is there already and is no backup", file.display());
        return refuse(what, "Name another file. Nothing was changed.");
    }
    Ok(())
}

/// Whether there is a file that is no database of this program, and would be lost.
fn is_something_else(file: &Path) -> bool {
    let is_empty = fs::metadata(file).map_or(true, |about| about.is_file() && about.len() == 0);
    !is_empty
        && matches!(Database::open_to_read(file), Err(StoreError::Foreign { .. } | StoreError::Open { .. }))
}

/// Looks whether a copy is whole, and counts what it holds.
fn checked(copy: &Copy, code: &'static str, remedy: &str) -> Result<Holds, Failure> {
    let copied = Database::open_to_read(copy.part())?;
    let damage = copied.look_for_damage()?;
    let is_fine = damage.is_empty() && verify(&copied, None)?.is_fine;
    if !is_fine {
        let why =
            damage.first().cloned().unwrap_or_else(|| "`needlehours verify` names the places".to_owned());
        let what = format!("the copy does not hold together, so it was thrown away ({why})");
        return Err(Failure::other(code, what, remedy));
    }
    Ok(Holds::of(&copied)?)
}

impl Restore {
    /// Runs the command.
    pub fn run(self, around: &CommandEnv) -> Result<ExitCode, Failure> {
        let path = around.database_path()?;
        if !self.file.is_file() || replacing::is_of_database(&path, &self.file) {
            return Err(Failure::bad_input(
                "restore::file",
                format!("{} is no backup that could be put back", self.file.display()),
                "Name a file that `needlehours backup` made. Nothing was changed.",
            ));
        }
        let copy = replacing::prepare_restore(&self.file, &path)?;
        let holds = checked(&copy, "restore::not_whole", "Nothing was changed. Try an older backup.")?;
        let left_behind = match around.would_make(&path) {
            true => None,
            false => left_behind(&path, &copy)?,
        };
        self.agree(around.would_make(&path), left_behind)?;
        let kept_aside = replacing::replace(&path, copy, "before-restore")?;
        let report = RestoreReport { file: self.file, holds, left_behind, kept_aside };
        show::report(&report, self.json, view::keeping::backup::restored)?;
        Ok(exit::code(exit::FINE))
    }

    /// Goes on only when nothing newer is left behind, or the maker wants it all the same.
    fn agree(&self, is_empty: bool, left: Option<Holds>) -> Result<(), Failure> {
        if is_empty || self.over_newer || left == Some(Holds::default()) {
            return Ok(());
        }
        let what = match left {
            Some(left) => view::keeping::backup::newer(left),
            None => "the database that is there cannot be read, so nobody can say what it holds that the backup does not".to_owned(),
        };
        if !self.json && ask::somebody_is_there() {
            let question = format!(
                "Look: {what}. It would be kept aside. Put the backup in its place? [y yes, Enter no] "
            );
            let typed = ask::line(&mut std::io::stdin().lock(), &mut std::io::stdout(), &question);
            if typed.is_some_and(|typed| typed.eq_ignore_ascii_case("y") || typed.eq_ignore_ascii_case("yes"))
            {
                return Ok(());
            }
        }
        let remedy = "To put the backup in its place all the same, add --over-newer; what is there now is kept beside it. Nothing was changed.";
        Err(Failure::bad_input("restore::newer", what, remedy))
    }
}

/// What the database holds and the copy does not; none when it cannot be read.
fn left_behind(path: &Path, copy: &Copy) -> Result<Option<Holds>, Failure> {
    let backup = Database::open_to_read(copy.part())?;
    match Database::open(path).and_then(|database| lost_by_restoring(&database, &backup)) {
        Ok(lost) => Ok(Some(lost)),
        Err(error @ (StoreError::Busy | StoreError::Newer { .. } | StoreError::DiskFull)) => {
            Err(error.into())
        }
        Err(_) => Ok(None),
    }
}

fn note_of(database: &Path) -> PathBuf {
    let mut name = database.file_name().unwrap_or_default().to_owned();
    name.push(".backups");
    database.with_file_name(name)
}

/// What is remembered of backups; nothing where that cannot be read.
pub fn read_note(database: &Path) -> BackupNote {
    fs::read(note_of(database)).ok().and_then(|bytes| serde_json::from_slice(&bytes).ok()).unwrap_or_default()
}

fn write_note(database: &Path, note: &BackupNote) -> Result<(), Failure> {
    let place = note_of(database);
    let unwritten = |error: std::io::Error| {
        let what = format!("cannot note in {} when the backup was made", place.display());
        Failure::other("backup::note", what, "The backup itself is whole. Check that you may write there.")
            .because(error)
    };
    let text = serde_json::to_vec(note).map_err(|error| unwritten(error.into()))?;
    OutFile::prepare(&place, &text).and_then(OutFile::put_in_place).map_err(unwritten)
}
