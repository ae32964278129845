//! Worn parts, the right interval and the trend of faults: what the statistics say to a maker. Nothing here changes a setting.

mod faults;
mod findings;
mod lives;
mod own_faults;
mod own_findings;
pub mod periods;
mod running;
mod staircase;

pub use faults::{FaultReport, FaultTrend, TREND_P, fault_report};
pub use findings::{
    DIRTY_SHARE, FINDINGS_NEEDED, IntervalReport, Missing, OF_EACH_KIND_NEEDED, SPREAD_NEEDED,
    interval_report,
};
pub use lives::{
    Because, Proposal, ProposedAction, Reason, Surviving, WORN_OUT_NEEDED, WearReport, wear_of_curve,
    wear_report,
};
pub use own_faults::{LeftOutFault, OwnFault, OwnFaults, own_faults};
pub use own_findings::{Asked, Counts, OwnFinding, TaskInterval, can_be_judged, says_dirty, task_interval};
pub use periods::{
    Grounds, LifeCounts, PartLife, PartPeriod, lives_for_statistics, part_lives, part_periods,
};
pub use running::{KNOWN_WITHIN, RunMeter, RunRange};
pub use staircase::{
    CLEAN_IN_A_ROW, Finding, LONGER, Range, SHORTER, StairStep, Staircase, long_run_dirty_share, staircase,
};
