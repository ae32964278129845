//! Why a date cannot be used.

use jiff::civil::Date;
use miette::Diagnostic;
use thiserror::Error;

use super::super::lists::one_of;

const CHECK_THE_CLOCK: &str =
    "Only what has happened can be written down; check the date, and this computer's clock.";

/// Why a date cannot be used.
#[derive(Clone, Debug, PartialEq, Eq, Error, Diagnostic)]
pub enum DateError {
    /// Not a date.
    #[error("\"{0}\" is not a date that this program can read")]
    #[diagnostic(
        code(date::unclear),
        help(
            "Write it as today, \"yesterday 18:30\", friday, \"26 Nov 2pm\", 28.9.2026, 2026-03-04 or \"2 days ago\"."
        )
    )]
    NotADate(String),
    /// It has not come yet.
    #[error("{0} has not come yet")]
    #[diagnostic(code(date::future), help("{CHECK_THE_CLOCK}"))]
    Future(String),
    /// A time without a day that is still to come today.
    #[error("{0} has not come yet today")]
    #[diagnostic(code(date::future), help("Write the day before it too, for example \"yesterday {0}\"."))]
    LaterToday(String),
    /// A moment that is still to come.
    #[error("that lies in the future")]
    #[diagnostic(code(date::future), help("{CHECK_THE_CLOCK}"))]
    InTheFuture,
    /// Before there were electric tufting machines to log.
    #[error("{0} is too long ago")]
    #[diagnostic(code(date::past), help("Check the year."))]
    TooLongAgo(String),
    /// It is written so that it means several days, or has a year of two digits.
    #[error("\"{typed}\" leaves the day open: it may mean {}", one_of(&days.iter().map(in_words).collect::<Vec<_>>()))]
    #[diagnostic(
        code(date::which_day),
        help("Write the day that is meant as {}.", one_of(&days.iter().map(Date::to_string).collect::<Vec<_>>()))
    )]
    WhichDay {
        /// What was typed.
        typed: String,
        /// The days that it may mean.
        days: Vec<Date>,
    },
    /// It can be a time of today, and a day.
    #[error("\"{typed}\" may mean {time} today or {}", in_words(day))]
    #[diagnostic(code(date::time_or_day), help("Write {time} for the time, {day} for the day."))]
    TimeOrDay {
        /// What was typed.
        typed: String,
        /// The time, as it is written when no day is meant.
        time: String,
        /// The day that it may mean.
        day: Date,
    },
    /// The clocks were put forward over it.
    #[error("{typed} did not exist: the clocks were put forward over it")]
    #[diagnostic(code(date::skipped), help("Before the change it may have been {}, after it {}: write one of them.", either[0], either[1]))]
    Skipped {
        /// What was typed.
        typed: String,
        /// The moments that it may stand for, with their UTC offsets.
        either: [String; 2],
    },
    /// The clocks were put back, and showed it twice.
    #[error("{typed} came twice: the clocks were put back then")]
    #[diagnostic(code(date::twice), help("Write which one is meant: the first was {}, the second {}.", either[0], either[1]))]
    Twice {
        /// What was typed.
        typed: String,
        /// The two moments, with their UTC offsets.
        either: [String; 2],
    },
    /// A moment where a whole day is wanted.
    #[error("{0} is a moment, and a whole day is wanted here")]
    #[diagnostic(
        code(date::day),
        help("Write it as today, yesterday, friday, \"26 Nov\", 28.9.2026 or 2026-03-04.")
    )]
    NotADay(String),
}

/// A day as people say it: `3 April 2026`.
fn in_words(day: &Date) -> String {
    day.strftime("%-d %B %Y").to_string()
}
