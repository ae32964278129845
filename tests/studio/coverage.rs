//! The ranges of `quote` and `rug progress` on made-up makers; `-- --nocapture` prints the tables.

use host_core::stats::Level;
use tests::coverage::{progress, quote};

#[test]
fn a_range_holds_as_often_as_it_promises_where_the_assumption_is_true_and_nearly_so_where_it_is_not() {
    // By theory exactly the level for log-normal values; three standard errors of 1,000 makers are the widest play.
    let level = 0.8;
    let play = 3.0 * f64::sqrt(level * (1.0 - level) / 1_000.0);
    let lines = Level::new(level).map(quote::table).unwrap_or_default();
    assert_eq!(lines.len(), 12);
    for line in lines {
        println!("{line:?}");
        let allowed = if line.scatter.starts_with("gamma") { play + 0.03 } else { play };
        assert!((line.next - level).abs() <= allowed, "{line:?}");
        assert!(line.left_out.is_none_or(|share| (share - level).abs() <= allowed), "{line:?}");
        assert_eq!(line.left_out.is_none(), line.rugs == 4);
    }
}

#[test]
fn a_range_asked_for_early_holds_as_often_as_it_promises_and_none_is_far_off() {
    // A quarter of the way lies seven standard deviations below the rest where s = 0.2, so that the floor cuts nothing off
    // and the range is the exact prediction interval of a next value; three standard errors of 1,000 makers are its play.
    let level = 0.8;
    let play = 3.0 * f64::sqrt(level * (1.0 - level) / 1_000.0);
    let lines = Level::new(level).map(progress::table).unwrap_or_default();
    assert_eq!(lines.len(), 36);
    for line in lines {
        println!("{line:?}");
        let is_exact = line.asked_at == progress::AskedAt::Share(0.25) && line.scatter.ends_with("0.2");
        let allowed = if is_exact { play } else { 0.1 + play };
        assert!((line.share_held - level).abs() <= allowed, "{line:?}");
        assert!((line.hours_held - level).abs() <= 0.1 + play, "{line:?}");
        assert!(line.answered > 0.99, "{line:?}");
    }
}
