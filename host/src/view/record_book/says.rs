//! What an entry says, in words: its kind, then what was entered, whatever kind it is.

use jiff::tz::TimeZone;
use serde_json::Value;
use shared_types::UtcMillis;

use super::super::words::{clock, count, run_time, thousands};
use crate::app::people::Person;
use crate::core::record_book::lines::BookLine;

/// Left out of the words: they stand in columns of their own.
const ELSEWHERE: [&str; 2] = ["machine", "at"];

/// What an entry is mostly about; said first.
const FIRST: [&str; 6] = ["task", "part", "what", "rug", "name", "limit"];

/// The words of an entry.
pub fn says(line: &BookLine, people: &[Person], zone: &TimeZone) -> String {
    let kind = plain(&line.kind);
    let mut parts = Vec::new();
    let is_first = |key: &str| FIRST.contains(&key);
    let first = line.says.iter().filter(|(key, _)| is_first(key));
    for (key, value) in first.chain(line.says.iter().filter(|(key, _)| !is_first(key))) {
        if ELSEWHERE.contains(&key.as_str()) {
            continue;
        }
        if let Some(said) = value_said(key, value, people, zone) {
            parts.push(format!("{} {said}", plain_key(key)));
        }
    }
    if parts.is_empty() { kind } else { format!("{kind}: {}", parts.join("; ")) }
}

/// `care_done` as "care done".
fn plain(name: &str) -> String {
    name.replace('_', " ")
}

fn plain_key(key: &str) -> String {
    let key = key.strip_suffix("_ms").or_else(|| key.strip_suffix("_mm")).unwrap_or(key);
    match key {
        "before_logger" => "owner's estimate before the logger".to_owned(),
        "a_hv_mm_s2" => "a_hv".to_owned(),
        other => plain(other),
    }
}

/// None for what was left open.
fn value_said(key: &str, value: &Value, people: &[Person], zone: &TimeZone) -> Option<String> {
    match value {
        Value::Null => None,
        Value::Bool(yes) => Some(if *yes { "yes" } else { "no" }.to_owned()),
        Value::Number(number) => Some(number_said(key, number.as_i64()?, people, zone)),
        Value::String(text) => Some(if is_name(key) { plain(text) } else { format!("\"{text}\"") }),
        Value::Array(items) => {
            let said: Vec<String> =
                items.iter().filter_map(|item| value_said(key, item, people, zone)).collect();
            (!said.is_empty()).then(|| said.join(", "))
        }
        Value::Object(inner) => {
            let said: Vec<String> = inner
                .iter()
                .filter_map(|(key, value)| {
                    value_said(key, value, people, zone).map(|said| format!("{} {said}", plain_key(key)))
                })
                .collect();
            (!said.is_empty()).then(|| said.join(", "))
        }
    }
}

/// Words of the program's own lists, not the maker's.
fn is_name(key: &str) -> bool {
    matches!(
        key,
        "pile"
            | "finding"
            | "task"
            | "harm"
            | "change"
            | "certainty"
            | "owner"
            | "why"
            | "limit"
            | "source"
            | "part"
    )
}

fn number_said(key: &str, number: i64, people: &[Person], zone: &TimeZone) -> String {
    match key {
        "since" => clock(UtcMillis(number), zone),
        // A moment is a dozen digits long; a record's number is not.
        "from" if number > 100_000_000_000 => clock(UtcMillis(number), zone),
        "before_logger" | "run" | "every_run" | "tufting_ms" => run_time(number.unsigned_abs()),
        "a_hv_mm_s2" => format!("{}.{:03} m/s²", number / 1_000, (number % 1_000).abs()),
        "strokes" => thousands(number.unsigned_abs()),
        "every_days" => count(number.unsigned_abs(), "day", "days"),
        "to" | "person" => u32::try_from(number)
            .ok()
            .and_then(|person| people.iter().find(|known| known.person.0 == person))
            .and_then(|known| known.name.clone())
            .unwrap_or_else(|| number.to_string()),
        "logger" => format!("{:016x}", number.unsigned_abs()),
        "log" => format!("{number:08x}"),
        _ => number.to_string(),
    }
}
