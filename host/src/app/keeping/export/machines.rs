//! Machines, their care, parts and faults as tables.

use jiff::tz::TimeZone;
use shared_types::UtcMillis;

use super::shape::{Cell, Shape, TableSink, boolean, integer, text};
use crate::app::keeping::error::ExportError;
use crate::app::whole_book::Book;
use host_core::care::history::History;
use host_core::care::record::{RecordLine, about_care, record};
use host_core::entries::EntryBody;
use host_core::hours::report::{HoursReport, MachineHours};
use host_core::parts::{Grounds, PartPeriod, own_faults, part_periods};
use host_core::sessions::ledger::Ledger;
use host_core::stats::Level;
use host_core::studio::MachineCard;

/// Machines, and what they ran in all. Loggers that sat on no machine are a row without a number.
pub const MACHINES: Shape = Shape {
    name: "machines",
    columns: &[
        integer("machine").or_null(),
        text("name").or_null(),
        text("pile").or_null(),
        text("drive").or_null(),
        integer("since_utc_ms").or_null(),
        boolean("is_without_logger"),
        boolean("is_second_hand"),
        integer("rests_since_utc_ms").or_null(),
        integer("ratio_edges"),
        integer("ratio_strokes"),
        integer("before_logger_run_ms").or_null(),
        integer("run_ms"),
        integer("edges"),
        integer("run_typed_in_ms"),
        integer("run_not_recorded_ms"),
        integer("edges_not_recorded"),
        integer("life_run_ms"),
    ],
    when: Some(["since_utc_ms", "since_utc_ms"]),
};

/// Entries about care.
pub const CARE: Shape = Shape {
    name: "care",
    columns: &[
        integer("machine"),
        integer("entry"),
        text("kind"),
        text("task").or_null(),
        text("part").or_null(),
        integer("at_utc_ms"),
        integer("entered_utc_ms"),
        text("finding").or_null(),
        text("note").or_null(),
        boolean("counts"),
        text("taken_back_because").or_null(),
    ],
    when: Some(["at_utc_ms", "at_utc_ms"]),
};

/// Parts on machines, from fitting to taking off.
pub const PARTS: Shape = Shape {
    name: "parts",
    columns: &[
        integer("machine"),
        integer("entry"),
        integer("off_entry").or_null(),
        text("part"),
        text("serial").or_null(),
        integer("fitted_utc_ms"),
        integer("off_utc_ms").or_null(),
        text("off_because").or_null(),
        integer("run_at_least_ms"),
        integer("run_at_most_ms"),
        boolean("began_before_records"),
    ],
    when: Some(["fitted_utc_ms", "fitted_utc_ms"]),
};

/// Faults of machines.
pub const FAULTS: Shape = Shape {
    name: "faults",
    columns: &[
        integer("machine"),
        integer("entry"),
        integer("at_utc_ms"),
        text("what"),
        text("mended").or_null(),
        integer("machine_run_at_least_ms"),
        integer("machine_run_at_most_ms"),
        text("left_out_because").or_null(),
    ],
    when: Some(["at_utc_ms", "at_utc_ms"]),
};

/// Writes the machines in the order of their numbers.
pub fn machines(book: &Book, hours: &HoursReport, sink: &mut impl TableSink) -> Result<(), ExportError> {
    sink.begin(&MACHINES)?;
    for hours in hours.all() {
        machine(book, hours, sink)?;
    }
    sink.end()
}

fn machine(book: &Book, hours: &MachineHours, sink: &mut impl TableSink) -> Result<(), ExportError> {
    let card = book.studio.machines.iter().find(|card| Some(card.tag.0) == hours.machine);
    let (ratio_edges, ratio_strokes) = book.studio.ratio(card.map(|card| card.tag)).parts();
    sink.row(&[
        hours.machine.into(),
        hours.name.as_deref().into(),
        Cell::word_or_null(card.map(|card| &card.pile)),
        Cell::word_or_null(card.map(|card| &card.drive)),
        card.map(|card| card.since).into(),
        hours.is_without_logger.into(),
        card.is_some_and(|card| card.is_second_hand).into(),
        card.and_then(|card| card.resting.as_ref()).map(|rest| rest.since_utc_ms).into(),
        ratio_edges.into(),
        ratio_strokes.into(),
        hours.before_logger_run_time_ms.into(),
        hours.total.run_time_ms.into(),
        hours.total.edges.into(),
        hours.entered.run_time_ms.into(),
        hours.not_recorded.run_time_ms.into(),
        hours.not_recorded.edges.into(),
        hours.life_run_time_ms.into(),
    ])
}

