//! Reads a logger and keeps what it recorded.
//!
//! The order is the promise: records are committed before the logger is told that they are safe, and it is only told of
//! numbers below the first one that is still open. Everything may be repeated, so a pull that breaks off costs nothing.

use shared_types::link::{Hello, LogState};
use shared_types::log::{Limits, RECORD_VERSION, Settings};
use shared_types::{Edges, MachineTag, RecordSeq, RunMillis, UtcMillis};

use super::fit::{self, Decision, Known, Question, log_name, logger_name};
use super::ports::{Batch, Clock, Gap, Heard, Kept, Logger, LoggerError, RawRecord, Store, StoreError};
pub use super::pull_report::{Order, PullError, PullReport, Warning};
use crate::core::entries::{EntryBody, Fitting};
use crate::core::facts::LogKey;

/// Records gathered before they are committed. One commit waits for the disk; one per batch would make a long pull
/// many times slower, and what a break-off loses was not acknowledged and comes again.
const RECORDS_PER_COMMIT: usize = 1_000;

/// Looks at a logger that is still making its log, at most: with a second between them four minutes. The largest log is
/// made in about one, and in four with the slowest erase that data sheets of such chips allow.
const LOOKS_WHILE_MAKING: u32 = 240;

/// Works out when the lamp should speak, from everything kept so far; `None` leaves the logger's limits as they are.
pub type LampLimits<'a> = dyn Fn(&dyn Store, &Hello, MachineTag) -> Result<Option<Limits>, StoreError> + 'a;

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
struct Pull<'a> {
    logger: &'a mut dyn Logger,
    store: &'a mut dyn Store,
    at: UtcMillis,
    key: LogKey,
    report: PullReport,
    unreadable_bytes: u64,
}

/// Reads `logger` into `store`.
///
/// # Errors
/// When nothing could be read or kept, or when the link broke; see [`PullError::BrokeOff`] for what is kept then.
pub fn pull(
    logger: &mut dyn Logger,
    store: &mut dyn Store,
    clock: &dyn Clock,
    wish: &PullWish<'_>,
    progress: &mut dyn FnMut(Progress),
) -> Result<PullReport, PullError> {
    let at = clock.now();
    let hello = hello_with_a_log(logger, wish)?;
    let heard = store.heard()?;
    store.note_hello(at, &hello, &logger.place())?;
    let (log, oldest, next) = match hello.log {
        LogState::Ready { log, oldest, next, .. } => (log, oldest, next),
        LogState::Making { sectors_left } => return Err(PullError::StillMaking { sectors_left }),
        LogState::Unreadable => return Err(PullError::UnreadableLog),
    };
    let key = LogKey { logger: hello.logger, log };
    let report = PullReport {
        place: logger.place(),
        from_saved_log: logger.is_saved(),
        logger: logger_name(key.logger),
        log: log_name(key.log),
        firmware: format!("{}.{}.{}", hello.firmware.major, hello.firmware.minor, hello.firmware.patch),
        warnings: compare(&hello, key, next, &heard, logger.is_saved()),
        ..PullReport::default()
    };
    let mut pull = Pull { logger, store, at, key, report, unreadable_bytes: 0 };
    let (known, decision) = pull.fit_before(&hello, wish.machine)?;
    let start = pull.start(oldest, next)?;
    let read = pull.read(start, next, progress);
    pull.hear_again(next)?;
    pull.finish_counts(&hello)?;
    match read {
        Err(PullError::Logger(source)) => {
            return Err(PullError::BrokeOff { report: Box::new(pull.report), source });
        }
        other => other?,
    }
    pull.fit_after(&known, &decision)?;
    if !pull.report.from_saved_log {
        pull.tell(&hello, clock, wish)?;
    }
    Ok(pull.report)
}

/// The greeting; of a logger that is still making its log the first one after that, or the last one that was waited for.
fn hello_with_a_log(logger: &mut dyn Logger, wish: &PullWish<'_>) -> Result<Hello, LoggerError> {
    let mut hello = logger.hello()?;
    // What was saved will not change, however long one waits.
    let looks = if logger.is_saved() { 0 } else { LOOKS_WHILE_MAKING };
    for _ in 0..looks {
        let (LogState::Making { sectors_left }, Some(pause)) = (hello.log, wish.pause) else { break };
        pause(sectors_left);
        hello = logger.hello()?;
    }
    Ok(hello)
}

