//! Exports and imports: nothing is lost on the way.
#![cfg(unix)]
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::indexing_slicing,
    clippy::panic,
    reason = "a test may stop at the first surprise"
)]

use std::collections::BTreeMap;
use std::fs::{self, File};
use std::path::{Path, PathBuf};

use crate::bench_studio::program::{Told, place, run};
use crate::bench_studio::{LOG, Log, MONDAY_8, Studio};
use host::app::keeping::export::TABLES;
use host::app::ports::book::Names as _;
use host::app::ports::{RawRecord, Store as _};
use host::export_folder::SCHEMA_TEXT;
use host::store::Database;
use host_core::entries::{EntryBody, MachineFault, PersonAdded, PersonTag};
use jiff::Timestamp;
use parquet::file::reader::{FileReader as _, SerializedFileReader};
use parquet::record::Field;
use serde_json::Value;
use shared_types::log::PressKind;
use shared_types::{MachineTag, RecordSeq, UtcMillis};

/// What a studio is asked before and after.
const QUESTIONS: [&[&str]; 16] = [
    &["hours", "--json"],
    &["rug", "list", "--json"],
    &["rug", "sessions", "--json"],
    &["machine", "list", "--json"],
    &["done", "--history", "--json"],
    &["tear", "list", "--json"],
    &["speed", "--json"],
    &["part", "--all", "--json"],
    &["job", "--json"],
    &["stock", "list", "--json"],
    &["heavy", "--limits", "--json"],
    &["rate", "history", "--json"],
    &["plot", "usage", "--json"],
    &["plot", "hours", "--json"],
    &["rug", "sheet", "Fox", "--json"],
    &["person", "list", "--json"],
];

pub fn export(db: &Path, to: &Path, more: &[&str]) -> Told {
    run(db, &[&["export", to.to_str().unwrap()], more].concat())
}

pub fn import(db: &Path, from: &Path, more: &[&str]) -> Told {
    run(db, &[&["import", from.to_str().unwrap()], more].concat())
}

/// The names in a folder, those of its folders not gone into.
pub fn names(folder: &Path) -> Vec<String> {
    let all = fs::read_dir(folder).unwrap().map(|file| file.unwrap().file_name().into_string().unwrap());
    let mut all: Vec<String> = all.collect();
    all.sort();
    all
}

pub fn files_below(folder: &Path) -> Vec<PathBuf> {
    let mut files = Vec::new();
    for entry in fs::read_dir(folder).unwrap().map(Result::unwrap) {
        if entry.file_type().unwrap().is_dir() {
            files.extend(files_below(&entry.path()));
        } else {
            files.push(entry.path());
        }
    }
    files.sort();
    files
}

fn json_rows(export: &Path, table: &str) -> Vec<Value> {
    let text = fs::read_to_string(export.join(format!("tables/{table}.jsonl"))).unwrap();
    text.lines().map(|line| serde_json::from_str(line).unwrap()).collect()
}

fn csv_rows(export: &Path, table: &str) -> Vec<BTreeMap<String, String>> {
    let mut reader = csv::Reader::from_path(export.join(format!("tables/{table}.csv"))).unwrap();
    reader.deserialize().map(Result::unwrap).collect()
}

/// The rows of a table's Parquet files as the JSON lines have them, by what stands in the folders' names too.
fn parquet_rows(export: &Path, table: &str) -> Vec<Value> {
    let root = export.join("parquet").join(table);
    let mut rows = Vec::new();
    for path in files_below(&root) {
        let named: BTreeMap<String, String> = path
            .strip_prefix(&root)
            .unwrap()
            .iter()
            .filter_map(|part| part.to_str().unwrap().split_once('='))
            .map(|(name, value)| (name.to_owned(), value.to_owned()))
            .collect();
        let reader = SerializedFileReader::new(File::open(&path).unwrap()).unwrap();
        for row in reader.get_row_iter(None).unwrap() {
            let row = row.unwrap();
            let mut object = serde_json::Map::new();
            for (name, field) in row.get_column_iter() {
                object.insert(name.clone(), told(field));
            }
            object.insert("studio".to_owned(), named["studio"].clone().into());
            object.insert("machine".to_owned(), named["machine"].parse::<i64>().unwrap().into());
            object.insert("year".to_owned(), named["year"].clone().into());
            rows.push(Value::Object(object));
        }
    }
    rows
}

