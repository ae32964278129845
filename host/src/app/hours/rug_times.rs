//! What the picture of usage shows: a row a rug with its time at the frame, its motor time and the minutes of its tears.

use std::collections::BTreeMap;

use serde::Serialize;
use shared_types::{MachineTag, UtcMillis};

use host_core::cloth::HarmRecord;
use host_core::entries::{Harm, RugName};
use host_core::hours::usage::{UsageBar, UsageReport};
use host_core::records::when::When;
use host_core::rugs::rug_work::{RugTaken, SessionShare};
use host_core::sessions::holder::Holder;
use host_core::sessions::session_list::CountedTo;
use host_core::sessions::typed;
use host_core::studio::{RugIndex, Studio};

/// One row.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct UsageRow {
    /// Whose.
    pub counted_to: CountedTo,
    /// Which commission.
    pub rug: Option<String>,
    /// At the frame, in milliseconds; null outside of commissions.
    pub frame_time_ms: Option<u64>,
    /// Whether it was longer: of a session whose length is not known only the running is in it.
    pub frame_time_is_at_least: bool,
    /// Motor time that is certainly of it, in milliseconds.
    pub run_time_ms: u64,
    /// Motor time that is only assumed to be of it, in milliseconds.
    pub assumed_run_time_ms: u64,
    /// Motor time that was typed in, in milliseconds.
    pub entered_run_time_ms: u64,
    /// All three together, in milliseconds.
    pub all_run_time_ms: u64,
    /// Whether some of it only follows from the time at the frame.
    pub run_time_is_about: bool,
    /// Of each tear the time at the frame before it, in milliseconds.
    pub tears_at_frame_ms: Vec<u64>,
    /// Tears of which that is not known.
    pub tears_without_time: u64,
}

/// The series of the picture `usage`.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct RugUsage {
    /// Running by where the knob stood; the picture `knob`.
    #[serde(flatten)]
    pub by_knob: UsageReport,
    /// In the order of its bars.
    pub rows: Vec<UsageRow>,
}

/// What the rows are made of.
pub(super) struct Grounds<'a> {
    pub(super) studio: &'a Studio,
    pub(super) taken: &'a BTreeMap<RugIndex, RugTaken>,
    pub(super) harms: &'a [HarmRecord],
    pub(super) machine: Option<MachineTag>,
}

impl Grounds<'_> {
    /// The rows of a usage report.
    pub(super) fn rows(&self, usage: &UsageReport) -> Vec<UsageRow> {
        usage.bars.iter().map(|bar| self.row(bar)).collect()
    }

    fn row(&self, bar: &UsageBar) -> UsageRow {
        let mut row = UsageRow {
            counted_to: bar.counted_to,
            rug: bar.rug.clone(),
            frame_time_ms: None,
            frame_time_is_at_least: false,
            run_time_ms: bar.run_time_ms.saturating_sub(bar.entered_run_time_ms),
            assumed_run_time_ms: 0,
            entered_run_time_ms: bar.entered_run_time_ms,
            all_run_time_ms: bar.run_time_ms,
            run_time_is_about: false,
            tears_at_frame_ms: Vec::new(),
            tears_without_time: 0,
        };
        let Some(name) = bar.rug.clone().map(RugName) else { return row };
        let Some(index) = self.studio.rug_index(&name) else { return row };
        let shares: Vec<&SessionShare> = self
            .taken
            .get(&index)
            .into_iter()
            .flat_map(|taken| &taken.sessions)
            .filter(|share| self.is_asked(share.machine))
            .collect();
        row.frame_time_ms = Some(shares.iter().map(|share| frame_ms(share)).fold(0, u64::saturating_add));
        row.frame_time_is_at_least = shares.iter().any(|share| share.tufting_ms.is_none());
        let assumed = shares.iter().filter(|share| !share.is_typed && !share.is_confirmed);
        row.assumed_run_time_ms = assumed.map(|share| share.run.run_ms).fold(0, u64::saturating_add);
        row.run_time_ms = row.run_time_ms.saturating_sub(row.assumed_run_time_ms);
        row.run_time_is_about = self.studio.worked.iter().any(|session| {
            session.is_about
                && self.is_asked(Some(session.said.machine))
                && typed::attribution(self.studio, session).holder == Holder::Rug(index)
        });
        for harm in self.harms.iter().filter(|harm| {
            harm.counts()
                && harm.harm == Harm::Tear
                && harm.rug.as_ref() == Some(&name)
                && self.is_asked(harm.machine)
        }) {
            match frame_before(&shares, harm.when) {
                Some(before) => row.tears_at_frame_ms.push(before),
                None => row.tears_without_time += 1,
            }
        }
        row.tears_at_frame_ms.sort_unstable();
        row
    }

    fn is_asked(&self, machine: Option<MachineTag>) -> bool {
        self.machine.is_none() || machine == self.machine
    }
}

