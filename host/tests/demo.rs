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
    for file in ["demo.db", "demo-without-clock.db", "care.ics"] {
        assert!(folder.path().join("made-up").join(file).exists(), "{file}");
    }
    for picture in ["usage", "hours", "year", "density", "tears", "cost", "traces", "slowing"] {
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
