//! A folder that is made beside its place and comes into it as a whole.

use std::ffi::OsString;
use std::fs;
use std::path::{Path, PathBuf};

use super::contents::Export;
use super::{TOP, unwritten};
use crate::app::keeping::ExportError;
use crate::app::keeping::whole::StudioId;

/// A folder beside its place; it goes away again when it is dropped. What a killed run leaves has no list of contents, so nobody
/// takes it for an export.
#[derive(Debug)]
pub struct Staged {
    target: PathBuf,
    part: Option<PathBuf>,
}

impl Staged {
    /// Looks whether an export may come into a place, and makes a folder beside it.
    ///
    /// # Errors
    /// When the place is none, or something is there that is no earlier export of the same studio, or one that is not to be
    /// replaced.
    pub fn prepare(folder: &Path, studio: &StudioId, replace: bool) -> Result<Self, ExportError> {
        // Of a link the folder that it leads to is replaced, not the link.
        let target = fs::canonicalize(folder).unwrap_or_else(|_| folder.to_owned());
        check(folder, &target, studio, replace)?;
        let part = beside(&target, "part");
        fs::create_dir(&part).map_err(unwritten(&part))?;
        Ok(Self { target, part: Some(part) })
    }

    /// Where it lies until then.
    #[must_use]
    pub fn part(&self) -> &Path {
        self.part.as_deref().unwrap_or(&self.target)
    }

    /// Puts it in its place; an earlier export there goes away after that.
    ///
    /// # Errors
    /// When the system does not let it; the earlier one is in its place then.
    pub fn put_in_place(mut self) -> Result<(), ExportError> {
        let Some(part) = self.part.clone() else { return Ok(()) };
        let earlier = beside(&self.target, "earlier");
        let is_there = fs::exists(&self.target).map_err(unwritten(&self.target))?;
        if is_there {
            fs::rename(&self.target, &earlier).map_err(unwritten(&self.target))?;
        }
        if let Err(error) = fs::rename(&part, &self.target) {
            if is_there {
                fs::rename(&earlier, &self.target).map_err(unwritten(&self.target))?;
            }
            return Err(unwritten(&self.target)(error));
        }
        self.part = None;
        if is_there {
            fs::remove_dir_all(&earlier).map_err(unwritten(&earlier))?;
        }
        Ok(())
    }
}

impl Drop for Staged {
    fn drop(&mut self) {
        if let Some(part) = self.part.take() {
            fs::remove_dir_all(part).unwrap_or_default();
        }
    }
}

fn beside(target: &Path, what: &str) -> PathBuf {
    let mut name: OsString = target.file_name().unwrap_or_default().to_owned();
    name.push(format!(".{}.{what}", std::process::id()));
    target.with_file_name(name)
}

fn check(folder: &Path, target: &Path, studio: &StudioId, replace: bool) -> Result<(), ExportError> {
    if target.file_name().is_none() {
        return Err(ExportError::NoName { folder: folder.to_owned() });
    }
    let above = target.parent().filter(|above| !above.as_os_str().is_empty());
    if let Some(above) = above.filter(|above| !above.is_dir()) {
        return Err(ExportError::NoFolder { folder: above.to_owned() });
    }
    if !fs::exists(target).map_err(unwritten(target))? {
        return Ok(());
    }
    let not_empty = || ExportError::NotEmpty { folder: folder.to_owned() };
    if !target.is_dir() {
        return Err(not_empty());
    }
    let mut others = Vec::new();
    let mut is_empty = true;
    for inside in fs::read_dir(target).map_err(unwritten(target))? {
        let name = inside.map_err(unwritten(target))?.file_name();
        is_empty = false;
        if !TOP.iter().any(|own| name == **own) {
            others.push(name.to_string_lossy().into_owned());
        }
    }
    if is_empty {
        return Ok(());
    }
    let is_own = Export::open(target).is_ok_and(|earlier| earlier.contents().studio == *studio);
    match others.into_iter().min() {
        _ if !is_own => Err(not_empty()),
        Some(other) => Err(ExportError::AddedTo { folder: folder.to_owned(), other }),
        None if !replace => Err(ExportError::IsThere { folder: folder.to_owned() }),
        None => Ok(()),
    }
}
