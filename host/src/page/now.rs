//! Now: what one glance beside the frame tells, and the taps that answer it.

use askama::Template;
use host_core::sessions::local_day;

use super::answers::written;
use super::desk::Room;
use super::error::Refused;
use super::frame::{Asked, Frame};
use super::live::{ClothNow, LiveNow};
use super::way_in;
use crate::app::hand::People;
use crate::app::ports::Clock as _;
use crate::app::today::{MachineToday, TodayReport, today};
use crate::view;
use crate::view::care::{cloth_wants, ran_since, so_far};
use crate::view::today::{day_name, of_rug};
use crate::view::words::{all_of, clock, count_of, moment};

/// A day whose work waits for a yes.
#[derive(Debug)]
struct DayLine {
    key: String,
    words: String,
    is_of_a_rug: bool,
    more: usize,
}

/// A machine on the page.
#[derive(Debug)]
struct NowLine {
    number: u32,
    name: String,
    who: Option<String>,
    rugs: Vec<String>,
    cloth: Option<ClothNow>,
    is_without_logger: bool,
    timed_since: Option<String>,
    live: Option<LiveNow>,
    day: Option<DayLine>,
    worked: String,
    tear: Option<(String, String)>,
    press: Option<String>,
    evening: Option<String>,
    due: Option<(String, String)>,
    next: Option<String>,
    caution: &'static str,
}

#[derive(Template)]
#[template(path = "page/now.html")]
struct NowPage {
    frame: Frame,
    machine: NowLine,
    others: Vec<(u32, String)>,
}

/// The page.
///
/// # Errors
/// When the database cannot be read, or there is no such machine.
pub fn now(room: &mut Room, asked: &Asked) -> Result<String, Refused> {
    let report = room.held("today", today)?;
    let wanted = asked.said.machine()?.or_else(|| plugged(&report, &asked.live));
    let chosen = match wanted {
        Some(number) => report.machines.iter().find(|machine| machine.machine.0 == number),
        None => {
            report.machines.iter().max_by_key(|machine| machine.last_worked.iter().map(|day| day.day).max())
        }
    };
    let Some(chosen) = chosen else {
        if report.machines.is_empty() {
            return way_in::page(room, asked);
        }
        return Err(Refused::new(
            "there is no machine of that number in use",
            "The page of machines lists them.",
        ));
    };
    let people = People::read(&room.store)?;
    let mut machine = line(&report, chosen, &people, room);
    let is_of_it = asked.live.machine == machine.number || asked.live.machine == 0;
    if let Some(cloth) = asked.live.cloth.clone().filter(|_| asked.live.is_plugged && is_of_it) {
        machine.cloth = Some(cloth);
    }
    machine.live = (!machine.is_without_logger)
        .then(|| LiveNow { is_plugged: asked.live.is_plugged && is_of_it, ..asked.live.clone() });
    let others = report.machines.iter().filter(|other| other.machine != chosen.machine);
    let others = others.map(|other| (other.machine.0, other.machine_name.clone())).collect();
    let mut frame = Frame::new("Now", "/", asked, room)?;
    if report.machines.len() > 1 {
        frame.machine = format!("?machine={}", machine.number);
    }
    written(&NowPage { frame, machine, others })
}

fn plugged(report: &TodayReport, live: &LiveNow) -> Option<u32> {
    let is_known = report.machines.iter().any(|machine| machine.machine.0 == live.machine);
    (live.is_plugged && is_known).then_some(live.machine)
}

fn line(report: &TodayReport, machine: &MachineToday, people: &People, room: &Room) -> NowLine {
    let (care, zone) = (&machine.care, room.clock.zone());
    let day = machine.to_answer.first().map(|day| DayLine {
        key: day.key(),
        words: format!(
            "{}: {}, {}.",
            day_name(day.day, report.today),
            of_rug(day),
            count_of(&day.sessions, "session", "sessions")
        ),
        is_of_a_rug: day.rug.is_some(),
        more: machine.to_answer.len() - 1,
    });
    let tear = machine.tears.first().map(|tear| {
        let day = day_name(tear.when.earliest().and_then(|at| local_day(at, &zone)), report.today);
        let rug = tear.rug.as_ref().map_or_else(String::new, |rug| format!(", {rug}"));
        (tear.id.to_string(), format!("Tear {}{rug}: how was the cloth?", day.to_lowercase()))
    });
    let evening: Vec<String> = care.end_of_day.iter().map(|task| task.task.clone()).collect();
    NowLine {
        number: machine.machine.0,
        name: machine.machine_name.clone(),
        who: machine.person.map(|person| people.called(person)),
        rugs: machine.rugs.iter().map(view::rugs::in_short).collect(),
        cloth: machine.cloth.as_ref().map(|task| ClothNow {
            ran: ran_since(task),
            wants: cloth_wants(task),
            is_due: task.is_asked_for(),
        }),
        is_without_logger: machine.is_without_logger,
        timed_since: machine.timer.as_ref().map(|timer| clock(timer.begun.at, &zone)),
        live: None,
        day,
        worked: view::today::worked(report, machine),
        tear,
        press: care.presses.first().map(|press| moment(press.press.when, &zone)),
        evening: (!evening.is_empty()).then(|| all_of(&evening)),
        due: care.due.first().map(|task| (task.task.clone(), so_far(task))),
        next: view::today::next(machine),
        caution: machine.caution,
    }
}
