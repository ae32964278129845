//! Reads a logger and keeps what it recorded.
//!
//! The order is the promise: records are committed before the logger is told that they are safe, and it is only told of
//! numbers below the first one that is still open. Everything may be repeated, so a pull that breaks off costs nothing.

use shared_types::link::{LogState, LoggerStatus};
use shared_types::log::{Limits, RECORD_VERSION, Settings};
use shared_types::{LogId, MachineTag, RecordSeq, UtcMillis};

use super::fit::{self, Decision, Known, Question};
use super::greeting;
use super::pull_report::{Order, PullError, PullReport, Warning};
use crate::app::ports::logger_name::{log_name, logger_name};
use crate::app::ports::{Clock, Gap, Logger, LoggerError, StatusReport, Store, StoreError};
use host_core::entries::{EntryBody, Fitting};
use host_core::records::log_records::LogKey;

/// Looks at a logger that is still making its log, at most: with a second between them four minutes. The largest log is
/// made in about one, and in four with the slowest erase that data sheets of such chips allow.
const LOOKS_WHILE_MAKING: u32 = 240;

/// Works out when the lamp should speak, from everything kept so far; `None` leaves the logger's limits as they are.
pub type LampLimits<'a> =
    dyn Fn(&dyn Store, &LoggerStatus, MachineTag) -> Result<Option<Limits>, StoreError> + 'a;

/// What the maker wants of one pull.
#[derive(Default)]
pub struct PullWish<'a> {
    /// The machine on which the logger sits, where the maker names it.
    pub machine: Option<MachineTag>,
    /// When the lamp should speak.
    pub lamp_limits: Option<&'a LampLimits<'a>>,
    /// Passes about a second between two looks at a logger that is still making its log, and hears how many parts of its
    /// memory are left; without it nobody waits.
    pub pause: Option<&'a dyn Fn(u32)>,
}

impl std::fmt::Debug for PullWish<'_> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("PullWish").field("machine", &self.machine).finish_non_exhaustive()
    }
}

/// How far a pull is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Progress {
    /// Records read.
    pub records: u64,
    /// Records that there are to read, as far as is known.
    pub of: u64,
    /// Bytes that came.
    pub bytes: u64,
}

/// One pull under way.
pub(super) struct Pull<'a> {
    pub(super) logger: &'a mut dyn Logger,
    pub(super) store: &'a mut dyn Store,
    pub(super) at: UtcMillis,
    pub(super) key: LogKey,
    pub(super) report: PullReport,
    pub(super) unreadable_bytes: u64,
    /// The latest greeting that nothing denies.
    pub(super) status: LoggerStatus,
    /// What its log says there is.
    pub(super) oldest: RecordSeq,
    /// The number that its next record will get.
    pub(super) next: RecordSeq,
    /// Numbers that it passed over when it was asked for them.
    pub(super) skipped: Vec<Gap>,
    known: Known,
    decision: Decision,
    has_begun: bool,
    /// Whether a piece of the log came that fits the greeting.
    pub(super) has_read: bool,
}