fn told(field: &Field) -> Value {
    match field {
        Field::Null => Value::Null,
        Field::Bool(claim) => (*claim).into(),
        Field::Long(number) => (*number).into(),
        Field::Double(number) => (*number).into(),
        Field::Str(text) => text.as_str().into(),
        other => panic!("{other:?}"),
    }
}

/// Both makers of the demo, each with an export of theirs.
fn demo() -> (tempfile::TempDir, [PathBuf; 2]) {
    let (folder, own) = place();
    assert_eq!(run(&own, &["demo", "--dir", "made-up", "--seed", "4", "--json"]).code(), 0);
    let databases = ["demo.db", "demo-without-board.db"].map(|name| folder.path().join("made-up").join(name));
    (folder, databases)
}

#[track_caller]
fn sum_of(rows: &[Value], column: &str, counted: impl Fn(&Value) -> bool) -> u64 {
    rows.iter().filter(|row| counted(row)).map(|row| row[column].as_u64().unwrap()).sum()
}

#[test]
fn a_demo_studio_with_a_board_and_one_without_answer_the_same_after_the_journey() {
    let (folder, databases) = demo();
    for (number, db) in databases.iter().enumerate() {
        let to = folder.path().join(format!("export-{number}"));
        let told = export(db, &to, &["--with-names", "--json"]).json();
        let new = folder.path().join(format!("new-{number}.db"));
        let made = import(&new, &to, &["--json"]);
        assert_eq!((made.code(), made.err().as_str()), (0, ""), "{made:?}");
        assert_eq!((&made.json()["studio"], &made.json()["head"]), (&told["studio"], &told["head"]));
        for words in QUESTIONS {
            let (before, after) = (run(db, words), run(&new, words));
            assert_ne!(before.code(), 2, "{words:?}: {before:?}");
            assert_eq!(
                (before.code(), before.out(), before.err()),
                (after.code(), after.out(), after.err()),
                "{words:?}"
            );
        }
        let verified = [db, &new].map(|db| run(db, &["verify", "--json"]).json());
        assert_eq!(verified[0], verified[1]);
        assert_eq!((&verified[1]["is_fine"], &verified[1]["head"]), (&true.into(), &told["head"]));
        let against = run(&new, &["verify", "--against", told["head"].as_str().unwrap()]);
        assert_eq!(against.code(), 0, "{against:?}");
        totals_are_those_of_hours(db, &to);
        all_three_formats_say_the_same(&to);
        // Exported anew, the new one gives the same files but for the time.
        let again = folder.path().join(format!("again-{number}"));
        assert_eq!(export(&new, &again, &["--with-names"]).code(), 0);
        for file in files_below(&to.join("whole")) {
            let name = file.file_name().unwrap().to_str().unwrap();
            if !name.starts_with("contents") {
                assert_eq!(
                    fs::read(&file).unwrap(),
                    fs::read(again.join("whole").join(name)).unwrap(),
                    "{name}"
                );
            }
        }
    }
}

