//! The steps of care that needs hands: one a screen, the cautions first. Nothing is noted before the last one.

use askama::Template;

use super::answers::written;
use super::desk::{PageClock, Room};
use super::error::Refused;
use super::forms::Said;
use super::frame::{Asked, Frame};
use crate::app::care::done::{self, DoneSaid};
use crate::app::care::plan;
use crate::store::Database;
use host_core::care::routine::{FINDINGS, Step, StepKind, finding_of};

#[derive(Template)]
#[template(path = "page/steps.html")]
struct StepsPage {
    frame: Frame,
    number: Option<u32>,
    task: String,
    cautions: Vec<&'static str>,
    /// The step that is shown, and its number; none for the cautions before them and for the end after them.
    step: Option<(usize, String)>,
    of: usize,
    is_clean: bool,
    is_first: bool,
    is_wiped: bool,
    brushed: bool,
    before: usize,
    next: usize,
    findings: Vec<(char, &'static str)>,
}

/// The page of one step.
///
/// # Errors
/// When there is no such task or machine, or the database cannot be read.
pub fn steps(room: &mut Room, asked: &Asked) -> Result<String, Refused> {
    let number = asked.said.machine()?;
    let task = asked.said.needed("task", "the task")?.to_owned();
    let all: Vec<Step> = done::steps_of(&room.store, number, &task)?;
    let place = asked.said.whole::<usize>("step")?.unwrap_or(0).min(all.len() + 1);
    let shown = place.checked_sub(1).and_then(|index| all.get(index));
    let page = StepsPage {
        frame: Frame::new(task.clone(), "/care", asked, room)?,
        number,
        cautions: room
            .held(format!("plan {number:?}"), |store, _| plan::machine_plan(store, number))?
            .cautions
            .clone(),
        step: shown.map(|step| (place, step.words.clone())),
        of: all.len(),
        is_clean: shown.is_some_and(|step| step.step == StepKind::Clean),
        is_first: place == 0,
        is_wiped: all.iter().any(|step| step.step == StepKind::Wipe),
        brushed: asked.said.get("brushed").is_some(),
        before: place.saturating_sub(1),
        next: place + 1,
        findings: FINDINGS.iter().map(|(key, finding)| (*key, finding.words())).collect(),
        task,
    };
    written(&page)
}

/// Notes care at the end of its steps, or without them.
///
/// # Errors
/// When there is no such task or machine, or the database does not take it.
pub fn done(store: &mut Database, clock: &PageClock, said: &Said) -> Result<String, Refused> {
    let task = said.needed("task", "the task")?;
    let finding = said.get("finding").and_then(|key| key.chars().next()).and_then(finding_of);
    let care = DoneSaid {
        task: task.to_owned(),
        machine: said.machine()?,
        finding,
        brushed_out: said.get("brushed").map(|_| None),
        ..DoneSaid::default()
    };
    let report = done::done(store, clock, &care)?;
    let means = report.finding_means.map_or_else(String::new, |means| format!(". {means}"));
    Ok(format!("{} done{means}", report.task))
}
