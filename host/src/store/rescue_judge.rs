//! Tells which rows of a damaged database read as they were written: by the sum of their table, else by their step of the
//! chain, and for records of running by the row that was derived from them, which stands elsewhere in the file.

use std::collections::{BTreeMap, BTreeSet};

use rusqlite::Connection;
use rusqlite::types::Value;
use shared_types::RecordSeq;
use shared_types::log::{Event, Record};

use super::chain_numbers::{Group, Numbers};
use super::content_sum::{Content, ENTRY, EVENT, GONE, HELLO, LOG, PERSON_NAME, RAW_RECORD, Sum};
use super::derive::RecordReader;
use super::rescue_pages::{self, PageRows};
use super::rescue_rows::{Rows, Source, read, whole};
use super::{missing_ranges, rescue_shapes as shapes};
use host_core::book::Link;
use host_core::book::canonical::{self, Fields, RowsDigest};

/// Everything of a damaged file that could be read.
#[derive(Debug, Default)]
pub struct Remains {
    pub entry: Rows,
    pub hello: Rows,
    pub log: Rows,
    pub gone: Rows,
    pub chain: Rows,
    pub name: Rows,
    pub raw: Rows,
    segment: Rows,
    event: Rows,
    sums: BTreeMap<(String, i64), Sum>,
    /// Whether the file is from before the chain: there is nothing to judge its rows by.
    is_unguarded: bool,
}

/// A step of the chain as it reads.
#[derive(Clone, Debug)]
pub struct Step {
    pub covers: String,
    pub row_id: i64,
    pub numbers: String,
    link: Option<Link>,
}

/// Which rows may be taken.
#[derive(Debug, Default)]
pub struct Sound {
    pub entries: BTreeSet<i64>,
    pub hearings: BTreeSet<i64>,
    pub logs: BTreeSet<i64>,
    pub gone: BTreeSet<Vec<i64>>,
    pub records: BTreeSet<Vec<i64>>,
    pub names: bool,
}

const HELLO_COLUMNS: &str = "id, heard_at, place, logger, log, oldest, next, acknowledged, formatted_with_run_ms,
    formatted_with_edges, total_run_ms, total_edges, boot, uptime_ms, faults, record_version, firmware, build, settings";

impl Remains {
    /// Reads everything that can be read of an opened copy, and from the bytes of its file what it does not lead to.
    pub fn of(connection: &Connection, file: &[u8]) -> Self {
        let mut pages = None;
        let mut read =
            |table, columns, key, wanted: &[Vec<i64>], of_pages: fn(&PageRows) -> Vec<Vec<Value>>| {
                let source = Source { table, columns, key };
                let mut rows = read(connection, source, wanted);
                if !rows.is_whole {
                    rows.take_in(key.len(), of_pages(pages.get_or_insert_with(|| rescue_pages::all(file))));
                }
                rows
            };
        let chain =
            read("chain", "position, covers, row_id, numbers, link", &["position"], &[], shapes::chain);
        let mut remains = Self { chain, ..Self::default() };
        let steps = remains.steps();
        let named = |covers: &str| -> Vec<Vec<i64>> {
            steps.values().filter(|step| step.covers == covers).map(|step| vec![step.row_id]).collect()
        };
        let records: Vec<Vec<i64>> = steps.values().flat_map(keys_of_records).collect();
        let without_variant: Vec<Vec<i64>> =
            records.iter().filter_map(|key| Some(vec![*key.first()?, *key.get(1)?])).collect();
        remains.entry = read("entry", "id, entered_at, kind, body", &["id"], &named("entry"), shapes::entry);
        remains.hello = read("hello", HELLO_COLUMNS, &["id"], &named("heard"), shapes::hello);
        remains.log = read("log", "id, logger, log", &["id"], &named("records"), shapes::log);
        let gone = "log_id, from_seq, below_seq";
        remains.gone = read("gone", gone, &["log_id", "from_seq", "below_seq"], &[], shapes::gone);
        remains.name = read("person_name", "person, name", &["person"], &[], shapes::name);
        let raw = "log_id, seq, variant, received_at, body";
        remains.raw = read("raw_record", raw, &["log_id", "seq", "variant"], &records, shapes::raw);
        let segment = "log_id, seq, boot, at_ms, run_ms, edges, angle, continues";
        remains.segment = read("segment", segment, &["log_id", "seq"], &without_variant, shapes::segment);
        remains.event = read("event", "log_id, seq, kind", &["log_id", "seq"], &[], shapes::event);
        remains.sums = read_sums(connection)
            .unwrap_or_else(|| shapes::sums(pages.get_or_insert_with(|| rescue_pages::all(file))));
        let version = connection.pragma_query_value(None, "user_version", |row| row.get::<_, i64>(0));
        remains.is_unguarded = remains.chain.rows.is_empty() && matches!(version, Ok(1));
        remains
    }

