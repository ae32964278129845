//! Faults of a machine as the maker entered them, over the machine's run hours.
//!
//! Only what failed at work counts. A part that was changed in time is no fault, and a fault record of the logger (a magnet
//! missing, a silent bus) is the logger's own and never the machine's.

use serde::Serialize;
use shared_types::{MachineTag, UtcMillis};

use super::faults::{FaultReport, fault_report};
use super::periods::Grounds;
use crate::entries::{EntryBody, EntryId, InForce};
use crate::stats::{Ending, Faults, Level};

/// Why a fault is not counted.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum LeftOutFault {
    /// It was before the first running that is recorded.
    BeforeRecords,
    /// Bursts without a date leave its hours too uncertain.
    HoursUncertain,
}

/// One fault.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct OwnFault {
    /// Its entry.
    pub entry: EntryId,
    /// What failed.
    pub what: String,
    /// What was done about it.
    pub mended: Option<String>,
    /// When.
    pub at_utc_ms: UtcMillis,
    /// The machine's recorded run hours then: the middle of what is possible.
    pub hours: f64,
    /// Why it is not counted; none where it is.
    pub left_out: Option<LeftOutFault>,
}

/// Faults of one machine.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct OwnFaults {
    /// The machine.
    pub machine: MachineTag,
    /// Its name.
    pub machine_name: String,
    /// Run hours at the end of the observation, which is now.
    pub observed_hours: f64,
    /// The faults, the oldest first.
    pub faults: Vec<OwnFault>,
    /// What they say; none while nothing ran.
    #[serde(flatten)]
    pub report: Option<FaultReport>,
}

/// Gathers a machine's faults and judges their trend.
#[must_use]
pub fn own_faults(
    entries: &InForce<'_>,
    grounds: &Grounds,
    machine_name: &str,
    now: UtcMillis,
    level: Level,
) -> OwnFaults {
    let mut faults: Vec<OwnFault> = entries
        .iter()
        .filter_map(|entry| match &entry.body {
            EntryBody::MachineFault(fault) if fault.machine == grounds.machine => {
                let run = grounds.meter.until(fault.at);
                let left_out = if run.at_most_ms == 0 {
                    Some(LeftOutFault::BeforeRecords)
                } else {
                    (!run.is_known()).then_some(LeftOutFault::HoursUncertain)
                };
                Some(OwnFault {
                    entry: entry.id,
                    what: fault.what.clone(),
                    mended: fault.mended.clone(),
                    at_utc_ms: fault.at,
                    hours: run.middle_hours(),
                    left_out,
                })
            }
            _ => None,
        })
        .collect();
    faults.sort_by_key(|fault| (fault.at_utc_ms, fault.entry));
    let mut hours: Vec<f64> =
        faults.iter().filter(|fault| fault.left_out.is_none()).map(|fault| fault.hours).collect();
    // Middles of uncertain hours may swap places by a little.
    hours.sort_by(f64::total_cmp);
    let observed_hours = grounds.meter.until(now).middle_hours();
    // Who notes a fault and asks at once has stopped at a fault; read as stopped by the clock, that last fault would look late.
    let stopped_at_fault = hours.last().is_some_and(|last| *last >= observed_hours);
    let ending = if stopped_at_fault { Ending::Failure } else { Ending::Time };
    let report = Faults::new(hours, observed_hours, ending).map(|faults| fault_report(&faults, level));
    OwnFaults {
        machine: grounds.machine,
        machine_name: machine_name.to_owned(),
        observed_hours,
        faults,
        report,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::care::history::History;
    use crate::entries::{Entry, MachineFault};
    use crate::parts::FaultTrend;
    use crate::stats::HOUR_MS;
    use shared_types::RunMillis;

    const HOUR: i64 = 3_600_000;
    const ONE: MachineTag = MachineTag(1);

    fn grounds() -> Grounds {
        let by_hand =
            (100..2000).map(|hour| (UtcMillis(hour * HOUR + HOUR / 2), RunMillis(HOUR_MS))).collect();
        Grounds::of(ONE, &History { by_hand, ..History::default() })
    }

    fn report(machine: MachineTag, hours: &[i64], now: i64) -> OwnFaults {
        let entries: Vec<Entry> = (1..)
            .zip(hours)
            .map(|(id, hour)| {
                let what = "belt slipped".to_owned();
                let fault = MachineFault { machine, what, at: UtcMillis(hour * HOUR), mended: None };
                Entry { id: EntryId(id), entered_at: UtcMillis(0), body: EntryBody::MachineFault(fault) }
            })
            .collect();
        own_faults(&InForce::of(entries), &grounds(), "Test", UtcMillis(now * HOUR), Level::new(0.9).unwrap())
    }

    #[test]
    fn faults_of_the_log_give_what_their_table_gives() {
        // Run hours are calendar hours less a hundred; entered out of order.
        let own = report(ONE, &[900, 800, 950, 995, 980, 990, 850], 1000);
        let table = Faults::new(vec![700.0, 750.0, 800.0, 850.0, 880.0, 890.0, 895.0], 900.0, Ending::Time);
        let judged = own.report.unwrap();
        assert_eq!(judged, fault_report(&table.unwrap(), Level::new(0.9).unwrap()));
        assert_eq!((judged.beside.trend, own.observed_hours), (FaultTrend::MoreOften, 900.0));
    }

    #[test]
    fn a_fault_before_the_first_record_is_shown_and_left_out() {
        let own = report(ONE, &[50, 150], 200);
        let left_out: Vec<Option<LeftOutFault>> = own.faults.iter().map(|fault| fault.left_out).collect();
        assert_eq!(left_out, [Some(LeftOutFault::BeforeRecords), None]);
        assert_eq!(own.report.unwrap().beside.faults, 1);
    }

    #[test]
    fn another_machines_faults_are_not_this_ones_and_no_fault_has_only_a_lower_limit() {
        let own = report(MachineTag(2), &[150], 200);
        let judged = own.report.unwrap();
        assert_eq!((own.faults.len(), judged.mtbf_hours.estimate), (0, None));
        // Zero faults in T: T / -ln(0.1), one-sided 90 % (NIST/SEMATECH e-Handbook 8.4.5.1: 0.4343 T).
        assert!((judged.mtbf_hours.low.unwrap() - 43.43).abs() < 0.005);
    }

    #[test]
    fn without_any_running_nothing_is_judged() {
        assert_eq!(report(ONE, &[50], 60).report, None);
    }
}
