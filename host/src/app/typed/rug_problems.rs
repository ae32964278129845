//! Why something about a rug or about work away from the frame was not written down.

use host_core::entries::JobKind;
use host_core::entries::amount::NotAnAmount;
use serde::Serialize;
use thiserror::Error;

/// Why something about a commission was not written down.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum TellProblem {
    /// Nothing was said.
    #[error("nothing was said to be changed")]
    NothingSaid,
    /// More yarn than there is.
    #[error("that is more {colour} than {rug} has: {} g were taken for it and not brought back", grams(*with_the_rug_mg))]
    MoreThanTaken {
        /// The commission.
        rug: String,
        /// The colour.
        colour: String,
        /// What it has, in milligrams.
        with_the_rug_mg: u64,
    },
    /// It was taken for it only later.
    #[error("{rug} had only {} g of {colour} by then; more was taken for it later", grams(*with_the_rug_mg))]
    NotYetTaken {
        /// The commission.
        rug: String,
        /// The colour.
        colour: String,
        /// What it had by then, in milligrams.
        with_the_rug_mg: u64,
    },
    /// A weighing that was entered before could not be any more.
    #[error("then {} g of {colour} would have been left for what {rug} gave back or had left later", grams(*with_the_rug_mg))]
    TooMuchLater {
        /// The commission.
        rug: String,
        /// The colour.
        colour: String,
        /// What there would have been, in milligrams.
        with_the_rug_mg: u64,
    },
    /// An amount that is none.
    #[error(transparent)]
    Amount(#[from] NotAnAmount),
    /// No entry of that number, or none that can be taken back here.
    #[error("entry {0} is none that can be taken back here")]
    NotHere(i64),
}

/// Why a timer was not started or stopped.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum JobProblem {
    /// Hands do one thing at a time.
    #[error("a timer for {} is still running", running.name())]
    StillRunning {
        /// It.
        running: TimerName,
    },
    /// There is nothing to stop.
    #[error("no such timer is running")]
    NothingRunning,
    /// It is not clear which to stop.
    #[error("{} timers are running; say which one is meant", running.len())]
    SeveralRunning {
        /// They.
        running: Vec<TimerName>,
    },
    /// It ran so long that it was probably forgotten.
    #[error("the timer for {} has been running for {}, and more than {} is not believed without a question", running.name(), hours(*running_for_ms), hours(*asked_after_ms))]
    ProbablyForgotten {
        /// It.
        running: TimerName,
        /// How long, in milliseconds.
        running_for_ms: u64,
        /// What is believed, in milliseconds.
        asked_after_ms: u64,
    },
    /// The end lies before the beginning.
    #[error("the timer for {} was started only later than that", running.name())]
    EndsBeforeStart {
        /// It.
        running: TimerName,
    },
    /// The end lies in the future.
    #[error("the timer for {} has not been running for that long", running.name())]
    NotThatLong {
        /// It.
        running: TimerName,
    },
}

/// What a timer is for.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct TimerName {
    /// For what.
    pub job: JobKind,
    /// For which commission.
    pub rug: Option<String>,
}

impl TimerName {
    /// "gluing Fox".
    #[must_use]
    pub fn name(&self) -> String {
        let job = word(self.job);
        self.rug.as_ref().map_or_else(|| job.to_owned(), |rug| format!("{job} {rug}"))
    }
}

/// Milligrams as grams with a decimal place where there is one.
pub(super) fn grams(mg: u64) -> String {
    match (mg / 1_000, mg % 1_000 / 100) {
        (grams, 0) => grams.to_string(),
        (grams, tenths) => format!("{grams}.{tenths}"),
    }
}

fn hours(ms: u64) -> String {
    let minutes = ms.saturating_add(30_000) / 60_000;
    match (minutes / 60, minutes % 60) {
        (0, minutes) => format!("{minutes} min"),
        (hours, 0) => format!("{hours} h"),
        (hours, minutes) => format!("{hours} h {minutes} min"),
    }
}

/// The word for a kind of job.
#[must_use]
pub const fn word(job: JobKind) -> &'static str {
    match job {
        JobKind::Stretching => "stretching",
        JobKind::Tracing => "tracing",
        JobKind::Gluing => "gluing",
        JobKind::Drying => "drying",
        JobKind::Shearing => "shearing",
        JobKind::Backing => "backing",
        JobKind::Other => "other work",
    }
}
