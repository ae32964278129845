//! Puts everything of a damaged database that reads as it was written into a new one.
//!
//! The damaged file is only copied; the copy is what is read. The new file appears under its name when it is whole.

use std::collections::BTreeSet;
use std::ffi::OsStr;
use std::fs;
use std::io::{Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};

use rusqlite::types::Value;
use rusqlite::{Connection, params_from_iter};
use shared_types::{RecordSeq, UtcMillis};

use super::chain_numbers::Numbers;
use super::content_sum::{self, ENTRY, HELLO, KEPT, PERSON_NAME};
use super::derive::{self, RecordReader};
use super::failure::{Fault, failed};
use super::migrate::APPLICATION_ID;
use super::rescue_judge::{Remains, Sound, keys_of_records};
use super::{Database, chain, content_begin, journal_check, missing_ranges, rescue_rows};
use crate::app::keeping::rescue::{Missing, RescueReport};
use crate::app::ports::{Store as _, StoreError};

/// Reads `from` and makes `into`, which must not be there yet.
///
/// # Errors
/// When `into` is there already, its folder is not, `from` cannot be copied, or the new one cannot be written.
pub fn rescue(from: &Path, into: &Path, at: UtcMillis) -> Result<RescueReport, StoreError> {
    let beside = |end: &str| with_end(into, end);
    let (copy, partial) = (beside(".reading"), beside(".partial"));
    if fs::exists(into).unwrap_or(true) {
        return Err(StoreError::IsThere { path: into.to_owned() });
    }
    let outcome = copied(from, &copy).and_then(|()| written(from, &copy, into, &partial, at));
    for file in [&copy, &partial] {
        for end in ["", "-wal", "-shm", "-journal"] {
            remove(&with_end(file, end))?;
        }
    }
    outcome
}

fn with_end(path: &Path, end: &str) -> PathBuf {
    let mut name = path.file_name().unwrap_or_else(|| OsStr::new("new")).to_owned();
    name.push(end);
    path.with_file_name(name)
}

fn remove(file: &Path) -> Result<(), StoreError> {
    match fs::remove_file(file) {
        Err(error) if error.kind() != std::io::ErrorKind::NotFound => {
            Err(StoreError::Failed { doing: "take away its working copy", source: error.into() })
        }
        _ => Ok(()),
    }
}

/// Copies the damaged file with its journal, takes in what the journal holds, and gives the copy a sound header.
fn copied(from: &Path, copy: &Path) -> Result<(), StoreError> {
    let uncopied =
        |source: std::io::Error| StoreError::Failed { doing: "be copied to be read", source: source.into() };
    for end in ["", "-wal", "-shm", "-journal"] {
        remove(&with_end(copy, end))?;
    }
    fs::copy(from, copy).map_err(uncopied)?;
    let journal = with_end(from, "-wal");
    if fs::exists(&journal).map_err(uncopied)? {
        fs::copy(&journal, with_end(copy, "-wal")).map_err(uncopied)?;
        // A journal that cannot be taken in is damaged, too; the file alone is then what there is.
        let taken = Connection::open(copy)
            .and_then(|journal| journal.query_row("PRAGMA wal_checkpoint(TRUNCATE)", (), |_| Ok(())));
        if taken.is_err() {
            fs::copy(from, copy).map_err(uncopied)?;
        }
        remove(&with_end(copy, "-wal"))?;
        remove(&with_end(copy, "-shm"))?;
    }
    with_sound_header(copy).map_err(uncopied)
}

/// What the first hundred bytes of every file of the program say (SQLite, "Database File Format", 1.3), but for the version
/// of its tables. No freelist: nothing is written into the copy.
fn with_sound_header(copy: &Path) -> std::io::Result<()> {
    const PAGE: u64 = 4096;
    let pages = u32::try_from(fs::metadata(copy)?.len() / PAGE).unwrap_or(u32::MAX);
    let mut file = fs::OpenOptions::new().write(true).open(copy)?;
    let mut start = b"SQLite format 3\0".to_vec();
    start.extend_from_slice(&[0x10, 0, 1, 1, 0, 64, 32, 32, 0, 0, 0, 1]);
    start.extend_from_slice(&pages.to_be_bytes());
    file.write_all(&start)?;
    // Freelist, schema cookie and format, cache, vacuum, UTF-8.
    file.write_all(&[0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 1, 0, 0, 0, 4, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 1])?;
    file.seek(SeekFrom::Start(64))?;
    file.write_all(&[0, 0, 0, 0])?;
    file.write_all(&APPLICATION_ID.to_be_bytes())?;
    file.write_all(&[0; 20])?;
    // Of which change the number of pages is.
    file.write_all(&[0, 0, 0, 1])
}

