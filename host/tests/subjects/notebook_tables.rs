//! `wear`, `interval`, `trend`, `speed` and `exposure` on tables out of a notebook: what a program reading `--json` relies on,
//! and what a maker sees when a table is wrong.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::indexing_slicing,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a test may stop at the first surprise"
)]

use std::path::PathBuf;
use std::process::{Command, Output};

use rstest::rstest;
use serde_json::Value;
use tempfile::TempDir;

/// A folder of its own for one table.
struct Notebook {
    folder: TempDir,
}

impl Notebook {
    fn new() -> Self {
        Self { folder: TempDir::new().unwrap() }
    }

    fn table(&self, text: impl AsRef<[u8]>) -> PathBuf {
        let path = self.folder.path().join("table.csv");
        std::fs::write(&path, text).unwrap();
        path
    }

    fn run(&self, arguments: &[&str]) -> Output {
        Command::new(env!("CARGO_BIN_EXE_needlehours"))
            .args(arguments)
            .env_clear()
            .env("HOME", self.folder.path())
            .output()
            .unwrap()
    }

    /// Runs a command on a table, expects it to succeed and gives its JSON.
    fn asked(&self, command: &str, text: &str, more: &[&str]) -> Value {
        let path = self.table(text);
        let arguments = [&[command, "--table", path.to_str().unwrap(), "--json"], more].concat();
        let output = self.run(&arguments);
        assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
        assert!(output.stderr.is_empty());
        serde_json::from_slice(&output.stdout).unwrap()
    }
}

fn keys(value: &Value) -> Vec<&str> {
    value.as_object().unwrap().keys().map(String::as_str).collect()
}

#[track_caller]
fn assert_near(found: &Value, published: f64, within: f64) {
    let found = found.as_f64().expect("a number");
    assert!((found - published).abs() <= within, "found {found}, published {published}");
}

/// NIST/SEMATECH e-Handbook 8.4.1.3.
const LIVES: &str = "hours,replaced\n54,1\n187,1\n216,1\n240,1\n244,1\n335,1\n361,1\n373,1\n375,1\n386,1\n500,0\n500,0\n500,0\n\
                     500,0\n500,0\n500,0\n500,0\n500,0\n500,0\n500,0\n";
/// NIST/SEMATECH e-Handbook 8.2.2.3.
const FAULTS: &str = "hours\n5\n40\n43\n175\n389\n712\n747\n795\n1299\n1478\n1500\n";
/// Made up; enough for a curve.
const FINDINGS: &str = "hours,dirty\n1,0\n2,0\n3,0\n5,0\n2.5,0\n4.5,0\n4,1\n6,1\n8,1\n9,1\n";

#[test]
fn wear_answers_with_exactly_its_keys() {
    let json = Notebook::new().asked("wear", LIVES, &["--planned-cost", "1", "--failure-cost", "5"]);
    let mut expected = vec![
        "schema",
        "shape",
        "scale_hours",
        "log_likelihood",
        "mean_life_hours",
        "survival",
        "replace_at_hours",
        "cost_per_hour",
        "reason",
        "proposal",
    ];
    expected.sort_unstable();
    assert_eq!(keys(&json), expected);
    assert_near(&json["shape"], 1.7208, 5e-5);
    assert_near(&json["scale_hours"], 606.528, 1e-3);
    assert_eq!(keys(&json["survival"][0]), ["hours", "surviving"]);
    assert_eq!(json["survival"].as_array().unwrap().len(), 10);
    assert_eq!(json["reason"], "age_pays");
    assert_eq!(json["proposal"]["action"], "replace_at_age");
    assert!(json["replace_at_hours"].is_f64());
    assert_eq!(json["proposal"]["replace_at_hours"], json["replace_at_hours"]);
}

