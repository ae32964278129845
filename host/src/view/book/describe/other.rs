//! What an entry of any kind says, for kinds without a sentence of their own: its kind, then what was entered.

use jiff::tz::TimeZone;
use serde_json::Value;
use shared_types::UtcMillis;

use crate::app::hand::people::Person;
use crate::view::words::{clock, count, run_time, thousands};
use host_core::book::lines::BookLine;

/// Left out of the words: they stand in columns of their own.
const ELSEWHERE: [&str; 2] = ["machine", "at"];

/// What an entry is mostly about; said first.
const FIRST: [&str; 6] = ["task", "part", "what", "rug", "name", "limit"];

/// The words of an entry.
pub fn describe(line: &BookLine, people: &[Person], zone: &TimeZone) -> String {
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
        "thousandths" => "set to".to_owned(),
        other => plain(other),
    }
}

/// None for what was left open.
fn value_said(key: &str, value: &Value, people: &[Person], zone: &TimeZone) -> Option<String> {
    match value {
        Value::Null => None,
        Value::Bool(yes) => Some(if *yes { "yes" } else { "no" }.to_owned()),
        Value::Number(number) => Some(match number.as_i64() {
            Some(whole) => number_said(key, whole, people, zone),
            None => number.to_string(),
        }),
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
        "a_hv_mm_s2" => format!("{} m/s²", decimal(number, 3)),
        "thousandths" => decimal(number, 3),
        // Money is kept in millionths of the maker's currency.
        "price" | "resale" | "period_costs" | "hour_costs" => decimal(number, 6),
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

/// A whole number of 10^-places as a decimal number, without zeros at its end.
fn decimal(number: i64, places: usize) -> String {
    let digits = format!("{:0>width$}", number.unsigned_abs(), width = places + 1);
    let (whole, rest) = digits.split_at(digits.len() - places);
    let rest = rest.trim_end_matches('0');
    if rest.is_empty() { whole.to_owned() } else { format!("{whole}.{rest}") }
}

#[cfg(test)]
mod tests {
    use super::*;
    use host_core::book::lines::Chapter;
    use host_core::entries::{EntryBody, EntryId, PersonTag};

    fn said(kind: &str, says_what: serde_json::Value) -> String {
        let line = BookLine {
            entry: EntryId(1),
            entered_utc_ms: UtcMillis(0),
            at_utc_ms: None,
            chapter: Chapter::Machine,
            kind: kind.to_owned(),
            says: says_what.as_object().unwrap().clone(),
            body: EntryBody::Withdrawn { entry: EntryId(1), reason: String::new() },
            withdrawn: None,
        };
        let people = [Person { person: PersonTag(3), name: Some("Ana".to_owned()) }];
        describe(&line, &people, &TimeZone::UTC)
    }

    #[test]
    fn an_entry_of_any_kind_has_words() {
        let care = serde_json::json!({"at": 5, "finding": "grey_black_oil", "machine": 1, "note": null, "task": "oiling"});
        assert_eq!(said("care_done", care), "care done: task oiling; finding grey black oil");
        let lent = serde_json::json!({"to": 3, "condition": "a \"b\"", "reading": {"run": 7_200_000, "strokes": 1_234}});
        assert_eq!(
            said("machine_lent", lent),
            "machine lent: condition \"a \"b\"\"; reading run 2 h, strokes 1,234; to Ana"
        );
        assert_eq!(said("something_new", serde_json::json!({"machine": 1})), "something new");
        assert_eq!(
            said("something_new", serde_json::json!({"deep": [1, {"x": true}]})),
            "something new: deep 1, x yes"
        );
    }

    #[test]
    fn small_units_become_decimal_numbers() {
        let costs = serde_json::json!({"basis": {"price": 250_500_000, "hour_costs": [1_000_000], "life_hours": 2000.5}});
        assert_eq!(
            said("machine_costs", costs),
            "machine costs: basis hour costs 1, life hours 2000.5, price 250.5"
        );
        assert_eq!([0, 5, 4_500, 12_000].map(|number| decimal(number, 3)), ["0", "0.005", "4.5", "12"]);
        assert_eq!(
            said("vibration_figure", serde_json::json!({"a_hv_mm_s2": 4_500})),
            "vibration figure: a_hv 4.5 m/s²"
        );
    }
}
