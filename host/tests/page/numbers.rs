//! Every number of a page is one that the command line tells of the same studio.
#![cfg(unix)]
#![allow(clippy::unwrap_used, reason = "a test may stop at the first surprise")]

use std::collections::BTreeSet;
use std::io::{BufRead as _, BufReader, Read as _};
use std::path::Path;
use std::process::{Child, ChildStdout, Command, Stdio};

use host::view::words::{clock, run_time};
use serde_json::Value;
use shared_types::UtcMillis;

use crate::bench_studio::program::{place, program, run};
use crate::site::{ask, host_of};

/// The page as it is started by a maker, on a port that is free.
struct Started {
    child: Child,
    host: String,
    out: BufReader<ChildStdout>,
}

impl Started {
    fn on(db: &Path) -> Self {
        let mut child = program("UTC", db, &["page", "--port", "0"]).stdout(Stdio::piped()).spawn().unwrap();
        let mut out = BufReader::new(child.stdout.take().unwrap());
        let mut first = String::new();
        out.read_line(&mut first).unwrap();
        assert!(first.starts_with("http://127.0.0.1:"), "the first line is the address: {first}");
        Self { child, host: host_of(first.trim()), out }
    }

    fn main_of(&self, path: &str) -> String {
        let host = &self.host;
        let answer = ask(host, &format!("GET {path} HTTP/1.1\r\nHost: {host}\r\nConnection: close\r\n\r\n"));
        assert_eq!(answer.status, 200, "{path}");
        let main = answer.body.split("<main").nth(1).unwrap_or(&answer.body).split("</main>").next().unwrap();
        shown(main)
    }

    /// Ends as Ctrl-C ends it.
    fn end(&mut self) {
        let id = self.child.id().to_string();
        assert!(Command::new("kill").args(["-INT", &id]).status().unwrap().success());
        let mut rest = String::new();
        self.out.read_to_string(&mut rest).unwrap();
        assert!(self.child.wait().unwrap().success(), "{rest}");
    }
}

impl Drop for Started {
    fn drop(&mut self) {
        // It has ended, unless the test has failed.
        self.child.kill().unwrap_or_default();
        self.child.wait().map(drop).unwrap_or_default();
    }
}

/// The words of a page without its tags, and without what a reader does not see.
fn shown(main: &str) -> String {
    let mut text = String::new();
    let mut rest = main.split_once('>').map_or(main, |(_, rest)| rest);
    while let Some((before, after)) = rest.split_once('<') {
        text.push_str(before);
        text.push(' ');
        rest = after.split_once('>').map_or("", |(_, rest)| rest);
    }
    text.push_str(rest);
    text.replace("&#39;", "'").replace("&#34;", "\"").replace("&#38;", "&")
}

/// The numbers of a text, without the commas between thousands.
fn numbers(text: &str) -> BTreeSet<String> {
    let text: String = text.replace(", ", " ").replace(',', "");
    text.split(|letter: char| !letter.is_ascii_digit() && letter != '.')
        .map(|number| number.trim_matches('.'))
        .filter(|number| number.chars().any(|digit| digit.is_ascii_digit()))
        .map(str::to_owned)
        .collect()
}

/// The numbers of a `--json` object as they may be shown: as they are, in per cent, as a time, as a date.
fn of_json(value: &Value, told: &mut BTreeSet<String>) {
    match value {
        Value::Number(number) => {
            told.extend(numbers(&number.to_string()));
            let Some(number) = number.as_f64() else { return };
            for part in [
                number,
                number / 10.0,
                number / 100.0,
                number * 100.0,
                number / 3_600_000.0,
                number / 60_000.0,
            ] {
                told.extend([format!("{part:.0}"), format!("{part:.1}"), format!("{part:.2}")]);
            }
            if (0.0..1e15).contains(&number) {
                #[expect(
                    clippy::cast_possible_truncation,
                    clippy::cast_sign_loss,
                    reason = "it is neither large nor negative"
                )]
                let ms = number as u64;
                told.extend(numbers(&run_time(ms)));
                told.extend(numbers(&clock(UtcMillis(i64::try_from(ms).unwrap()), &jiff::tz::TimeZone::UTC)));
            }
        }
        // A date is shown without noughts before its numbers.
        Value::String(text) => {
            told.extend(numbers(text));
            told.extend(
                text.split(|letter: char| !letter.is_ascii_digit())
                    .map(|part| part.trim_start_matches('0').to_owned()),
            );
        }
        Value::Array(all) => all.iter().for_each(|one| of_json(one, told)),
        Value::Object(all) => all.values().for_each(|one| of_json(one, told)),
        Value::Bool(_) | Value::Null => {}
    }
}

/// What stands in the words of a page besides what was counted: "three or four" of its fixed sentences.
const FIXED: [&str; 6] = ["1", "2", "80", "120", "36", "48"];

#[test]
fn every_number_of_a_page_is_told_by_the_command_line_too() {
    let (folder, _) = place();
    let demo = folder.path().join("demo");
    run(&folder.path().join("none.db"), &["demo", "--dir", demo.to_str().unwrap()]);
    let db = demo.join("demo.db");
    let mut site = Started::on(&db);
    let pages: [(&str, &[&[&str]]); 8] = [
        ("/", &[&["--json"], &["due", "--json"], &["rug", "progress", "--json"]]),
        (
            "/care",
            &[
                &["due", "--json"],
                &["care", "--json"],
                &["done", "--history", "--json"],
                &["interval", "--json"],
            ],
        ),
        ("/cloth", &[&["speed", "--json"], &["speed", "cost", "--json"], &["tear", "list", "--json"]]),
        ("/machine", &[&["machine", "list", "--json"]]),
        ("/heavy", &[&["heavy", "--json"], &["exposure", "--json"]]),
        ("/rugs", &[&["rug", "list", "--json"]]),
        ("/rugs?size=80x120cm", &[&["quote", "--size", "80x120cm", "--json"], &["rug", "list", "--json"]]),
        (
            "/rug?name=Quince",
            &[&["rug", "progress", "Quince", "--json"], &["rug", "history", "Quince", "--json"]],
        ),
    ];
    for (page, commands) in pages {
        let mut told: BTreeSet<String> = FIXED.iter().map(|&number| number.to_owned()).collect();
        for command in commands {
            let report = run(&db, command);
            of_json(&report.json(), &mut told);
            // Rounded figures are rounded by the same words.
            let words: Vec<&str> = command.iter().copied().filter(|word| *word != "--json").collect();
            told.extend(numbers(&run(&db, &words).out()));
        }
        let text = site.main_of(page);
        let strange: Vec<String> =
            numbers(&text).into_iter().filter(|number| !told.contains(number)).collect();
        assert!(strange.is_empty(), "{page}: {strange:?}\n{text}");
        assert!(!numbers(&text).is_empty(), "{page} shows no number");
    }
    site.end();
}
