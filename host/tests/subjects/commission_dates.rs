//! Dates of a commission that cannot follow each other, and those that a maker may honestly not know better.
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
use rstest::rstest;

#[track_caller]
fn expect_refused(studio: &Studio, arguments: &[&str], words: &str) {
    let before = studio.entries().len();
    let told = studio.ask(arguments);
    assert_eq!((told.code(), told.out().as_str()), (6, ""), "{arguments:?}: {told:?}");
    assert!(told.err_words().contains(words), "{arguments:?}: {}", told.err_words());
    assert_eq!(studio.entries().len(), before, "something was written");
}

/// Two machines; Fox ordered on the 3rd, started on the 5th on machine 1, and 100 g of red taken for it on the 6th.
fn a_studio() -> Studio {
    let studio = Studio::empty();
    studio.ok(&["machine", "add", "Blue"]);
    studio.ok(&["machine", "add", "Green"]);
    studio.ok(&["rug", "new", "Fox", "--when", "2025-03-03"]);
    studio.ok(&["rug", "start", "Fox", "--machine", "1", "--when", "2025-03-05 08:00"]);
    studio.ok(&["rug", "yarn", "Fox", "red", "--out", "100g", "--when", "2025-03-06"]);
    studio
}

#[rstest]
#[case::begun_before_its_order(&["rug", "start", "Fox", "--when", "2025-03-02"], "Fox was ordered only later")]
#[case::ordered_after_its_start(&["rug", "change", "Fox", "--when", "2025-03-06"], "Fox was started before that")]
#[case::in_a_stage_before_its_order(
    &["rug", "stage", "Fox", "outline", "--when", "2025-03-02"],
    "Fox was ordered only later"
)]
#[case::rests_before_its_start(&["rug", "pause", "Fox", "--when", "2025-03-05 07:59"], "started only later")]
#[case::ends_before_its_start(&["rug", "finish", "Fox", "--when", "2025-03-04"], "started only later")]
#[case::ends_where_it_never_was(
    &["rug", "finish", "Fox", "--machine", "2", "--when", "2025-03-06"],
    "Fox was never started on machine 2"
)]
#[case::delivered_before_its_end(&["rug", "deliver", "Fox", "--when", "2025-03-07"], "not finished yet")]
#[case::yarn_back_before_it_was_taken(
    &["rug", "yarn", "Fox", "red", "--back", "10g", "--when", "2025-03-05"],
    "Fox had only 0 g of red by then"
)]
#[case::yarn_left_before_it_was_taken(
    &["rug", "yarn", "Fox", "RED", "--left", "10g", "--when", "2025-03-05 23:00"],
    "Fox had only 0 g of red by then"
)]
fn dates_that_contradict_each_other_are_refused(#[case] arguments: &[&str], #[case] words: &str) {
    expect_refused(&a_studio(), arguments, words);
}

#[test]
fn after_delivery_a_rug_neither_rests_nor_ends_until_it_is_back_on_the_frame() {
    let studio = a_studio();
    studio.ok(&["rug", "finish", "Fox", "--when", "2025-03-08"]);
    studio.ok(&["rug", "deliver", "Fox", "--when", "2025-03-10"]);
    expect_refused(&studio, &["rug", "pause", "Fox", "--when", "2025-03-11"], "delivered already");
    expect_refused(&studio, &["rug", "finish", "Fox", "--when", "2025-03-11"], "delivered already");
    studio.ok(&["rug", "start", "Fox", "--when", "2025-03-12"]);
    studio.ok(&["rug", "finish", "Fox", "--when", "2025-03-13"]);
}

#[test]
fn work_that_began_before_its_order_was_written_down_is_taken_with_a_word_about_it() {
    let studio = Studio::empty();
    studio.ok(&["machine", "add", "Blue"]);
    studio.ok(&["rug", "new", "Owl"]);
    let told = studio.ok(&["rug", "start", "Owl", "--when", "2025-03-05"]);
    assert!(told.contains("Its order was written down only"), "{told}");
    assert!(told.contains("needlehours rug change \"Owl\" --when DATE"), "{told}");
    studio.ok(&["rug", "change", "Owl", "--when", "2025-03-01"]);
    // Now the order has a date of its own, and a later start says nothing about it.
    let again = studio.ok(&["rug", "pause", "Owl", "--when", "2025-03-06"]);
    assert!(!again.contains("order"), "{again}");
    expect_refused(&studio, &["rug", "start", "Owl", "--when", "2025-02-20"], "Owl was ordered only later");
}