/// To the millisecond and the edge.
fn totals_are_those_of_hours(db: &Path, to: &Path) {
    let hours = run(db, &["hours", "--json"]).json();
    let (bursts, sessions) = (json_rows(to, "bursts"), json_rows(to, "sessions"));
    let (machines, rugs) = (json_rows(to, "machines"), json_rows(to, "rugs"));
    for machine in hours["machines"].as_array().unwrap() {
        let here = |row: &Value| row["machine"] == machine["machine"];
        let number = |value: &Value| value.as_u64().unwrap();
        let total = &machine["total"];
        let (lost, typed) = (&machine["not_recorded"], &machine["entered"]["run_time_ms"]);
        let counted = sum_of(&bursts, "run_ms", here);
        assert_eq!(counted + number(&lost["run_time_ms"]) + number(typed), number(&total["run_time_ms"]));
        assert_eq!(sum_of(&bursts, "edges", here) + number(&lost["edges"]), number(&total["edges"]));
        assert_eq!(sum_of(&machines, "run_ms", here), number(&total["run_time_ms"]));
        let is_out = |row: &Value| here(row) && row["counts"] == false;
        assert_eq!(sum_of(&bursts, "run_ms", is_out), number(&machine["doubtful"]["run_time_ms"]));
        for rug in machine["rugs"].as_array().unwrap() {
            let of_rug = |row: &Value| here(row) && row["rug"] == rug["rug"];
            let counts = |row: &Value| of_rug(row) && row["counts"] == true;
            let entered = number(&rug["entered"]["run_time_ms"]);
            assert_eq!(sum_of(&bursts, "run_ms", counts) + entered, number(&rug["total"]["run_time_ms"]));
            assert_eq!(sum_of(&sessions, "run_ms", of_rug), number(&rug["total"]["run_time_ms"]));
        }
    }
    let list = run(db, &["rug", "list", "--json"]).json();
    for (rug, row) in list["rugs"].as_array().unwrap().iter().zip(&rugs) {
        assert_eq!((&rug["rug"], &rug["run_time_ms"]), (&row["rug"], &row["run_ms"]));
    }
    assert_eq!(list["rugs"].as_array().unwrap().len(), rugs.len());
    let tears = run(db, &["tear", "list", "--json"]).json();
    assert_eq!(tears["harms"].as_array().unwrap().len(), json_rows(to, "tears").len());
    let parts = run(db, &["part", "--all", "--json"]).json();
    assert_eq!(parts["parts"].as_array().unwrap().len(), json_rows(to, "parts").len());
    let care = run(db, &["done", "--history", "--json"]).json();
    assert_eq!(care["entries"].as_array().unwrap().len(), json_rows(to, "care").len());
    for rug in &rugs {
        let bill = run(db, &["rug", "sheet", rug["rug"].as_str().unwrap(), "--json"]).json();
        let costs = json_rows(to, "costs");
        let of_rug: Vec<&Value> = costs.iter().filter(|row| row["rug"] == rug["rug"]).collect();
        let lines = bill["bill"]["lines"].as_array().unwrap();
        let amounts = |rows: &[Value]| rows.iter().map(|row| row["amount_cents"].clone()).collect::<Vec<_>>();
        assert_eq!(amounts(lines), of_rug.iter().map(|row| row["amount_cents"].clone()).collect::<Vec<_>>());
    }
}

/// Every cell of every table, whichever file it is read from.
fn all_three_formats_say_the_same(to: &Path) {
    for shape in TABLES {
        let table = shape.name;
        let (json, csv, parquet) = (json_rows(to, table), csv_rows(to, table), parquet_rows(to, table));
        assert_eq!((json.len(), csv.len()), (parquet.len(), parquet.len()), "{table}");
        for (row, cells) in json.iter().zip(&csv) {
            for (name, value) in row.as_object().unwrap() {
                let told = match value {
                    Value::Null => String::new(),
                    Value::String(text) => text.clone(),
                    other => other.to_string(),
                };
                let cell = &cells[name];
                let is_same = *cell == told
                    || cell.strip_prefix('\'') == Some(told.as_str())
                    || cell.parse::<f64>().is_ok_and(|cell| value.as_f64() == Some(cell));
                assert!(is_same, "{table}.{name}: {cell:?} in CSV, {told:?} in JSON lines");
            }
        }
        // Rows are laid out by machine and year there.
        let mut expected: Vec<String> = json
            .into_iter()
            .map(|mut row| {
                let object = row.as_object_mut().unwrap();
                if object.get("machine").is_none_or(Value::is_null) {
                    object.insert("machine".to_owned(), 0.into());
                }
                row.to_string()
            })
            .collect();
        let mut found: Vec<String> = parquet
            .into_iter()
            .map(|mut row| {
                let year = row.as_object_mut().unwrap().remove("year").unwrap();
                let at = shape.when.map(|[earliest, _]| row[earliest].clone());
                if let Some(at) = at.and_then(|at| at.as_i64()).filter(|_| year != "unknown") {
                    let told = Timestamp::from_millisecond(at).unwrap().to_string();
                    assert!(told.starts_with(year.as_str().unwrap()), "{table}: {told} in {year}");
                }
                row.to_string()
            })
            .collect();
        expected.sort();
        found.sort();
        assert_eq!(expected, found, "{table}");
    }
}