/// Reads `logger` into `store`.
///
/// # Errors
/// When nothing could be read or kept, when the logger contradicts itself, or when the link broke; see
/// [`PullError::BrokeOff`] for what is kept then.
pub fn pull(
    logger: &mut dyn Logger,
    store: &mut dyn Store,
    clock: &dyn Clock,
    wish: &PullWish<'_>,
    progress: &mut dyn FnMut(Progress),
) -> Result<PullReport, PullError> {
    let at = clock.now();
    let status = status_with_log(logger, wish)?;
    let heard = store.status_reports()?;
    let (log, oldest, next) = log_of(&status, store, at, &logger.place())?;
    let key = LogKey { logger: status.logger, log };
    let contradicts = |what| LoggerError::Contradicts { place: logger.place(), what };
    let held_below = held_below(store, key)?;
    greeting::judge(&status, held_below).map_err(contradicts)?;
    let known = fit::known(&store.entries()?);
    let question = Question {
        key,
        told: status.settings.machine,
        wish: wish.machine,
        first_missing: first_open(store, key, oldest, next, &[])?,
        now: at,
    };
    let decision = fit::decide(&known, question);
    refuse_what_must_be_asked(&known, &decision)?;
    greeting::judge_owner(key, &heard).map_err(contradicts)?;
    let report = PullReport {
        place: logger.place(),
        from_saved_log: logger.is_saved(),
        logger: logger_name(key.logger),
        log: log_name(key.log),
        firmware: format!("{}.{}.{}", status.firmware.major, status.firmware.minor, status.firmware.patch),
        warnings: compare(&status, key, next, held_below, &heard, logger.is_saved()),
        ..PullReport::default()
    };
    let mut pull = Pull {
        logger,
        store,
        at,
        key,
        report,
        unreadable_bytes: 0,
        status,
        oldest,
        next,
        skipped: Vec::new(),
        known,
        decision,
        has_begun: false,
        has_read: false,
    };
    let read = pull.read(progress);
    // A greeting that its own records deny, or that no record followed, is not kept.
    let is_denied = matches!(read, Err(PullError::Logger(LoggerError::Contradicts { .. })));
    if !is_denied && (pull.has_read || read.is_ok()) {
        pull.begin()?;
        pull.store.note_status(at, &pull.status, &pull.logger.place())?;
    }
    pull.finish_counts()?;
    match read {
        Err(PullError::Logger(source)) => {
            return Err(PullError::BrokeOff { report: Box::new(pull.report), source });
        }
        other => other?,
    }
    pull.fit_after()?;
    if !pull.report.from_saved_log {
        pull.tell(clock, wish)?;
    }
    Ok(pull.report)
}

/// The log of a greeting with its oldest and next number; a greeting without one is noted all the same.
fn log_of(
    status: &LoggerStatus,
    store: &mut dyn Store,
    at: UtcMillis,
    place: &str,
) -> Result<(LogId, RecordSeq, RecordSeq), PullError> {
    let why = match status.log {
        LogState::Ready { log, oldest, next, .. } => return Ok((log, oldest, next)),
        LogState::Formatting { sectors_left } => PullError::StillFormatting { sectors_left },
        LogState::Unreadable => PullError::UnreadableLog,
    };
    store.note_status(at, status, place)?;
    Err(why)
}

/// The number after the last one held of a log.
fn held_below(store: &dyn Store, key: LogKey) -> Result<RecordSeq, StoreError> {
    Ok(store.missing(key, RecordSeq(u32::MAX))?.last().map_or(RecordSeq(u32::MAX), |gap| gap.from))
}

/// Everything below is held, is no longer claimed by the logger, or was passed over by it just now when it was asked for it.
fn first_open(
    store: &dyn Store,
    key: LogKey,
    oldest: RecordSeq,
    next: RecordSeq,
    skipped: &[Gap],
) -> Result<RecordSeq, StoreError> {
    let settled = store.first_missing(key)?.min(oldest);
    for gap in store.missing(key, next)? {
        let mut open = gap.from.max(settled);
        for passed in skipped.iter().filter(|passed| passed.from <= gap.to) {
            if passed.from <= open && open <= passed.to {
                open = RecordSeq(passed.to.0.saturating_add(1));
            }
        }
        if open <= gap.to {
            return Ok(open);
        }
    }
    Ok(next)
}

fn refuse_what_must_be_asked(known: &Known, decision: &Decision) -> Result<(), PullError> {
    match decision {
        Decision::Ask => Err(PullError::WhichMachine { machines: known.machines.clone() }),
        &Decision::Unknown(machine) => {
            Err(PullError::NoSuchMachine { machine, machines: known.machines.clone() })
        }
        _ => Ok(()),
    }
}

/// The greeting; of a logger that is still making its log the first one after that, or the last one that was waited for.
fn status_with_log(logger: &mut dyn Logger, wish: &PullWish<'_>) -> Result<LoggerStatus, LoggerError> {
    let mut status = logger.status()?;
    // What was saved will not change, however long one waits.
    let looks = if logger.is_saved() { 0 } else { LOOKS_WHILE_MAKING };
    for _ in 0..looks {
        let (LogState::Formatting { sectors_left }, Some(pause)) = (status.log, wish.pause) else { break };
        pause(sectors_left);
        status = logger.status()?;
    }
    Ok(status)
}