#[test]
fn wear_takes_a_known_curve_instead_of_a_table() {
    let curve = |shape| {
        let arguments = [
            "wear",
            "--shape",
            shape,
            "--scale-hours",
            "1000",
            "--planned-cost",
            "1",
            "--failure-cost",
            "5",
            "--json",
        ];
        let output = Notebook::new().run(&arguments);
        assert!(output.status.success());
        serde_json::from_slice::<Value>(&output.stdout).unwrap()
    };
    // Barlow and Hunter (1960), recomputed with scipy.
    let json = curve("2.5");
    assert_near(&json["replace_at_hours"], 493.047, 5e-4);
    assert_near(&json["cost_per_hour"], 0.003_462_04, 5e-9);
    assert_eq!((&json["proposal"], &json["log_likelihood"]), (&Value::Null, &Value::Null));
    let json = curve("1");
    assert_eq!(
        (&json["replace_at_hours"], &json["reason"]),
        (&Value::Null, &Value::from("wear_does_not_grow"))
    );
    assert_near(&json["cost_per_hour"], 0.005, 1e-12);
}

#[test]
fn wear_without_enough_has_nulls_and_a_reason() {
    for table in ["hours,replaced\n80,1\n90,0\n", "hours,replaced\n80,0\n90,0\n", "hours,replaced\n80,1\n"] {
        let json = Notebook::new().asked("wear", table, &[]);
        for key in
            ["shape", "scale_hours", "log_likelihood", "mean_life_hours", "replace_at_hours", "cost_per_hour"]
        {
            assert_eq!(json[key], Value::Null, "{key}");
        }
        assert_eq!(json["reason"], "too_few_worn_out");
        assert_eq!(json["proposal"]["action"], "replace_on_wear");
    }
}

#[test]
fn interval_answers_with_exactly_its_keys() {
    let notebook = Notebook::new();
    let json = notebook.asked("interval", FINDINGS, &[]);
    assert_eq!(
        keys(&json),
        ["enough_evidence", "hours_for_20_percent_dirty", "scale_hours", "schema", "shape"]
    );
    assert_eq!(keys(&json["hours_for_20_percent_dirty"]), ["estimate", "high", "low"]);
    assert_eq!(json["enough_evidence"], true);
    assert!(json["shape"].is_f64() && json["scale_hours"].is_f64());
    // Every dirty one later than every clean one.
    let parted = "hours,dirty\n1,0\n2,0\n3,0\n4,0\n5,0\n6,1\n7,1\n8,1\n9,1\n10,1\n";
    let json = notebook.asked("interval", parted, &[]);
    assert_eq!((&json["enough_evidence"], &json["shape"]), (&Value::from(false), &Value::Null));
    for key in ["estimate", "low", "high"] {
        assert_eq!(json["hours_for_20_percent_dirty"][key], Value::Null);
    }
}

#[test]
fn trend_answers_with_exactly_its_keys() {
    let notebook = Notebook::new();
    let json = notebook.asked("trend", FAULTS, &[]);
    assert_eq!(
        keys(&json),
        [
            "degrees_of_freedom",
            "laplace_z",
            "mil_hdbk_chi2",
            "mtbf_hours",
            "mtbf_now_hours",
            "power_law",
            "schema"
        ]
    );
    assert_eq!(keys(&json["power_law"]), ["cramer_von_mises", "scale", "shape", "shape_unbiased"]);
    assert_eq!(keys(&json["mtbf_hours"]), ["estimate", "high", "low"]);
    assert_near(&json["mil_hdbk_chi2"], 37.2281, 5.1e-5);
    assert_near(&json["mtbf_hours"]["estimate"], 150.0, 1e-9);
    let by_fault = notebook.asked("trend", FAULTS, &["--ends", "failure"]);
    // Eleven faults, the last one sets the end.
    assert_eq!(by_fault["degrees_of_freedom"], 20);
    assert_near(&by_fault["mtbf_hours"]["estimate"], 1500.0 / 11.0, 1e-9);
}

