//! What goes with a rug that is taken back, and colours that it was not described with.
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
use crate::rug_rename::a_studio;

fn order(studio: &Studio, rug: &str) -> String {
    studio.json(&["rug", "history", rug, "--json"])["entries"][0]["entry"].to_string()
}

#[test]
fn what_was_counted_to_a_rug_is_told_when_its_order_is_taken_back() {
    let studio = a_studio();
    let said = studio.said(&["rug", "take-back", &order(&studio, "Fox")]);
    let goes = "What was counted to Fox goes with it: 2 sessions (50 min), 1 weighing, 1 job time \
                (1 h 40 min) and 1 material. It stays visible and counts to Fox no more.\n";
    assert!(said.starts_with("Taken back: ordered ") && said.ends_with(goes), "{said}");
    let rugs = studio.json(&["hours", "--json"])["machines"][0]["rugs"].to_string();
    assert!(!rugs.contains("Fox"), "{rugs}");
    let said = studio.ok(&["rug", "take-back", &order(&studio, "Cat")]);
    assert!(!said.contains("goes with it"), "nothing was said of Cat: {said}");
}

#[test]
fn a_correction_that_is_taken_back_takes_nothing_with_it() {
    let studio = a_studio();
    studio.ok(&["rug", "change", "Fox", "--size", "60x90cm"]);
    let correction = studio.entries().len().to_string();
    let said = studio.ok(&["rug", "take-back", &correction]);
    assert!(!said.contains("goes with it"), "{said}");
    studio.ok(&["rug", "rename", "Fox", "Owl"]);
    let said = studio.ok(&["rug", "take-back", &order(&studio, "Owl")]);
    assert!(said.contains("What was counted to Owl goes with it: 2 sessions (50 min)"), "{said}");
}

#[test]
fn a_colour_that_a_rug_was_not_described_with_is_told_once_and_written_down() {
    let studio = a_studio();
    studio.ok(&["rug", "new", "Owl", "--colour", "Red", "--colour", "white"]);
    let weigh = |rug: &str, colour: &str| studio.said(&["rug", "yarn", rug, colour, "--out", "1,5kg"]);
    assert_eq!(weigh("Owl", "red"), "Written down: 1.5 kg of red taken for Owl.\n");
    let said = weigh("Owl", "wite");
    let told = "Written down: 1.5 kg of wite taken for Owl.\nOwl was described with the colours Red and white, not with wite.";
    assert_eq!(said, format!("{told}\n"));
    assert_eq!(weigh("Owl", "wite"), "Written down: 1.5 kg of wite taken for Owl.\n", "it was told before");
    assert_eq!(weigh("Fox", "mauve"), "Written down: 1.5 kg of mauve taken for Fox.\n", "Fox has no colours");
}
