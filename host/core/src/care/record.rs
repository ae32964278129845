//! The record of care: every entry about it, with those that count no more marked and never left out.

use std::collections::BTreeSet;

use serde::Serialize;
use shared_types::{MachineTag, UtcMillis};

use super::fitted::{all_new_parts, tasks_done_by};
use super::grounds::Grounds;
use crate::entries::{Entry, EntryBody, EntryId, OILING, PartName};
use crate::sessions::dry_run_check::{self, DryRun};

/// What an entry about care is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct About<'a> {
    /// The machine.
    pub machine: MachineTag,
    /// The task, where it is about one.
    pub task: Option<&'a str>,
    /// The new part that it fitted, where it is about one.
    pub part: Option<&'a PartName>,
    /// When it was, where that is not the moment of entry.
    pub at: Option<UtcMillis>,
}

/// What an entry is about; none for entries that are not about care.
#[must_use]
pub fn about_care(body: &EntryBody) -> Option<About<'_>> {
    let about = |machine, task, at| Some(About { machine, task, part: None, at });
    match body {
        EntryBody::CareDone(of) => about(of.machine, Some(of.task.0.as_str()), Some(of.at)),
        EntryBody::CareSkipped(of) => about(of.machine, Some(of.task.0.as_str()), Some(of.at)),
        EntryBody::CareSnoozed(of) => about(of.machine, Some(of.task.0.as_str()), Some(of.at)),
        EntryBody::CareLimitSet(of) => about(of.machine, Some(of.task.0.as_str()), None),
        EntryBody::CareTaskAdded(of) => about(of.machine, Some(of.task.0.as_str()), None),
        EntryBody::CareTaskSwitched(of) => about(of.machine, Some(of.task.0.as_str()), None),
        EntryBody::OilPointChanged(of) => about(of.machine, None, None),
        EntryBody::PileHeightSet(of) => about(of.machine, None, Some(of.at)),
        EntryBody::PartFitted(of) if tasks_done_by(&of.part).next().is_some() => {
            Some(About { machine: of.machine, task: None, part: Some(&of.part), at: Some(of.at) })
        }
        _ => None,
    }
}

/// One entry of the record.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct RecordLine {
    /// Its number.
    pub entry: EntryId,
    /// When it was entered.
    pub entered_at_utc_ms: UtcMillis,
    /// When what it tells of was.
    pub at_utc_ms: UtcMillis,
    /// Whether it counts.
    pub counts: bool,
    /// Why it was taken back, if it was.
    pub taken_back_because: Option<String>,
    /// The entry itself.
    pub said: EntryBody,
    /// The tasks that a new part did by being fitted; none for other entries, and for what counts no more.
    pub does_tasks: Vec<&'static str>,
    /// What the log says of the dry run after it; null where none belongs to it.
    pub dry_run: Option<DryRun>,
}

/// The record of one machine, or of all, in the order of time.
#[must_use]
pub fn record(grounds: Grounds<'_>, machine: Option<MachineTag>, task: Option<&str>) -> Vec<RecordLine> {
    let new_parts: BTreeSet<EntryId> = all_new_parts(grounds.entries).iter().map(|new| new.entry).collect();
    let is_asked = |about: &About<'_>| {
        let is_named = |name: &str| {
            let mut done = about.part.into_iter().flat_map(tasks_done_by);
            about.task.is_some_and(|task| task.eq_ignore_ascii_case(name))
                || done.any(|task| task.name.eq_ignore_ascii_case(name))
        };
        machine.is_none_or(|tag| tag == about.machine) && task.is_none_or(|name| is_named(name.trim()))
    };
    let line = |entry: &Entry, about: About<'_>| {
        let withdrawal = grounds.entries.withdrawal(entry.id);
        let counts = withdrawal.is_none();
        RecordLine {
            entry: entry.id,
            entered_at_utc_ms: entry.entered_at,
            at_utc_ms: about.at.unwrap_or(entry.entered_at),
            counts,
            taken_back_because: withdrawal.map(|by| by.reason.to_owned()),
            said: entry.body.clone(),
            does_tasks: match &entry.body {
                EntryBody::PartFitted(of) if new_parts.contains(&entry.id) => {
                    tasks_done_by(&of.part).map(|task| task.name).collect()
                }
                _ => Vec::new(),
            },
            dry_run: match &entry.body {
                EntryBody::CareDone(done)
                    if counts
                        && done.task.0.eq_ignore_ascii_case(OILING)
                        && !grounds.studio.is_without_logger(done.machine) =>
                {
                    let ratio = grounds.studio.ratio(Some(done.machine));
                    Some(dry_run_check::check(grounds.ledger, grounds.heard, done.machine, ratio, done.at))
                }
                _ => None,
            },
        }
    };
    let mut lines: Vec<RecordLine> = grounds
        .entries
        .with_withdrawn()
        .iter()
        .filter_map(|entry| {
            let about = about_care(&entry.body).filter(is_asked)?;
            Some(line(entry, about))
        })
        .collect();
    lines.sort_by_key(|line| (line.at_utc_ms, line.entry));
    lines
}
