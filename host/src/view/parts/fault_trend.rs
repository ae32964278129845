//! What `trend` says in plain words.

use jiff::tz::TimeZone;

use super::wear::{hours_between, in_brackets, span};
use crate::app::parts::fault_trend::FaultNoted;
use crate::view::words::figures::figures;
use crate::view::words::{clock, count};
use host_core::parts::{FaultReport, FaultTrend, LeftOutFault, OwnFaults};
use host_core::stats::Estimate;

/// A fault that was noted.
#[must_use]
pub fn noted(noted: &FaultNoted, zone: &TimeZone) -> String {
    format!(
        "Noted for {}: {}, {} (entry {}).\n",
        noted.machine_name,
        noted.what,
        clock(noted.at_utc_ms, zone),
        noted.entry.0
    )
}

/// Faults of the log.
#[must_use]
pub fn own(own: &OwnFaults, explain: bool, zone: &TimeZone) -> String {
    let mut text = format!("{}\n", own.machine_name);
    for fault in &own.faults {
        let left_out = match fault.left_out {
            None => "",
            Some(LeftOutFault::BeforeRecords) => "; not counted: before the first record",
            Some(LeftOutFault::HoursUncertain) => "; not counted: its hours are not known well enough",
        };
        let mended = fault.mended.as_ref().map(|mended| format!("; {mended}")).unwrap_or_default();
        text.push_str(&format!(
            "  at {:>9}  {}: {}{mended}{left_out} (entry {})\n",
            span(fault.hours),
            clock(fault.at_utc_ms, zone),
            fault.what,
            fault.entry.0
        ));
    }
    match &own.report {
        Some(report) => text.push_str(&faults(report, explain)),
        None => text.push_str("Nothing ran yet, as far as is recorded, so nothing can be said.\n"),
    }
    if own.faults.is_empty() {
        text.push_str("Note a fault when it happens: needlehours trend add \"belt slipped\"\n");
    }
    text
}

/// Faults over run hours.
#[must_use]
pub fn faults(report: &FaultReport, explain: bool) -> String {
    let beside = &report.beside;
    let mut text =
        format!("{} in {} of running.\n", count(beside.faults, "fault", "faults"), span(beside.end_hours));
    let sure = figures(100.0 * beside.level.share());
    let between = report.mtbf_hours;
    match (between.estimate, between.low) {
        (Some(mean), Some(low)) => text.push_str(&format!(
            "On the average {} from fault to fault; {} ({sure} times in 100), if nothing gets better or worse.\n",
            span(mean),
            between.high.map_or_else(
                || format!("{} or more", span(low)),
                |high| hours_between(low, high)
            )
        )),
        (None, Some(low)) => text.push_str(&format!(
            "No fault yet: at least {} from fault to fault ({sure} times in 100).\n",
            span(low)
        )),
        _ => {}
    }
    if beside.faults > 0 {
        text.push_str(match beside.trend {
            FaultTrend::MoreOften => "Faults come more often the longer it has run.\n",
            FaultTrend::Rarer => "Faults come less often the longer it has run.\n",
            FaultTrend::CannotTell => "Whether they come more or less often: cannot tell yet.\n",
        });
    }
    if let (Some(now), FaultTrend::MoreOften | FaultTrend::Rarer) = (report.mtbf_now_hours, beside.trend) {
        text.push_str(&format!("By now it is about {} from fault to fault.\n", span(now)));
    }
    if explain {
        text.push_str(&explained(report));
    }
    text
}

fn explained(report: &FaultReport) -> String {
    let mut text = String::new();
    let mut line = |name: &str, value: Option<f64>, more: String| {
        if let Some(value) = value {
            text.push_str(&format!("  {name:<42} {}{more}\n", figures(value)));
        }
    };
    let test = report.beside.test;
    let p = |p: Option<f64>| p.map_or_else(String::new, figures);
    let degrees = test.degrees_of_freedom.unwrap_or_default();
    line(
        "MIL-HDBK chi-square",
        report.mil_hdbk_chi2,
        format!(
            "  ({degrees} degrees of freedom; p rarer {}, p more often {})",
            p(test.p_rarer),
            p(test.p_more_often)
        ),
    );
    line("Laplace z (positive: more often)", report.laplace_z, String::new());
    let law = report.power_law;
    line("power law, shape (maximum likelihood)", law.shape, String::new());
    line("power law, faults expected in the first hour", law.scale, String::new());
    line("power law, shape corrected for bias", law.shape_unbiased, String::new());
    line("Cramer-von Mises", law.cramer_von_mises, String::new());
    let limits = Estimate { estimate: None, ..report.mtbf_hours };
    line("hours between faults", report.mtbf_hours.estimate, in_brackets(limits));
    line("hours between faults now", report.mtbf_now_hours, String::new());
    if let (Some(first), Some(last)) =
        (report.beside.up_to_each_hours.first(), report.beside.up_to_each_hours.last())
    {
        text.push_str(&format!(
            "  hours per fault up to the first and to the last fault: {} and {}\n",
            figures(*first),
            figures(*last)
        ));
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;
    use host_core::parts::fault_report;
    use host_core::stats::{Ending, Faults, Level};

    fn said(times: &[f64], end: f64, explain: bool) -> String {
        let faults_seen = Faults::new(times.to_vec(), end, Ending::Time).unwrap();
        faults(&fault_report(&faults_seen, Level::new(0.9).unwrap()), explain)
    }

    #[test]
    fn early_faults_are_said_to_get_rarer() {
        let text = said(&[1.0, 2.0, 4.0, 7.0, 12.0, 30.0], 1000.0, false);
        assert!(text.contains("6 faults in 1,000 h") && text.contains("less often"), "{text}");
        assert!(!text.contains("Laplace") && !text.contains("shape"), "{text}");
        assert!(said(&[1.0, 2.0, 4.0], 1000.0, true).contains("Laplace"));
    }

    #[test]
    fn no_fault_is_said_with_its_lower_limit() {
        // 1000 / ln 10 = 434.29.
        let text = said(&[], 1000.0, true);
        assert!(text.contains("0 faults in 1,000 h") && text.contains("at least 434 h"), "{text}");
        assert!(!text.contains("often"), "{text}");
    }
}
