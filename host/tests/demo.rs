//! `demo` as a newcomer runs it.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, reason = "a test may stop at the first surprise")]

mod program;

use program::{place, run};

#[test]
fn the_demo_leaves_its_databases_and_pictures_and_touches_no_other() {
    let (folder, own) = place();
    let report = run(&own, &["demo", "--dir", "made-up", "--seed", "4", "--json"]).json();
    let lost = report["lost_in_cuts_ms"].as_u64().unwrap();
    assert!(lost <= 10_000 * report["cuts_mid_burst"].as_u64().unwrap(), "{report:#}");
    assert!(report["cuts_mid_burst"].as_u64().unwrap() > 0 && report["truth"]["tears"].as_u64().unwrap() > 0);
    assert_eq!(report["tears"], report["truth"]["tears"]);
    assert_eq!(report["without_clock"]["tears"], report["truth"]["tears"]);
    for file in ["demo.db", "demo-without-clock.db", "demo-without-board.db", "care.ics"] {
        assert!(folder.path().join("made-up").join(file).exists(), "{file}");
    }
    for picture in ["usage", "knob", "hours", "year", "density", "tears", "cost", "traces", "slowing"] {
        let svg = std::fs::read_to_string(folder.path().join(format!("made-up/{picture}.svg"))).unwrap();
        assert!(svg.starts_with("<svg") && svg.trim_end().ends_with("</svg>"), "{picture}");
    }
    for page in ["job-sheet", "client-card", "record-book"] {
        let html = std::fs::read_to_string(folder.path().join(format!("made-up/{page}.html"))).unwrap();
        assert!(html.contains("Fox") || page == "record-book", "{page}");
        assert!(html.trim_end().ends_with("</html>"), "{page}");
    }
    assert!(!own.exists(), "the maker's own database was made");
    let hours = run(&folder.path().join("made-up/demo.db"), &["hours", "--json"]).json();
    assert_eq!(hours["machines"][0]["total"]["run_time_ms"], report["run_time_ms"]);
}

#[test]
fn the_demo_has_a_maker_without_a_board_whose_figures_the_program_finds_again() {
    let (folder, own) = place();
    let told = run(&own, &["demo", "--dir", "made-up", "--seed", "4", "--json"]);
    let her = told.json()["without_board"].clone();
    let played = &her["played"];
    assert_eq!((&played["rugs_finished"], &her["next_rug"]["own_rugs"]), (&5.into(), &5.into()), "{her:#}");
    let database = folder.path().join("made-up/demo-without-board.db");
    let hours = run(&database, &["hours", "--json"]).json();
    let machine = &hours["machines"][0];
    assert_eq!((&machine["total"]["strokes"], &machine["is_without_logger"]), (&0.into(), &true.into()));
    for sum in ["sessions", "frame_time_ms"] {
        assert_eq!((&machine["entered"][sum], &her["entered"][sum]), (&played[sum], &played[sum]), "{sum}");
    }
    assert_eq!(machine["rugs"].as_array().unwrap().len(), 6);
    let rugs = run(&database, &["rug", "list", "--json"]).json();
    let is_on_frame = |rug: &&serde_json::Value| rug["state"] == "on_the_frame";
    assert_eq!(rugs["rugs"].as_array().unwrap().iter().filter(is_on_frame).count(), 1, "{rugs:#}");
    let low = her["next_rug"]["tufting_hours"]["low"].as_f64().unwrap();
    assert!(low > 0.0 && low < her["next_rug"]["tufting_hours"]["high"].as_f64().unwrap());
    let tears = run(&database, &["speed", "--json"]).json();
    assert_eq!((&tears["totals"]["tears"], &played["tears"]), (&3.into(), &3.into()));
    for page in ["job-sheet", "quote", "week-card"] {
        let page = folder.path().join(format!("made-up/without-board-{page}.html"));
        assert!(std::fs::read_to_string(&page).unwrap().trim_end().ends_with("</html>"), "{page:?}");
    }
    let usage = std::fs::read_to_string(folder.path().join("made-up/without-board-usage.svg")).unwrap();
    assert!(usage.starts_with("<svg") && usage.contains("Owl"));
    // The same seed tells the same, and another one something else.
    assert_eq!(run(&own, &["demo", "--dir", "made-up", "--seed", "4", "--json"]).out(), told.out());
    let other = run(&own, &["demo", "--dir", "made-up", "--seed", "5"]).out();
    assert!(other.contains("WITHOUT A BOARD") && other.contains("demo-without-board.db hours"), "{other}");
}

#[test]
fn the_demo_may_be_run_again_but_never_over_somebody_elses_database() {
    let (folder, own) = place();
    assert_eq!(run(&own, &["demo", "--dir", "made-up"]).code(), 0);
    assert_eq!(run(&own, &["demo", "--dir", "made-up"]).code(), 0);
    let theirs = folder.path().join("theirs");
    std::fs::create_dir(&theirs).unwrap();
    std::fs::write(theirs.join("demo.db"), "mine").unwrap();
    let refused = run(&own, &["demo", "--dir", "theirs"]);
    assert_eq!((refused.code(), refused.out().as_str()), (6, ""));
    assert_eq!(std::fs::read_to_string(theirs.join("demo.db")).unwrap(), "mine");
    std::fs::rename(theirs.join("demo.db"), theirs.join("record-book.html")).unwrap();
    assert_eq!(run(&own, &["demo", "--dir", "theirs"]).code(), 6);
    assert_eq!(std::fs::read_to_string(theirs.join("record-book.html")).unwrap(), "mine");
}

#[test]
fn the_picture_in_the_readme_is_the_one_that_the_demo_draws() {
    let (folder, own) = place();
    assert_eq!(run(&own, &["demo"]).code(), 0);
    let drawn = std::fs::read_to_string(folder.path().join("needlehours-demo/usage.svg")).unwrap();
    let shown = std::fs::read_to_string(concat!(env!("CARGO_MANIFEST_DIR"), "/pictures/usage.svg")).unwrap();
    assert!(
        drawn == shown,
        "host/pictures/usage.svg is an older one; copy needlehours-demo/usage.svg there after looking at it"
    );
}
