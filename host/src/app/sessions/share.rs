//! How long the motor runs in an hour at the frame: asked once, or taken from what was counted.

use jiff::tz::TimeZone;
use serde::Serialize;
use shared_types::MachineTag;

use super::error::SessionError;
use crate::app::ports::{Clock, Store};
use crate::app::typed::choose_machine;
use crate::app::typed::error::RequestError;
use crate::app::whole_book::Book;
use host_core::entries::{EntryBody, EntryId, MotorShareSet, MotorShareSource, SessionNoted};
use host_core::rugs::rug_work::span_ms;
use host_core::sessions;
use host_core::stats::HOUR_MS;

/// Counted sessions tell the share once they add up to so much time at the frame, in milliseconds; two hours.
const LEAST_COUNTED_MS: u64 = 2 * HOUR_MS;

/// What holds for a machine.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct ShareReport {
    /// The entry; none where it was not set now.
    pub entry: Option<EntryId>,
    /// It.
    #[serde(flatten)]
    pub share: MotorShareSet,
}

/// Sets how long the motor runs in an hour at the frame, in milliseconds, on one machine or on all.
///
/// # Errors
/// When it is longer than an hour, there is no such machine, or the store fails.
pub fn set(
    store: &mut impl Store,
    clock: &impl Clock,
    machine: Option<u32>,
    run_ms: u64,
) -> Result<ShareReport, SessionError> {
    let book = Book::read(store)?;
    let machine = choose_machine::only_machine(&book.studio, machine)?;
    let run_ms_per_hour = u32::try_from(run_ms).ok().filter(|_| run_ms <= HOUR_MS);
    let run_ms_per_hour = run_ms_per_hour.ok_or_else(|| RequestError::OutOfRange {
        what: "the running in an hour at the frame",
        range: "up to 60 minutes",
        given: format!("{} minutes", run_ms / 60_000),
    })?;
    let share = MotorShareSet { machine, run_ms_per_hour, source: MotorShareSource::Said };
    let entry = store.add_entry(clock.now(), &EntryBody::MotorShareSet(share))?;
    Ok(ShareReport { entry: Some(entry), share })
}

/// The share that the counted sessions tell, to be noted with the first session that needs one and of which nothing was said.
pub(super) fn to_note(book: &Book, noted: &SessionNoted, zone: &TimeZone) -> Option<MotorShareSet> {
    let is_needed = noted.run.is_none() && noted.frame_ms.is_some();
    let is_said = book.studio.motor_shares.of(noted.machine).source != MotorShareSource::Assumed;
    if !is_needed || is_said { None } else { counted(book, noted.machine, zone) }
}

/// Whether the next session's running would follow from the start value, which nobody has looked at.
#[must_use]
pub fn is_open(book: &Book, machine: MachineTag, zone: &TimeZone) -> bool {
    let shares = &book.studio.motor_shares;
    !shares.is_answered(machine) && counted(book, machine, zone).is_none()
}

fn counted(book: &Book, machine: MachineTag, zone: &TimeZone) -> Option<MotorShareSet> {
    let (mut run_ms, mut frame_ms) = (0_u64, 0_u64);
    for log in &book.ledger().logs {
        for session in sessions::of_log(log, zone).iter().filter(|one| one.machine == Some(machine)) {
            if let Some(span) = span_ms(log, session) {
                run_ms = run_ms.saturating_add(session.run.0);
                frame_ms = frame_ms.saturating_add(span);
            }
        }
    }
    if frame_ms < LEAST_COUNTED_MS {
        return None;
    }
    let share = u128::from(run_ms) * u128::from(HOUR_MS) / u128::from(frame_ms);
    let run_ms_per_hour = u32::try_from(share).ok()?;
    Some(MotorShareSet { machine: Some(machine), run_ms_per_hour, source: MotorShareSource::Counted })
}
