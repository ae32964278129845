//! A rug on the frame, and nothing noted for days: perhaps work that nobody wrote down.

use shared_types::UtcMillis;

use crate::entries::{InForce, RugName};
use crate::records::timeline::HeardAt;
use crate::stats::DAY_MS;
use crate::studio::{RugState, Studio};

/// Days without an entry or a reading of a logger from which the studio is quiet; our assumption, no source.
pub const QUIET_DAYS: u64 = 7;

/// Days without anything noted while rugs are on the frame.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Quiet {
    /// When the last entry was made or a logger was read the last time.
    pub since: UtcMillis,
    /// Whole days since the last entry or reading of a logger.
    pub days: u64,
    /// The rugs on the frame.
    pub rugs: Vec<RugName>,
}

/// Whether nothing was entered or read for [`QUIET_DAYS`] while a rug is on the frame; none where nothing was ever entered.
#[must_use]
pub fn quiet(entries: &InForce<'_>, studio: &Studio, heard: &[HeardAt], now: UtcMillis) -> Option<Quiet> {
    let entered = entries.iter().map(|entry| entry.entered_at);
    let last = entered.chain(heard.iter().map(|heard| heard.at)).max()?;
    let days = u64::try_from(now.0.saturating_sub(last.0)).unwrap_or(0) / DAY_MS;
    let on_frame = studio.rugs.iter().filter(|rug| rug.state() == RugState::OnTheFrame);
    let rugs: Vec<RugName> = on_frame.map(|rug| rug.order.rug.clone()).collect();
    (days >= QUIET_DAYS && !rugs.is_empty()).then_some(Quiet { since: last, days, rugs })
}

#[cfg(test)]
mod tests {
    use shared_types::RecordSeq;

    use super::*;
    use crate::entries::EntryBody;
    use crate::entries::WorkChange::{Paused, Started};
    use crate::test_facts::{HOUR, LOG, MONDAY_8, entries, machine, rug, work};

    fn after(bodies: Vec<EntryBody>, heard: &[i64], hours: i64) -> Option<Quiet> {
        let kept = entries(bodies);
        let at = |at: &i64| HeardAt { log: LOG, next: RecordSeq(0), at: UtcMillis(*at) };
        let heard: Vec<HeardAt> = heard.iter().map(at).collect();
        quiet(&kept, &Studio::of(&kept), &heard, UtcMillis(MONDAY_8 + hours * HOUR))
    }

    fn on_the_frame() -> Vec<EntryBody> {
        vec![machine(1), rug("Fox"), work("Fox", None, Started, MONDAY_8)]
    }

    #[test]
    fn seven_whole_days_without_a_word_are_quiet_while_a_rug_is_on_the_frame() {
        assert_eq!(after(on_the_frame(), &[], 7 * 24 - 1), None);
        let found = after(on_the_frame(), &[], 9 * 24 + 5).unwrap();
        assert_eq!((found.days, found.rugs), (9, vec![RugName("Fox".to_owned())]));
        assert!(after(on_the_frame(), &[], 7 * 24).is_some());
    }

    #[test]
    fn a_rug_that_rests_a_logger_that_was_read_and_a_clock_gone_back_are_not_asked_about() {
        let mut rests = on_the_frame();
        rests.push(work("Fox", None, Paused, MONDAY_8 + HOUR));
        assert_eq!(after(rests, &[], 9 * 24), None);
        assert_eq!(after(on_the_frame(), &[MONDAY_8 + 5 * 24 * HOUR], 9 * 24), None);
        assert_eq!(after(on_the_frame(), &[], -9 * 24), None);
        assert_eq!(after(vec![], &[], 9 * 24), None);
    }
}