/// No failure in T at 90 %: 0.4343 T (NIST/SEMATECH e-Handbook 8.4.5.1); at 60 %: T / -ln 0.4.
#[test]
fn trend_without_a_fault_has_a_lower_limit_alone() {
    let notebook = Notebook::new();
    let json = notebook.asked("trend", "hours\n1000\n", &[]);
    assert_near(&json["mtbf_hours"]["low"], 434.294_48, 1e-4);
    for null in [
        &json["mtbf_hours"]["estimate"],
        &json["mtbf_hours"]["high"],
        &json["laplace_z"],
        &json["mtbf_now_hours"],
    ] {
        assert_eq!(*null, Value::Null);
    }
    let json = notebook.asked("trend", "hours\n1000\n", &["--level", "0.6"]);
    assert_near(&json["mtbf_hours"]["low"], 1000.0 / -(0.4_f64.ln()), 1e-6);
}

#[rstest]
#[case::text("wear", "hours,replaced\n54,1\nlong,1\n", "line 3")]
#[case::negative("wear", "hours,replaced\n-54,1\n60,1\n", "line 2")]
#[case::neither_yes_nor_no("wear", "hours,replaced\n54,1\n60,2\n", "line 3")]
#[case::column("wear", "hours,worn\n54,1\n", "no column replaced")]
#[case::empty("wear", "", "no column hours")]
#[case::no_rows("wear", "hours,replaced\n", "no rows")]
#[case::never_ran("wear", "hours,replaced\n54,1\n0,1\n", "line 3")]
#[case::endless("wear", "hours,replaced\n54,1\n1e999,1\n", "line 3")]
#[case::text("interval", "hours,dirty\n4,0\n5,grey\n", "line 3")]
#[case::negative("interval", "hours,dirty\n4,0\n-5,1\n", "line 3")]
#[case::column("interval", "hours,clean\n4,0\n", "no column dirty")]
#[case::short_row("interval", "hours,dirty\n4,0\n5\n", "line 3")]
#[case::text("trend", "hours\n5\nten\n20\n", "line 3")]
#[case::negative("trend", "hours\n-5\n10\n", "line 2")]
#[case::goes_down("trend", "hours\n50\n10\n60\n", "line 3")]
#[case::column("trend", "when\n50\n", "no column hours")]
#[case::empty("trend", "hours\n", "no rows")]
#[case::decimal_comma("wear", "hours,replaced\n54,1\n60,5,1\n", "line 3")]
#[case::decimal_comma("trend", "hours\n5\n40,5\n100\n", "line 3")]
#[case::decimal_comma("speed", "knob,hours,tears\n1,2,3\n0,5,2,1\n", "line 3")]
#[case::decimal_comma("exposure", "a_hv_m_s2,minutes\n2,5,60\n", "line 2")]
#[case::open_quotation_mark("wear", "hours,replaced,note\n54,1,\"burr\n60,1,\n", "line 2")]
#[case::blank_lines_and_a_note_of_two_lines(
    "speed",
    "knob,hours,tears,note\r\n\r\n1,2,3,\"felt\r\nslack\"\r\n , ,,\r\nfast,2,3,\r\n",
    "line 6"
)]
fn a_bad_table_ends_with_code_six_and_says_where(
    #[case] command: &str,
    #[case] text: &str,
    #[case] words: &str,
) {
    let notebook = Notebook::new();
    let path = notebook.table(text);
    for json in [true, false] {
        let mut arguments = vec![command, "--table", path.to_str().unwrap()];
        if json {
            arguments.push("--json");
        }
        let output = notebook.run(&arguments);
        assert_eq!(output.status.code(), Some(6));
        assert!(output.stdout.is_empty());
        let told = String::from_utf8(output.stderr).unwrap().split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(told.contains(words), "{told}");
        assert!(!told.contains("panicked"), "{told}");
    }
}