/// A session's part of the time at the frame; where its length is not known, at least its running.
fn frame_ms(share: &SessionShare) -> u64 {
    share.tufting_ms.unwrap_or(share.run.run_ms)
}

/// The time at the frame before a moment; none where the moment, or a session around it, is not known well enough.
fn frame_before(shares: &[&SessionShare], when: When) -> Option<u64> {
    let When::Dated(UtcMillis(at)) = when else { return None };
    let mut before: u64 = 0;
    for share in shares {
        let (from, to) = (share.starts.earliest()?.0, share.ends.latest()?.0);
        let is_dated = matches!((share.starts, share.ends), (When::Dated(_), When::Dated(_)));
        let part = match () {
            () if to <= at => frame_ms(share),
            () if from >= at => 0,
            () if !is_dated => return None,
            () => {
                let gone = u128::from(at.saturating_sub(from).unsigned_abs());
                let whole = u128::from(to.saturating_sub(from).unsigned_abs()).max(1);
                u64::try_from(u128::from(frame_ms(share)) * gone / whole).ok()?
            }
        };
        before = before.saturating_add(part);
    }
    Some(before)
}

#[cfg(test)]
mod tests {
    use super::*;
    use host_core::rugs::rug_work::Run;

    const MINUTE: i64 = 60_000;

    fn share(from: i64, to: i64, is_dated: bool) -> SessionShare {
        let (earliest, latest) = (UtcMillis(from * MINUTE), UtcMillis(to * MINUTE));
        let between = When::Between { earliest, latest };
        let (starts, ends) =
            if is_dated { (When::Dated(earliest), When::Dated(latest)) } else { (between, between) };
        SessionShare {
            starts,
            ends,
            day: None,
            machine: None,
            run: Run { run_ms: 60_000, edges: 0 },
            tufting_ms: Some(1_800_000),
            is_confirmed: true,
            is_typed: false,
        }
    }

    #[test]
    fn a_tear_stands_at_the_minutes_at_the_frame_before_it() {
        // Two sessions of half an hour: from 0 to 30 and from 100 to 130.
        let (first, second) = (share(0, 30, true), share(100, 130, true));
        let at = |minute: i64| {
            frame_before(&[&first, &second], When::Dated(UtcMillis(minute * MINUTE))).map(|ms| ms / 60_000)
        };
        assert_eq!([at(-5), at(0), at(10), at(60), at(115), at(500)], [0, 0, 10, 30, 45, 60].map(Some));
        assert_eq!(frame_before(&[&first], When::Undated), None);
        // Of the second only the day is known: a tear within it has no minute, one after it has.
        let day = share(100, 1_540, false);
        let at = |minute: i64| frame_before(&[&first, &day], When::Dated(UtcMillis(minute * MINUTE)));
        assert_eq!([at(50), at(200), at(2_000)], [Some(1_800_000), None, Some(3_600_000)]);
    }
}
