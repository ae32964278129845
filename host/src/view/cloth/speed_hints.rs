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
    since(text, &report.since_oiling, "oiling");
    since(text, &report.since_needle, "the needle was seen to");
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

/// Tears by run hours since something was done; nothing where that was never noted.
fn since(text: &mut String, since: &Since, done: &str) {
    let [first, second] = since.band_ends_ms.map(|end| end / 3_600_000);
    let known: u64 = since.bands.iter().map(|band| band.run_time_ms).sum();
    if known == 0 {
        return;
    }
    let names = [format!("up to {first} h"), format!("{first} to {second} h"), format!("over {second} h")];
    let parts: Vec<String> = names
        .iter()
        .zip(&since.bands)
        .map(|(name, band)| {
            format!("{name} {} in {}", count(band.tears, "tear", "tears"), run_time(band.run_time_ms))
        })
        .collect();
    push(text, format_args!("  Run hours since {done}: {}.", parts.join("; ")));
    if since.informative_rugs > 0 {
        push(
            text,
            format_args!(
                "  Long after against soon after, on the same rugs: {} as many tears.",
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
    if hints.near_misses_fast_to_slow != Estimate::default() {
        push(
            text,
            format_args!(
                "  Near-misses, fast against slow: {} as many.",
                times(hints.near_misses_fast_to_slow)
            ),
        );
    }
    if hints.uneven_reporting {
        text.push_str(
            "  Tears and near-misses are not pressed alike at slow and at fast: near-misses may be overlooked at one of them.\n",
        );
    }
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
    if hints.trend_for_a_tenth_of_the_knob.estimate.is_some() {
        push(
            text,
            format_args!(
                "  For each tenth of the knob's way up: {} as many tears.",
                times(hints.trend_for_a_tenth_of_the_knob)
            ),
        );
    }
    if let Some(scatter) = hints.scatter_of_sessions.filter(|scatter| *scatter > 1.5) {
        push(
            text,
            format_args!(
                "  Sessions differ {} times as much as chance alone would make them; something else matters.",
                about(scatter)
            ),
        );
    }
}

/// "1.8 times (most likely 0.7 to 4.6)", with words where there is no number.
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
        (Some(low), Some(high)) => format!("most likely {} to {}", number(low), number(high)),
        (Some(low), None) => format!("most likely {} or more", number(low)),
        (None, Some(high)) => format!("most likely {} or less", number(high)),
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
    use host_core::cloth::since;
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

    #[test]
    fn hours_since_oiling_are_told_once_it_was_ever_noted() {
        let band = |run_time_ms, tears| since::Stretch { strokes: 0, run_time_ms, tears };
        let mut since_oiling = Since {
            band_ends_ms: [4 * 3_600_000, 8 * 3_600_000],
            bands: [band(7_200_000, 1), band(3_600_000, 0), band(0, 0)],
            unknown: band(5, 2),
            late_to_early: Estimate::default(),
            informative_rugs: 0,
        };
        let mut text = String::new();
        since(&mut text, &since_oiling, "oiling");
        assert_eq!(
            text,
            "  Run hours since oiling: up to 4 h 1 tear in 2 h; 4 to 8 h 0 tears in 1 h; over 8 h 0 tears in 0 s.\n"
        );
        since_oiling.bands = [band(0, 0); 3];
        let mut nothing = String::new();
        since(&mut nothing, &since_oiling, "oiling");
        assert_eq!(nothing, "");
    }
}