fn written(
    from: &Path,
    copy: &Path,
    into: &Path,
    partial: &Path,
    at: UtcMillis,
) -> Result<RescueReport, StoreError> {
    let reading = RecordReader::default();
    let damaged = Connection::open(copy).map_err(failed("be read"))?;
    let file =
        fs::read(copy).map_err(|source| StoreError::Failed { doing: "be read", source: source.into() })?;
    let remains = Remains::of(&damaged, &file);
    let sound = remains.sound(&reading);
    for end in ["", "-wal", "-shm"] {
        remove(&with_end(partial, end))?;
    }
    let mut new = Database::open(partial)?;
    new.together(|new| {
        fill(&new.connection, &remains, &sound)
            .map_err(Fault::from)
            .and_then(|()| Ok(content_begin::note_all(&new.connection, at.0)?))
            .and_then(|()| Ok(content_sum::renew(&new.connection, &KEPT)?))
            .and_then(|()| derive::rebuild(&new.connection, &reading))
            .map_err(failed("fill the new database"))
    })?;
    let mut report = report(&remains, &sound);
    if journal_check::is_damaged(from) {
        report.is_whole = false;
        report.missing.push(Missing::Newest);
    }
    drop((new, damaged));
    fs::rename(partial, into).map_err(|source| StoreError::Failed {
        doing: "give the new database its name",
        source: source.into(),
    })?;
    report.from = from.to_owned();
    report.into = into.to_owned();
    Ok(report)
}

/// Puts the sound rows in, under their own numbers, and chains them in their old order.
fn fill(new: &Connection, remains: &Remains, sound: &Sound) -> rusqlite::Result<()> {
    let insert = |table: &str, row: &[Value]| {
        let places: Vec<String> = (1..=row.len()).map(|place| format!("?{place}")).collect();
        let columns = match table {
            "log" => " (id, logger, log)",
            _ => "",
        };
        new.prepare_cached(&format!("INSERT INTO {table}{columns} VALUES ({})", places.join(", ")))?
            .execute(params_from_iter(row))
            .map(drop)
    };
    let one = |ids: &BTreeSet<i64>| ids.iter().map(|id| vec![*id]).collect::<Vec<_>>();
    let names: Vec<Vec<i64>> =
        if sound.names { remains.name.rows.keys().cloned().collect() } else { Vec::new() };
    for (table, rows, keys) in [
        ("log", &remains.log, one(&sound.logs)),
        ("entry", &remains.entry, one(&sound.entries)),
        ("hello", &remains.hello, one(&sound.hearings)),
        ("gone", &remains.gone, sound.gone.iter().cloned().collect()),
        ("raw_record", &remains.raw, sound.records.iter().cloned().collect()),
        ("person_name", &remains.name, names),
    ] {
        for row in keys.iter().filter_map(|key| rows.rows.get(key)) {
            insert(table, row)?;
        }
    }
    // A number that was given once is not given again, even if its entry is lost.
    let last =
        known(remains, "entry", &remains.entry.rows.keys().filter_map(|key| key.first().copied()).collect());
    new.execute(
        "UPDATE sqlite_sequence SET seq = max(seq, ?1) WHERE name = 'entry'",
        (last.last().unwrap_or(&0),),
    )?;
    link(new, remains, sound)
}

fn link(new: &Connection, remains: &Remains, sound: &Sound) -> rusqlite::Result<()> {
    let (mut entries, mut hearings) = (sound.entries.clone(), sound.hearings.clone());
    let (mut gone, mut records) = (sound.gone.clone(), sound.records.clone());
    for step in remains.steps().values() {
        match step.covers.as_str() {
            "entry" if entries.remove(&step.row_id) => drop(chain::link_entry(new, step.row_id)?),
            "heard" if hearings.remove(&step.row_id) => drop(chain::link_heard(new, step.row_id)?),
            "gone" => {
                let range = missing_ranges::range(&step.numbers);
                if let Some((from, below)) = range
                    && gone.remove(&vec![step.row_id, from.into(), below.into()])
                {
                    missing_ranges::link(new, step.row_id, RecordSeq(from), RecordSeq(below))?;
                }
            }
            "records" => {
                let keys: Vec<Vec<i64>> =
                    keys_of_records(step).into_iter().filter(|key| records.remove(key)).collect();
                link_records(new, &keys)?;
            }
            _ => {}
        }
    }
    // What no step that can be read names.
    entries.iter().try_for_each(|id| chain::link_entry(new, *id).map(drop))?;
    hearings.iter().try_for_each(|id| chain::link_heard(new, *id).map(drop))?;
    for key in &gone {
        if let (Some(log_id), Some(from), Some(below)) = (key.first(), number(key, 1), number(key, 2)) {
            missing_ranges::link(new, *log_id, RecordSeq(from), RecordSeq(below))?;
        }
    }
    for log_id in &sound.logs {
        let keys: Vec<Vec<i64>> = records.iter().filter(|key| key.first() == Some(log_id)).cloned().collect();
        link_records(new, &keys)?;
    }
    Ok(())
}

