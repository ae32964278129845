//! Contradictions between a logger's answers.

use shared_types::{LogId, LoggerId, RecordSeq, Totals};
use thiserror::Error;

use super::logger_name::{log_name, logger_name};

/// Two things that a logger says and that cannot both be true.
#[derive(Clone, Debug, PartialEq, Eq, Error, serde::Serialize)]
#[serde(tag = "what", rename_all = "snake_case")]
#[non_exhaustive]
pub enum Contradiction {
    /// The oldest record comes after the next one to be written.
    #[error("its oldest record is number {}, but its next one will be number {}", oldest.0, next.0)]
    OldestAfterNext {
        /// The oldest number.
        oldest: RecordSeq,
        /// The next number.
        next: RecordSeq,
    },
    /// More is said to be safe elsewhere than was ever written.
    #[error("everything below number {} is said to be safe elsewhere, but its next record will be number {}", acknowledged.0, next.0)]
    AcknowledgedAfterNext {
        /// The number below which all is acknowledged.
        acknowledged: RecordSeq,
        /// The next number.
        next: RecordSeq,
    },
    /// It counts less in its life than when its log was made.
    #[error("it counts less running or fewer strokes in its life than when its log was made")]
    TotalsBelowStart {
        /// Lifetime totals.
        totals: Totals,
        /// Lifetime totals when the log was made.
        formatted_with: Totals,
    },
    /// The same log is held under the number of another logger.
    #[error("its records are kept already under another logger's number ({})", logger_name(*known))]
    LogOfAnother {
        /// That logger.
        known: LoggerId,
    },
    /// A second greeting is another logger's or another log's.
    #[error("it greeted with log {} first and with another one later", log_name(*log))]
    GreetsAnew {
        /// The log of the first greeting.
        log: LogId,
    },
    /// A record's number does not follow those before it.
    #[error("record number {} came where a number from {} on and below {} belongs", number.0, from.0, below.0)]
    OutOfPlace {
        /// The number.
        number: RecordSeq,
        /// The lowest number that could stand there.
        from: RecordSeq,
        /// The first that could not.
        below: RecordSeq,
    },
    /// It sends records that it says it has not written.
    #[error("it sends numbers up to {}, but its next record will be number {}", below.0, next.0)]
    BeyondNext {
        /// The number after the last that was sent.
        below: RecordSeq,
        /// The next number.
        next: RecordSeq,
    },
    /// It ends before the end that it told.
    #[error("it has nothing from number {} on, but its next record will be number {}", ends.0, next.0)]
    EndsEarly {
        /// Where it ends.
        ends: RecordSeq,
        /// The next number.
        next: RecordSeq,
    },
    /// It sends more than any logger can hold.
    #[error("it came to no end in {batches} pieces, more than any logger can hold")]
    TooMuch {
        /// Pieces.
        batches: u32,
    },
}
