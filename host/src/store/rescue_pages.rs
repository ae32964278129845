//! Reads rows straight from the pages of a database file, whatever the pages above them say: what is left when the list of
//! tables, or a page that leads to others, is damaged. The layout is that of SQLite's "Database File Format", sections 1.6 and 2.
//!
//! A page does not say which table it is of; a row is known by its shape, and taken only if it passes its checks.

use rusqlite::types::Value;

const PAGE: usize = 4096;
const TABLE_LEAF: u8 = 13;
const INDEX_LEAF: u8 = 10;
const INDEX_INTERIOR: u8 = 2;
/// The most columns of any table of the program.
const MOST_COLUMNS: usize = 19;

/// The rows of all pages: those of tables with their row number as the first value, and those of indexes and of tables
/// without row numbers.
#[derive(Debug, Default)]
pub struct PageRows {
    /// Rows of tables with row numbers.
    pub numbered: Vec<Vec<Value>>,
    /// Other rows.
    pub keyed: Vec<Vec<Value>>,
}

/// Reads every page of a file.
pub fn all(file: &[u8]) -> PageRows {
    let mut rows = PageRows::default();
    for (number, page) in file.chunks_exact(PAGE).enumerate() {
        let start = if number == 0 { 100 } else { 0 };
        let Some(kind) = page.get(start).copied() else { continue };
        if !matches!(kind, TABLE_LEAF | INDEX_LEAF | INDEX_INTERIOR) {
            continue;
        }
        let pointers = start + if kind == INDEX_INTERIOR { 12 } else { 8 };
        for cell in 0..usize::from(short(page, start + 3).unwrap_or(0)) {
            let Some(at) = short(page, pointers + 2 * cell).map(usize::from) else { break };
            match (kind, row(file, page, at, kind)) {
                (TABLE_LEAF, Some(values)) => rows.numbered.push(values),
                (_, Some(values)) => rows.keyed.push(values),
                (_, None) => {}
            }
        }
    }
    rows
}

fn short(bytes: &[u8], at: usize) -> Option<u16> {
    bytes.get(at..at.checked_add(2)?)?.try_into().ok().map(u16::from_be_bytes)
}

/// A number of one to nine bytes, and where it ends.
fn varint(bytes: &[u8], at: usize) -> Option<(u64, usize)> {
    let mut number = 0_u64;
    for place in 0..9 {
        let byte = *bytes.get(at + place)?;
        if place == 8 {
            return Some((number << 8 | u64::from(byte), at + 9));
        }
        number = number << 7 | u64::from(byte & 0x7F);
        if byte & 0x80 == 0 {
            return Some((number, at + place + 1));
        }
    }
    None
}

fn row(file: &[u8], page: &[u8], at: usize, kind: u8) -> Option<Vec<Value>> {
    let at = if kind == INDEX_INTERIOR { at + 4 } else { at };
    let (size, mut at) = varint(page, at)?;
    let mut number = None;
    if kind == TABLE_LEAF {
        let (found, after) = varint(page, at)?;
        (number, at) = (Some(found.cast_signed()), after);
    }
    let payload = payload(file, page, at, usize::try_from(size).ok()?, kind)?;
    let mut values = record(&payload)?;
    if let (Some(number), Some(first)) = (number, values.first_mut())
        && *first == Value::Null
    {
        *first = Value::Integer(number);
    }
    Some(values)
}

/// The bytes of a row, those on overflow pages included.
fn payload(file: &[u8], page: &[u8], at: usize, size: usize, kind: u8) -> Option<Vec<u8>> {
    if size > file.len() {
        return None;
    }
    let most = if kind == TABLE_LEAF { PAGE - 35 } else { (PAGE - 12) * 64 / 255 - 23 };
    let least = (PAGE - 12) * 32 / 255 - 23;
    if size <= most {
        return page.get(at..at.checked_add(size)?).map(<[u8]>::to_vec);
    }
    let here = least + (size - least) % (PAGE - 4);
    let here = if here <= most { here } else { least };
    let mut bytes = page.get(at..at.checked_add(here)?)?.to_vec();
    let follows = |bytes: &[u8]| bytes.try_into().ok().map(u32::from_be_bytes);
    let mut next = follows(page.get(at + here..at + here + 4)?)?;
    while bytes.len() < size {
        let start = usize::try_from(next).ok()?.checked_sub(1)?.checked_mul(PAGE)?;
        let overflow = file.get(start..start.checked_add(PAGE)?)?;
        let part = (size - bytes.len()).min(PAGE - 4);
        bytes.extend_from_slice(overflow.get(4..4 + part)?);
        next = follows(overflow.get(..4)?)?;
    }
    Some(bytes)
}

fn record(payload: &[u8]) -> Option<Vec<Value>> {
    let (head, mut at) = varint(payload, 0)?;
    let mut content = usize::try_from(head).ok()?;
    let end = content;
    let mut values = Vec::new();
    while at < end {
        let (kind, after) = varint(payload, at)?;
        at = after;
        let (value, size) = value(payload.get(content..)?, kind)?;
        content = content.checked_add(size)?;
        values.push(value);
        if values.len() > MOST_COLUMNS {
            return None;
        }
    }
    (at == end && content == payload.len()).then_some(values)
}

fn value(bytes: &[u8], kind: u64) -> Option<(Value, usize)> {
    let whole = |size: usize| {
        let bytes = bytes.get(..size)?;
        let sign = if bytes.first()? & 0x80 == 0 { 0 } else { -1 };
        Some((Value::Integer(bytes.iter().fold(sign, |number, byte| number << 8 | i64::from(*byte))), size))
    };
    match kind {
        0 => Some((Value::Null, 0)),
        1..=4 => whole(usize::try_from(kind).ok()?),
        5 => whole(6),
        6 => whole(8),
        8 => Some((Value::Integer(0), 0)),
        9 => Some((Value::Integer(1), 0)),
        12.. => {
            let size = usize::try_from((kind - 12) / 2).ok()?;
            let content = bytes.get(..size)?.to_vec();
            let value = if kind % 2 == 0 {
                Value::Blob(content)
            } else {
                Value::Text(String::from_utf8(content).ok()?)
            };
            Some((value, size))
        }
        _ => None,
    }
}
