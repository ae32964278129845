//! The job's clock: a timer and entries for the work around the frame.

use serde::Serialize;
use shared_types::UtcMillis;

use super::error::RugError;
use super::timer_name::TimerName;
use crate::app::ports::{Clock, Store};
use crate::app::typed::dates::Given;
use crate::app::typed::error::RequestError;
use crate::app::typed::measures::lasting_ms;
use crate::app::typed::names::checked_name;
use crate::app::typed::words::refused;
use host_core::entries::{EntryBody, EntryId, JobAdded, JobKind, JobStarted, JobStopped, RugName};
use host_core::rugs::commission::{Commissions, JobSpan, longest_timer_ms};
use host_core::rugs::job_time::RunningTimer;
use host_core::stats::HOUR_MS;
use host_core::studio::Studio;

impl TimerName {
    fn of(span: &JobSpan) -> Self {
        Self { job: span.job, rug: span.rug.as_ref().map(|rug| rug.0.clone()) }
    }
}

/// The longest time of hands that one entry may tell of, in milliseconds: a day and a night.
const MOST_LABOUR_MS: u64 = 24 * HOUR_MS;

/// Some job time as it was started, stopped or added.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct JobLine {
    /// The entry that began or added it.
    pub entry: EntryId,
    /// For what.
    pub job: JobKind,
    /// For which commission.
    pub rug: Option<String>,
    /// When it began, in milliseconds UTC; of one without a timer, when it was, about.
    pub at_utc_ms: i64,
    /// How long it took, in milliseconds; none while its timer runs.
    pub lasted_ms: Option<u64>,
    /// Whether a timer measured it.
    pub is_timed: bool,
    /// Anything else.
    pub note: Option<String>,
}

impl From<&JobSpan> for JobLine {
    fn from(span: &JobSpan) -> Self {
        Self {
            entry: span.entry,
            job: span.job,
            rug: span.rug.as_ref().map(|rug| rug.0.clone()),
            at_utc_ms: span.at.0,
            lasted_ms: span.lasted_ms,
            is_timed: span.is_timed,
            note: span.note.clone(),
        }
    }
}

/// The answer of `job`.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct JobList {
    /// Timers that run.
    pub running: Vec<RunningTimer>,
    /// All job time, the newest first.
    pub jobs: Vec<JobLine>,
    /// Work of hands among it, in milliseconds.
    pub labour_ms: u64,
    /// Waiting among it, in milliseconds.
    pub waiting_ms: u64,
}

/// For what job time is.
#[derive(Clone, Debug, Default)]
pub struct ForWhat {
    /// For which commission.
    pub rug: Option<String>,
    /// Anything else.
    pub note: Option<String>,
}

impl ForWhat {
    fn checked(&self, studio: &Studio) -> Result<(Option<RugName>, Option<String>), RequestError> {
        let rug = self.rug.as_deref().map(|name| studio.rug(name).map(|rug| rug.order.rug.clone()));
        let note = self.note.as_deref().map(|note| checked_name("the note", note));
        Ok((rug.transpose()?, note.transpose()?))
    }
}

/// Starts a timer.
///
/// # Errors
/// When there is no such commission, another timer of hands is running, this waiting is running already, or the store
/// fails.
pub fn start(
    store: &mut impl Store,
    clock: &impl Clock,
    job: JobKind,
    for_what: &ForWhat,
    at: Option<Given>,
) -> Result<JobLine, RugError> {
    let entries = store.entries()?;
    let (rug, note) = for_what.checked(&Studio::of(&entries))?;
    let in_the_way = |span: &&JobSpan| {
        if job.is_labour() { span.job.is_labour() } else { span.job == job && span.rug == rug }
    };
    if let Some(running) = Commissions::of(&entries).running().find(in_the_way) {
        return Err(RugError::StillRunning(TimerName::of(running)));
    }
    let at = at.map_or_else(|| clock.now(), |at| at.start(clock));
    let body = JobStarted { job, rug, at, note };
    let entry = store.add_entry(clock.now(), &EntryBody::JobStarted(body.clone()))?;
    let (lasted_ms, is_timed) = (None, true);
    Ok(JobLine::from(&JobSpan { entry, job, rug: body.rug, at, lasted_ms, is_timed, note: body.note }))
}

/// Which timer is stopped, and when.
#[derive(Clone, Debug, Default)]
pub struct Stop {
    /// For what it is; none: the only one.
    pub job: Option<JobKind>,
    /// For which commission; none: any.
    pub rug: Option<String>,
    /// When it ended; none: now.
    pub at: Option<Given>,
    /// How long it lasted, as typed.
    pub after: Option<String>,
    /// It really was that long.
    pub is_sure: bool,
}

