//! `live` on screen.

use super::doctor::fault_words;
use crate::app::logger::live::LiveSample;
use crate::view::words::{count, run_time};
use host_core::care::ClothTension;
use host_core::stats::MINUTE_MS;

/// Said where none comes: a needle that is not counted may well be moving.
const NO_STROKES: &str = "no strokes counted";

/// "6.2 strokes a second".
#[must_use]
pub fn rate(sample: &LiveSample) -> String {
    match sample.strokes_per_second {
        Some(rate) if rate > 0.0 => format!("{rate:.1} strokes a second"),
        _ => NO_STROKES.to_owned(),
    }
}

/// "knob at 46 %, your ceiling 60 %"; of a knob whose ends were never read its angle.
#[must_use]
pub fn knob(sample: &LiveSample, ceiling_per_mille: Option<u32>) -> String {
    let percent = |per_mille: f64| format!("{:.0} %", per_mille / 10.0);
    let place = match (sample.knob_per_mille, sample.angle_steps) {
        (Some(place), _) => format!("knob at {}", percent(f64::from(place))),
        (None, Some(steps)) => format!("knob at angle {steps}"),
        (None, None) => "knob not seen".to_owned(),
    };
    match ceiling_per_mille {
        Some(ceiling) => format!("{place}, your ceiling {}", percent(f64::from(ceiling))),
        None => place,
    }
}

/// One look in one line: strokes since the first look, and how fast they come now.
#[must_use]
pub fn line(sample: &LiveSample) -> String {
    // A needle that is not counted may well be moving.
    let rate = match sample.strokes_per_second {
        Some(rate) if rate > 0.0 => format!("{rate:4.1} a second"),
        Some(_) => NO_STROKES.to_owned(),
        None => "   - a second".to_owned(),
    };
    let strokes = count(sample.strokes_counted, "stroke", "strokes");
    let angle = sample.angle_steps.map_or_else(|| "   -".to_owned(), |steps| format!("{steps:4}"));
    let mut line = format!("{strokes:>14}, {rate:<18}   knob at {angle}");
    if let Some(per_mille) = sample.knob_per_mille {
        line.push_str(&format!("   {:3.0} % of its way", f64::from(per_mille) / 10.0));
    }
    for &fault in &sample.faults {
        line.push_str("   ! ");
        line.push_str(fault_words(fault).0);
    }
    line
}

/// How long the cloth on the frame has been tight, in motor minutes, and when it wants tightening again.
#[must_use]
pub fn cloth(tension: &ClothTension) -> String {
    let most = tension.run_time_since_at_most_ms / MINUTE_MS;
    let is_certain = tension.run_time_since_at_least_ms / MINUTE_MS == most;
    let ran = format!(
        "{}{}",
        if is_certain { "" } else { "at most " },
        count(most, "motor minute", "motor minutes")
    );
    match tension.remaining_run_time_ms {
        Some(0) => format!("Finish this line, then tighten the cloth: {ran} since it was tightened."),
        Some(left) => {
            format!("Cloth tightened {ran} ago; again in {} (care: re-tension).", left.div_ceil(MINUTE_MS))
        }
        None => format!("Cloth tightened {ran} ago."),
    }
}

/// When the cloth on the frame wants tightening again.
#[must_use]
pub fn cloth_wants(tension: &ClothTension) -> String {
    match (tension.is_wanted(), tension.limit_run_time_ms) {
        (true, _) => "Finish this line, then tap the cloth and tighten it.".to_owned(),
        (false, Some(limit)) => format!("It wants tightening at {}.", run_time(limit)),
        (false, None) => String::new(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use host_core::care::done::Evidence;
    use shared_types::MachineTag;
    use shared_types::log::Fault;

    #[test]
    fn a_look_is_one_line_with_what_is_missing_shown_as_missing() {
        let mut sample = LiveSample {
            uptime_ms: 5_000,
            edges_since_start: 60,
            strokes_counted: 10,
            strokes_per_second: Some(12.34),
            angle_steps: Some(815),
            knob_per_mille: Some(455),
            knob_gain: None,
            faults: Vec::new(),
            cloth: None,
        };
        assert_eq!(line(&sample), "    10 strokes, 12.3 a second        knob at  815    46 % of its way");
        sample.strokes_per_second = Some(0.0);
        assert_eq!(line(&sample), "    10 strokes, no strokes counted   knob at  815    46 % of its way");
        (sample.strokes_counted, sample.strokes_per_second) = (1, None);
        sample.angle_steps = None;
        sample.knob_per_mille = None;
        sample.faults.push(Fault::MagnetMissing);
        assert_eq!(
            line(&sample),
            "      1 stroke,    - a second        knob at    -   ! the knob's sensor sees no magnet"
        );
    }
    #[test]
    fn the_cloth_is_told_in_motor_minutes_and_finishes_the_line_first() {
        let mut tension = ClothTension {
            machine: MachineTag(1),
            tightened_by: Evidence::Pressed,
            tightened_latest_utc_ms: None,
            run_time_since_at_least_ms: 12 * MINUTE_MS,
            run_time_since_at_most_ms: 12 * MINUTE_MS + 20_000,
            limit_run_time_ms: Some(15 * MINUTE_MS),
            remaining_run_time_ms: Some(2 * MINUTE_MS + 40_000),
        };
        assert_eq!(cloth(&tension), "Cloth tightened 12 motor minutes ago; again in 3 (care: re-tension).");
        (tension.run_time_since_at_least_ms, tension.remaining_run_time_ms) = (0, Some(0));
        tension.run_time_since_at_most_ms = 16 * MINUTE_MS;
        assert_eq!(
            cloth(&tension),
            "Finish this line, then tighten the cloth: at most 16 motor minutes since it was tightened."
        );
        tension.remaining_run_time_ms = None;
        assert_eq!(cloth(&tension), "Cloth tightened at most 16 motor minutes ago.");
    }
}