/// What differs from when the logger was last heard.
fn compare(
    status: &LoggerStatus,
    key: LogKey,
    next: RecordSeq,
    held_below: RecordSeq,
    heard: &[StatusReport],
    from_saved_log: bool,
) -> Vec<Warning> {
    let mut warnings = Vec::new();
    if status.record_version > RECORD_VERSION {
        warnings.push(Warning::NewerRecords { version: status.record_version });
    }
    let of_logger = || heard.iter().filter(|heard| heard.key.logger == key.logger);
    let mut other_logs: Vec<_> =
        of_logger().map(|heard| heard.key.log).filter(|&log| log != key.log).collect();
    other_logs.sort_unstable();
    other_logs.dedup();
    if !other_logs.is_empty() && !of_logger().any(|heard| heard.key.log == key.log) {
        warnings.push(Warning::Reformatted { before: other_logs.into_iter().map(log_name).collect() });
    }
    let of_log = || of_logger().filter(|heard| heard.key.log == key.log);
    // A saved log, or a restored computer, may tell of an earlier time; only the same or a later one can contradict.
    let earlier = of_log().filter(|heard| heard.next <= next).map(|heard| heard.totals);
    if let Some(before) = earlier.max_by_key(|totals| (totals.run, totals.edges))
        && (status.totals.run < before.run || status.totals.edges < before.edges)
    {
        let (run_ms_before, run_ms_now) = (before.run.0, status.totals.run.0);
        warnings.push(Warning::TotalsWentDown { run_ms_before, run_ms_now });
    }
    // What was told and never came is no reason to read all anew.
    let told_before = of_log().map(|heard| heard.next).max().unwrap_or_default();
    let next_before = if held_below > next { held_below.max(told_before) } else { RecordSeq(0) };
    if next_before > next && !from_saved_log {
        warnings.push(Warning::NumbersWentBack { next_before, next_now: next });
    }
    warnings
}

