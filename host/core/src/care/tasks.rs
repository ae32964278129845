//! The tasks of the plan, and which machine needs which: cut pile, loop pile or both, with a motor or on compressed air.

use super::plan::{BelongsTo, CareTask, Source, TaskLimits};
use crate::entries::{Drive, Pile};
use crate::stats::{HOUR_MS, MINUTE_MS};

const NO_LIMITS: TaskLimits = TaskLimits {
    run_time_ms: None,
    days: None,
    idle_days: None,
    sessions: None,
    strokes: None,
    after_tear: false,
    after_pile_height: false,
};

const fn hours(run: u64) -> TaskLimits {
    TaskLimits { run_time_ms: Some(run * HOUR_MS), ..NO_LIMITS }
}

const fn from_to(low: u64, high: u64) -> (u64, u64) {
    (low * HOUR_MS, high * HOUR_MS)
}

const FROM_MEMORY: &str = "from workshop memory, no source; no published figure for hand tufting was found";
const ON_AIR: &str =
    "common practice with air tools, no source; the manuals of machine and compressor say how often";

const MACHINE_TASK: CareTask = CareTask {
    name: "",
    what: "",
    belongs_to: BelongsTo::Machine,
    start: hours(10),
    run_time_range_ms: from_to(5, 25),
    source: Source::TradePracticeNoSource,
    lubricant: None,
    caution: None,
    part: None,
    needs_scissors: false,
    only_for: None,
    basis: FROM_MEMORY,
    running_in_ms: &[],
};

const AIR_TASK: CareTask = CareTask {
    start: TaskLimits { run_time_ms: Some(4 * HOUR_MS), sessions: Some(1), ..NO_LIMITS },
    run_time_range_ms: from_to(1, 10),
    caution: Some("Shut the air off and let the line go empty before you open anything; mind your eyes."),
    only_for: Some(Drive::Pneumatic),
    basis: ON_AIR,
    ..MACHINE_TASK
};

