//! What each tap does: one use case, and the words that say so.

use super::answers::Tap;
use super::desk::PageClock;
use super::error::Refused;
use super::forms::Said;
use super::{care, rugs, steps, way_in, who};
use crate::app::care::done::{self, DoneSaid};
use crate::app::care::part_care::{CareSaid, note_all};
use crate::app::cloth::{TearSaid, answer, tears};
use crate::app::sessions::{SessionSaid, stop, timer};
use crate::app::today::{DayWorked, MachineToday, Whose, say_whose, today};
use crate::app::typed::lasting;
use crate::store::Database;
use crate::view::words::{all_of, run_time};
use host_core::entries::RETENSION;
use host_core::entries::harm_answers::{Answers, Tension};

/// Where a tap goes, what it does, and whether one more tap takes it back.
pub const TAPS: &[(&str, Tap, bool)] = &[
    ("/tap/first", way_in::first, false),
    ("/tap/tear", tear, true),
    ("/tap/near", near, true),
    ("/tap/tightened", tightened, true),
    ("/tap/evening", evening, true),
    ("/tap/felt", felt, true),
    ("/tap/begin", begin, true),
    ("/tap/stop", stop_timer, true),
    ("/tap/right", right, true),
    ("/tap/other", other, true),
    ("/tap/who", who::set, true),
    ("/tap/next", rugs::begin, true),
    ("/tap/work", rugs::work, true),
    ("/tap/done", steps::done, true),
    ("/tap/noted", care::noted, true),
    ("/tap/later", care::later, true),
    ("/tap/press", care::press, true),
    ("/tap/accept", care::accept, true),
    ("/tap/back", care::back, false),
    ("/tap/rug-back", rugs::back, false),
];

fn tear(store: &mut Database, clock: &PageClock, said: &Said) -> Result<String, Refused> {
    tears::note(store, clock, &TearSaid { machine: said.machine()?, ..TearSaid::default() })?;
    Ok("a tear. Unplug before you mend".to_owned())
}

fn near(store: &mut Database, clock: &PageClock, said: &Said) -> Result<String, Refused> {
    let noted = TearSaid { machine: said.machine()?, is_near_miss: true, ..TearSaid::default() };
    tears::note(store, clock, &noted)?;
    Ok("nearly torn".to_owned())
}

fn tightened(store: &mut Database, clock: &PageClock, said: &Said) -> Result<String, Refused> {
    let task = RETENSION.to_owned();
    done::done(store, clock, &DoneSaid { task, machine: said.machine()?, ..DoneSaid::default() })?;
    Ok("the cloth was tightened".to_owned())
}

/// The machine that is meant, as it stands now.
fn meant(store: &Database, clock: &PageClock, said: &Said) -> Result<MachineToday, Refused> {
    let number = said.machine()?;
    let report = today(store, clock)?;
    let found =
        report.machines.into_iter().find(|machine| number.is_none_or(|number| machine.machine.0 == number));
    found.ok_or_else(|| Refused::new("there is no such machine in use", "The page of machines lists them."))
}

fn evening(store: &mut Database, clock: &PageClock, said: &Said) -> Result<String, Refused> {
    let machine = meant(store, clock, said)?;
    let names: Vec<String> = machine.care.end_of_day.iter().map(|task| task.task.clone()).collect();
    if names.is_empty() {
        return Err(Refused::new("no end-of-day care is asked for any more", "It was noted meanwhile."));
    }
    let number = Some(machine.machine.0);
    let care = |task: &String| {
        CareSaid::Done(DoneSaid { task: task.clone(), machine: number, ..DoneSaid::default() })
    };
    note_all(store, clock, &names.iter().map(care).collect::<Vec<_>>())?;
    Ok(format!("{} done", all_of(&names)))
}

fn felt(store: &mut Database, clock: &PageClock, said: &Said) -> Result<String, Refused> {
    let (tension, words) = match said.get("felt") {
        Some("slack") => (Tension::Slack, "slack"),
        Some("hard") => (Tension::Hard, "hard"),
        Some("right") => (Tension::Right, "right"),
        _ => return Err(Refused::new("how the cloth felt is missing", "Tap slack, right or hard.")),
    };
    let answers = Answers { tension: Some(tension), ..Answers::default() };
    let id = said.needed("id", "the tear")?;
    answer(store, clock, id, &TearSaid { answers, ..TearSaid::default() })?;
    Ok(format!("the cloth was {words} at tear {id}"))
}

fn begin(store: &mut Database, clock: &PageClock, said: &Said) -> Result<String, Refused> {
    let session = SessionSaid { machine: said.machine()?, ..SessionSaid::default() };
    timer::begin(store, clock, &session)?;
    Ok("at the frame from now on".to_owned())
}

fn stop_timer(store: &mut Database, clock: &PageClock, said: &Said) -> Result<String, Refused> {
    // Who forgot to stop says how long it was; an end is never invented.
    let frame_ms = match said.get("lasted") {
        Some(typed) => Some(lasting::ms(typed).ok_or_else(|| {
            Refused::new(format!("\"{typed}\" is no length of time"), "Write it as 1h40, 90 min or 1.5 h.")
        })?),
        None => None,
    };
    let session = SessionSaid { machine: said.machine()?, frame_ms, ..SessionSaid::default() };
    let report = stop(store, clock, &session, false)?;
    let time = report.session.frame_time_ms.map(run_time).unwrap_or_default();
    Ok(format!("{time} at the frame"))
}

/// The day that was shown, if it still stands so.
fn day(store: &Database, clock: &PageClock, said: &Said) -> Result<DayWorked, Refused> {
    let key = said.needed("day", "the day")?;
    let days = meant(store, clock, said)?.to_answer;
    days.into_iter().find(|day| day.key() == key).ok_or_else(|| {
        Refused::new(
            "that day is no longer asked about",
            "It was answered meanwhile, or more was read of it.",
        )
    })
}

fn right(store: &mut Database, clock: &PageClock, said: &Said) -> Result<String, Refused> {
    let day = day(store, clock, said)?;
    say_whose(store, clock, std::slice::from_ref(&day), &Whose::Right)?;
    Ok(format!("counted to {}", day.rug.unwrap_or_default()))
}

fn other(store: &mut Database, clock: &PageClock, said: &Said) -> Result<String, Refused> {
    let day = day(store, clock, said)?;
    let is_care = said.get("to") == Some("care");
    let whose = if is_care { Whose::Care } else { Whose::Rug(said.needed("rug", "the rug")?.to_owned()) };
    say_whose(store, clock, &[day], &whose)?;
    let to = if is_care { "care" } else { said.get("rug").unwrap_or_default() };
    Ok(format!("counted to {to}"))
}
