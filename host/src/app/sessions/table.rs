//! A notebook of sessions as a table: `date,frame,motor,knob,rug,who`.

use std::collections::BTreeMap;

use serde::Serialize;

use super::error::{SessionError, words};
use super::note::{self, SessionSaid, WhenSaid};
use crate::app::hand::People;
use crate::app::ports::book::Names;
use crate::app::ports::{Clock, Store};
use crate::app::typed::column_table::{self, TableError, at};
use crate::app::typed::dates;
use crate::app::typed::measures::{lasting_ms, per_mille};
use crate::app::whole_book::Book;
use host_core::entries::{EntryBody, EntryId, SessionNoted};
use host_core::sessions::local_day;
use host_core::sessions::typed_doubts::{CountedSessions, TypedDoubt, doubts};
use jiff::tz::TimeZone;

/// The most rows that are read: two sessions a day in thirty years.
const MOST_ROWS: usize = 20_000;

/// What became of a table.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct TableReport {
    /// Sessions noted.
    pub noted: u64,
    /// Their entries.
    pub entries: Vec<EntryId>,
    /// Rows that had been noted before, and were not noted again.
    pub known: u64,
    /// Time at the frame of the noted ones, in milliseconds.
    pub frame_time_ms: u64,
}

/// One row as it would be noted.
struct NotedRow {
    line: u64,
    noted: SessionNoted,
    who: Option<String>,
}

/// Notes all sessions of a table, or none. What was noted before is not noted again. `machine` is that of all rows.
///
/// # Errors
/// Names the first line that cannot be, or is asked about unless `anyway`; or when the store fails. Nothing is noted then.
pub fn note_all(
    store: &mut (impl Store + Names),
    clock: &impl Clock,
    csv: &[u8],
    machine: Option<u32>,
    anyway: bool,
) -> Result<TableReport, SessionError> {
    let (book, zone) = (Book::read(store)?, clock.zone());
    let known = People::read(store)?;
    let rows = read(&book, clock, csv, machine, &known)?;
    let (new, known_rows) = without_known(&book, rows, &zone);
    if !anyway {
        // Each row beside those before it, too: the notebook may hold the same time twice.
        let (counted, mut studio) = (CountedSessions::of(&book.ledger(), &zone), book.studio.clone());
        for NotedRow { line, noted, .. } in &new {
            let since_is_said = note::since_is_said(&book.entries, noted.machine);
            if let Some(doubt) = doubts(&studio, &counted, noted, since_is_said, &zone).first() {
                return Err(doubted(*line, doubt, &zone, new.len()).into());
            }
            studio.worked.push(studio.motor_shares.worked_of(EntryId(0), noted.clone(), None));
        }
    }
    let entries = store.together(|store| {
        let mut entries = Vec::with_capacity(new.len());
        let mut known = known;
        for row in &new {
            let who = row.who.as_deref();
            if who.is_some_and(|who| known.find(who).is_err()) {
                note::person(store, clock, &known, who.unwrap_or_default())?;
                known = People::read(store)?;
            }
            let person = who.map(|who| known.find(who).map(|person| person.person)).transpose()?;
            let noted = SessionNoted { person, ..row.noted.clone() };
            entries.push(store.add_entry(clock.now(), &EntryBody::SessionNoted(noted))?);
        }
        Ok::<_, SessionError>(entries)
    })?;
    Ok(TableReport {
        noted: u64::try_from(entries.len()).unwrap_or(u64::MAX),
        entries,
        known: known_rows,
        frame_time_ms: new.iter().filter_map(|row| row.noted.frame_ms).fold(0, u64::saturating_add),
    })
}

fn doubted(line: u64, doubt: &TypedDoubt, zone: &TimeZone, rows: usize) -> TableError {
    let what = match doubt {
        TypedDoubt::Typed { entry: EntryId(0) } => "a row before it has the same time".to_owned(),
        _ => words(doubt, zone),
    };
    at(line, format!("{what}. Nothing was noted of {rows} rows; if it is right all the same, add --anyway"))
}

fn read(
    book: &Book,
    clock: &impl Clock,
    csv: &[u8],
    machine: Option<u32>,
    known: &People,
) -> Result<Vec<NotedRow>, SessionError> {
    let columns = ["frame", "motor", "knob", "rug", "who"];
    let rows = column_table::read(csv, ["date"], columns, MOST_ROWS)?;
    let good = rows.len().saturating_sub(1);
    let read_row = |row: column_table::Row<1, 5>| {
        let ([date], [frame, motor, knob, rug, who]) = (row.cells, row.beside);
        let said = |cell: String| Some(cell).filter(|cell| !cell.is_empty());
        let length = |cell: String| said(cell).map(|cell| lasting_ms(&cell)).transpose();
        let who = said(who);
        let noted = (|| {
            let said = SessionSaid {
                machine,
                frame_ms: length(frame)?,
                motor_ms: length(motor)?,
                rug: said(rug),
                who: None,
                knob_per_mille: said(knob).map(|cell| per_mille(&cell)).transpose()?,
                when: WhenSaid::Began(dates::parse(&date, clock)?),
            };
            let person = who.as_deref().and_then(|who| known.find(who).ok()).map(|known| known.person);
            Ok::<_, SessionError>(SessionNoted { person, ..note::noted(book, clock, &said)? })
        })();
        let line = row.line;
        let noted = noted
            .map_err(|error| at(line, format!("{error}; nothing was noted of it and {good} other rows")))?;
        Ok(NotedRow { line, noted, who })
    };
    rows.into_iter().map(read_row).collect()
}

/// The rows without those that were noted before, as often as they were.
fn without_known(book: &Book, rows: Vec<NotedRow>, zone: &TimeZone) -> (Vec<NotedRow>, u64) {
    let key = |noted: &SessionNoted| {
        // A day stands at its noon or, where that has not come yet, at the moment of its entry.
        let day = local_day(noted.at, zone).filter(|_| noted.is_day);
        let moment = Some(noted.at).filter(|_| day.is_none());
        let rug = noted.rug.as_ref().map(|rug| rug.0.to_lowercase());
        let lengths = (noted.frame_ms, noted.run.map(|run| run.0), noted.knob_per_mille);
        (noted.machine, day, moment, lengths, rug, noted.person)
    };
    let mut there: BTreeMap<_, u64> = BTreeMap::new();
    for session in &book.studio.worked {
        *there.entry(key(&session.said)).or_default() += 1;
    }
    let mut known = 0;
    let new = rows.into_iter().filter(|row| match there.get_mut(&key(&row.noted)) {
        Some(count) if *count > 0 => {
            *count -= 1;
            known += 1;
            false
        }
        _ => true,
    });
    (new.collect(), known)
}
