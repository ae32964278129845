//! A rug that no logger counted, as a maker runs it.
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

#[test]
fn a_clients_card_without_records_says_nothing_of_logging() {
    let studio = Studio::empty();
    studio.ok(&["machine", "add", "Blue handle"]);
    studio.ok(&["rug", "new", "Fox", "--size", "80x120cm"]);
    studio.ok(&["hours", "add", "--run-minutes", "40", "--rug", "Fox"]);
    let said = studio.ok(&["rug", "card", "Fox", "--html", "card.html"]);
    let page = std::fs::read_to_string(studio.path().with_file_name("card.html")).unwrap();
    for text in [&studio.ok(&["rug", "card", "Fox"]), &page] {
        assert!(text.contains("Made by hand.") && !text.contains("logged"), "{text}");
    }
    assert!(said.contains("card.html"), "{said}");
}

#[test]
fn what_has_no_price_is_in_the_table_without_an_amount_and_its_sum_is_no_nought() {
    let studio = Studio::empty();
    studio.ok(&["machine", "add", "Blue handle"]);
    studio.ok(&["rug", "new", "Fox", "--size", "80x120cm"]);
    studio.ok(&["hours", "add", "--run-minutes", "40", "--rug", "Fox"]);
    studio.ok(&["rug", "sheet", "Fox", "--csv", "sheet.csv"]);
    let text = std::fs::read_to_string(studio.path().with_file_name("sheet.csv")).unwrap();
    let mut table = csv::Reader::from_reader(text.as_bytes());
    let costs: Vec<csv::StringRecord> =
        table.records().map(Result::unwrap).filter(|row| &row[0] == "cost").collect();
    let cells: Vec<(&str, &str)> = costs.iter().map(|row| (&row[1], &row[2])).collect();
    assert_eq!(
        cells,
        [("machine 1, running, typed in", ""), ("at the frame, typed in", ""), ("together", "")]
    );
    assert_eq!(&costs[0][4], "no price");
    assert!(
        studio.ok(&["rug", "sheet", "Fox"]).contains("its running counts as the least"),
        "no time at the frame"
    );
}

#[test]
fn a_kind_of_pile_in_place_of_its_height_is_answered_with_where_it_goes() {
    let studio = Studio::empty();
    let told = studio.ask(&["rug", "new", "Fox", "--size", "80x120cm", "--pile", "loop"]);
    assert!(told.err().contains("--style"), "{}", told.err());
}