/// All tasks, in the order in which they are done: cloth first, cleaning before oiling.
pub const PLAN: &[CareTask] = &[
    CareTask {
        name: "re-tension",
        what: "Tap the cloth: it should sound like a drum and spring back. Pull it tight again where it does not.",
        belongs_to: BelongsTo::Cloth,
        start: TaskLimits { run_time_ms: Some(15 * MINUTE_MS), ..NO_LIMITS },
        run_time_range_ms: (5 * MINUTE_MS, 120 * MINUTE_MS),
        source: Source::OnePublisher,
        caution: Some("The frame's gripper strips are sharp."),
        basis: "one publisher's advice on three pages says every 10 to 15 minutes; others only say now and then",
        ..MACHINE_TASK
    },
    CareTask {
        name: "brush-out",
        what: "Brush or vacuum the lint out of the needle, the vents and, where there are scissors, their channel.",
        start: TaskLimits { run_time_ms: Some(4 * HOUR_MS), sessions: Some(1), ..NO_LIMITS },
        run_time_range_ms: (HOUR_MS / 2, 4 * HOUR_MS),
        caution: Some("Where there are scissors, they cut even when the machine is off."),
        ..MACHINE_TASK
    },
    CareTask {
        name: "oiling",
        what: "After the brush-out, one drop on each point, then a short dry run and a wipe until no mark shows.",
        start: TaskLimits { run_time_ms: Some(4 * HOUR_MS), idle_days: Some(14), ..NO_LIMITS },
        run_time_range_ms: from_to(1, 10),
        lubricant: Some(
            "light clear sewing-machine oil on open points; grease only where the manual says so",
        ),
        caution: Some("No oil on the belt, the carbon brushes, the foot's face or the needle's tip."),
        basis: "from workshop memory, no source; sewing pages say every 8 to 20 hours, embroidery every working day",
        // New machines shed grit: wiped and oiled anew every one or two hours of the first ten (from memory; the rule for
        // oil baths of neighbouring machines is a change after the first week).
        running_in_ms: &[2 * HOUR_MS, 4 * HOUR_MS, 6 * HOUR_MS, 8 * HOUR_MS, 10 * HOUR_MS],
        ..MACHINE_TASK
    },
    CareTask {
        name: "screws",
        what: "Try the screws of foot, needle, side plates and, where there are scissors, their closer; closely in a new machine's first ten hours.",
        start: TaskLimits { run_time_ms: Some(10 * HOUR_MS), sessions: Some(1), ..NO_LIMITS },
        run_time_range_ms: from_to(1, 10),
        running_in_ms: &[HOUR_MS, 5 * HOUR_MS, 10 * HOUR_MS],
        ..MACHINE_TASK
    },
    CareTask {
        name: "needle",
        what: "Feel the needle's point for a burr with a scrap of fine stocking; after every tear too.",
        start: TaskLimits { run_time_ms: Some(10 * HOUR_MS), after_tear: true, ..NO_LIMITS },
        basis: "the interval from workshop memory, no source; that a burr cuts cloth is well known from sewing",
        part: Some("needle"),
        ..MACHINE_TASK
    },
    CareTask {
        name: "needle-change",
        what: "Needles are changed on wear, not by the clock: look hard at this one, and have a spare.",
        start: hours(150),
        run_time_range_ms: from_to(50, 500),
        part: Some("needle"),
        ..MACHINE_TASK
    },
    CareTask {
        name: "scissors",
        what: "Turn the gear by hand: the scissors should open and close fully and cut a strand cleanly.",
        start: TaskLimits { run_time_ms: Some(10 * HOUR_MS), after_pile_height: true, ..NO_LIMITS },
        caution: Some("Scissors cut even when the machine is off."),
        needs_scissors: true,
        basis: "the interval from workshop memory, no source; scissors that stop working after a change of the pile height are described by one maker of machines",
        ..MACHINE_TASK
    },
    CareTask {
        name: "scissors-sharpen",
        what: "When they do not cut cleanly: hone the pair together on a fine stone, or fit a new pair. The trade is divided on which.",
        start: hours(100),
        run_time_range_ms: from_to(30, 300),
        caution: Some("Keep the pair together; scissors cut even when the machine is off."),
        needs_scissors: true,
        part: Some("scissors"),
        ..MACHINE_TASK
    },
    CareTask {
        name: "belt",
        what: "Look the belt over for fraying; rather a bit slack than too tight.",
        start: hours(25),
        run_time_range_ms: from_to(10, 100),
        only_for: Some(Drive::Electric),
        part: Some("belt"),
        ..MACHINE_TASK
    },
    CareTask {
        name: "carbon-brushes",
        what: "Look at the motor's carbon brushes: change them at about half their length, or when they spark.",
        start: hours(50),
        run_time_range_ms: from_to(25, 250),
        caution: Some("Only if the manual lets you open the motor; otherwise leave it to a technician."),
        only_for: Some(Drive::Electric),
        basis: "the first look from workshop memory, no source; half the length is from a quilting motor's advice",
        part: Some("carbon-brushes"),
        ..MACHINE_TASK
    },
    CareTask {
        name: "gear-grease",
        what: "Open, clean and grease the gears, where the gear box can be opened.",
        start: TaskLimits { run_time_ms: Some(100 * HOUR_MS), days: Some(365), ..NO_LIMITS },
        run_time_range_ms: from_to(50, 300),
        lubricant: Some("gear grease as the manual names it, not oil"),
        only_for: Some(Drive::Electric),
        ..MACHINE_TASK
    },
    CareTask { name: "air-water", what: "Drain the water out of the air line and the receiver.", ..AIR_TASK },
    CareTask {
        name: "air-filter",
        what: "Look at the air line's filter; clean or change it as its manual says.",
        start: TaskLimits { run_time_ms: Some(25 * HOUR_MS), days: Some(90), ..NO_LIMITS },
        run_time_range_ms: from_to(10, 100),
        ..AIR_TASK
    },
    CareTask {
        name: "air-oiler",
        what: "Look at the air line's oiler: its level and its drip, as the manual says. Not every machine wants oil in its air.",
        lubricant: Some("air-tool oil as the manual names it, not sewing-machine oil"),
        ..AIR_TASK
    },
];

/// The tasks that a machine for a kind of pile can need, whatever moves its needle.
pub fn tasks_for(pile: Pile) -> impl Iterator<Item = &'static CareTask> {
    PLAN.iter().filter(move |task| !task.needs_scissors || pile != Pile::Loop)
}

/// The tasks of a machine: the plan with which it starts.
pub fn template(pile: Pile, drive: Drive) -> impl Iterator<Item = &'static CareTask> {
    tasks_for(pile).filter(move |task| task.only_for.is_none_or(|only| only == drive))
}

/// The task of a name, without regard to case, among those of every machine.
#[must_use]
pub fn task(name: &str) -> Option<&'static CareTask> {
    PLAN.iter().find(|task| task.name.eq_ignore_ascii_case(name.trim()))
}
