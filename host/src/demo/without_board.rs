//! A second made-up maker, who has no board: she keeps a notebook of three months and types it in, by the same use cases that
//! the command line has.

use serde::Serialize;
use shared_types::UtcMillis;
use thiserror::Error;

use super::random_stream::{RandomStream, whole};
use super::run::StudioClock;
use super::scenario::{DAY_MS, FIRST_DAY_UTC_MS};
use crate::app::care::CareError;
use crate::app::care::done::{DoneSaid, done};
use crate::app::cloth::tears::{self, TearSaid};
use crate::app::machines::MachineError;
use crate::app::machines::machine::{NewMachine, add};
use crate::app::rugs::RugError;
use crate::app::rugs::commission::Making;
use crate::app::rugs::rug::{NewRug, change_work, order};
use crate::app::sessions::note::{SessionSaid, WhenSaid, note};
use crate::app::sessions::{SessionError, share, table};
use crate::app::typed::dates::Given;
use crate::app::typed::error::RequestError;
use crate::store::Database;
use host_core::entries::harm_answers::Answers;
use host_core::entries::{BRUSH_OUT, Drive, OILING, Pile, Style, WorkChange};
use host_core::stats::{HOUR_MS, MINUTE_MS, number};

/// The stream of her draws; those of the other maker are 1 to 3.
const PURPOSE: u64 = 4;
/// Days that she takes for a rug.
const DAYS_A_RUG: u64 = 15;
/// She is done with the last rug, or halfway, after so many days.
const DAYS: u64 = DAYS_A_RUG * 6;
/// At the frame for a square metre, in hours: the median.
const HOURS_PER_M2: f64 = 7.2;
/// The motor runs for so long in an hour at the frame.
const SHARE_MS: u64 = 25 * MINUTE_MS;
/// She oils after so much time at the frame, or a little more.
const OILS_AFTER_MS: u64 = 7 * HOUR_MS;

