//! The care plan: what a hand tufting machine and its cloth need, and after how much use. Start values come from trade practice
//! and are marked so; the machine's manual comes first, and the maker can set others.
//!
//! None of the intervals is a standard for hand tufting: there is none. Neighbouring trades mix limits by use with limits by
//! calendar, so a task here may have several and falls due by whichever comes first.

use serde::Serialize;

use crate::core::entries::{CareLimitSet, CareTaskName, Pile};

/// One hour of run time, in milliseconds.
pub const HOUR_MS: u64 = 3_600_000;
const MINUTE_MS: u64 = 60_000;

/// To what a task belongs: a new cloth on the frame does not oil the machine, and oil does not tension cloth.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum BelongsTo {
    /// The machine.
    Machine,
    /// The cloth on the frame now.
    Cloth,
}

/// How well a start value is founded.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Source {
    /// Common among makers; no source could be named.
    TradePracticeNoSource,
    /// One publisher of tufting advice says so, on several pages.
    OnePublisher,
}

impl Source {
    /// The mark in words.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::TradePracticeNoSource => "start value from trade practice, no source",
            Self::OnePublisher => "start value from one publisher's advice, weak",
        }
    }
}

/// Limits of a task; it falls due by whichever is reached first.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
pub struct TaskLimits {
    /// Run time since it was last done, in milliseconds.
    pub run_time_ms: Option<u64>,
    /// Days since it was last done.
    pub days: Option<u32>,
    /// Days during which the machine stood still.
    pub idle_days: Option<u32>,
    /// Sessions begun since it was last done.
    pub sessions: Option<u32>,
}

/// One task of the plan.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct CareTask {
    /// Its name, as the maker types it.
    pub name: &'static str,
    /// What is done, in one line.
    pub what: &'static str,
    /// To what it belongs.
    pub belongs_to: BelongsTo,
    /// Start values.
    pub start: TaskLimits,
    /// The shortest and the longest run time that make sense, in milliseconds.
    pub run_time_range_ms: (u64, u64),
    /// How well the start values are founded.
    pub source: Source,
    /// What goes on the points, where something does.
    pub lubricant: Option<&'static str>,
    /// What to mind beyond [`CAUTIONS`].
    pub caution: Option<&'static str>,
    /// Whether only machines with scissors need it.
    pub needs_scissors: bool,
}

/// What to mind before any care, always said first.
pub const CAUTIONS: &[&str] = &[
    "Switch off, unplug, and wait until everything stands still before a hand goes near needle or scissors.",
    "Needles can break and fly: mind your eyes. Vacuum lint rather than blow it; wool and cotton dust harms the lungs.",
    "The machine's own manual comes first, and a qualified electrician for anything electric.",
];

/// What is said of all start values.
pub const START_VALUES: &str = "start values from trade practice; the machine's own manual comes first";

const fn hours(run: u64) -> TaskLimits {
    TaskLimits { run_time_ms: Some(run * HOUR_MS), days: None, idle_days: None, sessions: None }
}

const fn from_to(low: u64, high: u64) -> (u64, u64) {
    (low * HOUR_MS, high * HOUR_MS)
}

const MACHINE_TASK: CareTask = CareTask {
    name: "",
    what: "",
    belongs_to: BelongsTo::Machine,
    start: hours(10),
    run_time_range_ms: from_to(5, 25),
    source: Source::TradePracticeNoSource,
    lubricant: None,
    caution: None,
    needs_scissors: false,
};

