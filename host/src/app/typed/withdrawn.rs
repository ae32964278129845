//! What was taken back before cannot be taken back, corrected or added to: the maker is told when that was, and why.

use jiff::Timestamp;

use super::error::RequestError;
use crate::app::ports::Clock;
use host_core::cloth::HarmId;
use host_core::entries::{EntryBody, EntryId, InForce, Withdrawal};

/// How a tear or near-miss was taken back; none where it counts.
#[must_use]
pub fn of_harm<'all>(entries: &'all InForce<'_>, harm: HarmId) -> Option<Withdrawal<'all>> {
    let (log, seq) = match harm {
        HarmId::Entry(entry) => return entries.withdrawal(entry),
        HarmId::Press(log, seq) => (log, seq),
    };
    entries.iter().rev().find_map(|entry| match &entry.body {
        EntryBody::PressWithdrawn(press)
            if (press.logger, press.log, press.seq) == (log.logger, log.log, seq) =>
        {
            Some(Withdrawal { entry: entry.id, at: entry.entered_at, reason: &press.reason })
        }
        _ => None,
    })
}

/// The answer to whoever wants to do something with what was taken back all the same; `id` is what it is called.
pub fn taken_back_before(withdrawal: Withdrawal<'_>, id: String, clock: &impl Clock) -> RequestError {
    let Withdrawal { at, reason, .. } = withdrawal;
    let local = Timestamp::from_millisecond(at.0).map(|at| at.to_zoned_datetime(clock.zone()));
    RequestError::TakenBackBefore {
        id,
        on: local.map_or_else(|_| String::new(), |at| at.strftime(", %a %-d %b %Y %H:%M").to_string()),
        because: if reason.is_empty() { String::new() } else { format!(": {reason}") },
    }
}

/// The same to whoever wants to take back an entry that was taken back before; none for other entries.
pub fn refused(entries: &InForce<'_>, entry: EntryId, clock: &impl Clock) -> Option<RequestError> {
    Some(taken_back_before(entries.withdrawal(entry)?, format!("entry {}", entry.0), clock))
}

#[cfg(test)]
mod tests {
    use host_core::entries::Entry;
    use jiff::tz::{TimeZone, offset};
    use shared_types::UtcMillis;

    use super::*;

    /// 2026-03-04T16:00:00Z: 20,516 days after 1970, and 16 hours.
    const THEN: UtcMillis = UtcMillis(20_516 * 86_400_000 + 16 * 3_600_000);

    struct TwoHoursEast;

    impl Clock for TwoHoursEast {
        fn now(&self) -> UtcMillis {
            THEN
        }
        fn zone(&self) -> TimeZone {
            TimeZone::fixed(offset(2))
        }
    }

    fn told(reason: &str) -> Option<String> {
        let body = EntryBody::Withdrawn { entry: EntryId(3), reason: reason.to_owned() };
        let entries = InForce::of(vec![Entry { id: EntryId(5), entered_at: THEN, body }]);
        assert!(refused(&entries, EntryId(5), &TwoHoursEast).is_none());
        refused(&entries, EntryId(3), &TwoHoursEast).map(|refused| refused.to_string())
    }

    #[test]
    fn the_maker_is_told_when_by_the_makers_clock_and_why() {
        let when = "entry 3 was taken back already, Wed 4 Mar 2026 18:00";
        assert_eq!(told("a slip").unwrap(), format!("{when}: a slip"));
        assert_eq!(told("").unwrap(), when);
    }
}
