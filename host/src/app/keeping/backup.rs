//! Backups: whether one is old, and whether putting one back would lose what was entered since.

use std::path::PathBuf;

use serde::Serialize;
use shared_types::UtcMillis;

use crate::app::ports::{Store, StoreError};
use host_core::stats::DAY_MS;

/// Days after which a backup counts as old, until the maker says otherwise. Our assumption, from no source: what was entered in
/// a week can still be entered again from memory.
pub const START_LIMIT_DAYS: u32 = 7;

const A_DAY_MS: i64 = DAY_MS.cast_signed();

/// What is remembered of backups, beside the database and not in it: a database that is put back must not remember others.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, serde::Deserialize)]
pub struct BackupNote {
    /// When the last one was made.
    pub last_utc_ms: Option<i64>,
    /// Where it was put.
    pub file: Option<PathBuf>,
    /// Days after which it counts as old; none: [`START_LIMIT_DAYS`].
    pub limit_days: Option<u32>,
}

/// How the backups of a database stand.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct BackupSeen {
    /// When the last one was made; none when none is known.
    pub last_utc_ms: Option<UtcMillis>,
    /// Where it was put.
    pub file: Option<PathBuf>,
    /// Whole days since.
    pub days_ago: Option<i64>,
    /// Days after which it counts as old.
    pub limit_days: u32,
    /// Whether the limit is the start value, which is an assumption.
    pub limit_is_assumed: bool,
    /// Whether there is none that is young enough.
    pub is_overdue: bool,
}

impl BackupSeen {
    /// Judges what is remembered.
    #[must_use]
    pub fn of(note: &BackupNote, now: UtcMillis) -> Self {
        let limit_days = note.limit_days.unwrap_or(START_LIMIT_DAYS);
        let limit_ms = i64::from(limit_days).saturating_mul(A_DAY_MS);
        let age_ms = note.last_utc_ms.map(|last| now.0.saturating_sub(last));
        Self {
            last_utc_ms: note.last_utc_ms.map(UtcMillis),
            file: note.file.clone(),
            days_ago: age_ms.map(|age| age.div_euclid(A_DAY_MS)),
            limit_days,
            limit_is_assumed: note.limit_days.is_none(),
            // One from the future was made by a wrong clock, and says nothing of its age.
            is_overdue: age_ms.is_none_or(|age| age < 0 || age > limit_ms),
        }
    }
}

/// What a backup or a database holds, in numbers.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Holds {
    /// The maker's entries.
    pub entries: u64,
    /// Records of loggers.
    pub records: u64,
}

impl Holds {
    /// Counts.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn of(store: &impl Store) -> Result<Self, StoreError> {
        let mut records = 0;
        for log in store.logs()?.iter() {
            records += store.holding(log.key)?.records;
        }
        Ok(Self { entries: store.entries()?.with_withdrawn().len() as u64, records })
    }
}

/// What the database holds and the backup does not.
///
/// # Errors
/// When one of them cannot be read.
pub fn lost_by_restoring(database: &impl Store, backup: &impl Store) -> Result<Holds, StoreError> {
    let (theirs, ours) = (backup.entries()?, database.entries()?);
    let (theirs, ours) = (theirs.with_withdrawn(), ours.with_withdrawn());
    let same = ours.iter().zip(theirs).take_while(|(one, other)| one == other).count();
    let mut records = 0;
    let logs = backup.logs()?;
    for log in database.logs()?.iter() {
        let held = database.holding(log.key)?.records;
        let there = match logs.iter().find(|other| other.key == log.key) {
            Some(other) => backup.holding(other.key)?.records,
            None => 0,
        };
        records += held.saturating_sub(there);
    }
    Ok(Holds { entries: (ours.len() - same) as u64, records })
}

/// What a backup did.
#[derive(Clone, Debug, Serialize)]
pub struct BackupReport {
    /// Where it lies.
    pub file: PathBuf,
    /// When it was made.
    pub made_utc_ms: UtcMillis,
    /// What it holds.
    #[serde(flatten)]
    pub holds: Holds,
}

/// What putting a backup back did.
#[derive(Clone, Debug, Serialize)]
pub struct RestoreReport {
    /// The backup.
    pub file: PathBuf,
    /// What it holds.
    #[serde(flatten)]
    pub holds: Holds,
    /// What the database before it held and it does not; none when there was no database, or one that could not be read.
    pub left_behind: Option<Holds>,
    /// Where the database before it lies now.
    pub kept_aside: Option<PathBuf>,
}