/// What differs from when the logger was last heard.
fn compare(
    hello: &Hello,
    key: LogKey,
    next: RecordSeq,
    heard: &[Heard],
    from_saved_log: bool,
) -> Vec<Warning> {
    let mut warnings = Vec::new();
    if hello.record_version > RECORD_VERSION {
        warnings.push(Warning::NewerRecords { version: hello.record_version });
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
        && (hello.totals.run < before.run || hello.totals.edges < before.edges)
    {
        let (run_ms_before, run_ms_now) = (before.run.0, hello.totals.run.0);
        warnings.push(Warning::TotalsWentDown { run_ms_before, run_ms_now });
    }
    let next_before = of_log().map(|heard| heard.next).max().unwrap_or_default();
    if next_before > next && !from_saved_log {
        warnings.push(Warning::NumbersWentBack { next_before, next_now: next });
    }
    warnings
}

impl Pull<'_> {
    fn fit_before(
        &mut self,
        hello: &Hello,
        wish: Option<MachineTag>,
    ) -> Result<(Known, Decision), PullError> {
        let known = fit::known(&self.store.entries()?);
        let told = hello.settings.machine;
        let first_missing = self.store.first_missing(self.key)?;
        let question = Question { key: self.key, told, wish, first_missing, now: self.at };
        let decision = fit::decide(&known, question);
        match &decision {
            Decision::Stays(machine) | Decision::Moved { known: machine, .. } => {
                self.sits_on(&known, *machine);
            }
            Decision::Fit { add, fitting } => {
                if let Some(before) = known.of_log(self.key).filter(|before| before.machine != fit::NOWHERE) {
                    let (before, from) = (before.machine, fitting.from);
                    self.report.warnings.push(Warning::MovedByWish { before, from });
                }
                self.sits_on(&known, fitting.machine);
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
                let from = known.of_log(self.key).map_or(first_missing, |fitting| fitting.from);
                self.report.warnings.push(Warning::Moved { known: None, told: *told, from });
            }
            Decision::Ask => return Err(PullError::WhichMachine { machines: known.machines }),
            Decision::Unknown(machine) => {
                return Err(PullError::NoSuchMachine { machine: *machine, machines: known.machines });
            }
        }
        Ok((known, decision))
    }

    fn sits_on(&mut self, known: &Known, machine: MachineTag) {
        self.report.machine = Some(machine);
        self.report.machine_name =
            known.machines.iter().find(|known| known.machine == machine).map(|known| known.name.clone());
    }

    /// Sets aside what a moved logger recorded since, so that it counts for no machine until the maker says so.
    fn fit_after(&mut self, known: &Known, decision: &Decision) -> Result<(), PullError> {
        let (&Decision::Moved { known: machine, told }, Some(current)) = (decision, known.of_log(self.key))
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
        let LogKey { logger, log } = self.key;
        let aside = Fitting { machine: fit::NOWHERE, logger, log, from };
        self.store.add_entry(self.at, &EntryBody::LoggerFitted(aside))?;
        self.report.machine = None;
        self.report.machine_name = None;
        self.report.warnings.push(Warning::Moved { known: Some(machine), told, from });
        Ok(())
    }

    /// Whether numbers that are held may be written anew by the logger, with other content.
    fn may_repeat(&self) -> bool {
        self.report.warnings.iter().any(|warning| matches!(warning, Warning::NumbersWentBack { .. }))
    }

    fn start(&self, oldest: RecordSeq, next: RecordSeq) -> Result<RecordSeq, StoreError> {
        if self.report.from_saved_log {
            return Ok(RecordSeq(0));
        }
        Ok(if self.may_repeat() { oldest } else { self.store.first_missing(self.key)?.min(next) })
    }

    /// Where the logger went on recording during the pull, its greeting is out of date.
    fn hear_again(&mut self, next: RecordSeq) -> Result<(), StoreError> {
        if !self.report.from_saved_log
            && self.report.new_to.is_some_and(|to| to >= next)
            && let Ok(hello) = self.logger.hello()
        {
            self.store.note_hello(self.at, &hello, &self.logger.place())?;
        }
        Ok(())
    }

    fn read(
        &mut self,
        start: RecordSeq,
        next: RecordSeq,
        progress: &mut dyn FnMut(Progress),
    ) -> Result<(), PullError> {
        let mut waiting: Vec<RawRecord> = Vec::new();
        let mut gone = Vec::new();
        let mut from = start;
        let mut read = 0;
        loop {
            let batch = match self.logger.read_from(self.key.log, from) {
                Ok(batch) => batch,
                Err(error) => {
                    self.commit(&mut waiting, &mut gone)?;
                    return Err(error.into());
                }
            };
            read += batch.records.len() as u64;
            self.report.payload_bytes +=
                batch.records.iter().map(|record| record.body.len() as u64).sum::<u64>();
            self.unreadable_bytes += batch.unreadable_bytes as u64;
            let is_end = batch.end;
            if !self.report.from_saved_log {
                gone.extend(missing_in(&batch, from));
                if !is_end && batch.next <= from {
                    self.commit(&mut waiting, &mut gone)?;
                    let what = "it does not get on with its records".to_owned();
                    return Err(LoggerError::NotALogger { place: self.logger.place(), what }.into());
                }
                from = batch.next;
            }
            waiting.extend(batch.records);
            if is_end || waiting.len() >= RECORDS_PER_COMMIT {
                self.commit(&mut waiting, &mut gone)?;
                if !self.report.from_saved_log && !self.may_repeat() {
                    // Over what an earlier pull or a saved log already brought.
                    from = from.max(self.store.first_missing(self.key)?);
                }
            }
            let of = u64::from(next.0.saturating_sub(start.0)).max(read);
            progress(Progress { records: read, of, bytes: self.logger.bytes_received() });
            if is_end {
                return Ok(());
            }
        }
    }

    fn commit(&mut self, waiting: &mut Vec<RawRecord>, gone: &mut Vec<Gap>) -> Result<(), StoreError> {
        if !waiting.is_empty() {
            let kept: Kept = self.store.keep_records(self.at, self.key, waiting)?;
            self.count(&kept);
            waiting.clear();
        }
        for gap in gone.drain(..) {
            self.store.note_gone(self.key, gap.from, RecordSeq(gap.to.0.saturating_add(1)))?;
        }
        Ok(())
    }

    fn count(&mut self, kept: &Kept) {
        let report = &mut self.report;
        report.new_records += kept.new;
        report.known_records += kept.known;
        report.conflicting_records += kept.conflicting;
        report.unreadable_records += kept.unreadable;
        report.new_run_time_ms = report.new_run_time_ms.saturating_add(kept.run_and_edges.run.0);
        report.new_edges = report.new_edges.saturating_add(kept.run_and_edges.edges.0);
        report.new_from = [report.new_from, kept.new_from].into_iter().flatten().min();
        report.new_to = report.new_to.max(kept.new_to);
    }

    /// Compares the logger's totals with what is held, and counts what came over the link.
    fn finish_counts(&mut self, hello: &Hello) -> Result<(), StoreError> {
        let holding = self.store.holding(self.key)?;
        let heard = self.store.heard()?;
        let of_log = || heard.iter().filter(|heard| heard.key == self.key);
        let (formatted_run, formatted_edges) = of_log()
            .next()
            .map_or((RunMillis(0), Edges(0)), |first| (first.formatted_with.run, first.formatted_with.edges));
        let run = of_log().map(|heard| heard.totals.run).max().unwrap_or(hello.totals.run);
        let edges = of_log().map(|heard| heard.totals.edges).max().unwrap_or(hello.totals.edges);
        let report = &mut self.report;
        report.not_recorded_ms = run.0.saturating_sub(formatted_run.0).saturating_sub(holding.counted.run.0);
        report.not_recorded_edges =
            edges.0.saturating_sub(formatted_edges.0).saturating_sub(holding.counted.edges.0);
        report.gaps = holding.gaps;
        report.link_bytes = self.logger.bytes_received();
        report.skipped = self.logger.skipped();
        if self.unreadable_bytes > 0 {
            report.warnings.push(Warning::UnreadableBytes { bytes: self.unreadable_bytes });
        }
        Ok(())
    }

    /// Tells the logger what it should know. The records are safe by now, so a refusal is a warning, not a failure.
    fn tell(&mut self, hello: &Hello, clock: &dyn Clock, wish: &PullWish<'_>) -> Result<(), PullError> {
        let log = self.key.log;
        let LogState::Ready { next, acknowledged, .. } = hello.log else {
            return Ok(());
        };
        let reached = self.report.new_to.map_or(next, |to| next.max(RecordSeq(to.0.saturating_add(1))));
        let below = self.store.first_missing(self.key)?.min(reached);
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
        if machine != hello.settings.machine {
            let done = self.logger.fit(machine);
            self.told(Order::Machine, done);
        }
        if let Some(limits) = wish.lamp_limits {
            let limits = limits(self.store, hello, machine)?;
            if let Some(limits) = limits.filter(|&limits| limits != hello.settings.limits) {
                let done = self.logger.apply(Settings { machine, limits, ..hello.settings });
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

/// Numbers from `from` to the end of a batch that the logger passed over: it does not have them any more. A batch that
/// could not be taken apart to its end says nothing about what is missing.
fn missing_in(batch: &Batch, from: RecordSeq) -> Vec<Gap> {
    let mut gaps = Vec::new();
    if batch.unreadable_bytes > 0 {
        return gaps;
    }
    let mut expected = from;
    for seq in batch.records.iter().map(|record| record.seq).chain([batch.next]) {
        if seq > expected {
            gaps.push(Gap { from: expected, to: RecordSeq(seq.0 - 1) });
        }
        expected = expected.max(RecordSeq(seq.0.saturating_add(1)));
    }
    gaps
}
