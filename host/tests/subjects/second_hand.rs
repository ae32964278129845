//! Machines that came second-hand, with parts of unknown age, as a maker runs them.
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
use serde_json::json;

fn second_hand() -> Studio {
    let studio = Studio::empty();
    let add = ["machine", "add", "Old grey", "--without-logger", "--second-hand", "--hours-before", "300"];
    studio.ok(&add);
    studio
}

/// The tasks that are to be looked at first, in their order.
fn first(studio: &Studio) -> Vec<String> {
    let due = studio.ask(&["due", "--json"]).json();
    let tasks = due["tasks"].as_array().unwrap().clone();
    let first = tasks.iter().take_while(|task| task["age_unknown"] == json!(true));
    let first: Vec<String> = first.map(|task| task["task"].as_str().unwrap().to_owned()).collect();
    let all = tasks.iter().filter(|task| task["age_unknown"] == json!(true)).count();
    assert_eq!(first.len(), all, "what is to be looked at first stands first");
    first
}

#[test]
fn what_was_never_done_on_a_second_hand_machine_is_to_be_looked_at_first_until_it_was_done_once() {
    let studio = second_hand();
    let told = studio.ask(&["due"]);
    assert_eq!(told.code(), 3, "{told:?}");
    assert!(
        told.out().contains("first     oiling") && !told.out().contains("Nothing is due"),
        "{}",
        told.out()
    );
    let before = first(&studio);
    assert!(
        before.iter().any(|task| task == "oiling") && before.iter().any(|task| task == "belt"),
        "{before:?}"
    );
    assert!(before.iter().all(|task| task != "re-tension"), "the cloth is not the machine's: {before:?}");
    studio.ok(&["done", "belt"]);
    let after = first(&studio);
    assert_eq!(after.len(), before.len() - 1);
    assert!(after.iter().all(|task| task != "belt"), "{after:?}");
    // From there on the belt is asked for by the numbers.
    assert!(studio.ask(&["due"]).out().contains("later     belt              25 h of running left"));
}

#[test]
fn what_is_due_by_numbers_comes_after_what_nobody_knows_the_age_of() {
    let studio = second_hand();
    studio.ok(&["machine", "add", "Blue handle", "--without-logger"]);
    studio.ok(&["hours", "add", "--run-minutes", "1440", "--machine", "2"]);
    let due = studio.ask(&["due", "--json"]).json();
    let tasks = due["tasks"].as_array().unwrap();
    let overdue = tasks.iter().position(|task| task["state"] == "overdue").unwrap();
    assert_eq!(overdue, first(&studio).len());
    assert!(tasks.iter().all(|task| task["machine"] == 1 || task["age_unknown"] == json!(false)));
}

#[test]
fn what_was_put_off_or_switched_off_is_not_asked_for_first() {
    let studio = second_hand();
    studio.ok(&["due", "snooze", "belt", "--for-days", "5", "--reason", "waits for a belt"]);
    studio.ok(&["care", "off", "gear-grease"]);
    let first = first(&studio);
    assert!(first.iter().all(|task| task != "belt" && task != "gear-grease"), "{first:?}");
}

#[test]
fn a_part_that_came_with_the_machine_can_be_replaced_as_worn_out_and_is_in_no_statistics() {
    let studio = second_hand();
    let said = studio.ok(&["part", "fit", "needle", "--replaces", "worn-out"]);
    assert!(said.contains("its age is not known"), "{said}");
    assert!(first(&studio).iter().all(|task| task != "needle" && task != "needle-change"));
    let wear = studio.json(&["wear", "--part", "needle", "--json"]);
    assert_eq!(wear["lives"].as_array().unwrap().len(), 1, "only the new one has a life");
    let off = studio.json(&["part", "off", "belt", "--because", "worn-out", "--json"]);
    assert_eq!((&off["came_with_machine"], &off["taken_off"]), (&json!(true), &json!(null)));
    // There was one only.
    let again = studio.ask(&["part", "off", "belt", "--because", "worn-out"]);
    assert!(again.err().contains("no such belt is on the machine"), "{}", again.err());
    // Taken back, it is on again.
    studio.ok(&["part", "withdraw", &off["off_entry"].to_string(), "--reason", "a slip"]);
    studio.ok(&["part", "off", "belt", "--because", "worn-out"]);
}

#[test]
fn only_the_usual_parts_of_a_second_hand_machine_came_with_it() {
    let studio = second_hand();
    studio.ok(&["machine", "add", "Blue handle"]);
    let refused: [&[&str]; 3] = [
        &["part", "off", "needel", "--because", "worn-out", "--machine", "1"],
        &["part", "off", "needle", "--because", "worn-out", "--machine", "2"],
        &["part", "off", "needle", "--because", "worn-out", "--machine", "1", "--when", "2020-01-01"],
    ];
    let before = studio.entries().len();
    for words in refused {
        let told = studio.ask(words);
        assert_eq!(told.code(), 6, "{words:?}: {told:?}");
    }
    assert_eq!(studio.entries().len(), before);
}

#[test]
fn a_machine_cannot_be_new_and_second_hand_and_either_can_be_put_right() {
    let studio = Studio::empty();
    let both = studio.ask(&["machine", "add", "Old grey", "--second-hand", "--hours-before", "0"]);
    assert!(both.err_words().contains("new and second-hand at once"), "{}", both.err());
    studio.ok(&["machine", "add", "Old grey", "--hours-before", "0"]);
    let both = studio.ask(&["machine", "change", "--second-hand"]);
    assert!(both.err_words().contains("new and second-hand at once"), "{}", both.err());
    studio.ok(&["machine", "change", "--second-hand", "--hours-before", "300"]);
    assert!(!first(&studio).is_empty());
    studio.ok(&["machine", "change", "--not-second-hand"]);
    assert!(first(&studio).is_empty());
    assert_eq!(studio.json(&["machine", "--json"])["machines"][0]["is_second_hand"], json!(false));
}
