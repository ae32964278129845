//! The steps of a task that needs hands at the machine: it is brought to rest first, and nothing is plugged in before all is
//! done.

use super::plan::Task;
use super::routine::{Step, StepKind};
use crate::entries::Drive;

/// The steps of any task but oiling, which has a routine of its own.
#[must_use]
pub fn task_steps(task: &Task<'_>, drive: Drive) -> Vec<Step> {
    let step = |step, words: String| Step { step, words };
    let (off, on) = match drive {
        Drive::Electric => (
            "Switch off, unplug, and wait until everything stands still. Mind your eyes.",
            "Hands and tools away from the needle; then plug in again.",
        ),
        Drive::Pneumatic => (
            "Shut the air off, take the hose off, let what is in it go, and wait until everything stands still. Mind your eyes.",
            "Hands and tools away from the needle; then put the air on again.",
        ),
    };
    let parts = [
        Some(task.what.to_owned()),
        task.lubricant.map(|lubricant| format!("Use {lubricant}.")),
        task.caution.map(str::to_owned),
    ];
    let work: Vec<String> = parts.into_iter().flatten().collect();
    vec![
        step(StepKind::SwitchOff, off.to_owned()),
        step(StepKind::Work, work.join(" ")),
        step(StepKind::PlugIn, on.to_owned()),
    ]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::care::tasks::PLAN;

    #[test]
    fn every_task_begins_with_the_plug_and_ends_with_it_and_tells_its_caution() {
        for task in PLAN {
            for (drive, off, on) in
                [(Drive::Electric, "unplug", "plug in again"), (Drive::Pneumatic, "hose off", "air on")]
            {
                let steps = task_steps(task, drive);
                let kinds: Vec<StepKind> = steps.iter().map(|step| step.step).collect();
                assert_eq!(kinds, [StepKind::SwitchOff, StepKind::Work, StepKind::PlugIn]);
                let words: Vec<&str> = steps.iter().map(|step| step.words.as_str()).collect();
                assert!(words.first().is_some_and(|words| words.contains(off)), "{words:?}");
                assert!(words.last().is_some_and(|words| words.contains(on)), "{words:?}");
                assert!(task.caution.is_none_or(|caution| words.iter().any(|words| words.contains(caution))));
            }
        }
    }
}