/// The plan for a hand machine, in the order in which tasks are done: cloth first, cleaning before oiling.
pub const PLAN: &[CareTask] = &[
    CareTask {
        name: "re-tension",
        what: "Tap the cloth: it should sound like a drum and spring back. Pull it tight again where it does not.",
        belongs_to: BelongsTo::Cloth,
        start: TaskLimits { run_time_ms: Some(15 * MINUTE_MS), days: None, idle_days: None, sessions: None },
        run_time_range_ms: (5 * MINUTE_MS, 120 * MINUTE_MS),
        source: Source::OnePublisher,
        caution: Some("The frame's gripper strips are sharp."),
        ..MACHINE_TASK
    },
    CareTask {
        name: "brush-out",
        what: "Brush or vacuum the lint out of the needle, the scissor channel and the vents.",
        start: TaskLimits { run_time_ms: Some(4 * HOUR_MS), days: None, idle_days: None, sessions: Some(1) },
        run_time_range_ms: (HOUR_MS / 2, 4 * HOUR_MS),
        caution: Some("Scissors cut even when the machine is off."),
        ..MACHINE_TASK
    },
    CareTask {
        name: "oiling",
        what: "After the brush-out, one drop on each point, then a short dry run and a wipe until no mark shows.",
        start: TaskLimits { run_time_ms: Some(4 * HOUR_MS), days: None, idle_days: Some(14), sessions: None },
        run_time_range_ms: from_to(1, 10),
        lubricant: Some(
            "light clear sewing-machine oil on open points; grease only where the manual says so",
        ),
        caution: Some("No oil on the belt, the carbon brushes, the foot's face or the needle's tip."),
        ..MACHINE_TASK
    },
    CareTask {
        name: "screws",
        what: "Try the screws of foot, needle, scissor closer and side plates; closely in a new machine's first ten hours.",
        start: TaskLimits { run_time_ms: Some(10 * HOUR_MS), days: None, idle_days: None, sessions: Some(1) },
        run_time_range_ms: from_to(1, 10),
        ..MACHINE_TASK
    },
    CareTask {
        name: "needle",
        what: "Feel the needle's point for a burr with a scrap of fine stocking; after every tear too.",
        ..MACHINE_TASK
    },
    CareTask {
        name: "scissors",
        what: "Turn the gear by hand: the scissors should open and close fully and cut a strand cleanly.",
        caution: Some("Scissors cut even when the machine is off."),
        needs_scissors: true,
        ..MACHINE_TASK
    },
    CareTask {
        name: "belt",
        what: "Look the belt over for fraying; rather a bit slack than too tight.",
        start: hours(25),
        run_time_range_ms: from_to(10, 100),
        ..MACHINE_TASK
    },
    CareTask {
        name: "carbon-brushes",
        what: "Look at the motor's carbon brushes: change them at about half their length, or when they spark.",
        start: hours(50),
        run_time_range_ms: from_to(25, 250),
        caution: Some("Only if the manual lets you open the motor; otherwise leave it to a technician."),
        ..MACHINE_TASK
    },
    CareTask {
        name: "gear-grease",
        what: "Open, clean and grease the gears, where the gear box can be opened.",
        start: TaskLimits {
            run_time_ms: Some(100 * HOUR_MS),
            days: Some(365),
            idle_days: None,
            sessions: None,
        },
        run_time_range_ms: from_to(50, 300),
        lubricant: Some("gear grease as the manual names it, not oil"),
        ..MACHINE_TASK
    },
];

/// The task of the cloth on the frame.
pub const RETENSION: &str = "re-tension";

/// The task of a name, without regard to case.
#[must_use]
pub fn task(name: &str) -> Option<&'static CareTask> {
    PLAN.iter().find(|task| task.name.eq_ignore_ascii_case(name.trim()))
}

/// The tasks that a machine needs.
pub fn tasks_for(pile: Pile) -> impl Iterator<Item = &'static CareTask> {
    PLAN.iter().filter(move |task| !task.needs_scissors || pile != Pile::Loop)
}

impl CareTask {
    /// Its name as entries hold it.
    #[must_use]
    pub fn entry_name(&self) -> CareTaskName {
        CareTaskName(self.name.to_owned())
    }

    /// The limits in force, and whether the maker set any of them.
    ///
    /// A run time set by the maker replaces the limits by use (run time and sessions), a number of days the limits by calendar
    /// (days and idle days); zero switches them off. The last setting of each wins.
    #[must_use]
    pub fn limits<'a>(&self, set: impl IntoIterator<Item = &'a CareLimitSet>) -> (TaskLimits, bool) {
        let mut limits = self.start;
        let mut by_maker = false;
        for own in set.into_iter().filter(|own| own.task.0.eq_ignore_ascii_case(self.name)) {
            if let Some(run) = own.every_run {
                limits.run_time_ms = Some(run.0).filter(|run| *run > 0);
                limits.sessions = None;
                by_maker = true;
            }
            if let Some(days) = own.every_days {
                limits.days = Some(days).filter(|days| *days > 0);
                limits.idle_days = None;
                by_maker = true;
            }
        }
        (limits, by_maker)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use shared_types::{MachineTag, RunMillis};

    #[test]
    fn every_start_value_lies_in_its_allowed_range() {
        for task in PLAN {
            let (low, high) = task.run_time_range_ms;
            assert!(task.start.run_time_ms.is_some_and(|run| low <= run && run <= high), "{}", task.name);
        }
    }

    #[test]
    fn a_machine_for_loops_has_no_scissors_to_look_over() {
        assert!(tasks_for(Pile::Loop).all(|task| task.name != "scissors"));
        assert!(tasks_for(Pile::CutAndLoop).any(|task| task.name == "scissors"));
    }

    #[test]
    fn the_makers_limits_replace_use_and_calendar_apart_and_zero_switches_off() {
        let own = |run: Option<u64>, days: Option<u32>| CareLimitSet {
            machine: MachineTag(1),
            task: CareTaskName("Oiling".to_owned()),
            every_run: run.map(RunMillis),
            every_days: days,
        };
        let oiling = PLAN.iter().find(|task| task.name == "oiling").copied().unwrap_or(MACHINE_TASK);
        let (limits, by_maker) = oiling.limits(&[own(Some(2 * HOUR_MS), None)]);
        assert_eq!((limits.run_time_ms, limits.idle_days, by_maker), (Some(2 * HOUR_MS), Some(14), true));
        let (limits, _) = oiling.limits(&[own(Some(2 * HOUR_MS), None), own(Some(0), Some(30))]);
        assert_eq!((limits.run_time_ms, limits.idle_days, limits.days), (None, None, Some(30)));
        assert_eq!(oiling.limits(&[]), (oiling.start, false));
    }
}
