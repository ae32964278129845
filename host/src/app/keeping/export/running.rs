//! Bursts and sessions as tables.

use std::collections::BTreeMap;

use jiff::tz::TimeZone;
use shared_types::{MachineTag, RecordSeq, UtcMillis};

use super::shape::{Cell, Shape, TableSink, boolean, integer, text};
use crate::app::keeping::error::ExportError;
use crate::app::ports::logger_name::{log_name, logger_name};
use crate::app::whole_book::Book;
use host_core::entries::{EntryId, PersonTag};
use host_core::records::log_records::LogKey;
use host_core::records::when::When;
use host_core::sessions::hands::Hands;
use host_core::sessions::holder::Holder;
use host_core::sessions::ledger::{DoubtfulLine, Ledger, LedgerLine, LedgerLog};
use host_core::sessions::session_list::{self, CountedTo, SessionLine, SessionSource};

/// Bursts, a row for each stretch at one place of the knob.
pub const BURSTS: Shape = Shape {
    name: "bursts",
    columns: &[
        integer("machine").or_null(),
        text("log"),
        integer("boot"),
        integer("burst"),
        integer("record"),
        integer("starts_earliest_utc_ms").or_null(),
        integer("starts_latest_utc_ms").or_null(),
        integer("run_ms"),
        integer("edges"),
        integer("strokes"),
        integer("knob_per_mille").or_null(),
        text("counted_to"),
        text("rug").or_null(),
        text("because"),
        boolean("counts"),
        text("doubt").or_null(),
        integer("person").or_null(),
    ],
    when: Some(["starts_earliest_utc_ms", "starts_latest_utc_ms"]),
};

/// Sessions, a row for each part that is counted to one holder for one reason.
pub const SESSIONS: Shape = Shape {
    name: "sessions",
    columns: &[
        integer("machine").or_null(),
        text("log").or_null(),
        text("session"),
        integer("part"),
        text("day").or_null(),
        integer("starts_earliest_utc_ms").or_null(),
        integer("starts_latest_utc_ms").or_null(),
        text("source"),
        integer("run_ms"),
        boolean("run_is_about"),
        integer("frame_ms").or_null(),
        integer("strokes").or_null(),
        integer("knob_per_mille").or_null(),
        text("counted_to"),
        text("rug").or_null(),
        text("because"),
        integer("person").or_null(),
    ],
    when: Some(["starts_earliest_utc_ms", "starts_latest_utc_ms"]),
};

/// A log as tables call it.
fn log_text(key: LogKey) -> String {
    format!("{}/{}", logger_name(key.logger), log_name(key.log))
}

/// Writes the bursts of all logs, in the order of their records; doubtful ones too.
pub fn bursts(book: &Book, ledger: &Ledger<'_>, sink: &mut impl TableSink) -> Result<(), ExportError> {
    let hands = Hands::of(&book.entries);
    sink.begin(&BURSTS)?;
    for log in &ledger.logs {
        let name = log_text(log.facts.key);
        let mut aside = log.doubtful.iter().filter(|one| !one.standing.counts()).peekable();
        let mut doubted = log.doubtful.iter().peekable();
        for line in &log.lines {
            while let Some(before) = aside.next_if(|one| one.line.burst.first < line.burst.first) {
                let all = Told { book, log, name: &name, hands: &hands };
                all.burst(&before.line, Some(before), sink)?;
            }
            while doubted.next_if(|one| one.line.burst.first < line.burst.first).is_some() {}
            let doubt = doubted.peek().copied().filter(|one| one.line.burst.first == line.burst.first);
            Told { book, log, name: &name, hands: &hands }.burst(line, doubt, sink)?;
        }
        for after in aside {
            Told { book, log, name: &name, hands: &hands }.burst(&after.line, Some(after), sink)?;
        }
    }
    sink.end()
}

/// What a row of a burst is told from.
struct Told<'all> {
    book: &'all Book,
    log: &'all LedgerLog<'all>,
    name: &'all str,
    hands: &'all Hands,
}

