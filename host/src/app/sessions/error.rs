//! Errors of sessions that are typed in, each with its code and what to try.

use jiff::Timestamp;
use jiff::tz::TimeZone;
use miette::Diagnostic;
use shared_types::{MachineTag, UtcMillis};
use thiserror::Error;

use crate::app::hand::HandError;
use crate::app::typed::column_table::TableError;
use crate::app::typed::error::RequestError;
use crate::app::typed::lists::numbered;
use host_core::entries::EntryId;
use host_core::sessions::typed_doubts::TypedDoubt;

/// Why a session was not noted.
#[derive(Debug, Error, Diagnostic)]
pub enum SessionError {
    /// Refused for a reason that all subjects share.
    #[error(transparent)]
    #[diagnostic(transparent)]
    Request(RequestError),
    /// The person is not clear.
    #[error(transparent)]
    #[diagnostic(transparent)]
    Hand(#[from] HandError),
    /// A table that cannot be used.
    #[error(transparent)]
    #[diagnostic(transparent)]
    Table(#[from] TableError),
    /// Neither a time at the frame nor one of running.
    #[error("it was not said how long it took")]
    #[diagnostic(
        code(session::length),
        help("Say how long you were at the frame, for example: needlehours worked 1h40")
    )]
    NoLength,
    /// The motor would have run for longer than anybody was at the frame.
    #[error("the motor cannot have run for {motor} min in {frame} min at the frame")]
    #[diagnostic(
        code(session::motor),
        help("The bare time is the time at the frame; the motor's is after --motor.")
    )]
    MotorBeyondFrame {
        /// Minutes of running.
        motor: u64,
        /// Minutes at the frame.
        frame: u64,
    },
    /// It would end in the future.
    #[error("that has not ended yet: it would end at {0}")]
    #[diagnostic(
        code(session::future),
        help("Say when it began with --when, or when it ended with --until.")
    )]
    NotOver(String),
    /// It is asked about, and nobody is there to answer.
    #[error("{}", .0.join("; "))]
    #[diagnostic(
        code(session::twice),
        help("Nothing was noted. If it is right all the same, say so with --anyway.")
    )]
    Doubted(Vec<String>),
    /// No timer runs.
    #[error("nobody is at the frame: no session was begun")]
    #[diagnostic(
        code(session::timer),
        help("Begin one with `needlehours worked begin`, or note it whole: needlehours worked 1h40")
    )]
    NoTimer,
    /// A timer runs already.
    #[error("a session on {machine} was begun already, {began}")]
    #[diagnostic(
        code(session::timer),
        help("End it first: needlehours worked stop. If it was none: needlehours take-back {}", entry.0)
    )]
    TimerRuns {
        /// When it began.
        began: String,
        /// The machine's name.
        machine: String,
        /// Its entry.
        entry: EntryId,
    },
    /// Several timers run, and it was not said which is meant.
    #[error("sessions go on on {} machines; say which one is meant", .0.len())]
    #[diagnostic(
        code(session::which_timer),
        help("Add --machine and its name or number: {}.", numbered(.0, |tag| tag.0).join(", "))
    )]
    SeveralTimers(Vec<(MachineTag, String)>),
    /// Nobody stopped the timer for hours.
    #[error("the session was begun {began}, {hours} hours ago: was that all time at the frame?")]
    #[diagnostic(
        code(session::forgotten),
        help(
            "Say how long it was, for example `needlehours worked stop 1h40`, or `needlehours worked stop --anyway` if it was all of it."
        )
    )]
    Forgotten {
        /// When it began.
        began: String,
        /// Whole hours since then.
        hours: u64,
    },
    /// No session has that number.
    #[error("there is no typed-in session e{}", .0.0)]
    #[diagnostic(code(session::unknown), help("The numbers stand in: needlehours rug sessions"))]
    Unknown(EntryId),
}

impl<E: Into<RequestError>> From<E> for SessionError {
    fn from(error: E) -> Self {
        Self::Request(error.into())
    }
}

impl SessionError {
    /// The error of a session that is asked about.
    #[must_use]
    pub fn doubted(doubts: &[TypedDoubt], zone: &TimeZone) -> Self {
        Self::Doubted(doubts.iter().map(|doubt| words(doubt, zone)).collect())
    }
}

/// A doubt as the maker reads it.
#[must_use]
pub fn words(doubt: &TypedDoubt, zone: &TimeZone) -> String {
    match doubt {
        TypedDoubt::Counted { session } => {
            format!("the logger counted session {session} on this machine at that time")
        }
        TypedDoubt::Typed { entry } => format!("the same time was typed in before, as session e{}", entry.0),
        TypedDoubt::BeforeMachine { since_utc_ms } => {
            format!("the machine is in the studio only since {}", day(*since_utc_ms, zone))
        }
        TypedDoubt::AfterDelivery { rug, at_utc_ms } => {
            format!("{rug} was delivered by then, {}", day(*at_utc_ms, zone))
        }
        TypedDoubt::LongDay { day, frame_time_ms } => {
            format!("{day} would have {} hours at the frame", frame_time_ms / 3_600_000)
        }
    }
}

/// A day in short words.
fn day(at: UtcMillis, zone: &TimeZone) -> String {
    Timestamp::from_millisecond(at.0).map_or_else(
        |_| "at a time that is not known".to_owned(),
        |at| at.to_zoned_datetime(zone.clone()).strftime("%-d %b %Y").to_string(),
    )
}

/// A moment in short words.
pub(super) fn moment(at: UtcMillis, zone: &TimeZone) -> String {
    Timestamp::from_millisecond(at.0).map_or_else(
        |_| "at a time that is not known".to_owned(),
        |at| at.to_zoned_datetime(zone.clone()).strftime("%-d %b %Y %H:%M").to_string(),
    )
}
