//! What `speed --table` says of a notebook, in plain words.

use super::speed_hints::times;
use crate::view::words::figures::two_figures;
use crate::view::words::{self, about, count, push, thousands};
use host_core::cloth::{TableReport, Verdict};
use host_core::stats::{Estimate, number};

/// A rate below this is told for more running.
const SMALLEST_READABLE: f64 = 0.01;
/// More running than this is not spoken of, in hours or strokes.
const MOST_RUNNING: u64 = 1_000_000_000;

/// What a table says; its limits hold the truth in `level` of all cases.
#[must_use]
pub fn table(report: &TableReport, level: f64) -> String {
    let tears = report.bands.iter().map(|band| band.tears).sum();
    let mut text = format!(
        "Speed: {} ({}).\n\n",
        match report.verdict {
            Verdict::FasterTearsMore => "faster tears more in this table",
            Verdict::SlowerTearsMore => "slower tears more in this table",
            Verdict::DoublingIsUnlikely => "a doubling from slow to fast is unlikely",
            Verdict::CannotTellYet => "cannot tell yet",
        },
        count(tears, "tear", "tears")
    );
    text.push_str(&by_knob(report));
    push(&mut text, format_args!("{}", words::sure(level)));
    text
}

/// The bands, and highest against lowest.
pub(super) fn by_knob(report: &TableReport) -> String {
    let mut text = String::new();
    for band in &report.bands {
        let knob = if band.knob_low == band.knob_high {
            format!("knob {}", band.knob_low)
        } else {
            format!("knob {} to {}", band.knob_low, band.knob_high)
        };
        push(
            &mut text,
            format_args!(
                "  {knob:<24} {} in {} {}; {}",
                count(band.tears, "tear", "tears"),
                about(band.exposure),
                if report.counts_strokes { "strokes" } else { "h" },
                rates(
                    Estimate { estimate: band.rate, low: band.low, high: band.high },
                    report.counts_strokes
                )
            ),
        );
    }
    if report.dropped_rows > 0 {
        push(
            &mut text,
            format_args!("{} without running were left out.", count(report.dropped_rows, "row", "rows")),
        );
    }
    let exact = report.stratified_exact;
    let ratio = Estimate { estimate: exact.estimate, low: exact.low, high: exact.high };
    if exact.informative_strata > 0 && ratio.estimate.is_some() {
        push(&mut text, format_args!("Highest against lowest knob: {} as many tears.", times(ratio)));
    }
    if report.trend.dispersion.is_some_and(|scatter| scatter > 1.5) {
        text.push_str(
            "Sessions differ more than chance alone would make them; the answer is weaker for it.\n",
        );
    }
    text
}

/// "0.083 an hour (between 0.0021 and 0.46)"; of strokes in 100,000, which is about three hours. A rate that is smaller
/// than a hundredth then is told for a thousand times as much running, until it is not.
fn rates(rate: Estimate, counts_strokes: bool) -> String {
    let mut exposure = if counts_strokes { 100_000 } else { 1 };
    let size = rate.estimate.filter(|rate| *rate > 0.0).or(rate.high).unwrap_or(0.0);
    while size > 0.0 && size * number(exposure) < SMALLEST_READABLE && exposure < MOST_RUNNING {
        exposure *= 1_000;
    }
    let unit = match (counts_strokes, exposure) {
        (true, _) => format!(" in {} strokes", thousands(exposure)),
        (false, 1) => " an hour".to_owned(),
        (false, _) => format!(" in {} h", thousands(exposure)),
    };
    limits(rate.times(number(exposure)), &unit)
}

fn limits(estimate: Estimate, unit: &str) -> String {
    let range = match (estimate.low, estimate.high) {
        (Some(low), Some(high)) => format!(" (between {} and {})", small(low), small(high)),
        (Some(low), None) => format!(" ({} or more)", small(low)),
        (None, Some(high)) => format!(" ({} or less)", small(high)),
        (None, None) => String::new(),
    };
    match estimate.estimate {
        Some(rate) => format!("{}{unit}{range}", small(rate)),
        None => format!("rate not known{range}"),
    }
}

/// Never a row of noughts.
fn small(value: f64) -> String {
    if value <= 0.0 {
        "0".to_owned()
    } else if value < 0.001 {
        "less than 0.001".to_owned()
    } else {
        two_figures(value)
    }
}

#[cfg(test)]
mod table_tests {
    use super::{rates, small};
    use host_core::stats::Estimate;

    #[test]
    fn small_rates_are_plain_numbers_with_their_unit() {
        assert_eq!([0.0, 0.083_33, 0.000_2].map(small), ["0", "0.083", "less than 0.001"]);
        let rate = Estimate { estimate: Some(0.000_012), low: Some(0.0), high: None };
        assert_eq!(rates(rate, true), "1.2 in 100,000 strokes (0 or more)");
        assert_eq!(rates(rate, false), "0.012 in 1,000 h (0 or more)");
        let none = Estimate { estimate: Some(0.0), low: Some(0.0), high: Some(0.000_003_7) };
        assert_eq!(rates(none, false), "0 in 1,000,000 h (between 0 and 3.7)");
        let common = Estimate { estimate: Some(0.033), low: Some(0.000_1), high: Some(0.12) };
        assert_eq!(rates(common, false), "0.033 an hour (between less than 0.001 and 0.12)");
        let nothing = Estimate { estimate: Some(0.0), low: Some(0.0), high: Some(0.0) };
        assert_eq!(rates(nothing, false), "0 an hour (between 0 and 0)");
    }
}