/// Names and texts that break what is careless.
const HOSTILE: [&str; 7] =
    ["a,b;c", "say \"hi\"", "=1+1", "@sum", "🦊 fox", "\u{202e}xof\u{202c} שלום", "-2\\n'quoted'"];

/// A studio with hostile texts in it, a tear, a press, a doubtful burst, a fault, and a name.
pub fn hostile() -> Studio {
    let studio = Studio::new();
    for name in HOSTILE {
        studio.rug(name, name);
        let fault = MachineFault {
            machine: MachineTag(1),
            what: format!("{name}\nsecond line\r\nthird"),
            at: UtcMillis(MONDAY_8),
            mended: Some(name.to_owned()),
        };
        studio.tell(EntryBody::MachineFault(fault));
    }
    studio.tell(EntryBody::PersonAdded(PersonAdded { person: PersonTag(1) }));
    studio.database().set_name(PersonTag(1), Some("Quillfeather")).unwrap();
    let mut log = Log::new();
    log.run(10, 2, 300).run_seconds(30, 7, 800, 11).press(40, PressKind::Tear, 700);
    studio.pulled(&log);
    // What the logger no longer has, and what came a second time with other bytes.
    let mut database = studio.database();
    database.note_gone(LOG, RecordSeq(50), RecordSeq(60)).unwrap();
    let other = RawRecord { seq: RecordSeq(2), body: b"\x00\xffother".to_vec() };
    database.keep_records(UtcMillis(MONDAY_8), LOG, &[other]).unwrap();
    studio
}

#[test]
fn hostile_texts_come_through_every_format_and_back() {
    let studio = hostile();
    let to = studio.path().with_file_name("out");
    assert_eq!(export(&studio.path(), &to, &[]).code(), 0);
    all_three_formats_say_the_same(&to);
    let rugs: Vec<String> =
        json_rows(&to, "rugs").iter().map(|row| row["rug"].as_str().unwrap().to_owned()).collect();
    assert_eq!(rugs, HOSTILE);
    let whats: Vec<Value> = json_rows(&to, "faults").into_iter().map(|row| row["what"].clone()).collect();
    assert_eq!(whats[0], format!("{}\nsecond line\r\nthird", HOSTILE[0]));
    let cells: Vec<String> = csv_rows(&to, "rugs").iter().map(|row| row["rug"].clone()).collect();
    assert_eq!((cells[2].as_str(), cells[3].as_str()), ("'=1+1", "'@sum"));
    for file in files_below(&to.join("whole")) {
        assert!(!fs::read(&file).unwrap().contains(&b'\r'), "{file:?}");
    }
    let new = studio.path().with_file_name("new.db");
    assert_eq!(import(&new, &to, &[]).code(), 0);
    for words in QUESTIONS.iter().filter(|words| words[0] != "person") {
        assert_eq!(run(&studio.path(), words).out(), run(&new, words).out(), "{words:?}");
    }
    assert_eq!(run(&studio.path(), &["verify", "--json"]).out(), run(&new, &["verify", "--json"]).out());
    // A logger is asked for records from the same number on.
    let first = |db: &Path| Database::open(db).unwrap().first_missing(LOG).unwrap();
    assert_eq!(first(&studio.path()), first(&new));
}

