//! Errors of commissions and of the work around the frame, each with its code and what to try.

use miette::Diagnostic;
use thiserror::Error;

use super::timer_name::TimerName;
use crate::app::typed::error::RequestError;
use crate::app::typed::lists::all_of;
use host_core::entries::amount::NotAnAmount;
use host_core::rugs::work_order::WorkProblem;

/// Why something of a commission or a timer was not written down.
#[derive(Debug, Error, Diagnostic)]
pub enum RugError {
    /// Refused for a reason that all subjects share.
    #[error(transparent)]
    #[diagnostic(transparent)]
    Request(RequestError),
    /// There is a commission with that name already.
    #[error("there is already a rug called {0}")]
    #[diagnostic(code(rug::exists), help("Give this one another name, for example with a number."))]
    Exists(String),
    /// A commission had that name before it was renamed.
    #[error("{name} is what {now} was called before")]
    #[diagnostic(
        code(rug::former_name),
        help("What is said of {name} counts to {now}. Give this one another name.")
    )]
    FormerName {
        /// The name.
        name: String,
        /// What the commission is called now.
        now: String,
    },
    /// It has that name already.
    #[error("that rug is called {0} already")]
    #[diagnostic(code(rug::same_name), help("Give the old name first, then the new one."))]
    NameItHas(String),
    /// A commission that was taken back had that name.
    #[error("another rug, which was taken back, was called {0}")]
    #[diagnostic(
        code(rug::used_name),
        help("What was said of it would count to this one. Choose another name.")
    )]
    NameUsedBefore(String),
    /// Names are changed anew, not taken back.
    #[error("that {rug} is called {now} is not taken back")]
    #[diagnostic(
        code(rug::renamed),
        help("Give it its name back: needlehours rug rename \"{now}\" \"{rug}\"")
    )]
    IsRename {
        /// Its name before.
        rug: String,
        /// Its name since.
        now: String,
    },
    /// Work on a commission cannot have been in that order.
    #[error(transparent)]
    #[diagnostic(code(rug::order), help("{}", put_in_order(.0)))]
    Work(#[from] WorkProblem),
    /// Nothing was said.
    #[error("nothing was said to be changed")]
    #[diagnostic(
        code(rug::nothing),
        help("Add what is to be changed: --size, --style, --pile, --colour, --cloth or --when.")
    )]
    NothingSaid,
    /// More yarn than there is.
    #[error("that is more {colour} than {rug} has: {} g were taken for it and not brought back", grams(*with_the_rug_mg))]
    #[diagnostic(
        code(yarn::more),
        help("Write down first what was taken for it: needlehours rug yarn NAME COLOUR --out WEIGHT")
    )]
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
    #[diagnostic(
        code(yarn::order),
        help(
            "Check the date, or write down when it was taken: needlehours rug yarn NAME COLOUR --out WEIGHT --when DATE"
        )
    )]
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
    #[diagnostic(
        code(yarn::order),
        help("Check weight and date. What was weighed so far: needlehours rug history NAME")
    )]
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
    #[diagnostic(code(rug::amount), help("Write amounts with digits and a point, without a currency sign."))]
    Amount(#[from] NotAnAmount),
    /// No entry of that number, or none that can be taken back here.
    #[error("entry {0} is none that can be taken back here")]
    #[diagnostic(
        code(entry::unknown),
        help(
            "`needlehours rug history NAME` and `needlehours job` show the numbers; those of prices, wages and sample squares are in `needlehours rate history`. Care, tears, parts and faults are taken back with `done`, `tear`, `part` and `trend`."
        )
    )]
    NotHere(i64),
    /// Hands do one thing at a time.
    #[error("a timer for {} is still running", .0.name())]
    #[diagnostic(
        code(job::running),
        help("Stop it first: needlehours job stop. Hands do one thing at a time; drying can run beside it.")
    )]
    StillRunning(TimerName),
    /// There is nothing to stop.
    #[error("no such timer is running")]
    #[diagnostic(
        code(job::none),
        help("`needlehours job` lists what runs. To write time down: needlehours job add")
    )]
    NothingRunning,
    /// It is not clear which to stop.
    #[error("{} timers are running; say which one is meant", .0.len())]
    #[diagnostic(code(job::which), help("Running: {}. Add which one, and --rug.", all_of(&.0.iter().map(TimerName::name).collect::<Vec<_>>())))]
    SeveralRunning(Vec<TimerName>),
    /// It ran so long that it was probably forgotten.
    #[error("the timer for {} has been running for {}, and more than {} is not believed without a question", running.name(), hours(*running_for_ms), hours(*asked_after_ms))]
    #[diagnostic(
        code(job::forgotten),
        help(
            "Say how long it was with --after 40min, or when it ended with --when \"2026-03-04 18:30\"; if it really was that long, add --sure."
        )
    )]
    ProbablyForgotten {
        /// It.
        running: TimerName,
        /// How long, in milliseconds.
        running_for_ms: u64,
        /// What is believed, in milliseconds.
        asked_after_ms: u64,
    },
    /// The end lies before the beginning.
    #[error("the timer for {} was started only later than that", .0.name())]
    #[diagnostic(code(job::end), help("`needlehours job` tells since when it runs; nothing was changed."))]
    EndsBeforeStart(TimerName),
    /// The end lies in the future.
    #[error("the timer for {} has not been running for that long", .0.name())]
    #[diagnostic(code(job::end), help("`needlehours job` tells since when it runs; nothing was changed."))]
    NotThatLong(TimerName),
}

impl<E: Into<RequestError>> From<E> for RugError {
    fn from(error: E) -> Self {
        Self::Request(error.into())
    }
}

const fn put_in_order(problem: &WorkProblem) -> &'static str {
    match problem {
        WorkProblem::NeverStarted { .. } => {
            "Say first when it was started: needlehours rug start NAME --when DATE"
        }
        WorkProblem::NeverStartedThere { .. } => {
            "Leave --machine out for all machines, or say first that it was started there: needlehours rug start NAME --machine MACHINE --when DATE"
        }
        WorkProblem::BeforeOrder { .. } => {
            "Check the date. If it was ordered earlier than was said: needlehours rug change NAME --when DATE"
        }
        WorkProblem::BeforeStart { .. }
        | WorkProblem::BeforeFinish { .. }
        | WorkProblem::OrderAfterStart { .. } => {
            "Check the date. What was said so far: needlehours rug history NAME"
        }
        WorkProblem::NotFinished { .. } => "Finish it first: needlehours rug finish NAME",
        WorkProblem::Delivered { .. } => {
            "If that was a mistake: needlehours rug history NAME, then needlehours take-back ENTRY"
        }
    }
}

/// Milligrams as grams with a decimal place where there is one.
fn grams(mg: u64) -> String {
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
