//! The oiling routine, step by step, and what a finding means. The steps are common practice; where the trade disagrees, the
//! step says so.

use serde::Serialize;

use super::points::OilPoint;
use crate::entries::{Drive, Finding, OILING};

/// How often the routine is walked through before one line is enough.
pub const WALKED_AT_FIRST: u64 = 3;

/// What a step is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum StepKind {
    /// Nothing can move any more.
    SwitchOff,
    /// Lint out, before any oil.
    Clean,
    /// Oil on every point, and on nothing else.
    Oil,
    /// A short run without yarn.
    DryRun,
    /// Look for residue, and wipe.
    Wipe,
    /// The task itself.
    Work,
    /// Plugged in again, or the air put on.
    PlugIn,
}

/// A step of the routine.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Step {
    /// What it is for.
    pub step: StepKind,
    /// What to do, in a sentence or two.
    pub words: String,
}

fn step(step: StepKind, words: impl Into<String>) -> Step {
    Step { step, words: words.into() }
}

/// The steps for a machine with these points.
#[must_use]
pub fn steps(points: &[OilPoint], drive: Drive, never: &[&str]) -> Vec<Step> {
    let off = match drive {
        Drive::Electric => "Switch off, unplug, and wait until everything stands still.",
        Drive::Pneumatic => {
            "Shut the air off, take the hose off, let what is in it go, and wait until everything stands still."
        }
    };
    let mut steps = vec![
        step(StepKind::SwitchOff, off),
        step(
            StepKind::Clean,
            "Mind your eyes, and scissors where there are some: they cut even when the machine is off. Brush or vacuum the lint out before any oil: lint and oil make a paste that wears. The trade disagrees about blowing it out with air: some do, several say that it drives lint deeper, and health offices say vacuum, because the dust harms the lungs.",
        ),
    ];
    steps.push(step(StepKind::Oil, oil(points, never)));
    let on = match drive {
        Drive::Electric => {
            "Hands and tools away from the needle and any scissors, eye protection on; then plug in."
        }
        Drive::Pneumatic => {
            "Hands and tools away from the needle and any scissors, eye protection on; then put the air on."
        }
    };
    steps.push(step(StepKind::PlugIn, on));
    steps.push(step(
        StepKind::DryRun,
        "Let it run slowly without yarn and cloth. About 30 seconds is common practice, no source; a logger on it notes it by itself.",
    ));
    steps.push(step(StepKind::SwitchOff, off));
    steps.push(step(
        StepKind::Wipe,
        "Wipe, and look for grey-black oil. Repeat the run and the wipe until the wipe stays clean.",
    ));
    steps
}

/// All points on one screen, a line for each lubricant, and what stays dry.
fn oil(points: &[OilPoint], never: &[&str]) -> String {
    let mut lines: Vec<(String, Vec<&str>)> = Vec::new();
    for point in points.iter().filter(|point| point.lubricant.task() == OILING) {
        let lubricant = point.lubricant.words();
        match lines.iter_mut().find(|(words, _)| *words == lubricant) {
            Some((_, names)) => names.push(&point.point),
            None => lines.push((lubricant.to_string(), vec![&point.point])),
        }
    }
    let mut words: Vec<String> = lines
        .iter()
        .map(|(lubricant, names)| format!("One drop of {lubricant} on each: {}.", names.join(", ")))
        .collect();
    if !never.is_empty() {
        words.push(format!("No oil on {}. Yellow or brown oil is past its use.", either(never)));
    }
    words.join(" ")
}

/// "the belt, the foot's face or the needle's tip".
fn either(things: &[&str]) -> String {
    match things {
        [] => String::new(),
        [one] => (*one).to_owned(),
        [first @ .., last] => format!("{} or {last}", first.join(", ")),
    }
}

/// All findings, with the key that stands for each.
pub const FINDINGS: [(char, Finding); 5] = [
    ('c', Finding::Clean),
    ('l', Finding::Lint),
    ('g', Finding::GreyBlackOil),
    ('b', Finding::BlackMarkOnYarn),
    ('o', Finding::ClearOilSpot),
];

/// The finding of a key.
#[must_use]
pub fn finding_of(key: char) -> Option<Finding> {
    FINDINGS.iter().find(|(letter, _)| letter.eq_ignore_ascii_case(&key)).map(|(_, finding)| *finding)
}

