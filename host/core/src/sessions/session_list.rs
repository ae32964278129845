//! The sessions as the maker sees them, each with a lasting number by which it can be named.

use std::fmt;
use std::str::FromStr;

use jiff::civil::Date;
use jiff::tz::TimeZone;
use serde::{Serialize, Serializer};
use shared_types::{LogId, RecordSeq};

use super::holder::{Attribution, Basis, Holder};
use super::ledger::{Ledger, LedgerLog};
use super::{Part, Session, typed};
use crate::entries::{EntryId, PersonTag};
use crate::records::log_records::LogKey;
use crate::sessions;
use crate::studio::Studio;
use crate::studio::worked::Worked;

/// The lasting number of a session.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum SessionName {
    /// Of one that was counted: the number of its first record.
    Counted {
        /// The first record.
        first: RecordSeq,
        /// The log; none while there is only one.
        log: Option<LogId>,
    },
    /// Of one that was typed in: the number of its entry.
    Typed(EntryId),
}

impl fmt::Display for SessionName {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Counted { first, log: None } => write!(f, "{}", first.0),
            Self::Counted { first, log: Some(log) } => write!(f, "{}-{:x}", first.0, log.0),
            Self::Typed(entry) => write!(f, "e{}", entry.0),
        }
    }
}

impl Serialize for SessionName {
    fn serialize<S: Serializer>(&self, out: S) -> Result<S::Ok, S::Error> {
        out.collect_str(self)
    }
}

impl FromStr for SessionName {
    type Err = std::num::ParseIntError;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        if let Some(entry) = text.trim().strip_prefix(['e', 'E']) {
            return Ok(Self::Typed(EntryId(entry.parse()?)));
        }
        let (first, log) = match text.trim().split_once('-') {
            None => (text.trim(), None),
            Some((first, log)) => (first, Some(LogId(u32::from_str_radix(log, 16)?))),
        };
        Ok(Self::Counted { first: RecordSeq(first.parse()?), log })
    }
}

/// To whom something is counted, for display and `--json`.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum CountedTo {
    /// A commission, named beside it.
    Rug,
    /// Dry runs and test runs.
    Care,
    /// Nobody.
    Nobody,
    /// It cannot be told.
    Undated,
}

impl CountedTo {
    /// The kind of a holder.
    #[must_use]
    pub const fn of(holder: Holder) -> Self {
        match holder {
            Holder::Rug(_) => Self::Rug,
            Holder::Care => Self::Care,
            Holder::Unassigned => Self::Nobody,
            Holder::Undated => Self::Undated,
        }
    }
}

/// A stretch of a session that is counted to one holder for one reason.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct PartLine {
    /// To whom.
    pub counted_to: CountedTo,
    /// Which commission.
    pub rug: Option<String>,
    /// Why.
    pub because: Basis,
    /// Motor moving, in milliseconds.
    pub run_time_ms: u64,
    /// Whole strokes.
    pub strokes: u64,
    /// First record.
    #[serde(skip)]
    pub first: RecordSeq,
    /// Last record.
    #[serde(skip)]
    pub last: RecordSeq,
}

impl PartLine {
    /// Whether it is counted to a commission that the maker has not said yes to.
    #[must_use]
    pub fn is_assumed(&self) -> bool {
        self.counted_to == CountedTo::Rug && self.because == Basis::Assumed
    }

    /// Whether it is counted to nobody, or cannot be counted. What ran while the machine was lent out is no open question:
    /// it is the borrower's.
    #[must_use]
    pub fn is_open(&self) -> bool {
        match self.counted_to {
            CountedTo::Nobody => self.because != Basis::LentOut,
            CountedTo::Undated => true,
            CountedTo::Rug | CountedTo::Care => false,
        }
    }
}

/// From where a session is known; written without what it holds.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum SessionSource {
    /// A logger counted it, in these records.
    Counted(SessionRecords),
    /// The maker typed it in, by this entry.
    TypedIn(EntryId),
}

impl Serialize for SessionSource {
    fn serialize<S: Serializer>(&self, out: S) -> Result<S::Ok, S::Error> {
        out.serialize_str(match self {
            Self::Counted(_) => "counted",
            Self::TypedIn(_) => "typed_in",
        })
    }
}

