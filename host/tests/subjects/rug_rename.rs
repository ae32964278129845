//! Another name for a rug: what was said by the old one counts to it, and the old one still finds it.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::indexing_slicing,
    clippy::panic,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a test may stop at the first surprise"
)]

use crate::bench_studio::{Studio, reading, running};
use rstest::rstest;
use serde_json::Value;
use shared_types::{Totals, UtcMillis};

/// 2025-03-03T08:00:00Z, a Monday: 20,150 days after 1970-01-01, and eight hours.
const MONDAY_8: i64 = 20_150 * 86_400_000 + 8 * 3_600_000;
const FRIDAY_8: UtcMillis = UtcMillis(MONDAY_8 + 4 * 86_400_000);

/// Fox on the frame on Monday from eight to noon, with 30 min of running, 20 min by hand, yarn, job time, material, a stage and
/// a tear; Cat, of which nothing was said.
pub fn a_studio() -> Studio {
    let studio = Studio::empty();
    for words in [
        &["machine", "add", "Blue"][..],
        &["rug", "new", "Fox", "--size", "80x120cm", "--style", "cut", "--when", "2025-03-01"],
        &["rug", "new", "Cat"],
        &["rug", "start", "Fox", "--when", "2025-03-03 08:00"],
        &["rug", "stage", "Fox", "fill", "--when", "2025-03-03 08:10"],
        &["rug", "yarn", "Fox", "red", "--out", "500g", "--when", "2025-03-03"],
        &["rug", "material", "Fox", "glue", "12,50", "--when", "2025-03-03"],
        &["rug", "pause", "Fox", "--when", "2025-03-03 12:00"],
        &["job", "add", "gluing", "1h40", "--rug", "Fox", "--when", "2025-03-03"],
        &["hours", "add", "--run-minutes", "20", "--rug", "Fox", "--when", "2025-03-04 10:00"],
        &["tear", "--rug", "Fox", "--when", "2025-03-03 09:00"],
    ] {
        studio.ok(words);
    }
    let records =
        [reading(1, MONDAY_8), running(1, 0, 600_000, 12_000, 1200), running(1, 15, 1_200_000, 24_000, 2900)];
    studio.pulled_with_loss(FRIDAY_8, &records, Totals::default());
    studio.ok(&["machine", "fit"]);
    studio.ok(&["rug", "confirm", "Fox"]);
    studio
}

/// Everything that is answered of a rug, by this name.
fn answers(studio: &Studio, name: &str) -> Vec<Value> {
    let mut answers: Vec<Value> = [
        &["rug", "sheet", name, "--json"][..],
        &["rug", "progress", name, "--json"],
        &["rug", "yarn", name, "--json"],
        &["rug", "sessions", "--rug", name, "--json"],
        &["hours", "--json"],
        &["hours", "--rug", name, "--json"],
        &["job", "--rug", name, "--json"],
        &["tear", "list", "--json"],
        &["quote", "--size", "80x120cm", "--json"],
    ]
    .iter()
    .map(|words| studio.json(words))
    .collect();
    let list = studio.json(&["rug", "list", "--json"])["rugs"].clone();
    answers.extend(list.as_array().unwrap().iter().cloned().map(|mut line| {
        line.as_object_mut().unwrap().remove("former_names");
        line
    }));
    answers
}

#[test]
fn every_answer_is_the_same_but_for_the_name() {
    let studio = a_studio();
    let called_fox = serde_json::to_string(&answers(&studio, "Fox")).unwrap();
    assert!(called_fox.matches("\"Fox\"").count() > 8, "the answers tell of it: {called_fox}");
    let said = studio.said(&["rug", "rename", "fox", "Owl"]);
    let told = "Fox is called Owl from now on. All that was said of Fox counts to Owl, and the name Fox still finds it.\n";
    assert_eq!(said, told);
    for name in ["Owl", "Fox"] {
        let called_owl = serde_json::to_string(&answers(&studio, name)).unwrap();
        assert_eq!(called_owl, called_fox.replace("Fox", "Owl"), "{name}");
    }
    let list = studio.json(&["rug", "list", "--json"]);
    assert_eq!(list["rugs"][0]["former_names"][0], "Fox");
    assert!(studio.ok(&["rug", "list"]).contains("Owl (before: Fox)"));
}