/// Stops a timer.
///
/// # Errors
/// When none or several fit, it has probably been forgotten, it would end before it began or has not come that far, or
/// the store fails.
pub fn stop(store: &mut impl Store, clock: &impl Clock, stop: &Stop) -> Result<JobLine, RugError> {
    let entries = store.entries()?;
    let (rug, _) = ForWhat { rug: stop.rug.clone(), note: None }.checked(&Studio::of(&entries))?;
    let all = Commissions::of(&entries);
    let fits =
        |span: &&JobSpan| stop.job.is_none_or(|job| job == span.job) && (rug.is_none() || span.rug == rug);
    let fitting: Vec<&JobSpan> = all.running().filter(fits).collect();
    let span = match fitting.as_slice() {
        [] => return Err(RugError::NothingRunning),
        [only] => *only,
        several => {
            let running = several.iter().map(|span| TimerName::of(span)).collect();
            return Err(RugError::SeveralRunning(running));
        }
    };
    let ends = ends(span, stop, clock)?;
    store.add_entry(clock.now(), &EntryBody::JobStopped(JobStopped { started: span.entry, at: ends }))?;
    let lasted = u64::try_from(ends.0.saturating_sub(span.at.0)).unwrap_or(0);
    Ok(JobLine { lasted_ms: Some(lasted), ..JobLine::from(span) })
}

fn ends(span: &JobSpan, stop: &Stop, clock: &impl Clock) -> Result<UtcMillis, RugError> {
    let now = clock.now();
    let running = || TimerName::of(span);
    let ends = match (&stop.after, stop.at) {
        (Some(after), _) => UtcMillis(span.at.0.saturating_add_unsigned(lasting_ms(after)?)),
        (None, Some(at)) => at.end(clock),
        (None, None) => now,
    };
    if ends > now {
        return Err(RugError::NotThatLong(running()));
    }
    if ends < span.at {
        return Err(RugError::EndsBeforeStart(running()));
    }
    let running_for_ms = span.running_for_ms(now).unwrap_or(0);
    let asked_after_ms = longest_timer_ms(span.job);
    let was_said = stop.is_sure || stop.after.is_some() || stop.at.is_some();
    if running_for_ms > asked_after_ms && !was_said {
        let running = running();
        return Err(RugError::ProbablyForgotten { running, running_for_ms, asked_after_ms });
    }
    Ok(ends)
}

/// Writes job time down without a timer.
///
/// # Errors
/// When the time is none or too long, there is no such commission, or the store fails.
pub fn add(
    store: &mut impl Store,
    clock: &impl Clock,
    job: JobKind,
    lasting: &str,
    for_what: &ForWhat,
    at: Option<Given>,
) -> Result<JobLine, RequestError> {
    let lasted_ms = lasting_ms(lasting)?;
    if job.is_labour() && lasted_ms > MOST_LABOUR_MS {
        return Err(refused("the time of one entry", "up to 24 h", lasting));
    }
    let (rug, note) = for_what.checked(&Studio::of(&store.entries()?))?;
    let at = at.map_or_else(|| clock.now(), |at| at.middle(clock));
    let body = JobAdded { job, rug, lasted_ms, at, note };
    let entry = store.add_entry(clock.now(), &EntryBody::JobAdded(body.clone()))?;
    let (lasted_ms, is_timed) = (Some(lasted_ms), false);
    Ok(JobLine::from(&JobSpan { entry, job, rug: body.rug, at, lasted_ms, is_timed, note: body.note }))
}

/// Lists job time, all or of one commission.
///
/// # Errors
/// When there is no such commission, or the store cannot be read.
pub fn list(store: &impl Store, clock: &impl Clock, rug: Option<&str>) -> Result<JobList, RequestError> {
    let entries = store.entries()?;
    let rug = rug.map(str::to_owned);
    let (rug, _) = ForWhat { rug, note: None }.checked(&Studio::of(&entries))?;
    let all = Commissions::of(&entries);
    let mut jobs: Vec<&JobSpan> = all.jobs.iter().filter(|span| rug.is_none() || span.rug == rug).collect();
    jobs.sort_by_key(|span| std::cmp::Reverse(span.at));
    let sum = |is_labour: bool| {
        let kind = jobs.iter().filter(|span| span.job.is_labour() == is_labour);
        kind.filter_map(|span| span.lasted_ms).fold(0, u64::saturating_add)
    };
    Ok(JobList {
        running: jobs.iter().filter_map(|span| RunningTimer::of(span, clock.now())).collect(),
        labour_ms: sum(true),
        waiting_ms: sum(false),
        jobs: jobs.into_iter().map(JobLine::from).collect(),
    })
}