#[test]
fn a_stage_is_work_too() {
    let studio = Studio::empty();
    studio.ok(&["rug", "new", "Owl"]);
    let told = studio.ok(&["rug", "stage", "Owl", "outline", "--when", "2025-03-05"]);
    assert!(told.contains("Its order was written down only"), "{told}");
    assert!(told.contains("needlehours rug change \"Owl\" --when DATE"), "{told}");
    expect_refused(&studio, &["rug", "change", "Owl", "--when", "2025-03-06"], "Owl was started before that");
    studio.ok(&["rug", "change", "Owl", "--when", "2025-03-05"]);
    let told = studio.ok(&["rug", "stage", "Owl", "fill", "--when", "2025-03-05"]);
    assert!(!told.contains("order"), "{told}");
    expect_refused(&studio, &["rug", "stage", "Owl", "none", "--when", "2025-03-04"], "ordered only later");
}

#[test]
fn what_held_already_is_said() {
    let studio = a_studio();
    let told = studio.ok(&["rug", "start", "Fox", "--machine", "1", "--when", "2025-03-06"]);
    assert!(told.contains("on the frame already"), "{told}");
    studio.ok(&["rug", "pause", "Fox", "--when", "2025-03-07"]);
    assert!(studio.ok(&["rug", "pause", "Fox", "--when", "2025-03-08"]).contains("off the frame already"));
    studio.ok(&["rug", "finish", "Fox", "--when", "2025-03-09"]);
    let told = studio.ok(&["rug", "finish", "Fox", "--when", "2025-03-10"]);
    assert!(told.contains("had been finished before"), "{told}");
}

#[test]
fn yarn_of_one_day_may_be_written_down_in_any_order_of_its_hours() {
    let studio = a_studio();
    studio.ok(&["rug", "yarn", "Fox", "blue", "--out", "100g", "--when", "2025-03-06 15:00"]);
    // Of the same day, without an hour: it may have been in the evening.
    studio.ok(&["rug", "yarn", "Fox", "blue", "--back", "30g", "--when", "2025-03-06"]);
    let yarn = studio.json(&["rug", "yarn", "Fox", "--json"]);
    assert_eq!(yarn["colours"][1]["used_mg"], 70_000);
}

#[test]
fn yarn_that_came_back_later_cannot_have_come_back_before_too() {
    let studio = a_studio();
    studio.ok(&["rug", "yarn", "Fox", "red", "--left", "80g", "--when", "2025-03-09"]);
    // 100 g were taken; with 50 g back on the 8th no 80 g could be left on the 9th.
    let back = ["rug", "yarn", "Fox", "red", "--back", "50g", "--when", "2025-03-08"];
    expect_refused(&studio, &back, "50 g of red would have been left");
    studio.ok(&["rug", "yarn", "Fox", "red", "--back", "20g", "--when", "2025-03-08"]);
}

/// By the tz database, Europe/Berlin went forward from 02:00 to 03:00 on 30 March 2025 and back from 03:00 to 02:00 on
/// 26 October 2025.
#[test]
fn a_time_that_the_clocks_skipped_or_showed_twice_is_asked_about() {
    let studio = Studio::empty_in("Europe/Berlin");
    studio.ok(&["machine", "add", "Blue"]);
    studio.ok(&["rug", "new", "Fox", "--when", "2025-03-03"]);
    let skipped = ["rug", "start", "Fox", "--when", "2025-03-30 02:30"];
    expect_refused(&studio, &skipped, "the clocks were put forward");
    for moment in ["2025-03-30T01:30+01:00", "2025-03-30T03:30+02:00"] {
        expect_refused(&studio, &skipped, moment);
    }
    studio.ok(&["rug", "start", "Fox", "--when", "2025-03-30T01:30+01:00"]);
    let twice = ["rug", "finish", "Fox", "--when", "2025-10-26 02:30"];
    expect_refused(&studio, &twice, "came twice");
    for moment in ["2025-10-26T02:30+02:00", "2025-10-26T02:30+01:00"] {
        expect_refused(&studio, &twice, moment);
    }
    studio.ok(&["rug", "finish", "Fox", "--when", "2025-10-26T02:30+01:00"]);
}