impl Pull<'_> {
    /// Puts the logger on its machine, once, before the first records are kept: by then a first batch of them fits its greeting.
    pub(super) fn begin(&mut self) -> Result<(), StoreError> {
        if std::mem::replace(&mut self.has_begun, true) {
            return Ok(());
        }
        let decision = self.decision.clone();
        match &decision {
            Decision::Stays(machine) | Decision::Moved { known: machine, .. } => self.sits_on(*machine),
            Decision::Fit { add, fitting } => {
                let before = self.known.of_log(self.key).filter(|before| before.machine != fit::NOWHERE);
                if let Some(before) = before {
                    let (before, from) = (before.machine, fitting.from);
                    self.report.warnings.push(Warning::MovedByWish { before, from });
                }
                self.sits_on(fitting.machine);
                let added = add.clone().map(EntryBody::MachineAdded).into_iter();
                let bodies = added.chain([EntryBody::LoggerFitted(*fitting)]);
                self.store.add_entries(self.at, &bodies.collect::<Vec<_>>())?;
                if let Some(machine) = add {
                    self.report.machine_name = Some(machine.name.clone());
                    self.report.machine_added = true;
                }
                self.report.fitted_now = true;
            }
            Decision::Waiting { told } => {
                let from = self.known.of_log(self.key).map_or(RecordSeq(0), |fitting| fitting.from);
                self.report.warnings.push(Warning::Moved { known: None, told: *told, from });
            }
            // Asked before anything was read.
            Decision::Ask | Decision::Unknown(_) => {}
        }
        Ok(())
    }

    fn sits_on(&mut self, machine: MachineTag) {
        self.report.machine = Some(machine);
        self.report.machine_name =
            self.known.machines.iter().find(|known| known.machine == machine).map(|known| known.name.clone());
    }

    /// Sets aside what a moved logger recorded since, so that it counts for no machine until the maker says so.
    fn fit_after(&mut self) -> Result<(), PullError> {
        let (&Decision::Moved { known: machine, told }, Some(current)) =
            (&self.decision, self.known.of_log(self.key))
        else {
            return Ok(());
        };
        let logs = self.store.logs()?;
        let seen_at = logs
            .iter()
            .find(|facts| facts.key == self.key)
            .and_then(|facts| fit::moved_at(facts, current, told));
        // Without such a record the logger was told before the fitting was entered, which is no move, unless the record
        // is among those that are missing.
        let may_be_missing = self.report.gaps.iter().any(|gap| gap.to >= current.from);
        let Some(from) = seen_at.or(self.report.new_from.filter(|_| may_be_missing)) else {
            return Ok(());
        };
        // Minutes may have passed since the entries were read, and this says nothing that another entry could forbid.
        self.store.read_anew();
        let LogKey { logger, log } = self.key;
        let aside = Fitting { machine: fit::NOWHERE, logger, log, from };
        self.store.add_entry(self.at, &EntryBody::LoggerFitted(aside))?;
        self.report.machine = None;
        self.report.machine_name = None;
        self.report.warnings.push(Warning::Moved { known: Some(machine), told, from });
        Ok(())
    }

    /// Compares the logger's totals with what is held, and counts what came over the link.
    fn finish_counts(&mut self) -> Result<(), StoreError> {
        let holding = self.store.holding(self.key)?;
        let heard = self.store.status_reports()?;
        let of_log = || heard.iter().filter(|heard| heard.key == self.key);
        let now = self.status.totals;
        let start = of_log().next().map(|first| first.formatted_with).unwrap_or_default();
        let run = of_log().map(|heard| heard.totals.run).max().unwrap_or(now.run);
        let edges = of_log().map(|heard| heard.totals.edges).max().unwrap_or(now.edges);
        let report = &mut self.report;
        report.not_recorded_ms = run.0.saturating_sub(start.run.0).saturating_sub(holding.counted.run.0);
        report.not_recorded_edges =
            edges.0.saturating_sub(start.edges.0).saturating_sub(holding.counted.edges.0);
        let fell = report.warnings.iter().any(|warning| matches!(warning, Warning::TotalsWentDown { .. }));
        let least = start.plus(holding.counted.run, holding.counted.edges);
        if !fell && !report.from_saved_log && greeting::is_below(now, least) {
            report.warnings.push(Warning::RecordsHoldMore {
                run_ms_held: holding.counted.run.0,
                run_ms_counted: now.run.0.saturating_sub(start.run.0),
                edges_held: holding.counted.edges.0,
                edges_counted: now.edges.0.saturating_sub(start.edges.0),
            });
        }
        if let Some((boot, at)) = holding.latest
            && !report.from_saved_log
            && (self.status.boot < boot || self.status.boot == boot && self.status.uptime < at)
        {
            report.warnings.push(Warning::RecordsAreLater { boot, at, greeted: self.status.boot });
        }
        report.gaps = holding.gaps;
        report.link_bytes = self.logger.bytes_received();
        report.skipped = self.logger.skipped();
        if self.unreadable_bytes > 0 {
            report.warnings.push(Warning::UnreadableBytes { bytes: self.unreadable_bytes });
        }
        Ok(())
    }

    /// Tells the logger what it should know. The records are safe by now, so a refusal is a warning, not a failure.
    fn tell(&mut self, clock: &dyn Clock, wish: &PullWish<'_>) -> Result<(), PullError> {
        let log = self.key.log;
        let LogState::Ready { acknowledged, .. } = self.status.log else {
            return Ok(());
        };
        let status = self.status.clone();
        let below = first_open(self.store, self.key, self.oldest, self.next, &self.skipped)?;
        if below > acknowledged {
            let done = self.logger.acknowledge(log, below);
            if self.told(Order::Acknowledge, done) {
                self.report.acknowledged_below = Some(below);
            }
        }
        let done = self.logger.set_clock(clock.now());
        self.report.clock_set = self.told(Order::Clock, done);
        let Some(machine) = self.report.machine else {
            return Ok(());
        };
        if machine != status.settings.machine {
            let done = self.logger.fit(machine);
            self.told(Order::Machine, done);
        }
        if let Some(limits) = wish.lamp_limits {
            let limits = limits(self.store, &status, machine)?;
            if let Some(limits) = limits.filter(|&limits| limits != status.settings.limits) {
                let done = self.logger.apply(Settings { machine, limits, ..status.settings });
                self.report.limits_set = self.told(Order::Limits, done);
            }
        }
        Ok(())
    }

    fn told(&mut self, order: Order, outcome: Result<(), LoggerError>) -> bool {
        match outcome {
            Ok(()) => true,
            Err(error) => {
                self.report.warnings.push(Warning::NotTold { order, why: error.to_string() });
                false
            }
        }
    }
}
