//! The demo's studio over many seeds: the firmware, the link, the pull and the sums against the simulated needle's truth.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a test may stop at the first surprise")]

mod coverage;

use host::app::whole_book::Book;
use host::demo::run::{DemoReport, StudioReport, run};
use host::store::Database;

/// Running that one power cut may cost while the needle moves, in milliseconds: the promise of the design.
const AT_RISK_MS: u64 = 10_000;

fn played(seed: u64) -> DemoReport {
    let place = tempfile::tempdir().unwrap();
    let mut with_clock = Database::open(&place.path().join("with.db")).unwrap();
    let mut without_clock = Database::open(&place.path().join("without.db")).unwrap();
    let report = run(seed, &mut with_clock, &mut without_clock).unwrap();
    for database in [&with_clock, &without_clock] {
        assert_nothing_is_doubted(seed, database);
    }
    report
}

/// Whatever the studio did, a machine was at work: no burst of it is doubted, nor as steady as the mains.
fn assert_nothing_is_doubted(seed: u64, database: &Database) {
    let book = Book::read(database).unwrap();
    for log in &book.ledger().logs {
        assert!(!log.lines.is_empty(), "seed {seed}: no burst at all");
        let doubted = log.doubtful.first().map(|one| (one.doubt, one.line.burst.clone()));
        assert_eq!(doubted, None, "seed {seed}: doubted");
        let steady = log.steady.first().map(|one| one.burst.clone());
        assert_eq!(steady, None, "seed {seed}: called steady");
    }
}

fn assert_true(seed: u64, what: &str, studio: &StudioReport) {
    let StudioReport { run_time_ms, strokes, not_recorded_ms, cuts_mid_burst, truth, .. } = *studio;
    assert_eq!(studio.tears, truth.tears, "seed {seed} {what}: tears");
    assert_eq!(studio.near_misses, truth.near_misses, "seed {seed} {what}: near-misses");
    let lost = truth.run_time_ms.checked_sub(run_time_ms + not_recorded_ms);
    let lost = lost.unwrap_or_else(|| panic!("seed {seed} {what}: more run time than there was: {studio:?}"));
    assert!(
        lost <= AT_RISK_MS * cuts_mid_burst,
        "seed {seed} {what}: {lost} ms lost in {cuts_mid_burst} cuts"
    );
    assert_eq!(
        u64::try_from(studio.lost_in_cuts_ms),
        Ok(lost),
        "seed {seed} {what}: the report says another loss"
    );
    assert!(strokes <= truth.strokes, "seed {seed} {what}: more strokes than there were");
    if lost == 0 && not_recorded_ms == 0 {
        assert_eq!(strokes, truth.strokes, "seed {seed} {what}: strokes");
    }
}

#[test]
fn what_was_recorded_and_what_was_lost_in_cuts_make_up_the_truth() {
    for seed in [1, 2, 3, 5, 8, 13, 21, 34] {
        let report = played(seed);
        assert_true(seed, "with the clock chip", &report.with_clock);
        assert_true(seed, "without it", &report.without_clock);
        assert_eq!(
            report.with_clock.truth, report.without_clock.truth,
            "seed {seed}: the two makers did different things"
        );
    }
}

#[test]
fn the_same_seed_gives_the_same_numbers_and_another_seed_others() {
    assert_eq!(played(7), played(7));
    assert_ne!(played(7).with_clock.truth, played(8).with_clock.truth);
}