    /// The steps of the chain that can be read.
    pub fn steps(&self) -> BTreeMap<i64, Step> {
        let step = |(key, row): (&Vec<i64>, &Vec<Value>)| {
            let (Value::Text(covers), Value::Text(numbers)) = (row.get(1)?, row.get(3)?) else { return None };
            let link = match row.get(4)? {
                Value::Blob(bytes) => <[u8; 32]>::try_from(bytes.as_slice()).ok().map(Link),
                _ => None,
            };
            let (covers, row_id, numbers) = (covers.clone(), whole(row.get(2)?)?, numbers.clone());
            Some((*key.first()?, Step { covers, row_id, numbers, link }))
        };
        self.chain.rows.iter().filter_map(step).collect()
    }

    /// How many rows a table should have.
    pub fn should_have(&self, content: &Content) -> Option<u64> {
        self.sums.get(&(content.table.to_owned(), 0)).map(|sum| sum.rows.unsigned_abs())
    }

    /// Which rows may be taken.
    pub fn sound(&self, reading: &RecordReader) -> Sound {
        let passed = self.passed();
        let whole = |content: &Content, rows: &Rows| self.is_unguarded || self.fits(content, rows);
        let by = |all: bool, rows: &Rows, covers: &str| -> BTreeSet<i64> {
            let of_step = |id: &i64| passed.iter().any(|step| step.covers == covers && step.row_id == *id);
            rows.rows.keys().filter_map(|key| key.first().copied()).filter(|id| all || of_step(id)).collect()
        };
        let mut sound = Sound {
            entries: by(whole(&ENTRY, &self.entry), &self.entry, "entry"),
            hearings: by(whole(&HELLO, &self.hello), &self.hello, "heard"),
            // In a file from before there were sums, names have no check at all.
            names: whole(&PERSON_NAME, &self.name) || self.sums.is_empty(),
            ..Sound::default()
        };
        let all_logs = whole(&LOG, &self.log);
        let is_heard = |row: &[Value]| {
            let hearing = |id| self.hello.rows.get(&vec![id]);
            sound.hearings.iter().filter_map(|id| hearing(*id)).any(|heard| heard.get(3..5) == row.get(1..3))
        };
        for (key, row) in &self.log.rows {
            let Some(id) = key.first().copied() else { continue };
            let of_step = passed
                .iter()
                .any(|step| step.covers != "entry" && step.covers != "heard" && step.row_id == id);
            if all_logs || of_step || is_heard(row) {
                sound.logs.insert(id);
            }
        }
        let all_gone = whole(&GONE, &self.gone);
        for key in self.gone.rows.keys() {
            let [log_id, from, below] = key.as_slice() else { continue };
            let of_step = passed.iter().any(|step| {
                step.covers == "gone" && step.row_id == *log_id && step.numbers == format!("{from}-{below}")
            });
            if sound.logs.contains(log_id) && (all_gone || of_step) {
                sound.gone.insert(key.clone());
            }
        }
        sound.records = self.sound_records(reading, &passed, &sound.logs);
        sound
    }

