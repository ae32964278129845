//! The question about days of which nothing was noted, once for each such stretch, with whichever command comes first.

use std::fs;
use std::path::{Path, PathBuf};

use shared_types::UtcMillis;

use super::ask;
use super::command_env::CommandEnv;
use crate::app::rugs::quiet;
use crate::view;

/// The question, where somebody is there to read it, a database is there already and it was not asked before.
pub fn question(around: &CommandEnv) -> Option<String> {
    let path = around.database_path().ok().filter(|_| ask::somebody_is_there())?;
    if around.would_make(&path) {
        return None;
    }
    // What is wrong with the database is told by the command itself.
    let store = around.open_database().ok()?;
    let (found, is_without_logger) = quiet::quiet_days(&store, around.clock()).ok()??;
    is_first(&asked_file()?, found.since).then(|| view::rugs::quiet::quiet(&found, is_without_logger))
}

fn asked_file() -> Option<PathBuf> {
    use etcetera::BaseStrategy;
    Some(etcetera::choose_base_strategy().ok()?.cache_dir().join("needlehours").join("asked"))
}

/// Whether it was not asked before of a stretch that began then; notes that it is now. Where that cannot be kept, it is not
/// asked, so that nobody reads it with every command.
fn is_first(file: &Path, since: UtcMillis) -> bool {
    let mark = since.0.to_string();
    if fs::read_to_string(file).is_ok_and(|asked| asked == mark) {
        return false;
    }
    let Some(folder) = file.parent() else { return false };
    fs::create_dir_all(folder).and_then(|()| fs::write(file, &mark)).is_ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_stretch_is_asked_about_once_and_the_next_one_again() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("needlehours").join("asked");
        assert!(is_first(&file, UtcMillis(7)));
        assert!(!is_first(&file, UtcMillis(7)));
        assert!(is_first(&file, UtcMillis(8)));
    }

    #[test]
    fn where_nothing_can_be_kept_nothing_is_asked() {
        let folder = tempfile::tempdir().unwrap();
        let in_the_way = folder.path().join("needlehours");
        fs::write(&in_the_way, "a file").unwrap();
        assert!(!is_first(&in_the_way.join("asked"), UtcMillis(7)));
    }
}
