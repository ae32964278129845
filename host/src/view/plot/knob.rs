//! Where the knob stood while the machine ran, rug by rug.

use super::stacked_bars::{Bar, StackedBars};
use super::theme::PlotError;
use crate::view::words;
use host_core::hours::usage::{UsageBar, UsageReport};
use host_core::records::bands::KnobBand;
use host_core::sessions::session_list::CountedTo;

/// As many rugs have a bar of their own; the earlier ones share one.
const MOST_RUGS: usize = 40;

/// The picture as an SVG document.
///
/// # Errors
/// When the backend refuses, which it has no reason to.
pub fn svg(usage: &UsageReport) -> Result<String, PlotError> {
    let (earlier, shown) = usage.bars.split_at(earlier_rugs(usage));
    let bars = earlier_bar(earlier).into_iter().chain(shown.iter().map(|bar| Bar {
        name: name(bar),
        parts_ms: bar.bands.iter().map(|band| band.run_time_ms).collect(),
        total: words::run_time(bar.run_time_ms),
    }));
    let knob_unknown = usage
        .bars
        .iter()
        .any(|bar| bar.bands.iter().any(|band| band.knob == KnobBand::Unknown && band.run_time_ms > 0));
    let shown = KnobBand::ALL.iter().filter(|band| **band != KnobBand::Unknown || knob_unknown);
    let picture = StackedBars {
        title: "Where the knob stood".to_owned(),
        subtitle: "motor time of each rug, from the slow end of the knob's travel to the fast end".to_owned(),
        parts: shown.map(|band| words::knob_band(*band).to_owned()).collect(),
        bars: bars.collect(),
        axis: "motor time".to_owned(),
        source: source(usage),
    };
    picture.svg()
}

/// From what the picture is; nothing was measured where all of it was typed in.
fn source(usage: &UsageReport) -> String {
    let sessions = words::count(usage.sessions, "session", "sessions");
    let days = words::days(usage.first_day, usage.last_day);
    if usage.bursts == 0 {
        return format!("Typed in: {sessions}, {days}.");
    }
    format!(
        "Measured: {} in {sessions}, {days}.{}",
        words::count(usage.bursts, "run", "runs"),
        words::typed_in(usage.bars.iter().map(|bar| bar.entered_run_time_ms).sum())
    )
}

/// How many of the first rugs share one bar, so that the picture stays one.
fn earlier_rugs(usage: &UsageReport) -> usize {
    let rugs = usage.bars.iter().filter(|bar| bar.counted_to == CountedTo::Rug).count();
    if rugs > MOST_RUGS { rugs - (MOST_RUGS - 1) } else { 0 }
}

fn earlier_bar(earlier: &[UsageBar]) -> Option<Bar> {
    let first = earlier.first()?;
    let mut parts_ms = vec![0_u64; first.bands.len()];
    for bar in earlier {
        for (part, band) in parts_ms.iter_mut().zip(&bar.bands) {
            *part = part.saturating_add(band.run_time_ms);
        }
    }
    let total = words::run_time(parts_ms.iter().fold(0, |sum: u64, part| sum.saturating_add(*part)));
    Some(Bar {
        name: format!("{} earlier rugs", words::thousands(u64::try_from(earlier.len()).ok()?)),
        parts_ms,
        total,
    })
}

fn name(bar: &UsageBar) -> String {
    match bar.counted_to {
        CountedTo::Rug => bar.rug.clone().unwrap_or_default(),
        CountedTo::Care => "care".to_owned(),
        CountedTo::Nobody => "no rug yet".to_owned(),
        CountedTo::Undated => "date not known".to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use host_core::hours::usage::BandUse;
    use jiff::civil::date;

    /// Invented running: minutes in each band.
    fn bar(rug: &str, minutes: [u64; 5]) -> UsageBar {
        let band =
            |(knob, minutes): (KnobBand, u64)| BandUse { knob, run_time_ms: minutes * 60_000, edges: 0 };
        UsageBar {
            counted_to: CountedTo::Rug,
            rug: Some(rug.to_owned()),
            run_time_ms: minutes.iter().sum::<u64>() * 60_000,
            entered_run_time_ms: 0,
            bands: KnobBand::ALL.into_iter().zip(minutes).map(band).collect(),
        }
    }

    fn usage(bars: Vec<UsageBar>) -> UsageReport {
        let day = Some(date(2026, 3, 4));
        UsageReport { bars, bursts: 1_234, sessions: 17, first_day: day, last_day: day }
    }

    #[test]
    fn names_totals_counts_and_units_stand_in_the_picture_and_odd_letters_do_not_break_it() {
        let picture = svg(&usage(vec![bar("Fox & <Hen>", [60, 30, 20, 10, 0])])).unwrap();
        assert!(picture.starts_with("<svg "));
        assert!(picture.contains("Fox &amp; &lt;Hen&gt;"));
        for words in ["Where the knob stood", "2 h", "motor time (", "1,234 runs in 17 sessions, 4 Mar 2026"]
        {
            assert!(picture.contains(words), "{words} is missing");
        }
        assert!(!picture.contains("knob not known"), "a part that is nowhere needs no legend");
    }

    #[test]
    fn running_without_a_known_knob_is_shown_and_explained() {
        let picture = svg(&usage(vec![bar("Fox", [0, 0, 0, 0, 45])])).unwrap();
        assert!(picture.contains("knob not known"));
        assert!(picture.contains("(minutes)"));
    }
}
