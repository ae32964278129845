//! One price for a rug: kept with it, told to its client, and compared with what it took.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "a test may stop at the first surprise")]

use crate::bench_studio::Studio;

/// A maker without a board: 25 an hour of work, 1 an hour of running; 0.2 m² take an hour of running in two at the frame.
fn a_maker() -> Studio {
    let studio = Studio::empty();
    let lines = [
        "machine add Blue --without-logger --since 2025-01-01",
        "rate wage 25 --currency EUR",
        "rate set --price 100 --resale 0 --life-hours 100",
        "quote sample --size 50x40cm --run-minutes 60 --tufting-minutes 120",
        "rate price --yarn-per-kg 20 --yarn-kg-per-m2 2.5 --cloth-per-m 10 --roll-width 150cm --cloth-margin 0 \
         --bench-per-rug 1h --bench-per-m2 1h",
        "rug new Fox --size 100x40cm --when 2025-03-03",
        "rug start Fox --when 2025-03-03",
    ];
    for line in lines {
        studio.ok(&line.split_whitespace().collect::<Vec<_>>());
    }
    studio
}

#[test]
fn a_price_is_kept_with_its_rug_and_the_sheet_sets_it_against_what_the_rug_took() {
    let studio = a_maker();
    assert!(studio.json(&["rug", "sheet", "Fox", "--json"])["quoted"].is_null());
    let said = studio.ok(&["quote", "--for", "fox"]);
    // By hand: 1 kg at 20 and 0.4 m at 10; 4 h at 25 and 2 h at 1; 1.4 h at 25.
    assert!(said.contains("161.00 EUR") && said.contains("Kept for Fox"), "{said}");
    studio.ok(&["worked", "3h", "--motor", "1h30", "--when", "2025-03-04 10:00"]);
    studio.ok(&["job", "add", "gluing", "90min", "--rug", "Fox"]);
    studio.ok(&["job", "add", "designing", "30min", "--rug", "Fox"]);
    let sheet = studio.ok(&["rug", "sheet", "Fox"]);
    assert!(
        sheet.contains("No yarn noted: incomplete.") && sheet.contains("No cloth noted: incomplete."),
        "{sheet}"
    );
    studio.ok(&["rug", "yarn", "Fox", "red", "--out", "1kg", "--when", "2025-03-04"]);
    assert!(
        studio.ok(&["rug", "sheet", "Fox"]).contains("not weighed after the work is missing: incomplete")
    );
    studio.ok(&["rug", "yarn", "Fox", "red", "--back", "100g", "--when", "2025-03-05"]);
    studio.ok(&["rug", "material", "Fox", "cloth", "5"]);
    let sheet = studio.json(&["rug", "sheet", "Fox", "--json"]);
    let quoted = &sheet["quoted"];
    let actual: Vec<_> =
        quoted["lines"].as_array().unwrap().iter().map(|line| line["actual_cents"].clone()).collect();
    // By hand: 0.9 kg at 20 and 5; 3 h at 25 and 1.5 h at 1; 2 h at 25.
    assert_eq!(actual, [2_300, 7_650, 5_000]);
    assert_eq!(
        (&sheet["bill"]["total_cents"], &sheet["bill"]["is_incomplete"]),
        (&14_950.into(), &false.into())
    );
    assert_eq!((&quoted["price_cents"], &quoted["left_cents"]), (&16_100.into(), &1_150.into()));
    let text = studio.ok(&["rug", "sheet", "Fox"]);
    assert!(text.contains("quoted against actual") && !text.contains("incomplete"), "{text}");
    // A later price takes its place, and goes with the rug when that is renamed.
    studio.ok(&["rug", "rename", "Fox", "Bear"]);
    studio.ok(&["quote", "--for", "Bear", "--yarn-kg-per-m2", "5"]);
    assert_eq!(studio.json(&["rug", "sheet", "Bear", "--json"])["quoted"]["price_cents"], 18_100);
    assert!(studio.ok(&["rug", "history", "Bear"]).contains("priced at 161.00 EUR"));
}

#[test]
fn a_price_for_no_rug_no_size_or_out_of_nothing_is_not_kept() {
    let studio = a_maker();
    studio.ok(&["rug", "new", "Owl"]);
    let before = studio.entries().len();
    for (line, says) in [
        ("quote --for Fix", "Did you mean Fox?"),
        ("quote --for Owl", "for what size?"),
        ("quote --for Fox --client offer.html", "has no sender"),
    ] {
        let told = studio.ask(&line.split(' ').collect::<Vec<_>>());
        assert_ne!(told.code(), 0, "{line}");
        assert!(told.err_words().contains(says), "{line}: {}", told.err_words());
    }
    let empty = Studio::empty();
    empty.ok(&["rug", "new", "Fox", "--size", "1x1m"]);
    let told = empty.ask(&["quote", "--for", "Fox"]);
    assert!(told.err_words().contains("nothing of the price could be worked out"), "{told:?}");
    assert_eq!((studio.entries().len(), empty.entries().len()), (before, 1), "nothing was kept");
}

#[test]
fn a_client_reads_a_price_of_which_no_share_was_said_but_none_that_lacks_a_number() {
    let studio = a_maker();
    studio.ok(&["rate", "price", "--studio", "Blue studio", "--contact", "at the door"]);
    let said = studio.ok(&["quote", "--size", "100x40cm", "--client", "offer.html"]);
    assert!(said.contains("Counted as nothing: no margin") && !said.contains("do not tell it"), "{said}");
    let page = || std::fs::read_to_string(studio.path().with_file_name("offer.html")).unwrap();
    assert!(page().contains("161.00 EUR") && page().contains("Included: design"), "{}", page());
    studio.ok(&["rate", "price", "--included", "All but the <frame>.", "--changes", "3"]);
    studio.ok(&["quote", "--size", "100x40cm", "--client", "offer.html"]);
    assert!(page().contains("All but the &#60;frame&#62;. 3 changes of the design"), "{}", page());
    // Without a price of labour a number is missing.
    let poor = Studio::empty();
    poor.ok(&["rate", "price", "--studio", "Blue studio", "--contact", "at the door"]);
    let told = poor.ask(&["quote", "--size", "100x40cm", "--client", "offer.html"]);
    assert_eq!(told.code(), 6, "{told:?}");
    assert!(told.err_words().contains("a number is missing in the price"), "{told:?}");
}
