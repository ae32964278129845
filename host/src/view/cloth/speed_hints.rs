//! The hints beside the primary question, in plain words: each with its range, none with a claim.

use crate::view::words::{about, count, push, run_time};
use host_core::cloth::SpeedReport;
use host_core::cloth::hints::Hints;
use host_core::cloth::since::Since;
use host_core::cloth::traces::SecondsBefore;
use host_core::stats::Estimate;

/// All hints of a machine.
pub fn push_all(text: &mut String, report: &SpeedReport) {
    tensioning(text, &report.since_tensioning);
    if let Some(hints) = &report.hints {
        hints_in_words(text, hints);
    }
    seconds_before(text, report.seconds_before);
}

fn tensioning(text: &mut String, since: &Since) {
    let names = ["up to 10 min", "10 to 20 min", "over 20 min"];
    let known: u64 = since.bands.iter().map(|band| band.run_time_ms).sum();
    if known == 0 {
        text.push_str(
            "  Since tensioning: not known; hold the second button whenever you tension the cloth.\n",
        );
        return;
    }
    for (name, band) in names.iter().zip(&since.bands) {
        push(
            text,
            format_args!(
                "  {name} after tensioning: {} in {} and {}",
                count(band.tears, "tear", "tears"),
                count(band.strokes, "stroke", "strokes"),
                run_time(band.run_time_ms)
            ),
        );
    }
    if since.informative_rugs > 0 {
        push(
            text,
            format_args!(
                "  Long after tensioning against just after it, on the same rugs: {} as many tears.",
                times(since.late_to_early)
            ),
        );
    }
}

/// Where the knob stood before tears. Says what was seen and claims nothing.
fn seconds_before(text: &mut String, before: SecondsBefore) {
    let Some(numbers) = before.numbers else { return };
    let percent = numbers.mean_difference_per_mille / 10.0;
    let way = if percent < 0.0 { "lower" } else { "higher" };
    push(
        text,
        format_args!(
            "  In the seconds before {}: the knob {} % of its way {way} than at random moments of the same sessions. This decides nothing; look: needlehours plot traces",
            count(before.informative_tears, "tear", "tears"),
            about(percent.abs())
        ),
    );
}

fn hints_in_words(text: &mut String, hints: &Hints) {
    if hints.by_cloth_lot.estimate.is_some() {
        push(
            text,
            format_args!(
                "  Fast against slow within the same cloth: {} as many tears.",
                times(hints.by_cloth_lot)
            ),
        );
    }
    if hints.cloth_lots_disagree == Some(true) {
        text.push_str("  The cloths disagree: what holds for one may not hold for another.\n");
    }
}

/// "1.8 times (between 0.7 and 4.6)", with words where there is no number.
pub fn times(ratio: Estimate) -> String {
    let number = |value: f64| {
        if value <= 0.0 {
            "0".to_owned()
        } else if value < 0.1 {
            "less than 0.1".to_owned()
        } else if value < 10.0 {
            format!("{value:.1}")
        } else {
            about(value)
        }
    };
    let range = match (ratio.low, ratio.high) {
        (Some(low), Some(high)) => format!("between {} and {}", number(low), number(high)),
        (Some(low), None) => format!("{} or more", number(low)),
        (None, Some(high)) => format!("{} or less", number(high)),
        (None, None) => "no limits".to_owned(),
    };
    match ratio.estimate {
        Some(estimate) => format!("{} times ({range})", number(estimate)),
        None => format!("any number of times ({range})"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use host_core::cloth::traces::BeforeNumbers;

    #[test]
    fn the_seconds_before_tears_are_told_without_a_claim_however_surprising_they_are() {
        let numbers = BeforeNumbers {
            sum_of_differences_per_mille: -1_500.0,
            mean_difference_per_mille: -150.0,
            p_value: 1e-9,
            factor_for_a_tenth_of_the_knob: Estimate::default(),
        };
        let mut text = String::new();
        seconds_before(&mut text, SecondsBefore { informative_tears: 10, numbers: Some(numbers) });
        assert!(text.contains("10 tears") && text.contains("15 % of its way lower"), "{text}");
        assert!(text.contains("This decides nothing"), "{text}");
        let mut silent = String::new();
        seconds_before(&mut silent, SecondsBefore { informative_tears: 9, numbers: None });
        assert_eq!(silent, "");
    }
}
