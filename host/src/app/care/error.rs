//! Errors of care, each with its code and what to try.

use miette::Diagnostic;
use thiserror::Error;

use crate::app::parts::PartError;
use crate::app::typed::error::RequestError;
use crate::app::typed::lists::{all_of, meant};

/// Why care was not noted, planned or put off.
#[derive(Debug, Error, Diagnostic)]
pub enum CareError {
    /// Refused for a reason that all subjects share.
    #[error(transparent)]
    #[diagnostic(transparent)]
    Request(RequestError),
    /// A part could not be fitted.
    #[error(transparent)]
    #[diagnostic(transparent)]
    Part(#[from] PartError),
    /// No care entry has that number.
    #[error("there is no care entry {0}")]
    #[diagnostic(code(care::entry), help("See all entries with their numbers: needlehours done --history"))]
    UnknownEntry(i64),
    /// Only care that was done can be corrected by its entry.
    #[error("entry {0} is no care that was done, so it cannot be corrected by itself")]
    #[diagnostic(code(care::correct), help("Take it back and say it anew: needlehours take-back ENTRY"))]
    NotCorrected(i64),
    /// Only oiling begins with a brush-out.
    #[error("{0} does not begin with a brush-out; only oiling does")]
    #[diagnostic(code(care::brush_out), help("Note the brush-out by itself: needlehours done brush-out"))]
    NoBrushOutFirst(String),
    /// A care task that looks after no part.
    #[error("{0} looks after no part that could be fitted")]
    #[diagnostic(
        code(care::part),
        help("Leave --fitted out; a part of your own is noted with: needlehours part fit NAME")
    )]
    NoPartOfTask(String),
    /// A limit outside what makes sense.
    #[error("{task} every {} hours is outside {} to {high_hours} hours", short(*asked_hours), short(*low_hours))]
    #[diagnostic(code(care::limit), help("Choose a number in that range, or 0 to switch the limit off."))]
    LimitOutOfRange {
        /// The task.
        task: String,
        /// What was asked for.
        asked_hours: f64,
        /// The shortest.
        low_hours: f64,
        /// The longest.
        high_hours: f64,
    },
    /// No limit was given.
    #[error("no limit was given for {0}")]
    #[diagnostic(
        code(care::no_limit),
        help(
            "Add --every-hours, --every-days, --every-strokes, --every-sessions, --idle-days, --after-tear or --after-pile-height."
        )
    )]
    NoLimit(String),
    /// The maker's own task would have the name of one of the plan's.
    #[error("there is already a care task called {0}")]
    #[diagnostic(
        code(care::exists),
        help(
            "Give yours another name; to change the limits of that one: needlehours due set TASK --every-hours 6"
        )
    )]
    TaskExists(String),
    /// A task of the maker's own without any limit would never be asked for.
    #[error("nothing says when {0} should be asked for")]
    #[diagnostic(
        code(care::no_limit),
        help(
            "Add --every-hours, --every-days, --every-strokes, --every-sessions, --idle-days, --after-tear yes or --after-pile-height yes."
        )
    )]
    TaskWithoutLimit(String),
    /// A machine has no such point.
    #[error("there is no oil point called {name}")]
    #[diagnostic(
        code(care::point),
        help("{} All points: needlehours care", meant(nearest, known, "The points are"))
    )]
    UnknownPoint {
        /// What was asked for.
        name: String,
        /// Names like it; may be empty.
        nearest: Vec<String>,
        /// All names.
        known: Vec<String>,
    },
    /// There is a point of that name already.
    #[error("there is already an oil point called {0}")]
    #[diagnostic(
        code(care::point),
        help("Give it another name, or say what it gets: needlehours care point POINT --lubricant oil")
    )]
    PointExists(String),
    /// Putting off needs an end and a reason.
    #[error("it was not said {0}")]
    #[diagnostic(
        code(care::snooze),
        help(
            "Say it all: needlehours due snooze oiling --for-hours 2 --reason \"rug must be off the frame first\"; or --for-days 3."
        )
    )]
    SnoozeUnclear(&'static str),
    /// The care task is switched off, or was not due.
    #[error("{task} {why}")]
    #[diagnostic(code(care::off), help("Switch it on first: needlehours care on TASK"))]
    NothingToSnooze {
        /// The task.
        task: String,
        /// Why there is nothing to put off.
        why: &'static str,
    },
    /// No such spare in stock.
    #[error("nothing called {name} is in stock")]
    #[diagnostic(code(stock::unknown), help("{}", spares(known, name)))]
    UnknownSpare {
        /// What was asked for.
        name: String,
        /// What is.
        known: Vec<String>,
    },
}

impl<E: Into<RequestError>> From<E> for CareError {
    fn from(error: E) -> Self {
        Self::Request(error.into())
    }
}

fn spares(known: &[String], name: &str) -> String {
    if known.is_empty() {
        return format!("Enter what you have first: needlehours stock counted {name} 5");
    }
    format!("In stock are {}. A new one: needlehours stock in {name} 5", all_of(known))
}

/// Hours as a maker would write them: at most three places.
fn short(hours: f64) -> String {
    if hours.abs() >= 1e6 {
        return format!("{hours:e}");
    }
    let text = format!("{hours:.3}");
    let trimmed = if hours.is_finite() { text.trim_end_matches('0').trim_end_matches('.') } else { &text };
    // A number that only rounds to nothing is not nothing.
    if trimmed == "0" && hours != 0.0 { hours.to_string() } else { trimmed.to_owned() }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_limit_out_of_its_range_is_told_in_numbers_that_can_be_read() {
        let told = |asked_hours| {
            let (low_hours, high_hours) = (1.0 / 12.0, 1_000.0);
            CareError::LimitOutOfRange { task: "wax".to_owned(), asked_hours, low_hours, high_hours }
                .to_string()
        };
        assert_eq!(told(0.01), "wax every 0.01 hours is outside 0.083 to 1000 hours");
        assert_eq!(told(0.0001), "wax every 0.0001 hours is outside 0.083 to 1000 hours");
        assert_eq!(told(1_200.0), "wax every 1200 hours is outside 0.083 to 1000 hours");
        assert_eq!(told(1e300), "wax every 1e300 hours is outside 0.083 to 1000 hours");
        assert_eq!(told(f64::INFINITY), "wax every inf hours is outside 0.083 to 1000 hours");
    }
}
