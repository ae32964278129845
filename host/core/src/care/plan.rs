//! The care plan: what a hand tufting machine and its cloth need, and after how much use. Start values come from trade practice
//! and are marked so; the machine's manual comes first, and the maker can set others.
//!
//! None of the intervals is a standard for hand tufting: there is none. Neighbouring trades mix limits by use with limits by
//! calendar, so a task here may have several and falls due by whichever comes first. The tasks themselves are data and stand
//! in [`super::tasks`].

use serde::Serialize;

use crate::entries::{CareLimitSet, CareTaskAdded, CareTaskName, Drive, MoreLimits};
use crate::stats::HOUR_MS;

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
    /// The maker's own task.
    Maker,
}

impl Source {
    /// The mark in words.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::TradePracticeNoSource => "start value from trade practice, no source",
            Self::OnePublisher => "start value from one publisher's advice, weak",
            Self::Maker => "your own task",
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
    /// Whole strokes since it was last done.
    pub strokes: Option<u64>,
    /// Whether every tear asks for it.
    pub after_tear: bool,
    /// Whether every change of the pile height asks for it.
    pub after_pile_height: bool,
}

/// One task of the plan, as the program brings it.
pub type CareTask = Task<'static>;

/// One task: of the plan, or of the maker's own.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Task<'a> {
    /// Its name, as the maker types it.
    pub name: &'a str,
    /// What is done, in one line.
    pub what: &'a str,
    /// To what it belongs.
    pub belongs_to: BelongsTo,
    /// Start values.
    pub start: TaskLimits,
    /// The shortest and the longest run time that make sense, in milliseconds.
    pub run_time_range_ms: (u64, u64),
    /// How well the start values are founded.
    pub source: Source,
    /// What goes on the points, where something does.
    pub lubricant: Option<&'a str>,
    /// What to mind beyond [`cautions`].
    pub caution: Option<&'a str>,
    /// The part whose fitting, of a new one, is this task done.
    pub part: Option<&'a str>,
    /// Whether only machines with scissors need it.
    pub needs_scissors: bool,
    /// Whether only machines of one drive need it.
    pub only_for: Option<Drive>,
    /// What is known of where the start values come from, in words.
    pub basis: &'static str,
    /// In a new machine it is asked for at these run times of the machine as well, in milliseconds.
    pub running_in_ms: &'static [u64],
}

const STILL_ELECTRIC: &str =
    "Switch off, unplug, and wait until everything stands still before a hand goes near needle or scissors.";
/// A plug is not all that moves a needle: air in the hose moves it after the compressor was switched off.
const STILL_ON_AIR: &str = "On air: shut it off, take the hose off, let what is in it go, and wait until everything stands still before a hand goes near needle or scissors.";

/// What to mind before any care of machines with these drives, always said first: first how each is brought to rest.
#[must_use]
pub fn cautions(drives: &[Drive]) -> Vec<&'static str> {
    let on_air = drives.contains(&Drive::Pneumatic);
    let electric = !on_air || drives.contains(&Drive::Electric);
    let still = [(electric, STILL_ELECTRIC), (on_air, STILL_ON_AIR)];
    still
        .into_iter()
        .filter_map(|(is_said, words)| is_said.then_some(words))
        .chain(CAUTIONS.iter().copied())
        .collect()
}

/// The same in one line of 80 columns at most, for answers that are read at a glance.
#[must_use]
pub fn short_caution(drives: &[Drive]) -> &'static str {
    match (drives.contains(&Drive::Pneumatic), drives.contains(&Drive::Electric)) {
        (false, _) => "Before care: switch off, unplug, wait until all stands still. The manual first.",
        (true, false) => "Before care: air off, hose off, wait until all stands still. The manual first.",
        (true, true) => "Before care: unplug (air: hose off), wait until all stands still. The manual first.",
    }
}

const CAUTIONS: &[&str] = &[
    "Needles can break and fly: mind your eyes. Vacuum lint rather than blow it; wool and cotton dust harms the lungs.",
    "The machine's own manual comes first, and a qualified electrician for anything electric.",
];

/// What is said of all start values.
pub const START_VALUES: &str = "start values from trade practice; the machine's own manual comes first";

/// A maker's own task may be asked for at any run time between these, in milliseconds.
pub const OWN_TASK_RANGE_MS: (u64, u64) = (HOUR_MS / 12, 1_000 * HOUR_MS);

impl<'a> Task<'a> {
    /// A task of the maker's own.
    #[must_use]
    pub fn of_maker(added: &'a CareTaskAdded) -> Self {
        let start = TaskLimits {
            run_time_ms: added.every_run.map(|run| run.0).filter(|run| *run > 0),
            days: added.every_days.filter(|days| *days > 0),
            ..TaskLimits::default()
        };
        Self {
            name: &added.task.0,
            what: &added.what,
            belongs_to: BelongsTo::Machine,
            start: start.with(added.more),
            run_time_range_ms: OWN_TASK_RANGE_MS,
            source: Source::Maker,
            lubricant: added.lubricant.as_deref(),
            caution: added.caution.as_deref(),
            part: None,
            needs_scissors: false,
            only_for: None,
            basis: "your own task",
            running_in_ms: &[],
        }
    }

    /// Its name as entries hold it.
    #[must_use]
    pub fn entry_name(&self) -> CareTaskName {
        CareTaskName(self.name.to_owned())
    }

