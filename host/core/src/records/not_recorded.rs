//! What a logger counted but no record tells of: lost in a cut, pushed out of a full flash, or not yet pulled.
//!
//! Every start of the logger records the totals of all segments before it, so a loss can be placed between two such
//! readings, and with that on the machine on which the logger sat.

use std::collections::BTreeMap;

use shared_types::{BootId, Edges, MachineTag, RecordSeq, RunMillis, Totals};

use super::fittings::Fittings;
use super::log_records::{LogRecords, LoggedEvent, SegmentRecord};

/// A loss on one machine.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Loss {
    /// The machine on which the logger sat.
    pub machine: Option<MachineTag>,
    /// Run time without a record.
    pub run: RunMillis,
    /// Edges without a record.
    pub edges: Edges,
    /// Whether the records hold more than the totals tell; nothing is taken away for that.
    pub records_exceed_totals: bool,
}

/// The losses of one log. Their sum is the totals since formatting less the records held, never below zero.
#[must_use]
pub fn of_log(log: &LogRecords, fittings: &Fittings) -> Vec<Loss> {
    let held = sum_of(&log.segments);
    let counted = between(log.formatted_with, log.last_totals);
    let lost = between(held, counted);
    let exceeds = held.run > counted.run || held.edges > counted.edges;
    if lost == Totals::default() && !exceeds {
        return Vec::new();
    }
    let on = |machine, lost: Totals| Loss {
        machine,
        run: lost.run,
        edges: lost.edges,
        records_exceed_totals: false,
    };
    let mut placed: Vec<Loss> =
        by_machine(log, fittings).into_iter().map(|(machine, lost)| on(machine, lost)).collect();
    let sum = placed.iter().fold(Totals::default(), |sum, loss| sum.plus(loss.run, loss.edges));
    if sum != lost {
        // The readings in between do not fit together; the whole loss goes to where the logger sits now.
        placed = vec![on(fittings.machine_now(log.key), lost)];
    }
    if exceeds {
        if let Some(first) = placed.first_mut() {
            first.records_exceed_totals = true;
        } else {
            placed.push(Loss { records_exceed_totals: true, ..on(fittings.machine_now(log.key), lost) });
        }
    }
    placed
}

/// `after` less `before`, neither part below zero.
fn between(before: Totals, after: Totals) -> Totals {
    Totals {
        run: RunMillis(after.run.0.saturating_sub(before.run.0)),
        edges: Edges(after.edges.0.saturating_sub(before.edges.0)),
    }
}

/// The losses by machine.
fn by_machine(log: &LogRecords, fittings: &Fittings) -> BTreeMap<Option<MachineTag>, Totals> {
    let mut losses: BTreeMap<Option<MachineTag>, Totals> = BTreeMap::new();
    for gap in gaps(log, fittings) {
        let sum = losses.entry(gap.machine).or_default();
        *sum = sum.plus(gap.lost.run, gap.lost.edges);
    }
    losses
}

/// A loss between two readings of the totals.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Gap {
    /// The record of the earlier reading; 0 for the log's making.
    pub from: RecordSeq,
    /// Its boot.
    pub boot: BootId,
    /// The record of the later reading; the largest number for what was heard last.
    pub until: RecordSeq,
    /// The machine of the interval's beginning, or of its end where the logger was not yet fitted at its beginning.
    pub machine: Option<MachineTag>,
    /// What is missing.
    pub lost: Totals,
}

/// The losses between each two readings of the totals.
pub fn gaps(log: &LogRecords, fittings: &Fittings) -> Vec<Gap> {
    let starts = log.events.iter().filter_map(|event| match &event.what {
        LoggedEvent::Started(started) => Some((event.seq, event.boot, started.totals)),
        _ => None,
    });
    let mut readings = vec![(RecordSeq(0), BootId(0), log.formatted_with)];
    readings.extend(starts);
    // Everything pulled lies before the end, even where the logger was last heard before its last records came.
    readings.push((RecordSeq(u32::MAX), BootId(u32::MAX), log.last_totals));
    let of_two = readings.iter().zip(readings.iter().skip(1));
    of_two
        .map(|((from, boot, before), (until, _, after))| {
            let machine = fittings
                .machine_of(log.key, *from)
                .or_else(|| fittings.machine_of(log.key, RecordSeq(until.0.saturating_sub(1))));
            let lost = between(held(log, *from, *until), between(*before, *after));
            Gap { from: *from, boot: *boot, until: *until, machine, lost }
        })
        .filter(|gap| gap.lost != Totals::default())
        .collect()
}

/// What the records from a number on and below another hold.
fn held(log: &LogRecords, from: RecordSeq, until: RecordSeq) -> Totals {
    let first = log.segments.partition_point(|segment| segment.seq < from);
    let end = log.segments.partition_point(|segment| segment.seq < until);
    sum_of(log.segments.get(first..end).unwrap_or_default())
}

fn sum_of(segments: &[SegmentRecord]) -> Totals {
    segments
        .iter()
        .fold(Totals::default(), |sum, segment| sum.plus(segment.run, Edges(u64::from(segment.edges))))
}