#[test]
fn what_is_said_by_the_old_name_afterwards_counts_to_the_rug() {
    let studio = a_studio();
    studio.ok(&["rug", "rename", "Fox", "Owl"]);
    studio.ok(&["rug", "yarn", "fox", "red", "--back", "100g"]);
    studio.ok(&["rug", "yarn", "Owl", "red", "--out", "50g"]);
    let yarn = studio.json(&["rug", "yarn", "Owl", "--json"]).to_string();
    assert!(yarn.contains("\"out_mg\":550000") && yarn.contains("\"back_mg\":100000"), "{yarn}");
    let history = studio.ok(&["rug", "history", "Fox"]);
    for words in [
        "Owl: everything",
        "called Owl from now on, Fox before",
        "500 g of red taken for Fox",
        "50 g of red taken for Owl",
    ] {
        assert!(history.contains(words), "{words}: {history}");
    }
    studio.ok(&["rug", "rename", "Owl", "Fox"]);
    let back = studio.json(&["rug", "yarn", "Owl", "--json"]).to_string();
    assert_eq!(back, yarn, "it has its first name back, and nothing was lost");
    assert_eq!(studio.json(&["rug", "history", "Owl", "--json"])["rug"], "Fox");
    let moved = studio.json(&["rug", "history", "Fox", "--json"]).to_string();
    assert!(moved.contains("bursts_assigned"), "{moved}");
}

#[rstest]
#[case::no_such_rug(&["rug", "rename", "Fix", "Owl"], "no rug called Fix")]
#[case::taken(&["rug", "rename", "Cat", "bear"], "already a rug called Bear")]
#[case::formerly_of_another(&["rug", "rename", "Cat", "Fox"], "Fox is what Bear was called before")]
#[case::a_new_one_with_a_former_name(&["rug", "new", "FOX"], "FOX is what Bear was called before")]
#[case::the_name_that_it_has(&["rug", "rename", "Fox", "Bear"], "called Bear already")]
#[case::no_name(&["rug", "rename", "Bear", " "], "1 to 60 letters")]
#[case::of_one_that_was_taken_back(&["rug", "rename", "Bear", "Elk"], "another rug, which was taken back, was called Elk")]
#[case::taken_back_itself(&["rug", "take-back", "{rename}"], "that Fox is called Bear is not taken back")]
fn a_name_that_cannot_be_is_refused(#[case] words: &[&str], #[case] why: &str) {
    let studio = a_studio();
    studio.ok(&["rug", "new", "Elk"]);
    let ordered = studio.entries().len().to_string();
    studio.ok(&["rug", "take-back", &ordered]);
    studio.ok(&["rug", "rename", "Fox", "Bear"]);
    let before = studio.entries().len();
    let renamed = before.to_string();
    let words: Vec<&str> =
        words.iter().map(|word| if *word == "{rename}" { renamed.as_str() } else { word }).collect();
    let told = studio.ask(&words);
    assert_eq!((told.code(), told.out().as_str()), (6, ""), "{told:?}");
    assert!(told.err_words().contains(why), "{}", told.err_words());
    assert_eq!(studio.entries().len(), before);
}

#[test]
fn the_record_book_of_the_machine_tells_both_names() {
    let studio = a_studio();
    studio.ok(&["rug", "rename", "Fox", "Owl"]);
    studio.ok(&["rug", "rename", "Cat", "Dog"]);
    let book = studio.json(&["book", "--json"]).to_string();
    assert!(book.contains("\"rug\":\"Fox\"") && book.contains("\"now\":\"Owl\""), "{book}");
    assert!(!book.contains("Dog"), "nothing of that one ran here");
}

#[test]
fn the_spelling_of_a_name_can_be_put_right() {
    let studio = a_studio();
    studio.ok(&["rug", "rename", "fox", "FOX"]);
    assert_eq!(studio.json(&["rug", "list", "--json"])["rugs"][0]["rug"], "FOX");
    assert_eq!(studio.json(&["rug", "history", "fox", "--json"])["rug"], "FOX");
}