impl Finding {
    /// Its name in plain words.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::Clean => "clean",
            Self::Lint => "lint",
            Self::GreyBlackOil => "grey-black oil on the wipe",
            Self::BlackMarkOnYarn => "a black mark on the yarn",
            Self::ClearOilSpot => "a clear oil spot on the yarn",
        }
    }

    /// What it means. That a machine with too little oil blackens its thread and one with too much spots it is from an
    /// industrial sewing manual, that worn metal in oil marks carpet from a bearing maker's story; how often the grey may come
    /// back is workshop memory.
    #[must_use]
    pub const fn meaning(self) -> &'static str {
        match self {
            Self::Clean => "Nothing to see: the interval is not too long.",
            Self::Lint => {
                "Lint soaks up the oil and drags: brush out more often, and before every oiling; each time unplug first (or air and hose off)."
            }
            Self::GreyBlackOil => {
                "Worn metal and carbon in the oil. Once after oiling it is normal; if it is back within an hour of running, the machine gets too little oil or is worn."
            }
            Self::BlackMarkOnYarn => {
                "Too little oil, or wear: unplug (or air and hose off), oil, wipe, and feel the needle bar for play; then, hands away, run on scrap until no mark shows. Such marks do not wash out."
            }
            Self::ClearOilSpot => {
                "Too much oil: one drop a point is enough. Unplug (or air and hose off) and wipe; then, hands away, run on scrap until no spot shows."
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::care::points::{never_oiled, points};
    use crate::entries::Pile;
    use shared_types::MachineTag;

    fn routine(drive: Drive) -> Vec<Step> {
        steps(&points(Pile::Cut, drive, MachineTag(1), []), drive, never_oiled(drive))
    }

    #[test]
    fn the_routine_goes_from_the_plug_to_the_wipe_and_cleans_before_it_oils() {
        let kinds: Vec<StepKind> = routine(Drive::Electric).iter().map(|step| step.step).collect();
        assert_eq!(kinds.first(), Some(&StepKind::SwitchOff));
        assert_eq!(kinds.last(), Some(&StepKind::Wipe));
        let place = |kind| kinds.iter().position(|one| *one == kind);
        assert!(
            place(StepKind::Clean) < place(StepKind::Oil) && place(StepKind::Oil) < place(StepKind::DryRun)
        );
    }

    #[test]
    fn plugging_in_and_unplugging_are_steps_of_their_own_and_all_points_are_one() {
        use StepKind::{Clean, DryRun, Oil, PlugIn, SwitchOff, Wipe};
        for drive in [Drive::Electric, Drive::Pneumatic] {
            let kinds: Vec<StepKind> = routine(drive).iter().map(|step| step.step).collect();
            assert_eq!(kinds, [SwitchOff, Clean, Oil, PlugIn, DryRun, SwitchOff, Wipe]);
        }
    }

    #[test]
    fn every_open_point_is_named_with_its_lubricant_and_the_gear_box_is_not() {
        let words: Vec<String> = routine(Drive::Electric).into_iter().map(|step| step.words).collect();
        assert!(
            words
                .iter()
                .any(|words| words.starts_with("One drop of light clear sewing-machine oil on each: ")
                    && words.contains("scissor pivot")),
            "{words:?}"
        );
        assert!(!words.iter().any(|words| words.contains("gear box")), "{words:?}");
        assert!(words.iter().any(|words| {
            words.contains("No oil on the belt, the carbon brushes, the foot's face or the needle's tip.")
        }));
    }

    #[test]
    fn on_air_nothing_is_unplugged() {
        let words: Vec<String> = routine(Drive::Pneumatic).into_iter().map(|step| step.words).collect();
        assert!(
            !words.iter().any(|words| words.to_lowercase().contains("unplug") || words.contains("belt")),
            "{words:?}"
        );
    }

    #[test]
    fn each_finding_has_one_key_and_its_own_meaning() {
        let mut keys: Vec<char> = FINDINGS.iter().map(|(key, _)| *key).collect();
        keys.sort_unstable();
        keys.dedup();
        assert_eq!(keys.len(), 5);
        assert_eq!((finding_of('G'), finding_of('x')), (Some(Finding::GreyBlackOil), None));
        let mut meanings: Vec<&str> = FINDINGS.iter().map(|(_, finding)| finding.meaning()).collect();
        meanings.sort_unstable();
        meanings.dedup();
        assert_eq!(meanings.len(), 5);
    }
}
