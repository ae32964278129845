//! What was taken back before cannot be taken back, corrected or added to: the maker is told when that was, and why.

use jiff::Timestamp;
use shared_types::UtcMillis;

use super::error::RequestError;
use crate::app::ports::Clock;
use host_core::cloth::HarmId;
use host_core::entries::{EntryBody, EntryId, InForce};

/// When and why something was taken back.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct TakenBack {
    /// When that was said.
    pub at: UtcMillis,
    /// Why; may be empty.
    pub reason: String,
}

/// How an entry was taken back; none where it counts.
#[must_use]
pub fn of_entry(entries: &InForce<'_>, withdrawn: EntryId) -> Option<TakenBack> {
    let by = entries.withdrawal(withdrawn)?;
    Some(TakenBack { at: by.at, reason: by.reason.to_owned() })
}

/// How a tear or near-miss was taken back; none where it counts.
#[must_use]
pub fn of_harm(entries: &InForce<'_>, harm: HarmId) -> Option<TakenBack> {
    let (log, seq) = match harm {
        HarmId::Entry(entry) => return of_entry(entries, entry),
        HarmId::Press(log, seq) => (log, seq),
    };
    entries.iter().rev().find_map(|entry| match &entry.body {
        EntryBody::PressWithdrawn(press)
            if (press.logger, press.log, press.seq) == (log.logger, log.log, seq) =>
        {
            Some(TakenBack { at: entry.entered_at, reason: press.reason.clone() })
        }
        _ => None,
    })
}

impl TakenBack {
    /// The answer to whoever wants to do something with it all the same; `id` is what it is called.
    pub fn refused(self, id: String, clock: &impl Clock) -> RequestError {
        let local = Timestamp::from_millisecond(self.at.0).map(|at| at.to_zoned_datetime(clock.zone()));
        RequestError::TakenBackBefore {
            id,
            on: local.map_or_else(|_| String::new(), |at| at.strftime(", %a %-d %b %Y %H:%M").to_string()),
            because: if self.reason.is_empty() { String::new() } else { format!(": {}", self.reason) },
        }
    }
}

/// The answer to whoever wants to take back an entry that was taken back before; none for other entries.
pub fn refused(entries: &InForce<'_>, entry: EntryId, clock: &impl Clock) -> Option<RequestError> {
    Some(of_entry(entries, entry)?.refused(format!("entry {}", entry.0), clock))
}

#[cfg(test)]
mod tests {
    use host_core::entries::Entry;
    use jiff::tz::{TimeZone, offset};

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
        assert_eq!(of_entry(&entries, EntryId(5)), None);
        refused(&entries, EntryId(3), &TwoHoursEast).map(|refused| refused.to_string())
    }

    #[test]
    fn the_maker_is_told_when_by_the_makers_clock_and_why() {
        let when = "entry 3 was taken back already, Wed 4 Mar 2026 18:00";
        assert_eq!(told("a slip").unwrap(), format!("{when}: a slip"));
        assert_eq!(told("").unwrap(), when);
    }
}