#[test]
fn a_table_of_more_rows_than_are_read_is_refused_with_its_line() {
    let notebook = Notebook::new();
    let path = notebook.table(format!("hours,dirty\n{}", "4,1\n".repeat(10_001)));
    let output = notebook.run(&["interval", "--table", path.to_str().unwrap()]);
    assert_eq!(output.status.code(), Some(6));
    assert!(String::from_utf8_lossy(&output.stderr).contains("line 10002"), "{output:?}");
}

#[rstest]
#[case::no_file(&["wear", "--table", "nowhere.csv"], 6)]
#[case::no_cost(&["wear", "--shape", "2", "--scale-hours", "9", "--planned-cost", "0", "--failure-cost", "5"], 6)]
#[case::bad_shape(&["wear", "--shape", "-2", "--scale-hours", "9", "--planned-cost", "1", "--failure-cost", "5"], 6)]
#[case::half_a_curve(&["wear", "--shape", "2", "--planned-cost", "1", "--failure-cost", "5"], 2)]
#[case::half_the_costs(&["wear", "--shape", "2", "--scale-hours", "9", "--planned-cost", "1"], 2)]
#[case::nothing(&["wear"], 2)]
#[case::a_sure_thing(&["trend", "--table", "t.csv", "--level", "1"], 6)]
fn what_was_asked_wrongly_ends_with_its_code(#[case] arguments: &[&str], #[case] code: i32) {
    let output = Notebook::new().run(arguments);
    assert_eq!(output.status.code(), Some(code), "{output:?}");
    assert!(output.stdout.is_empty() && !output.stderr.is_empty());
}

#[test]
fn words_are_plain_and_figures_wait_until_asked_for() {
    let notebook = Notebook::new();
    let tables = [("wear", LIVES), ("interval", FINDINGS), ("trend", FAULTS)];
    for (command, text) in tables {
        let path = notebook.table(text);
        let path = path.to_str().unwrap();
        let plain = String::from_utf8(notebook.run(&[command, "--table", path]).stdout).unwrap();
        let explained =
            String::from_utf8(notebook.run(&[command, "--table", path, "--explain"]).stdout).unwrap();
        for jargon in
            ["shape", "scale", "Weibull", "Laplace", "chi-square", "likelihood", "null", "NaN", "inf"]
        {
            assert!(!plain.contains(jargon), "{command}: {plain}");
        }
        assert!(plain.lines().count() >= 2, "{plain}");
        assert!(explained.contains("shape") && explained.len() > plain.len(), "{explained}");
    }
}

#[test]
fn words_about_speed_say_the_numbers_that_json_has() {
    let notebook = Notebook::new();
    let text = "knob,hours,tears\n1,100,0\n2,60,2\n";
    let json = notebook.asked("speed", text, &[]);
    let path = notebook.table(text);
    let arguments = ["speed", "--table", path.to_str().unwrap(), "--explain"];
    let words = String::from_utf8(notebook.run(&arguments).stdout).unwrap();
    assert!(words.contains("0 tears in 100 h; 0 an hour (between 0 and 0.037)"), "{words}");
    // Garwood's limits by scipy's chi2: 0.0368888 above none in 100, 0.00403682 and 0.120411 around two in 60.
    assert!(words.contains("2 tears in 60 h; 0.033 an hour (between 0.004 and 0.12)"), "{words}");
    // Both tears at the higher knob: the lower limit is s / (1 - s) * 100 / 60 with s the root of 0.025, the chance of both
    // there is (60 / 160)^2, and of none there 0.625^2, which is more: by hand.
    let low = 0.025_f64.sqrt() / (1.0 - 0.025_f64.sqrt()) * 100.0 / 60.0;
    assert_near(&json["ratio"]["low"], low, 1e-12);
    assert_near(&json["ratio"]["p_value"], 0.140_625, 1e-12);
    assert!(words.contains("strata ignored: rate ratio none (0.3130 to none), p 0.1406"), "{words}");
    assert!(words.contains("1 informative stratum") && !words.contains("1 informative strata"), "{words}");
}