impl Told<'_> {
    fn burst(
        &self,
        line: &LedgerLine,
        doubt: Option<&DoubtfulLine>,
        sink: &mut impl TableSink,
    ) -> Result<(), ExportError> {
        let studio = &self.book.studio;
        let ratio = studio.ratio(line.machine);
        let person = line.machine.and_then(|machine| self.person(machine, line.burst.first, line.when));
        let rug = match line.attribution.holder {
            Holder::Rug(index) => studio.rug_at(index).map(|rug| rug.order.rug.0.as_str()),
            Holder::Care | Holder::Unassigned | Holder::Undated => None,
        };
        let mut edges = 0_u64;
        for piece in line.burst.pieces(&self.log.facts.segments, studio.marks(line.machine)) {
            let before = ratio.strokes(edges);
            edges = edges.saturating_add(piece.edges.into());
            let later_ms = piece.at.0.saturating_sub(line.burst.at.0);
            let later = |at: UtcMillis| at.0.saturating_add_unsigned(later_ms);
            sink.row(&[
                line.machine.into(),
                self.name.into(),
                line.burst.boot.0.into(),
                line.burst.first.0.into(),
                piece.seq.0.into(),
                line.when.earliest().map(later).into(),
                line.when.latest().map(later).into(),
                piece.run.0.into(),
                piece.edges.into(),
                // Whole strokes of the burst so far, less those before: over a burst they add up.
                ratio.strokes(edges).saturating_sub(before).into(),
                piece.knob.map(|knob| knob.per_mille.get()).into(),
                Cell::word(&CountedTo::of(line.attribution.holder)),
                rug.into(),
                Cell::word(&line.attribution.basis),
                doubt.is_none_or(|doubt| doubt.standing.counts()).into(),
                Cell::word_or_null(doubt.map(|doubt| &doubt.standing)),
                person.into(),
            ])?;
        }
        Ok(())
    }

    fn person(&self, machine: MachineTag, first: RecordSeq, when: When) -> Option<u32> {
        self.hands.person(machine, self.log.facts.key, first, when).map(|person| person.0)
    }
}

/// Writes all sessions, the oldest first.
pub fn sessions(
    book: &Book,
    ledger: &Ledger<'_>,
    zone: &TimeZone,
    sink: &mut impl TableSink,
) -> Result<(), ExportError> {
    let hands = Hands::of(&book.entries);
    let worked = book.studio.worked.iter();
    let persons = worked.filter_map(|worked| Some((worked.entry, hands.of_session(worked)?))).collect();
    sink.begin(&SESSIONS)?;
    for line in session_list::all(&book.studio, ledger, zone) {
        session(&persons, &line, sink)?;
    }
    sink.end()
}

fn session(
    persons: &BTreeMap<EntryId, PersonTag>,
    line: &SessionLine,
    sink: &mut impl TableSink,
) -> Result<(), ExportError> {
    let (log, person) = match &line.source {
        SessionSource::Counted(records) => (Some(log_text(records.log)), None),
        SessionSource::TypedIn(entry) => (None, persons.get(entry)),
    };
    let is_counted = log.is_some();
    for (number, part) in (1_u32..).zip(&line.parts) {
        sink.row(&[
            line.machine.into(),
            log.as_deref().into(),
            line.session.to_string().into(),
            number.into(),
            line.day.map(|day| day.to_string()).into(),
            line.starts_earliest_utc_ms.into(),
            line.starts_latest_utc_ms.into(),
            Cell::word(&line.source),
            part.run_time_ms.into(),
            line.about.into(),
            line.frame_time_ms.into(),
            is_counted.then_some(part.strokes).into(),
            line.knob_per_mille.into(),
            Cell::word(&part.counted_to),
            part.rug.as_deref().into(),
            Cell::word(&part.because),
            person.map(|person| person.0).into(),
        ])?;
    }
    Ok(())
}