/// Writes the record of care in the order of time, with what was taken back.
pub fn care(book: &Book, ledger: &Ledger<'_>, sink: &mut impl TableSink) -> Result<(), ExportError> {
    sink.begin(&CARE)?;
    for line in record(book.grounds(ledger), None, None) {
        care_line(&line, sink)?;
    }
    sink.end()
}

fn care_line(line: &RecordLine, sink: &mut impl TableSink) -> Result<(), ExportError> {
    let Some(about) = about_care(&line.said) else { return Ok(()) };
    let (finding, note) = match &line.said {
        EntryBody::CareDone(done) => (done.finding.as_ref(), done.note.as_deref()),
        EntryBody::CareSkipped(skipped) => (None, skipped.reason.as_deref()),
        EntryBody::CareSnoozed(snoozed) => (None, Some(snoozed.reason.as_str())),
        EntryBody::CareTaskSwitched(switched) => (None, switched.reason.as_deref()),
        EntryBody::PartFitted(fitted) => (None, fitted.note.as_deref()),
        _ => (None, None),
    };
    sink.row(&[
        about.machine.into(),
        line.entry.into(),
        line.said.kind().into(),
        about.task.into(),
        about.part.map(|part| part.0.as_str()).into(),
        line.at_utc_ms.into(),
        line.entered_at_utc_ms.into(),
        Cell::word_or_null(finding),
        note.into(),
        line.counts.into(),
        line.taken_back_because.as_deref().into(),
    ])
}

/// The running of all machines, as parts and faults need it.
pub fn running(book: &Book, ledger: &Ledger<'_>, zone: &TimeZone) -> Vec<Grounds> {
    let of = |card: &MachineCard| {
        Grounds::of(card.tag, &History::of(&book.studio, ledger, &book.heard, card.tag, zone))
    };
    book.studio.machines.iter().map(of).collect()
}

/// Writes the parts in the order of fitting.
pub fn parts(
    book: &Book,
    running: &[Grounds],
    now: UtcMillis,
    sink: &mut impl TableSink,
) -> Result<(), ExportError> {
    sink.begin(&PARTS)?;
    for period in part_periods(&book.entries, running, now) {
        part(&period, sink)?;
    }
    sink.end()
}

fn part(period: &PartPeriod, sink: &mut impl TableSink) -> Result<(), ExportError> {
    sink.row(&[
        period.machine.into(),
        period.entry.into(),
        period.off_entry.into(),
        period.part.0.as_str().into(),
        period.serial.as_deref().into(),
        period.fitted_utc_ms.into(),
        period.off_utc_ms.into(),
        Cell::word_or_null(period.why.as_ref()),
        period.run().at_least_ms.into(),
        period.run().at_most_ms.into(),
        period.began_before_records.into(),
    ])
}

/// Writes the faults, machine by machine, the oldest first.
pub fn faults(
    book: &Book,
    running: &[Grounds],
    now: UtcMillis,
    sink: &mut impl TableSink,
) -> Result<(), ExportError> {
    sink.begin(&FAULTS)?;
    for grounds in running {
        for fault in own_faults(&book.entries, grounds, "", now, Level::USUAL).faults {
            let run = grounds.meter.until(fault.at_utc_ms);
            sink.row(&[
                grounds.machine.into(),
                fault.entry.into(),
                fault.at_utc_ms.into(),
                fault.what.as_str().into(),
                fault.mended.as_deref().into(),
                run.at_least_ms.into(),
                run.at_most_ms.into(),
                Cell::word_or_null(fault.left_out.as_ref()),
            ])?;
        }
    }
    sink.end()
}
