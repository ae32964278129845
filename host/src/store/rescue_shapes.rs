//! Which table a row that was found on a page may be of, by the kinds of its values.

use std::collections::BTreeMap;

use rusqlite::types::Value;

use super::content_sum::Sum;
use super::rescue_pages::PageRows;

/// Letters for the kinds: `i` whole number, `t` text, `b` bytes, `-` nothing.
fn shape(row: &[Value]) -> String {
    let letter = |value: &Value| match value {
        Value::Null => '-',
        Value::Integer(_) => 'i',
        Value::Real(_) => 'r',
        Value::Text(_) => 't',
        Value::Blob(_) => 'b',
    };
    row.iter().map(letter).collect()
}

fn of_shapes(rows: &[Vec<Value>], shapes: &[&str]) -> Vec<Vec<Value>> {
    rows.iter().filter(|row| shapes.contains(&shape(row).as_str())).cloned().collect()
}

pub fn entry(pages: &PageRows) -> Vec<Vec<Value>> {
    of_shapes(&pages.numbered, &["iitt"])
}

pub fn hello(pages: &PageRows) -> Vec<Vec<Value>> {
    of_shapes(&pages.numbered, &["iitiiiiiiiiiiiiittt", "iiti------iiiiiittt"])
}

/// Without the mark, which is found anew.
pub fn log(pages: &PageRows) -> Vec<Vec<Value>> {
    let mut rows = of_shapes(&pages.numbered, &["iiii"]);
    rows.iter_mut().for_each(|row| row.truncate(3));
    rows
}

pub fn chain(pages: &PageRows) -> Vec<Vec<Value>> {
    of_shapes(&pages.numbered, &["ititb"])
}

/// The line that says which program derived has the same kinds of values; no name looks like a version.
pub fn name(pages: &PageRows) -> Vec<Vec<Value>> {
    let is_version = |text: &str| {
        text.split_once('/').is_some_and(|(program, derived)| {
            program.chars().all(|letter| letter.is_ascii_digit() || letter == '.')
                && derived.chars().all(|letter| letter.is_ascii_digit())
        })
    };
    let mut rows = of_shapes(&pages.numbered, &["it"]);
    rows.retain(|row| !matches!(row.get(1), Some(Value::Text(text)) if is_version(text)));
    rows
}

pub fn gone(pages: &PageRows) -> Vec<Vec<Value>> {
    of_shapes(&pages.keyed, &["iii"])
}

pub fn raw(pages: &PageRows) -> Vec<Vec<Value>> {
    of_shapes(&pages.keyed, &["iiiib"])
}

pub fn segment(pages: &PageRows) -> Vec<Vec<Value>> {
    of_shapes(&pages.keyed, &["iiiiiiii", "iiiiii-i"])
}

pub fn event(pages: &PageRows) -> Vec<Vec<Value>> {
    // Records that cannot be read have the same kinds of values, and a reason of several words.
    let mut rows = of_shapes(&pages.keyed, &["iit"]);
    rows.retain(|row| !matches!(row.get(2), Some(Value::Text(text)) if text.contains(' ')));
    rows
}

pub fn sums(pages: &PageRows) -> BTreeMap<(String, i64), Sum> {
    let sum = |row: &Vec<Value>| match row.as_slice() {
        [Value::Text(table), Value::Integer(log), Value::Integer(rows), Value::Integer(sum)] => {
            Some(((table.clone(), *log), Sum::of_numbers(*rows, *sum)))
        }
        _ => None,
    };
    pages.keyed.iter().filter_map(sum).collect()
}
