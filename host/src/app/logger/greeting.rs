//! Plausibility of a logger's status: against itself, its records and its earlier status.
//!
//! A whole frame only shows that nothing happened on the way. A logger with a fault in its memory sends wrong numbers in
//! whole frames, so nothing is concluded from a number that another one denies.

use shared_types::link::{LogState, LoggerStatus};
use shared_types::{RecordSeq, Totals};

use crate::app::ports::contradiction::Contradiction;
use crate::app::ports::{Batch, StatusReport};
use host_core::records::log_records::LogKey;

/// Looks whether a greeting can be true by itself. `held_below` is the number after the last record held of its log: a logger
/// whose numbers went back may have had more acknowledged than it has now, and that is told as what it is.
///
/// # Errors
/// The first thing in it that cannot be.
pub fn judge(status: &LoggerStatus, held_below: RecordSeq) -> Result<(), Contradiction> {
    let LogState::Ready { oldest, next, acknowledged, formatted_with, .. } = status.log else {
        return Ok(());
    };
    if oldest > next {
        return Err(Contradiction::OldestAfterNext { oldest, next });
    }
    if acknowledged > next && next >= held_below {
        return Err(Contradiction::AcknowledgedAfterNext { acknowledged, next });
    }
    let totals = status.totals;
    if is_below(totals, formatted_with) {
        return Err(Contradiction::TotalsBelowStart { totals, formatted_with });
    }
    Ok(())
}

/// Looks whether a greeting speaks of a log that is known as another logger's. Numbers of logs are drawn anew for each log,
/// so two loggers do not come to the same one; taken for two, one log would count twice.
///
/// # Errors
/// As whose it is known.
pub fn judge_owner(key: LogKey, heard: &[StatusReport]) -> Result<(), Contradiction> {
    match heard.iter().find(|heard| heard.key.log == key.log && heard.key.logger != key.logger) {
        Some(other) => Err(Contradiction::LogOfAnother { known: other.key.logger }),
        None => Ok(()),
    }
}

/// Looks whether the numbers of a batch can be true: they rise, from the one that was asked for, up to where it says to go on.
///
/// # Errors
/// The first number that cannot be.
pub fn judge_batch(batch: &Batch, asked_from: RecordSeq) -> Result<(), Contradiction> {
    judge_numbers(batch, asked_from, batch.next)
}

/// As [`judge_batch`] for the batches of a saved log. They may repeat one another, so the first number of one is free.
///
/// # Errors
/// The first number that cannot be.
pub fn judge_saved(batch: &Batch) -> Result<(), Contradiction> {
    judge_numbers(batch, RecordSeq(0), batch.next)
}

fn judge_numbers(batch: &Batch, from: RecordSeq, below: RecordSeq) -> Result<(), Contradiction> {
    let mut from = from;
    for number in batch.records.iter().map(|record| record.seq) {
        if number < from || number >= below {
            return Err(Contradiction::OutOfPlace { number, from, below });
        }
        from = RecordSeq(number.0.saturating_add(1));
    }
    Ok(())
}

/// Whether one of two totals is lower in run time or in edges.
#[must_use]
pub const fn is_below(totals: Totals, other: Totals) -> bool {
    totals.run.0 < other.run.0 || totals.edges.0 < other.edges.0
}

/// The greetings of one log that can be true together, in the order in which they came.
///
/// Where one denies another, the last that its records do not deny counts: a logger that was wrong once is right again when
/// it has recovered, and what it said meanwhile counts no more. `counted_below` sums up the segments held below each of
/// some numbers; `held_below` is the number after the last one held. When nothing can be true, all are left, because nothing tells which is
/// better.
///
/// # Errors
/// As `counted_below`.
pub fn believed<T: AsRef<StatusReport> + Clone, E>(
    heard: Vec<T>,
    held_below: RecordSeq,
    counted_below: impl FnOnce(&[RecordSeq]) -> Result<Vec<Totals>, E>,
) -> Result<Vec<T>, E> {
    let can_be =
        |heard: &StatusReport| heard.oldest <= heard.next && !is_below(heard.totals, heard.formatted_with);
    let possible: Vec<T> = heard.iter().filter(|heard| can_be(heard.as_ref())).cloned().collect();
    if possible.is_empty() {
        return Ok(heard);
    }
    // Almost always so; it saves a walk over all records.
    let follow = |pair: &[T]| match pair {
        [before, after] => follows(before.as_ref(), after.as_ref()),
        _ => true,
    };
    if possible.windows(2).all(follow) {
        return Ok(possible);
    }
    let numbers: Vec<RecordSeq> = possible.iter().map(|heard| heard.as_ref().next).collect();
    let counted = counted_below(&numbers)?;
    let fits = |(heard, counted): &(&T, Totals)| {
        let heard = heard.as_ref();
        !is_below(heard.totals, heard.formatted_with.plus(counted.run, counted.edges))
    };
    let fitting: Vec<T> = possible.iter().zip(counted).filter(fits).map(|(heard, _)| heard.clone()).collect();
    let judged = if fitting.is_empty() { possible } else { fitting };
    let Some(last) = judged.last().map(|last| last.as_ref().clone()) else { return Ok(judged) };
    let agrees = |heard: &T| {
        let heard = heard.as_ref();
        heard.formatted_with == last.formatted_with
            && !(heard.next <= last.next && is_below(last.totals, heard.totals))
            && !(heard.next > last.next && is_below(heard.totals, last.totals))
            && heard.next <= last.next.max(held_below)
    };
    Ok(judged.into_iter().filter(agrees).collect())
}

/// Whether one greeting of a log can come after another.
fn follows(before: &StatusReport, after: &StatusReport) -> bool {
    before.next <= after.next
        && !is_below(after.totals, before.totals)
        && before.formatted_with == after.formatted_with
}
