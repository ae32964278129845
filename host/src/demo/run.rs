//! Plays the studio twice, with the clock chip and without, into fresh databases, and holds the answers against the truth.

use std::cell::Cell;

use firmware::sim::rig::Rig;
use jiff::tz::TimeZone;
use serde::Serialize;
use shared_types::UtcMillis;
use shared_types::link::LoggerStatus;
use thiserror::Error;

use super::maker::Switched;
use super::studio::{Played, play};
use crate::app::care::limits;
use crate::app::cloth::{ClothError, tears};
use crate::app::hours::report;
use crate::app::logger::pull::{PullWish, pull};
use crate::app::logger::pull_report::{PullError, PullReport};
use crate::app::ports::{Clock, Store, StoreError};
use crate::app::rugs::rug;
use crate::app::typed::error::RequestError;
use crate::logger_link::simulated::{Loss, simulated};
use crate::store::Database;
use host_core::cloth::SpeedBy;
use host_core::entries::EntryBody;
use host_core::stats::Level;

/// The clock on the wall of the made-up studio.
#[derive(Debug)]
pub struct StudioClock(Cell<UtcMillis>);

impl StudioClock {
    /// A clock that shows this until it is set.
    pub const fn at(utc: UtcMillis) -> Self {
        Self(Cell::new(utc))
    }
}

impl Clock for StudioClock {
    fn now(&self) -> UtcMillis {
        self.0.get()
    }

    fn zone(&self) -> TimeZone {
        TimeZone::UTC
    }
}

/// What the simulated needle and the made-up maker really did.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct TruthReport {
    /// Motor moving while the logger had power, in milliseconds.
    pub run_time_ms: u64,
    /// Strokes of the needle in that time.
    pub strokes: u64,
    /// Tears.
    pub tears: u64,
    /// Near-misses.
    pub near_misses: u64,
}

/// One studio: what the program found out, beside the truth.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct StudioReport {
    /// Run time in the records, in milliseconds.
    pub run_time_ms: u64,
    /// Strokes in the records.
    pub strokes: u64,
    /// Tears.
    pub tears: u64,
    /// Near-misses.
    pub near_misses: u64,
    /// Run time that the logger counted, but of which no record is left, in milliseconds.
    pub not_recorded_ms: u64,
    /// Records received.
    pub records: u64,
    /// Times the logger was read.
    pub pulls: u64,
    /// Power cuts while the needle moved; each may cost ten running seconds.
    pub cuts_mid_burst: u64,
    /// Power cuts while it stood, besides the end of each shift.
    pub cuts_idle: u64,
    /// Run time lost in cuts: the truth less what was recorded and what was counted without a record, in milliseconds.
    pub lost_in_cuts_ms: i64,
    /// The truth.
    pub truth: TruthReport,
}

/// A session that was spent on another rug than the maker's notes say, which no logger can know.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct WrongRug {
    /// When it began, in milliseconds since 1970.
    pub began_utc_ms: i64,
    /// The number by which it can be put right.
    pub session: Option<String>,
    /// The rug that was on the frame.
    pub on_frame: &'static str,
    /// The rug that the notes say.
    pub in_notes: &'static str,
}

/// The answer of `demo`: the studio with the clock chip, and beside it the one without.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct DemoReport {
    /// The seed.
    pub seed: u64,
    /// When the last pull was, in milliseconds since 1970.
    pub ended_at_utc_ms: i64,
    /// With the clock chip.
    #[serde(flatten)]
    pub with_clock: StudioReport,
    /// Without.
    pub without_clock: StudioReport,
    /// The evening on which another rug was on the frame than the maker's notes say.
    pub wrong_rug: Option<WrongRug>,
}

