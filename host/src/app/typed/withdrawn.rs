//! What was taken back before cannot be taken back, corrected or added to: the maker is told when that was, and why.

use jiff::Timestamp;
use shared_types::UtcMillis;

use super::error::RequestError;
use crate::app::ports::Clock;
use host_core::cloth::HarmId;
use host_core::entries::{Entry, EntryBody, EntryId};

/// When and why something was taken back.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Withdrawal {
    /// When that was said.
    pub at: UtcMillis,
    /// Why; may be empty.
    pub reason: String,
}

/// How an entry was taken back; none where it never was.
#[must_use]
pub fn of_entry(entries: &[Entry], withdrawn: EntryId) -> Option<Withdrawal> {
    last(entries, |body| match body {
        EntryBody::Withdrawn { entry, reason } if *entry == withdrawn => Some(reason),
        _ => None,
    })
}

/// How a tear or near-miss was taken back; none where it never was.
#[must_use]
pub fn of_harm(entries: &[Entry], harm: HarmId) -> Option<Withdrawal> {
    match harm {
        HarmId::Entry(entry) => of_entry(entries, entry),
        HarmId::Press(log, seq) => last(entries, |body| match body {
            EntryBody::PressWithdrawn(press)
                if (press.logger, press.log, press.seq) == (log.logger, log.log, seq) =>
            {
                Some(&press.reason)
            }
            _ => None,
        }),
    }
}

fn last<'all>(
    entries: &'all [Entry],
    reason: impl Fn(&'all EntryBody) -> Option<&'all String>,
) -> Option<Withdrawal> {
    entries.iter().rev().find_map(|entry| {
        reason(&entry.body).map(|reason| Withdrawal { at: entry.entered_at, reason: reason.clone() })
    })
}

impl Withdrawal {
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
pub fn refused(entries: &[Entry], entry: EntryId, clock: &impl Clock) -> Option<RequestError> {
    Some(of_entry(entries, entry)?.refused(format!("entry {}", entry.0), clock))
}

#[cfg(test)]
mod tests {
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
        let entries = [Entry { id: EntryId(5), entered_at: THEN, body }];
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
