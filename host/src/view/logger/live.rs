//! `live` on screen.

use super::doctor::fault_words;
use crate::app::logger::live::LiveSample;
use crate::view::words::count;

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

#[cfg(test)]
mod tests {
    use super::*;
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
}