/// Why the demo could not be played.
#[derive(Debug, Error)]
pub enum DemoError {
    /// The database.
    #[error(transparent)]
    Store(#[from] StoreError),
    /// A pull.
    #[error(transparent)]
    Pull(#[from] PullError),
    /// A question.
    #[error(transparent)]
    Request(#[from] RequestError),
    /// A question about the speed.
    #[error(transparent)]
    Cloth(#[from] ClothError),
}

/// Plays both studios of a seed into two fresh databases.
///
/// # Errors
/// When a database does not take the records, or a pull fails, which the demo's links never should.
pub fn run(
    seed: u64,
    with_clock: &mut Database,
    without_clock: &mut Database,
) -> Result<DemoReport, DemoError> {
    let (first, played) = studio(seed, true, with_clock)?;
    let (second, _) = studio(seed, false, without_clock)?;
    Ok(DemoReport {
        seed,
        ended_at_utc_ms: played.ended_at.0,
        with_clock: first,
        without_clock: second,
        wrong_rug: wrong_rug(&played, with_clock)?,
    })
}

fn studio(seed: u64, chip: bool, store: &mut Database) -> Result<(StudioReport, Played), DemoError> {
    let (mut records, mut pulls) = (0, 0);
    let played = play(seed, chip, |rig, entries, at| {
        let report = sit_down(rig, store, &entries, at)?;
        records += report.new_records;
        pulls += 1;
        Ok::<(), DemoError>(())
    })?;
    let report = compare(&played, store, records, pulls)?;
    Ok((report, played))
}

fn wrong_rug(played: &Played, store: &Database) -> Result<Option<WrongRug>, DemoError> {
    let Some(Switched { at, on_frame, in_books }) = played.deeds.switched else { return Ok(None) };
    let clock = StudioClock::at(played.ended_at);
    let sessions = rug::sessions(store, &clock, &rug::Choice::default())?.sessions;
    let first = sessions.iter().find(|line| line.starts_earliest_utc_ms.is_some_and(|start| start >= at.0));
    Ok(Some(WrongRug {
        began_utc_ms: at.0,
        session: first.map(|line| line.session.to_string()),
        on_frame,
        in_notes: in_books,
    }))
}

/// The maker writes down what happened, and pulls; the program's care plan goes back to the lamp.
fn sit_down(
    rig: &mut Rig,
    store: &mut Database,
    entries: &[(UtcMillis, EntryBody)],
    at: UtcMillis,
) -> Result<PullReport, DemoError> {
    for (entered_at, body) in entries {
        store.add_entry(*entered_at, body)?;
    }
    let clock = StudioClock::at(at);
    let mut logger = simulated("the simulated logger", |bytes: &[u8]| rig.link(bytes), Loss::default());
    let lamp_limits =
        |store: &dyn Store, status: &LoggerStatus, machine| limits::lamp(store, &clock, status, machine);
    let wish = PullWish { machine: None, lamp_limits: Some(&lamp_limits), ..PullWish::default() };
    Ok(pull(&mut logger, store, &clock, &wish, &mut |_| ())?)
}

fn compare(played: &Played, store: &Database, records: u64, pulls: u64) -> Result<StudioReport, DemoError> {
    let clock = StudioClock::at(played.ended_at);
    let hours = report::report(store, &clock, None, None)?.hours;
    let speed = tears::speed(store, None, SpeedBy::Knob, Level::USUAL)?;
    let (mut run_time_ms, mut strokes, mut not_recorded_ms) = (0, 0, 0);
    for machine in hours.all() {
        run_time_ms += machine.total.run_time_ms - machine.not_recorded.run_time_ms;
        strokes += machine.total.strokes - machine.not_recorded.strokes;
        not_recorded_ms += machine.not_recorded.run_time_ms;
    }
    let truth = TruthReport {
        run_time_ms: played.truth.powered.run.0,
        strokes: played.truth.powered.edges.0,
        tears: played.deeds.tears,
        near_misses: played.deeds.near_misses,
    };
    let signed = |ms: u64| i64::try_from(ms).unwrap_or(i64::MAX);
    Ok(StudioReport {
        run_time_ms,
        strokes,
        tears: speed.totals.tears,
        near_misses: speed.totals.near_misses,
        not_recorded_ms,
        records,
        pulls,
        cuts_mid_burst: played.deeds.cuts_mid_burst,
        cuts_idle: played.deeds.cuts_idle,
        lost_in_cuts_ms: signed(truth.run_time_ms) - signed(run_time_ms) - signed(not_recorded_ms),
        truth,
    })
}
