//! How long a commission was in each stage, by what the maker said: outline, fill, detail, rework. Never guessed.

use std::collections::BTreeMap;

use serde::Serialize;
use shared_types::MachineTag;

use super::commission::Told;
use crate::entries::Stage;
use crate::records::when::When;
use crate::sessions::holder::Holder;
use crate::sessions::ledger::Ledger;
use crate::studio::{RugIndex, Studio};

/// One stage of one commission.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct StageUse {
    /// The stage; none for running of which no stage was said, or of which it is not known well enough when it was.
    pub stage: Option<Stage>,
    /// Motor moving, in milliseconds.
    pub run_time_ms: u64,
    /// Whole strokes.
    pub strokes: u64,
}

/// The stages of a commission in their usual order, the unnamed rest last; nothing where no stage was ever said.
#[must_use]
pub fn stages(studio: &Studio, ledger: &Ledger<'_>, place: RugIndex, told: Option<&Told>) -> Vec<StageUse> {
    let Some(told) = told.filter(|told| !told.stages.is_empty()) else { return Vec::new() };
    let mut sums: BTreeMap<(Option<Stage>, Option<MachineTag>), (u64, u64)> = BTreeMap::new();
    for line in ledger.logs.iter().flat_map(|log| &log.lines) {
        if line.attribution.holder != Holder::Rug(place) {
            continue;
        }
        let stage = match line.when {
            When::Dated(at) => told.stage_at(at),
            When::Between { earliest, latest } if told.stage_at(earliest) == told.stage_at(latest) => {
                // Between two moments in the same stage there may have been another one.
                let changes = |at| told.stages.partition_point(|(from, _)| *from <= at);
                (changes(earliest) == changes(latest)).then(|| told.stage_at(earliest)).flatten()
            }
            _ => None,
        };
        let sum = sums.entry((stage, line.machine)).or_default();
        sum.0 = sum.0.saturating_add(line.burst.run.0);
        sum.1 = sum.1.saturating_add(line.burst.edges);
    }
    let mut uses: Vec<StageUse> = Vec::new();
    for ((stage, machine), (run, edges)) in sums {
        let strokes = studio.ratio(machine).strokes(edges);
        match uses.last_mut().filter(|last| last.stage == stage) {
            Some(last) => {
                last.run_time_ms = last.run_time_ms.saturating_add(run);
                last.strokes = last.strokes.saturating_add(strokes);
            }
            None => uses.push(StageUse { stage, run_time_ms: run, strokes }),
        }
    }
    // Nothing comes before something in the order of options; the rest belongs at the end.
    let unnamed = uses.iter().take_while(|use_| use_.stage.is_none()).count();
    uses.rotate_left(unnamed);
    uses
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::entries::{EntryBody, RugName, StageBegun, WorkChange};
    use crate::records::log_records::LogRecords;
    use crate::rugs::commission::Commissions;
    use crate::test_facts::{
        HOUR, MONDAY_8, anchor, empty_log, entries, fitted, machine, rug, segment, work,
    };
    use shared_types::UtcMillis;
    use shared_types::log::ClockSource::Host;

    #[test]
    fn running_goes_to_the_stage_that_was_on_when_it_began() {
        let begun = |stage, at: i64| {
            EntryBody::StageBegun(StageBegun { rug: RugName("fox".to_owned()), stage, at: UtcMillis(at) })
        };
        let said = entries([
            machine(1),
            fitted(1, 0),
            rug("Fox"),
            work("Fox", None, WorkChange::Started, MONDAY_8),
            begun(Some(Stage::Outline), MONDAY_8 + HOUR),
            begun(Some(Stage::Fill), MONDAY_8 + 2 * HOUR),
        ]);
        let segments = vec![
            segment(10, 1, 0, 1_000, 10),
            segment(11, 1, 3_600_000, 2_000, 20),
            segment(12, 1, 7_199_999, 3_000, 30),
            segment(13, 1, 7_300_000, 5_000, 50),
        ];
        let logs = [LogRecords { events: vec![anchor(1, 1, 0, MONDAY_8, Host)], segments, ..empty_log() }];
        let studio = Studio::of(&said);
        let commissions = Commissions::of(&said);
        let told = commissions.told(&RugName("Fox".to_owned()));
        let uses = stages(&studio, &Ledger::of(&studio, &logs), RugIndex::of(0), told);
        let found: Vec<_> = uses.iter().map(|one| (one.stage, one.run_time_ms, one.strokes)).collect();
        assert_eq!(
            found,
            [(Some(Stage::Outline), 5_000, 50), (Some(Stage::Fill), 5_000, 50), (None, 1_000, 10)]
        );
    }
}
