//! Firmware with one precaution left out: copies of its sources under `target/mutants`, each with exact edits of its text.
//!
//! The firmware itself has no switch for this. An edit whose text does not stand exactly once in its file stops the tests, so a
//! precaution that is written anew needs its edit written anew.

#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::indexing_slicing,
    reason = "a test may stop at the first surprise"
)]

mod edits;
mod programs;

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

pub use edits::{ALL, Edit, Mutant};
pub use edits::{
    BIT_REPAIR, CLEAN_MARK, FINISH_LAST, READ_BACK, REFRESH, SECOND_SLOT, SEQUENCE_SKIP, UNPATCHED,
};
pub use programs::first_fault;

/// Where the copies stand and are built.
#[must_use]
pub fn mutants_folder(tree: &Path) -> PathBuf {
    tree.join("target/mutants")
}

/// Text files by their place in a folder.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Sources(BTreeMap<PathBuf, String>);

impl Sources {
    /// Reads the files `names` of `folder`, and everything in those that are folders.
    ///
    /// # Panics
    /// When one of them is missing or no text.
    #[must_use]
    pub fn read(folder: &Path, names: &[&str]) -> Self {
        let mut sources = Self::default();
        for name in names {
            sources.read_one(folder, Path::new(name));
        }
        sources
    }

    fn read_one(&mut self, folder: &Path, place: &Path) {
        let path = folder.join(place);
        if !path.is_dir() {
            let text = std::fs::read_to_string(&path).unwrap_or_else(|it| panic!("{}: {it}", path.display()));
            self.put(place, text);
            return;
        }
        for entry in std::fs::read_dir(&path).expect("the folder can be read") {
            self.read_one(folder, &place.join(entry.expect("its entry can be read").file_name()));
        }
    }

    /// What stands in a file.
    ///
    /// # Panics
    /// When there is no such file.
    #[must_use]
    pub fn text(&self, file: &str) -> &str {
        self.0.get(Path::new(file)).unwrap_or_else(|| panic!("{file} is no more"))
    }

    /// Adds a file, or replaces it.
    pub fn put(&mut self, place: impl Into<PathBuf>, text: impl Into<String>) {
        self.0.insert(place.into(), text.into());
    }

    /// Applies an edit.
    ///
    /// # Panics
    /// When its text does not stand in the file exactly once.
    pub fn edit(&mut self, edit: &Edit) {
        let edited =
            self.edited(edit).unwrap_or_else(|why| panic!("write the edit anew: {why}\n{}", edit.from));
        self.put(edit.file, edited);
    }

    fn edited(&self, edit: &Edit) -> Result<String, String> {
        let text = self.0.get(Path::new(edit.file)).ok_or_else(|| format!("{} is no more", edit.file))?;
        match text.matches(edit.from).count() {
            1 => Ok(text.replacen(edit.from, edit.to, 1)),
            count => Err(format!("stands {count} times in {}", edit.file)),
        }
    }

    /// Makes `folder` hold these files and no others. Files that hold the same already are left alone, so that Cargo builds what has
    /// changed.
    ///
    /// # Panics
    /// When a file cannot be written or removed.
    pub fn write(&self, folder: &Path) {
        std::fs::create_dir_all(folder).expect("the folder can be made");
        let old = Self::read(folder, &[""]);
        for place in old.0.keys().filter(|place| !self.0.contains_key(*place)) {
            std::fs::remove_file(folder.join(place)).expect("an old file can be removed");
        }
        for (place, text) in &self.0 {
            if old.0.get(place) != Some(text) {
                let path = folder.join(place);
                std::fs::create_dir_all(path.parent().expect("a file stands in a folder"))
                    .expect("the folder can be made");
                std::fs::write(&path, text).expect("a file can be written");
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::{Edit, Sources};

    fn edited(file: &'static str, text: &str) -> Result<String, String> {
        let mut sources = Sources::default();
        sources.put("a.rs", text);
        sources.edited(&Edit { file, from: "check();", to: "" })
    }

    #[test]
    fn an_edit_replaces_the_one_place_where_its_text_stands_and_is_refused_elsewhere() {
        assert_eq!(edited("a.rs", "read(); check();write();"), Ok("read(); write();".to_owned()));
        let refused = |why: &str| Err(why.to_owned());
        assert_eq!(edited("a.rs", "read(); check() ;write();"), refused("stands 0 times in a.rs"));
        assert_eq!(edited("a.rs", "check();check();"), refused("stands 2 times in a.rs"));
        assert_eq!(edited("b.rs", "check();"), refused("b.rs is no more"));
    }

    #[test]
    fn a_folder_holds_what_was_written_last_and_nothing_older() {
        let folder = tempfile::tempdir().unwrap();
        let mut sources = Sources::default();
        sources.put("src/old.rs", "old");
        sources.put("src/kept.rs", "kept");
        sources.write(folder.path());
        let mut sources = Sources::default();
        sources.put("src/kept.rs", "changed");
        sources.put("src/deep/new.rs", "new");
        sources.write(folder.path());
        assert_eq!(Sources::read(folder.path(), &["src"]), sources);
    }
}