/// A rug of hers: name, width and height in millimetres, and its colours.
type HerRug = (&'static str, (u32, u32), &'static [&'static str]);

/// In the order in which they are made; of the last one only a part.
const RUGS: [HerRug; 6] = [
    (FIRST_RUG, (600, 600), &["brown", "cream", "yellow"]),
    ("Poppies", (800, 1_200), &["red", "leaf green", "black"]),
    ("Lighthouse", (700, 1_400), &["white", "red", "deep blue"]),
    ("Fern", (900, 900), &["leaf green", "cream"]),
    ("Rain", (1_000, 1_500), &["grey", "deep blue", "white"]),
    ("Snail", (800, 1_000), &["ochre", "brown", "pink"]),
];

/// The rug of hers of which the demo shows the sheet.
pub const FIRST_RUG: &str = "Owl";
/// The size of the rug of which she asks what it will take, in millimetres.
pub const NEXT_RUG_MM: (u32, u32) = (900, 1_200);

/// What she sees to after a brush-out, and after an oiling besides.
const AFTER_BRUSHING: [&str; 2] = [BRUSH_OUT, "screws"];
const AFTER_OILING: [&str; 3] = [OILING, "needle", "scissors"];

/// Rugs on which the cloth tore, in the middle of their second session.
const TORN: [usize; 3] = [1, 2, 4];

/// What she did, as it was made up.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Played {
    /// When she looks back, in milliseconds since 1970.
    pub ended_at_utc_ms: i64,
    /// Rugs that she finished.
    pub rugs_finished: u64,
    /// Sessions at the frame.
    pub sessions: u64,
    /// Time at the frame, in milliseconds.
    pub frame_time_ms: u64,
    /// Tears.
    pub tears: u64,
    /// Brush-outs.
    pub brush_outs: u64,
    /// Oilings.
    pub oilings: u64,
}

/// Why she could not be played.
#[derive(Debug, Error)]
pub enum NotebookError {
    /// The machine.
    #[error(transparent)]
    Machine(#[from] MachineError),
    /// A rug.
    #[error(transparent)]
    Rug(#[from] RugError),
    /// A session.
    #[error(transparent)]
    Session(#[from] SessionError),
    /// Care.
    #[error(transparent)]
    Care(#[from] CareError),
    /// A tear.
    #[error(transparent)]
    Request(#[from] RequestError),
}

/// Plays her three months of a seed into a fresh database.
///
/// # Errors
/// When the database does not take an entry.
pub fn play(seed: u64, store: &mut Database) -> Result<Played, NotebookError> {
    let opened = StudioClock::at(UtcMillis(FIRST_DAY_UTC_MS));
    let machine = NewMachine {
        name: "Red handle".to_owned(),
        pile: Pile::Cut,
        drive: Drive::Electric,
        hours_before: Some(30),
        since: None,
        has_logger: Some(false),
        is_second_hand: None,
    };
    add(store, &opened, machine)?;
    share::set(store, &opened, None, SHARE_MS)?;
    let mut maker =
        Maker { rng: RandomStream::new(seed, PURPOSE), since_oiling_ms: 0, played: Played::default() };
    for (place, rug) in RUGS.iter().enumerate() {
        maker.rug(store, place, rug)?;
    }
    maker.played.ended_at_utc_ms = moment(DAYS, 8 * 60).0;
    Ok(maker.played)
}

#[derive(Debug)]
struct Maker {
    rng: RandomStream,
    since_oiling_ms: u64,
    played: Played,
}

/// One session at the frame.
#[derive(Clone, Copy, Debug)]
struct Sitting {
    began: UtcMillis,
    frame_ms: u64,
    knob_percent: Option<u8>,
}

impl Sitting {
    fn after(self, ms: u64) -> UtcMillis {
        UtcMillis(self.began.0.saturating_add_unsigned(ms))
    }
}

impl Maker {
    fn rug(&mut self, store: &mut Database, place: usize, rug: &HerRug) -> Result<(), NotebookError> {
        let (name, size_mm, colours) = *rug;
        let is_last = place + 1 == RUGS.len();
        let sittings = self.sittings(place, size_mm, is_last);
        let Some((last, before)) = sittings.split_last() else { return Ok(()) };
        let begins = before.first().unwrap_or(last).began;
        let making = Making {
            style: Some(Style::Cut),
            pile: Some("12mm".to_owned()),
            colours: colours.iter().map(|colour| (*colour).to_owned()).collect(),
        };
        let new = NewRug { name: name.to_owned(), size_mm: Some(size_mm), making, ..NewRug::default() };
        let clock = StudioClock::at(begins);
        order(store, &clock, new)?;
        change_work(store, &clock, name, WorkChange::Started, None, None)?;
        for (number, sitting) in sittings.iter().enumerate() {
            if number == 1 && TORN.contains(&place) {
                self.tear(store, *sitting)?;
            }
            self.care(store, *sitting)?;
        }
        // Her notebook is typed in when the rug is nearly done, and the last evening as it ends.
        let clock = StudioClock::at(last.after(last.frame_ms));
        if !before.is_empty() {
            table::note_all(store, &clock, notebook(name, before).as_bytes(), None, false)?;
        }
        let said = SessionSaid {
            frame_ms: Some(last.frame_ms),
            knob_per_mille: last.knob_percent.map(|percent| u16::from(percent) * 10),
            when: WhenSaid::JustNow,
            ..SessionSaid::default()
        };
        note(store, &clock, &said, false)?;
        if !is_last {
            change_work(
                store,
                &clock,
                name,
                WorkChange::Finished,
                None,
                Some(Given::Moment(last.after(last.frame_ms))),
            )?;
            self.played.rugs_finished += 1;
        }
        Ok(())
    }

    /// Evenings and weekend mornings of one rug, spread over its days, never two on one day.
    fn sittings(&mut self, place: usize, size_mm: (u32, u32), is_last: bool) -> Vec<Sitting> {
        let area_m2 = f64::from(size_mm.0) * f64::from(size_mm.1) / 1e6;
        let share = if is_last { 0.45 } else { 1.0 };
        let all_ms = self.rng.log_normal_ms(area_m2 * HOURS_PER_M2 * share * number(HOUR_MS), 0.1);
        let count = all_ms.div_ceil(100 * MINUTE_MS).clamp(2, DAYS_A_RUG - 1);
        let first_day = DAYS_A_RUG * u64::try_from(place).unwrap_or(0);
        let mut sittings = Vec::new();
        for number_of in 0..count {
            let day = first_day + number_of * DAYS_A_RUG / count;
            let hour = if day % 7 >= 5 { 10 } else { 18 };
            let began = moment(day, hour * 60 + 5 * self.rng.uniform(0, 12));
            let part = number(self.rng.uniform(80, 120)) / 100.0 / number(count);
            // As a clock on the wall is read.
            let frame_ms = (whole(number(all_ms) * part) / (5 * MINUTE_MS)).max(6) * 5 * MINUTE_MS;
            let knob = self.rng.uniform(7, 13) * 5;
            let knob_percent = self.rng.bernoulli(0.4).then(|| u8::try_from(knob).unwrap_or(50));
            self.played.sessions += 1;
            self.played.frame_time_ms += frame_ms;
            sittings.push(Sitting { began, frame_ms, knob_percent });
        }
        sittings
    }

    fn tear(&mut self, store: &mut Database, sitting: Sitting) -> Result<(), NotebookError> {
        let at = sitting.after(sitting.frame_ms / 2);
        let knob_percent = u8::try_from(self.rng.uniform(13, 17) * 5).ok();
        let said =
            TearSaid { at: Some(at), knob_percent, answers: Answers::default(), ..TearSaid::default() };
        tears::note(store, &StudioClock::at(sitting.after(sitting.frame_ms)), &said)?;
        self.played.tears += 1;
        Ok(())
    }

    /// After a session: often a brush-out with the screws, and now and then an oiling, which begins with them.
    fn care(&mut self, store: &mut Database, sitting: Sitting) -> Result<(), NotebookError> {
        self.since_oiling_ms += sitting.frame_ms;
        let brushes = self.rng.bernoulli(0.6);
        let oils = self.since_oiling_ms >= OILS_AFTER_MS;
        let clock = StudioClock::at(sitting.after(sitting.frame_ms));
        let mut say = |tasks: &[&str]| {
            tasks.iter().try_for_each(|task| {
                let said = DoneSaid { task: (*task).to_owned(), ..DoneSaid::default() };
                done(store, &clock, &said).map(|_| ())
            })
        };
        if brushes || oils {
            say(&AFTER_BRUSHING)?;
            self.played.brush_outs += 1;
        }
        if oils {
            say(&AFTER_OILING)?;
            self.played.oilings += 1;
            self.since_oiling_ms = 0;
        }
        Ok(())
    }
}

/// So many days and minutes after her notebook begins.
fn moment(day: u64, minutes: u64) -> UtcMillis {
    let days = DAY_MS.saturating_mul(i64::try_from(day).unwrap_or(0));
    UtcMillis((FIRST_DAY_UTC_MS + days).saturating_add_unsigned(minutes * MINUTE_MS))
}

/// Her notebook of a rug as the table that `worked --table` reads.
fn notebook(rug: &str, sittings: &[Sitting]) -> String {
    let mut table = "date,frame,knob,rug\n".to_owned();
    for sitting in sittings {
        let began = jiff::Timestamp::from_millisecond(sitting.began.0).unwrap_or_default();
        let minutes = sitting.frame_ms / MINUTE_MS;
        let knob = sitting.knob_percent.map(|percent| percent.to_string()).unwrap_or_default();
        let date = began.strftime("%Y-%m-%d %H:%M");
        table.push_str(&format!("{date},{}h{:02},{knob},{rug}\n", minutes / 60, minutes % 60));
    }
    table
}