    /// The limits in force, and whether the maker set any of them.
    ///
    /// A run time set by the maker replaces the limits by use (run time and sessions), a number of days the limits by calendar
    /// (days and idle days); what else is set replaces its own kind only. Zero switches off. The last setting of each wins.
    #[must_use]
    pub fn limits<'set>(&self, set: impl IntoIterator<Item = &'set CareLimitSet>) -> (TaskLimits, bool) {
        let mut limits = self.start;
        let mut by_maker = false;
        for own in set.into_iter().filter(|own| own.task.0.eq_ignore_ascii_case(self.name)) {
            if let Some(run) = own.every_run {
                limits.run_time_ms = Some(run.0).filter(|run| *run > 0);
                limits.sessions = None;
            }
            if let Some(days) = own.every_days {
                limits.days = Some(days).filter(|days| *days > 0);
                limits.idle_days = None;
            }
            limits = limits.with(own.more);
            by_maker = true;
        }
        (limits, by_maker)
    }
}

impl TaskLimits {
    /// With the maker's further limits.
    #[must_use]
    pub fn with(self, more: MoreLimits) -> Self {
        Self {
            strokes: more
                .every_strokes
                .map_or(self.strokes, |strokes| Some(strokes).filter(|some| *some > 0)),
            sessions: more.every_sessions.map_or(self.sessions, |of| Some(of).filter(|some| *some > 0)),
            idle_days: more.idle_days.map_or(self.idle_days, |days| Some(days).filter(|some| *some > 0)),
            after_tear: more.after_tear.unwrap_or(self.after_tear),
            after_pile_height: more.after_pile_height.unwrap_or(self.after_pile_height),
            ..self
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::tasks::{PLAN, task, tasks_for, template};
    use super::*;
    use crate::entries::OILING;
    use crate::entries::Pile;
    use crate::stats;
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
            more: MoreLimits::default(),
        };
        let oiling = *task(OILING).unwrap();
        let (limits, by_maker) = oiling.limits(&[own(Some(2 * HOUR_MS), None)]);
        assert_eq!((limits.run_time_ms, limits.idle_days, by_maker), (Some(2 * HOUR_MS), Some(14), true));
        let (limits, _) = oiling.limits(&[own(Some(2 * HOUR_MS), None), own(Some(0), Some(30))]);
        assert_eq!((limits.run_time_ms, limits.idle_days, limits.days), (None, None, Some(30)));
        assert_eq!(oiling.limits(&[]), (oiling.start, false));
    }

    #[test]
    fn further_limits_replace_their_own_kind_only() {
        let set = CareLimitSet {
            machine: MachineTag(1),
            task: CareTaskName("needle".to_owned()),
            every_run: None,
            every_days: None,
            more: MoreLimits {
                every_strokes: Some(900_000),
                after_tear: Some(false),
                ..MoreLimits::default()
            },
        };
        let (limits, by_maker) = task("needle").unwrap().limits([&set]);
        assert_eq!((limits.run_time_ms, limits.strokes), (Some(10 * HOUR_MS), Some(900_000)));
        assert_eq!((limits.after_tear, by_maker), (false, true));
    }

    /// The table of start values and allowed ranges in the trade handbook, in run hours.
    #[test]
    fn start_values_and_ranges_are_those_of_the_trade() {
        for (name, start, low, high) in [
            ("oiling", 4.0, 1.0, 10.0),
            ("needle", 10.0, 5.0, 25.0),
            ("needle-change", 150.0, 50.0, 500.0),
            ("scissors", 10.0, 5.0, 25.0),
            ("scissors-sharpen", 100.0, 30.0, 300.0),
            ("belt", 25.0, 10.0, 100.0),
            ("carbon-brushes", 50.0, 25.0, 250.0),
            ("gear-grease", 100.0, 50.0, 300.0),
            ("brush-out", 4.0, 0.5, 4.0),
            ("screws", 10.0, 1.0, 10.0),
        ] {
            let task = task(name).unwrap();
            let hours = |ms: u64| stats::hours(ms);
            let (shortest, longest) = task.run_time_range_ms;
            let of_task = (task.start.run_time_ms.map(hours), hours(shortest), hours(longest));
            assert_eq!(of_task, (Some(start), low, high), "{name}");
            assert!(!task.basis.is_empty(), "{name}");
        }
    }

    #[test]
    fn air_is_let_go_and_a_plug_pulled_before_a_hand_goes_near() {
        let first = |drives: &[Drive]| cautions(drives).first().copied().unwrap_or_default();
        assert!(first(&[Drive::Electric]).contains("unplug"));
        let air = cautions(&[Drive::Pneumatic]).join(" ");
        assert!(air.contains("take the hose off") && !air.contains("unplug"), "{air}");
        let both = cautions(&[Drive::Electric, Drive::Pneumatic]).join(" ");
        assert!(both.contains("take the hose off") && both.contains("unplug"), "{both}");
        assert!(first(&[]).contains("unplug"), "never without a word on standstill");
    }

    #[test]
    fn a_machine_on_air_has_no_motor_to_look_after_and_a_line_to_drain() {
        let names = |drive| template(Pile::Cut, drive).map(|task| task.name).collect::<Vec<_>>();
        let (motor, air) = (names(Drive::Electric), names(Drive::Pneumatic));
        for name in ["belt", "carbon-brushes", "gear-grease"] {
            assert!(motor.contains(&name) && !air.contains(&name), "{name}");
        }
        for name in ["air-water", "air-filter", "air-oiler"] {
            assert!(air.contains(&name) && !motor.contains(&name), "{name}");
        }
    }
}