fn number(key: &[i64], place: usize) -> Option<u32> {
    key.get(place).and_then(|number| u32::try_from(*number).ok())
}

/// Chains records of one log.
fn link_records(new: &Connection, keys: &[Vec<i64>]) -> rusqlite::Result<()> {
    match keys.first().and_then(|key| key.first()) {
        Some(log_id) => chain::link_records(new, *log_id, &numbers(keys)).map(drop),
        None => Ok(()),
    }
}

fn numbers(keys: &[Vec<i64>]) -> Numbers {
    let number = |key: &Vec<i64>| Some((*key.get(2)?, RecordSeq(number(key, 1)?)));
    Numbers::of(keys.iter().filter_map(number).collect())
}

/// The numbers that a kind of row is known to have had, from its rows and from the chain.
fn known(remains: &Remains, covers: &str, read: &BTreeSet<i64>) -> BTreeSet<i64> {
    let steps = remains.steps();
    steps
        .values()
        .filter(|step| step.covers == covers)
        .map(|step| step.row_id)
        .chain(read.iter().copied())
        .collect()
}

fn report(remains: &Remains, sound: &Sound) -> RescueReport {
    let size = |number: usize| u64::try_from(number).unwrap_or(u64::MAX);
    let keys = |rows: &rescue_rows::Rows| rows.rows.keys().filter_map(|key| key.first().copied()).collect();
    let mut missing = Vec::new();
    let entries = known(remains, "entry", &keys(&remains.entry));
    for entry in entries.difference(&sound.entries).copied() {
        let body = remains.entry.rows.get(&vec![entry]).and_then(|row| row.get(3));
        let reads = match body {
            Some(Value::Text(text)) => Some(text.clone()),
            _ => None,
        };
        missing.push(Missing::Entry { entry, reads });
    }
    let hearings = known(remains, "heard", &keys(&remains.hello));
    missing
        .extend(hearings.difference(&sound.hearings).map(|hearing| Missing::Hearing { hearing: *hearing }));
    let tables = [
        (&ENTRY, entries.len(), remains.entry.is_whole),
        (&HELLO, hearings.len(), remains.hello.is_whole),
        (&PERSON_NAME, remains.name.rows.len(), remains.name.is_whole),
    ];
    for (content, there, is_whole) in tables {
        let rows = remains.should_have(content).map(|should| should.saturating_sub(size(there)));
        // Without a sum, a table that could not be read to its end may have had more.
        if rows.is_some_and(|rows| rows > 0) || (rows.is_none() && !is_whole) {
            missing.push(Missing::Rows { table: content.table, rows });
        }
    }
    missing.extend(missing_records(remains, sound));
    if !sound.names {
        for row in remains.name.rows.values() {
            if let (Some(Value::Integer(person)), Some(Value::Text(reads))) = (row.first(), row.get(1)) {
                missing.push(Missing::Name { person: *person, reads: reads.clone() });
            }
        }
    }
    RescueReport {
        is_whole: missing.is_empty(),
        entries: size(sound.entries.len()),
        hearings: size(sound.hearings.len()),
        records: size(sound.records.len()),
        names: if sound.names { size(remains.name.rows.len()) } else { 0 },
        missing,
        ..RescueReport::default()
    }
}

fn missing_records(remains: &Remains, sound: &Sound) -> Vec<Missing> {
    let of_steps = remains.steps();
    let mut lost: BTreeSet<Vec<i64>> = of_steps.values().flat_map(keys_of_records).collect();
    lost.extend(remains.raw.rows.keys().cloned());
    lost.retain(|key| !sound.records.contains(key));
    let logs: BTreeSet<i64> = lost.iter().filter_map(|key| key.first().copied()).collect();
    let of_log = |log_id: i64| {
        let keys: Vec<Vec<i64>> = lost.iter().filter(|key| key.first() == Some(&log_id)).cloned().collect();
        let name = remains.log.rows.get(&vec![log_id]).and_then(|row| match (row.get(1), row.get(2)) {
            (Some(Value::Integer(logger)), Some(Value::Integer(log))) => {
                Some(format!("{:016x}/{log:08x}", logger.cast_unsigned()))
            }
            _ => None,
        });
        Missing::Records { log: name.unwrap_or_default(), numbers: numbers(&keys).to_string() }
    };
    logs.into_iter().map(of_log).collect()
}