    fn sound_records(
        &self,
        reading: &RecordReader,
        passed: &[Step],
        logs: &BTreeSet<i64>,
    ) -> BTreeSet<Vec<i64>> {
        let mut sound: BTreeSet<Vec<i64>> = passed.iter().flat_map(keys_of_records).collect();
        for log_id in logs {
            let of_log = |rows: &Rows| {
                rows.rows
                    .range(vec![*log_id]..vec![log_id.saturating_add(1)])
                    .map(|(key, row)| (key.clone(), row.clone()))
                    .collect::<Vec<_>>()
            };
            let raw = of_log(&self.raw);
            if self.is_unguarded
                || self.sum_fits(&RAW_RECORD, *log_id, raw.iter().map(|(_, row)| row.iter().skip(1)))
            {
                sound.extend(raw.into_iter().map(|(key, _)| key));
                continue;
            }
            let events = of_log(&self.event);
            let body = |key: &Vec<i64>| {
                let key = vec![*log_id, *key.get(1)?, 0];
                self.raw.rows.get(&key)?.get(4).cloned()
            };
            let joined: Vec<Vec<Value>> = events
                .iter()
                .map(|(key, row)| {
                    row.iter().skip(1).cloned().chain([body(key).unwrap_or(Value::Null)]).collect()
                })
                .collect();
            let events_fit = self.sum_fits(&EVENT, *log_id, joined.iter().map(|row| row.iter()));
            for (key, row) in &raw {
                if key.get(2) != Some(&0) {
                    continue;
                }
                let pair: Vec<i64> = key.iter().take(2).copied().collect();
                let is_event = events_fit && self.event.rows.contains_key(&pair);
                if is_event
                    || self
                        .segment
                        .rows
                        .get(&pair)
                        .is_some_and(|derived| says_the_same(reading, row, derived))
                {
                    sound.insert(key.clone());
                }
            }
        }
        sound.retain(|key| {
            self.raw.rows.contains_key(key) && key.first().is_some_and(|log| logs.contains(log))
        });
        sound
    }

    fn fits(&self, content: &Content, rows: &Rows) -> bool {
        self.sum_fits(content, 0, rows.rows.values().map(|row| row.iter()))
    }