#[test]
fn names_of_people_are_in_no_byte_of_an_export_unless_asked_for() {
    let studio = hostile();
    let name = b"Quillfeather";
    let holds_name = |folder: &Path| {
        let holds = |file: &PathBuf| fs::read(file).unwrap().windows(name.len()).any(|bytes| bytes == name);
        files_below(folder).iter().filter(|file| holds(file)).count()
    };
    let (without, with) = (studio.path().with_file_name("without"), studio.path().with_file_name("with"));
    assert_eq!(export(&studio.path(), &without, &[]).code(), 0);
    assert_eq!(holds_name(&without), 0);
    assert!(!without.join("whole/names.jsonl").exists());
    assert_eq!(json_rows(&without, "people")[0]["name"], Value::Null);
    assert_eq!(export(&studio.path(), &with, &["--with-names"]).code(), 0);
    assert_eq!(holds_name(&with), 4, "three tables and the names");
    let [one, other] = ["one.db", "other.db"].map(|name| studio.path().with_file_name(name));
    assert_eq!((import(&one, &without, &[]).code(), import(&other, &with, &[]).code()), (0, 0));
    let people = |db: &Path| run(db, &["person", "list", "--json"]).json()["people"][0].clone();
    assert_eq!(people(&one)["name"], Value::Null);
    assert_eq!(people(&other)["name"], "Quillfeather");
    assert_eq!(run(&one, &["verify"]).code(), 0);
}

#[test]
fn the_page_and_the_tables_say_the_same() {
    let mut told: BTreeMap<String, Vec<[String; 3]>> = BTreeMap::new();
    let mut table = String::new();
    let mut in_tables = false;
    for line in SCHEMA_TEXT.lines() {
        if let Some(heading) = line.strip_prefix("## ") {
            in_tables = heading == "Tables";
        }
        if let Some(name) = line.strip_prefix("### `").and_then(|rest| rest.strip_suffix('`')) {
            table = name.to_owned();
            assert!(told.insert(table.clone(), Vec::new()).is_none(), "{table} stands there twice");
        }
        let cells: Vec<&str> = line.split('|').map(str::trim).collect();
        if let ["", name, kind, null, what, ""] = cells.as_slice()
            && let Some(name) = name.strip_prefix('`').and_then(|name| name.strip_suffix('`'))
            && in_tables
        {
            assert!(!what.is_empty(), "{table}.{name}");
            let row = [name, kind, null].map(str::to_owned);
            told.get_mut(&table).unwrap().push(row);
        }
    }
    assert_eq!(told.len(), TABLES.len());
    for shape in TABLES {
        let page = &told[shape.name];
        let own: Vec<(&str, &str, bool)> = shape
            .columns
            .iter()
            .map(|column| (column.name, column.kind.name(), column.may_be_null))
            .collect();
        let page: Vec<(&str, &str, bool)> =
            page.iter().map(|[name, kind, null]| (name.as_str(), kind.as_str(), null != "—")).collect();
        assert_eq!(page, own, "{}", shape.name);
        let year_by = SCHEMA_TEXT.lines().find(|line| {
            let cells: Vec<&str> = line.split('|').collect();
            cells.len() == 4 && cells[1].contains(&format!("`{}`", shape.name))
        });
        let year_by = year_by.unwrap_or_else(|| panic!("no year by is told for {}", shape.name));
        for column in shape.when.into_iter().flatten() {
            assert!(year_by.contains(&format!("`{column}`")), "{}: {year_by}", shape.name);
        }
        assert_eq!(shape.when.is_none(), year_by.contains("always `unknown`"), "{}", shape.name);
    }
}
