//! Numbers below zero and words where a number is wanted: refused in words of the program's own, with the exit code of bad
//! input, and nothing is written.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::indexing_slicing,
    clippy::panic,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a test may stop at the first surprise"
)]

use crate::bench_studio::Studio;

fn a_studio() -> Studio {
    let studio = Studio::empty();
    studio.ok(&["machine", "add", "Blue"]);
    studio.ok(&["rug", "new", "Fox", "--when", "2025-03-03"]);
    studio.ok(&["rug", "start", "Fox", "--when", "2025-03-04"]);
    studio.ok(&["rug", "yarn", "Fox", "red", "--out", "100g"]);
    studio.ok(&["job", "start", "gluing"]);
    studio
}

/// Every one refused with code 6, nothing on standard output, nothing written, and these words.
#[track_caller]
fn expect_all_refused(lines: &[&str], words: &str) {
    let studio = a_studio();
    let before = studio.entries().len();
    for line in lines {
        let told = studio.ask(&line.split(' ').collect::<Vec<_>>());
        assert_eq!((told.code(), told.out().as_str()), (6, ""), "{line}: {told:?}");
        assert!(told.err_words().contains(words), "{line}: {}", told.err_words());
        assert!(!told.err_words().contains("tip:"), "{line}: {}", told.err_words());
    }
    assert_eq!(studio.entries().len(), before, "something was written");
}

#[test]
fn every_number_below_zero_is_called_that() {
    let lines = [
        "rug new Owl --size -80x120cm",
        "rug new Owl --size 80x-120cm",
        "rug new Owl --pile -3mm",
        "rug change Fox --size -1x-1",
        "rug change Fox --pile -0.5in",
        "rug start Fox --machine -1",
        "rug pause Fox --machine -1",
        "rug finish Fox --machine -1",
        "rug yarn Fox red --out -5g",
        "rug yarn Fox red --back -5",
        "rug yarn Fox red --left -0.5kg",
        "rug material Fox glue -5",
        "rug assign Fox --session -3",
        "rug confirm --session -3",
        "rug take-back -3",
        "job add gluing -5min",
        "job stop --after -5",
        "hours add --run-minutes -5",
        "hours add --tufting-minutes -5",
        "hours add --run-minutes 5 --knob -5",
        "hours add --run-minutes 5 --machine -5",
        "hours --machine -1",
        "quote --size -8x9cm",
        "quote --size 8x-9in",
        "quote --size 8x9cm --colours -3",
        "quote --size 8x9cm --level -0.8",
        "quote --size 8x9cm --wage -3",
        "quote --size 8x9cm --machine -3",
        "quote sample --size -6x6in --run-minutes 3",
        "quote sample --size 6x6in --run-minutes -3",
        "quote sample --size 6x6in --run-minutes 3 --tufting-minutes -5",
        "quote sample --size 6x6in --run-minutes 3 --strokes -5",
        "rate --price -3 --resale 3 --life-hours 3",
        "rate --price 3 --resale -3 --life-hours 3",
        "rate --price 3 --resale 3 --life-hours -3",
        "rate --price 3 --resale 3 --life-hours 3 --period-hours -3 --period-cost 1",
        "rate --price 3 --resale 3 --life-hours 3 --period-hours 3 --period-cost -1",
        "rate --price 3 --resale 3 --life-hours 3 --hour-cost -1",
        "rate set --price -3 --resale 3 --life-hours 3",
        "rate wage -5",
        "rate --machine -2",
        "plot usage --machine -1",
        "plot hours --machine -1",
        "plot year --year -5",
        "plot year --machine -1",
    ];
    expect_all_refused(&lines, "below zero");
}

#[test]
fn a_word_where_a_whole_number_is_wanted_is_answered_in_plain_words() {
    let lines = ["rug take-back five", "rug assign Fox --session five", "plot year --year last"];
    expect_all_refused(&lines, "is no whole number");
    let not_only_whole = ["hours add --run-minutes ten", "hours add --run-minutes 5 --knob half"];
    expect_all_refused(&not_only_whole, "must be");
    expect_all_refused(
        &["plot usage --machine 99999999999", "rug take-back 99999999999999999999"],
        "too large",
    );
}

#[test]
fn a_word_where_a_machine_is_wanted_is_its_name_and_an_unknown_one_lists_those_there_are() {
    let lines = [
        "rug start Fox --machine two",
        "quote --size 8x9cm --machine two",
        "rate --machine two",
        "plot usage --machine 1.5",
        "machine remove two",
    ];
    expect_all_refused(&lines, "There is only 1 (Blue).");
}

#[test]
fn nothing_where_one_is_the_least_is_not_called_too_large() {
    expect_all_refused(&["pull --machine 0"], "must be 1 or more, not 0");
    expect_all_refused(&["pull --machine 99999999999"], "too large");
}

#[test]
fn what_is_not_understood_at_all_stays_a_usage_error() {
    let studio = a_studio();
    assert_eq!(studio.ask(&["rug", "new"]).code(), 2);
    assert_eq!(studio.ask(&["rug", "new", "Owl", "--style", "knitted"]).code(), 2);
    assert_eq!(studio.ask(&["rug", "new", "-5"]).code(), 2, "a name does not begin with a dash");
    let help = studio.ask(&["rug", "new", "--help"]);
    assert_eq!(help.code(), 0);
}

#[test]
fn a_word_that_is_no_command_is_met_with_the_right_one() {
    let studio = a_studio();
    for (words, meant) in [
        (&["log"][..], "needlehours pull"),
        (&["help", "session"], "needlehours rug sessions"),
        (&["rug", "delete"], "needlehours take-back"),
        (&["calender"], "needlehours calendar"),
        (&["xyzzyxyzzy"], "needlehours --help"),
    ] {
        let told = studio.ask(words);
        assert_eq!(told.code(), 2, "{words:?}");
        assert!(told.err_words().contains(meant), "{words:?}: {}", told.err());
    }
}
