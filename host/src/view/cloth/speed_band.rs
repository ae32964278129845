//! A band of speeds, and tears by rugs, in words.

use crate::view::words::{about, count};
use host_core::cloth::report::SpeedBand;
use host_core::stats::number;

/// "one tear in about 6 rugs", or the other way round where rugs tear more than once; none without tears or rugs.
#[must_use]
pub fn by_rug(tears: u64, rugs: u64) -> Option<String> {
    if tears == 0 || rugs == 0 {
        return None;
    }
    let (tears_made, rugs_made) = (count(tears, "tear", "tears"), count(rugs, "rug", "rugs"));
    let one_in = about(number(rugs) / number(tears));
    Some(if tears < rugs && one_in != "1" {
        format!("one tear in about {one_in} rugs ({tears_made} on {rugs_made})")
    } else {
        let each = about(number(tears) / number(rugs));
        let what = if each == "1" { "tear" } else { "tears" };
        format!("about {each} {what} on each rug ({tears} on {rugs_made})")
    })
}

/// A band's limits.
pub(super) fn range(band: &SpeedBand) -> String {
    let percent = |per_mille: u32| format!("{}", f64::from(per_mille) / 10.0);
    match (band.knob_low_per_mille, band.knob_high_per_mille) {
        (Some(low), Some(high)) => format!("{} to {} %", percent(low), percent(high)),
        _ => match (band.rate_low_strokes_per_second, band.rate_high_strokes_per_second) {
            (Some(low), None) if low <= 0.0 => "all rates".to_owned(),
            (Some(low), Some(high)) if low <= 0.0 => format!("up to {high}"),
            (Some(low), Some(high)) => format!("{low} to {high}"),
            (Some(low), None) => format!("{low} and more"),
            _ => String::new(),
        },
    }
}