/// The records of a session that was counted.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SessionRecords {
    /// The log in which it is recorded.
    pub log: LogKey,
    /// First record.
    pub first: RecordSeq,
    /// Last record.
    pub last: RecordSeq,
    /// First and last record of each stretch without a burst that does not count.
    pub stretches: Vec<(RecordSeq, RecordSeq)>,
}

/// One session.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct SessionLine {
    /// Its lasting number.
    pub session: SessionName,
    /// The machine's number.
    pub machine: Option<u32>,
    /// The local day on which it began, where that is certain.
    #[serde(serialize_with = "crate::entries::day_as_text")]
    pub day: Option<Date>,
    /// It began no earlier than this, in milliseconds UTC.
    pub starts_earliest_utc_ms: Option<i64>,
    /// It began no later than this; the same number where the date is known.
    pub starts_latest_utc_ms: Option<i64>,
    /// From where it is known.
    pub source: SessionSource,
    /// Motor moving, in milliseconds.
    pub run_time_ms: u64,
    /// Whether the running only follows from the time at the frame.
    pub about: bool,
    /// At the frame, in milliseconds, where that was typed in.
    pub frame_time_ms: Option<u64>,
    /// Who worked, where that was typed in.
    pub person: Option<PersonTag>,
    /// The knob's place per mille of its travel, where that was typed in.
    pub knob_per_mille: Option<u16>,
    /// Whole strokes; zero where they were not counted.
    pub strokes: u64,
    /// Continuous runs.
    pub bursts: u64,
    /// Its stretches in order; one where it was typed in.
    pub parts: Vec<PartLine>,
}

impl SessionLine {
    /// First and last record of each stretch that can be given away; of one that was typed in, its only part.
    #[must_use]
    pub fn stretches(&self) -> Vec<(RecordSeq, RecordSeq)> {
        match &self.source {
            SessionSource::Counted(records) => records.stretches.clone(),
            SessionSource::TypedIn(_) => self.parts.iter().map(|part| (part.first, part.last)).collect(),
        }
    }

    /// Whether some of it is counted to nobody, or cannot be counted, and the maker may want to say whose it is.
    #[must_use]
    pub fn is_open(&self) -> bool {
        self.parts.iter().any(PartLine::is_open)
    }

    /// Whether some of it is counted to a commission that the maker has not said yes to.
    #[must_use]
    pub fn is_assumed(&self) -> bool {
        self.parts.iter().any(PartLine::is_assumed)
    }
}

/// All sessions of all logs, the oldest first; those of uncertain date by the earliest that they can have been.
#[must_use]
pub fn all(studio: &Studio, ledger: &Ledger<'_>, zone: &TimeZone) -> Vec<SessionLine> {
    let several = ledger.logs.len() > 1;
    let mut lines: Vec<SessionLine> = ledger
        .logs
        .iter()
        .flat_map(|log| {
            sessions::of_log(log, zone).into_iter().map(move |session| line(studio, log, &session, several))
        })
        .collect();
    lines.extend(studio.worked.iter().map(|session| typed_line(studio, session, zone)));
    lines.sort_by_key(|line| line.starts_earliest_utc_ms);
    lines
}

/// A session that was typed in.
#[must_use]
pub fn typed_line(studio: &Studio, session: &Worked, zone: &TimeZone) -> SessionLine {
    let Attribution { holder, basis } = typed::attribution(studio, session);
    let said = &session.said;
    SessionLine {
        session: SessionName::Typed(session.entry),
        machine: Some(said.machine.0),
        day: sessions::local_day(said.at, zone),
        starts_earliest_utc_ms: Some(session.span().0.0),
        starts_latest_utc_ms: Some(if said.is_day { session.span().1.0 } else { said.at.0 }),
        source: SessionSource::TypedIn(session.entry),
        run_time_ms: session.run_ms,
        about: session.is_about,
        frame_time_ms: said.frame_ms,
        person: said.person,
        knob_per_mille: said.knob_per_mille,
        strokes: 0,
        bursts: 0,
        parts: vec![PartLine {
            counted_to: CountedTo::of(holder),
            rug: rug_name(studio, holder),
            because: basis,
            run_time_ms: session.run_ms,
            strokes: 0,
            first: RecordSeq(0),
            last: RecordSeq(0),
        }],
    }
}

fn rug_name(studio: &Studio, holder: Holder) -> Option<String> {
    let Holder::Rug(index) = holder else { return None };
    studio.rug_at(index).map(|rug| rug.order.rug.0.clone())
}

