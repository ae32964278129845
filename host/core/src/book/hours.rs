//! A machine's hours as they stand in its book: the owner's estimate, what was measured and what was written by hand, apart
//! and together; and the parts of what was measured, which add up to it.

use serde::Serialize;

use crate::hours::report::{Doubtful, HandSum, MachineHours, NotRecorded, RugHours, Sum};

/// Hours of three kinds.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct BookHours {
    /// The owner's estimate of run time before any logger was fitted, in milliseconds.
    pub before_logger_run_time_ms: Option<u64>,
    /// Counted by loggers on it: run time, strokes, runs and sessions.
    pub measured: Sum,
    /// The part of it of which no record tells.
    pub not_recorded: NotRecorded,
    /// What was recorded while it was surely lent out, whoever it is counted to, in milliseconds; in the parts already.
    pub lent_run_time_ms: u64,
    /// Dry runs and test runs, part of the measured.
    pub care: Sum,
    /// Counted to nobody, part of the measured.
    pub unassigned: Sum,
    /// The part of `unassigned` that ran in the studio.
    pub unassigned_here: Sum,
    /// The part of `unassigned` that ran while it was lent out.
    pub unassigned_while_lent: Sum,
    /// Cannot be counted, because it cannot be told when it was; part of the measured.
    pub undated: Sum,
    /// Doubted, and counted to nobody; part of the measured.
    pub doubtful: Doubtful,
    /// Per commission, part of the measured.
    pub rugs: Vec<RugHours>,
    /// Written by hand.
    pub by_hand: Vec<HandSum>,
    /// All three kinds together, the machine's whole life as far as it is known, in milliseconds.
    pub life_run_time_ms: u64,
}

/// To what a part of the measured hours is counted.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum PartOf<'hours> {
    /// A commission.
    Rug(&'hours RugHours),
    /// Dry runs and test runs.
    Care,
    /// Nobody: the machine was lent out.
    WhileLent,
    /// Nobody yet.
    Unassigned,
    /// Nobody, because it cannot be told when it was.
    Undated,
    /// Nobody, because it is doubted.
    Doubtful,
    /// Counted by the logger, without a record.
    NotRecorded,
}

/// A part of the measured hours.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct BookPart<'hours> {
    /// To what it is counted.
    pub of: PartOf<'hours>,
    /// Motor moving, in milliseconds.
    pub run_time_ms: u64,
    /// Needle edges.
    pub edges: u64,
    /// Whole strokes.
    pub strokes: u64,
}

impl BookHours {
    /// The hours of a machine; `lent_run_time_ms` is what was recorded while it was surely lent out.
    #[must_use]
    pub fn of(hours: MachineHours, lent_run_time_ms: u64) -> Self {
        let life_run_time_ms = hours.life_run_time_ms;
        let hours = hours.counted();
        Self {
            life_run_time_ms,
            before_logger_run_time_ms: hours.before_logger_run_time_ms,
            measured: hours.total,
            not_recorded: hours.not_recorded,
            lent_run_time_ms,
            care: hours.care,
            unassigned: hours.unassigned,
            unassigned_here: hours.unassigned_here,
            unassigned_while_lent: hours.unassigned_while_lent,
            undated: hours.undated,
            doubtful: hours.doubtful,
            rugs: hours.rugs,
            by_hand: hours.by_hand,
        }
    }

    /// The parts of the measured hours: run time and edges add up to it exactly, whole strokes to it or a little less.
    #[must_use]
    pub fn parts(&self) -> Vec<BookPart<'_>> {
        let part = |of, sum: Sum| BookPart {
            of,
            run_time_ms: sum.run_time_ms,
            edges: sum.edges,
            strokes: sum.strokes,
        };
        let lost = self.not_recorded;
        let rugs = self.rugs.iter().map(|rug| part(PartOf::Rug(rug), rug.total));
        let others = [
            part(PartOf::Care, self.care),
            part(PartOf::WhileLent, self.unassigned_while_lent),
            part(PartOf::Unassigned, self.unassigned_here),
            part(PartOf::Undated, self.undated),
            part(PartOf::Doubtful, self.doubtful.sum),
            BookPart {
                of: PartOf::NotRecorded,
                run_time_ms: lost.run_time_ms,
                edges: lost.edges,
                strokes: lost.strokes,
            },
        ];
        rugs.chain(others).collect()
    }
}