    fn sum_fits<'row>(
        &self,
        content: &Content,
        log_id: i64,
        rows: impl Iterator<Item = impl Iterator<Item = &'row Value>>,
    ) -> bool {
        let (mut sum, mut bytes) = (Sum::default(), Vec::new());
        for row in rows {
            sum.values(&mut bytes, row.map(Into::into));
        }
        self.sums.get(&(content.table.to_owned(), log_id)) == Some(&sum)
    }

    /// The steps that hold. A step whose own link was damaged is told by the next one, which holds after what its link should
    /// be.
    fn passed(&self) -> Vec<Step> {
        let steps = self.steps();
        let mut passed = BTreeMap::new();
        let mut made: BTreeMap<i64, Link> = BTreeMap::new();
        for (position, step) in &steps {
            let Some(content) = self.content(step) else { continue };
            let before = position.saturating_sub(1);
            let stored = match before {
                0 => Some(Link::BEFORE_THE_FIRST),
                _ => steps.get(&before).and_then(|step| step.link),
            };
            let place = position.unsigned_abs();
            for (previous, is_made) in [(stored, false), (made.get(&before).copied(), true)] {
                let Some(previous) = previous else { continue };
                let link = Link::after(previous, place, &content);
                made.entry(*position).or_insert(link);
                if step.link == Some(link) {
                    passed.insert(*position, step.clone());
                    if is_made && let Some(earlier) = steps.get(&before) {
                        passed.insert(before, earlier.clone());
                    }
                    break;
                }
            }
        }
        passed.into_values().collect()
    }

    /// The canonical bytes of what a step covers, as it reads.
    fn content(&self, step: &Step) -> Option<Fields> {
        let integer = |row: &[Value], column: usize| row.get(column).and_then(whole);
        let log = |id: i64| {
            let row = self.log.rows.get(&vec![id])?;
            Some((integer(row, 1)?.cast_unsigned(), u32::try_from(integer(row, 2)?).ok()?))
        };
        match step.covers.as_str() {
            "entry" => {
                let row = self.entry.rows.get(&vec![step.row_id])?;
                let (Value::Text(kind), Value::Text(body)) = (row.get(2)?, row.get(3)?) else { return None };
                Some(canonical::entry(step.row_id, integer(row, 1)?, kind.as_bytes(), body.as_bytes()))
            }
            "heard" => {
                let mut fields = Fields::of("heard");
                for value in self.hello.rows.get(&vec![step.row_id])? {
                    match value {
                        Value::Integer(number) => fields.shown(number),
                        Value::Text(text) => fields.bytes(text.as_bytes()),
                        _ => fields.bytes(&[]),
                    };
                }
                Some(fields)
            }
            "records" => {
                let (logger, log) = log(step.row_id)?;
                let mut digest = RowsDigest::default();
                for key in keys_of_records(step) {
                    let row = self.raw.rows.get(&key)?;
                    let Value::Blob(body) = row.get(4)? else { return None };
                    digest.row(integer(row, 1)?, integer(row, 2)?, integer(row, 3)?, body);
                }
                Some(canonical::records(logger, log, step.numbers.as_bytes(), digest))
            }
            "gone" => {
                let (logger, log) = log(step.row_id)?;
                let (from, below) = missing_ranges::range(&step.numbers)?;
                self.gone.rows.get(&vec![step.row_id, from.into(), below.into()])?;
                Some(canonical::gone(logger, log, from, below))
            }
            _ => None,
        }
    }
}

/// The keys of the records that a step covers; none for any other step.
pub fn keys_of_records(step: &Step) -> Vec<Vec<i64>> {
    // A damaged text may name any number of records; no step ever covered more than a pull could bring.
    const MOST: u32 = 20_000_000;
    let numbers: Option<Numbers> = step.numbers.parse().ok().filter(|_| step.covers == "records");
    let group = |group: &Group| {
        let Group { variant, from: RecordSeq(from), to: RecordSeq(to) } = *group;
        let to = to.min(from.saturating_add(MOST));
        (from..=to).map(|seq| vec![step.row_id, i64::from(seq), variant]).collect::<Vec<_>>()
    };
    numbers.iter().flat_map(|numbers| numbers.groups().iter().flat_map(group)).collect()
}

/// The sums that were kept; none when they cannot be read to their end.
fn read_sums(connection: &Connection) -> Option<BTreeMap<(String, i64), Sum>> {
    let mut statement =
        connection.prepare("SELECT content, log_id, row_count, row_sum FROM content_sum").ok()?;
    let sums = statement
        .query_map((), |row| Ok(((row.get(0)?, row.get(1)?), Sum::of_numbers(row.get(2)?, row.get(3)?))));
    sums.ok()?.collect::<Result<_, _>>().ok()
}

/// Whether a record and what was derived from it long ago say the same.
fn says_the_same(reading: &RecordReader, raw: &[Value], derived: &[Value]) -> bool {
    let Some(Value::Blob(body)) = raw.get(4) else { return false };
    let Ok(Record { boot, at, event: Event::Segment(segment) }) = (reading.read)(body) else { return false };
    let angle = segment.angle.map_or(Value::Null, |angle| Value::Integer(angle.steps().into()));
    let said = [
        Value::Integer(boot.0.into()),
        Value::Integer(at.0.cast_signed()),
        Value::Integer(segment.run.0.cast_signed()),
        Value::Integer(segment.edges.into()),
        angle,
        Value::Integer(segment.continues.into()),
    ];
    derived.get(2..) == Some(&said[..])
}