fn line(studio: &Studio, log: &LedgerLog<'_>, session: &Session, several: bool) -> SessionLine {
    let ratio = studio.ratio(session.machine);
    let part_line = |part: Part| PartLine {
        counted_to: CountedTo::of(part.attribution.holder),
        rug: rug_name(studio, part.attribution.holder),
        because: part.attribution.basis,
        run_time_ms: part.run.0,
        strokes: ratio.strokes(part.edges),
        first: part.first,
        last: part.last,
    };
    SessionLine {
        session: SessionName::Counted { first: session.first, log: several.then_some(session.log.log) },
        machine: session.machine.map(|tag| tag.0),
        day: session.day,
        starts_earliest_utc_ms: session.starts.earliest().map(|at| at.0),
        starts_latest_utc_ms: session.starts.latest().map(|at| at.0),
        source: SessionSource::Counted(SessionRecords {
            log: session.log,
            first: session.first,
            last: session.last,
            stretches: session.stretches(log),
        }),
        run_time_ms: session.run.0,
        about: false,
        frame_time_ms: None,
        person: None,
        knob_per_mille: None,
        strokes: ratio.strokes(session.edges),
        bursts: u64::try_from(session.lines.len()).unwrap_or(u64::MAX),
        parts: session.parts(log).into_iter().map(part_line).collect(),
    }
}

/// The sessions that a name means; more than one only where it names no log and several logs have that number.
pub fn named<'list>(
    sessions: &'list [SessionLine],
    name: SessionName,
) -> impl Iterator<Item = &'list SessionLine> + 'list {
    sessions.iter().filter(move |line| match (name, &line.source) {
        (SessionName::Counted { first, log }, SessionSource::Counted(records)) => {
            records.first == first && log.is_none_or(|log| log == records.log.log)
        }
        (SessionName::Typed(entry), SessionSource::TypedIn(own)) => entry == *own,
        _ => false,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::entries::WorkChange::Started;
    use crate::records::log_records;
    use crate::test_facts::{LOG, MONDAY_8, anchor, empty_log, entries, fitted, machine, rug, segment, work};
    use shared_types::log::ClockSource::Host;

    #[test]
    fn a_session_name_reads_back_as_it_was_written() {
        for (name, text) in [
            (SessionName::Counted { first: RecordSeq(5230), log: None }, "5230"),
            (SessionName::Typed(EntryId(12)), "e12"),
            (SessionName::Counted { first: RecordSeq(7), log: Some(LogId(0xB2)) }, "7-b2"),
        ] {
            assert_eq!(name.to_string(), text);
            assert_eq!(text.parse(), Ok(name));
        }
        assert!("five".parse::<SessionName>().is_err());
        assert!("5-xyz".parse::<SessionName>().is_err());
    }

    #[test]
    fn a_session_says_to_whom_it_is_counted_and_is_named_with_its_log_when_there_are_several() {
        let first = log_records::LogRecords {
            events: vec![anchor(1, 1, 0, MONDAY_8, Host)],
            segments: vec![segment(10, 1, 60_000, 60_000, 721)],
            ..empty_log()
        };
        let other_key = LogKey { log: LogId(0xC3), ..LOG };
        let second = log_records::LogRecords { key: other_key, ..first.clone() };
        let said = entries([machine(1), fitted(1, 0), rug("Fox"), work("Fox", Some(1), Started, MONDAY_8)]);
        let studio = Studio::of(&said);
        let logs = [first, second];
        let lines = all(&studio, &Ledger::of(&studio, &logs), &TimeZone::UTC);
        let shown: Vec<_> =
            lines.iter().map(|line| (line.session.to_string(), line.parts[0].rug.clone())).collect();
        assert_eq!(shown, [("10-b2".to_owned(), Some("Fox".to_owned())), ("10-c3".to_owned(), None)]);
        assert!(lines[0].is_assumed() && !lines[0].is_open());
        assert!(lines[1].is_open(), "no machine is known for the second log");
        assert_eq!(named(&lines, SessionName::Counted { first: RecordSeq(10), log: None }).count(), 2);
        assert_eq!(named(&lines, lines[1].session).count(), 1);
        assert_eq!(lines[0].starts_earliest_utc_ms, Some(MONDAY_8 + 60_000));
    }
}
