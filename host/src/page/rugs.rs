//! Rugs: the list, one of them, the next one on the frame, and a quote.

use std::rc::Rc;

use askama::Template;

use super::answers::written;
use super::desk::{PageClock, Room};
use super::error::Refused;
use super::forms::Said;
use super::frame::{Asked, Frame};
use super::sentences::sentences;
use crate::app::money::Standing;
use crate::app::ports::{Clock as _, Store as _};
use crate::app::rugs::rug::{self, RugLine};
use crate::app::rugs::{NewRug, change_work, history, order, quote, sheet};
use crate::app::typed::measures::size_mm;
use crate::store::Database;
use crate::view::rugs::{progress, quote as quoted, quote_sheet, rug as words, rug_book};
use crate::view::words::sheet::{Medium, Section};
use crate::view::words::{html_of, rug_state};
use host_core::entries::{RugName, WorkChange};
use host_core::rugs::sheet::JobSheet;
use host_core::studio::RugState;

/// How sure a quote is to hold the next rug, as the command has it.
const LEVEL: &str = "0.8";

#[derive(Template)]
#[template(path = "page/rugs.html")]
struct RugsPage {
    frame: Frame,
    rugs: Vec<(String, String)>,
    size: String,
    quote: String,
    has_quote: bool,
}

/// The list, and a quote where a size was asked for.
///
/// # Errors
/// When the database cannot be read, or the size is none.
pub fn rugs(room: &mut Room, asked: &Asked) -> Result<String, Refused> {
    let list = room.held("rugs", rug::list)?;
    let size = asked.said.get("size").unwrap_or_default().to_owned();
    let answer = asked.said.get("size").map(|size| ask(room, asked, size)).transpose()?;
    let (now, zone) = (room.clock.now(), room.clock.zone());
    let sheet = answer.as_ref().and_then(|answer| quote_sheet::sheet(answer, Medium::Page, now, &zone));
    let has_quote = sheet.is_some();
    let quote = match (sheet, answer) {
        (Some(sheet), _) => html_of(&sheet.sections),
        (None, Some(answer)) => html_of(&[Section::new("", sentences(&quoted::cannot_tell(&answer)))]),
        (None, None) => String::new(),
    };
    let page = RugsPage {
        frame: Frame::new("Rugs", "/rugs", asked, room)?,
        rugs: list.rugs.iter().map(|rug| (rug.rug.clone(), words::in_a_line(rug))).collect(),
        size,
        has_quote,
        quote,
    };
    written(&page)
}

fn ask(room: &Room, asked: &Asked, size: &str) -> Result<Rc<quote::QuoteAnswer>, Refused> {
    let wish = quote::QuoteAsked {
        size_mm: size_mm(size)?,
        style: None,
        colours: None,
        level: quote::level(LEVEL)?,
        machine: asked.said.machine()?,
        wage: None,
    };
    room.held(format!("quote {size} {:?}", wish.machine), |store, clock| quote::ask(store, clock, &wish))
}

/// The quote as a page to print.
///
/// # Errors
/// As [`rugs`], and when there is nothing to put on it yet.
pub fn quote_paper(room: &mut Room, asked: &Asked) -> Result<String, Refused> {
    let answer = ask(room, asked, asked.said.needed("size", "the size")?)?;
    let sheet = quote_sheet::sheet(&answer, Medium::Page, room.clock.now(), &room.clock.zone());
    let sheet = sheet
        .ok_or_else(|| Refused::new("nothing can be told yet", "Finish a rug, or time a sample square."))?;
    Ok(sheet.html_linked("/paper/sheet.css"))
}

#[derive(Template)]
#[template(path = "page/rug.html")]
struct RugPage {
    frame: Frame,
    name: String,
    state: &'static str,
    along: String,
    /// What can become of it: the word in the address, and on the button.
    changes: Vec<(&'static str, &'static str)>,
    past: Vec<(i64, String, bool)>,
}

/// The sheet of the rug that was asked for.
///
/// # Errors
/// When there is no such rug, or the database cannot be read.
pub fn sheet_of(room: &Room, asked: &Asked) -> Result<Rc<JobSheet>, Refused> {
    let name = asked.said.needed("name", "the rug")?;
    room.held(format!("sheet {name}"), |store, clock| sheet::sheet(store, clock, name))
}

/// One rug.
///
/// # Errors
/// When there is no such rug, or the database cannot be read.
pub fn one(room: &mut Room, asked: &Asked) -> Result<String, Refused> {
    let zone = room.clock.zone();
    let sheet = sheet_of(room, asked)?;
    let name = sheet.ordered.rug.clone();
    let list = room.held("rugs", rug::list)?;
    let state = list.rugs.iter().find(|rug| rug.rug == name).map_or(RugState::Ordered, |rug| rug.state);
    let along =
        room.held(format!("progress {name}"), |store, clock| sheet::progress(store, clock, Some(&name)))?;
    let past = room.held(format!("history {name}"), |store, _| history::history(store, &name))?;
    let past = past.entries.iter().rev().map(|line| {
        let is_back = matches!(line.standing, Standing::TakenBack { .. });
        (line.entry.0, rug_book::said(line, &zone), !is_back)
    });
    let page = RugPage {
        frame: Frame::new(name.clone(), "/rugs", asked, room)?,
        state: rug_state(state),
        along: html_of(&[Section::new("", sentences(&progress::text(&along)))]),
        changes: changes(state),
        past: past.collect(),
        name,
    };
    written(&page)
}

fn changes(state: RugState) -> Vec<(&'static str, &'static str)> {
    match state {
        RugState::Ordered | RugState::Resting => vec![("start", "Onto the frame"), ("finish", "Finished")],
        RugState::OnTheFrame => vec![("finish", "Finished"), ("rest", "Rests")],
        RugState::Finished => vec![("deliver", "Delivered"), ("start", "Onto the frame again")],
        RugState::Delivered => Vec::new(),
    }
}

#[derive(Template)]
#[template(path = "page/next_rug.html")]
struct NextPage {
    frame: Frame,
    number: Option<u32>,
    on_the_frame: Vec<String>,
    waiting: Vec<String>,
}

/// The next rug on the frame.
///
/// # Errors
/// When the database cannot be read.
pub fn next(room: &mut Room, asked: &Asked) -> Result<String, Refused> {
    let list = room.held("rugs", rug::list)?;
    let of = |is_it: fn(&RugLine) -> bool| {
        list.rugs.iter().filter(|rug| is_it(rug)).map(|rug| rug.rug.clone()).collect()
    };
    let page = NextPage {
        frame: Frame::new("Next rug", "/rugs", asked, room)?,
        number: asked.said.machine()?,
        on_the_frame: of(|rug| rug.state == RugState::OnTheFrame),
        waiting: of(|rug| matches!(rug.state, RugState::Ordered | RugState::Resting)),
    };
    written(&page)
}

/// Begins the next rug; what becomes of the one before is said with it. A new one is entered first.
///
/// # Errors
/// When there is no such rug, the size is none, or the database does not take it.
pub fn begin(store: &mut Database, clock: &PageClock, said: &Said) -> Result<String, Refused> {
    let machine = said.machine()?;
    let size_mm = said.get("size").map(size_mm).transpose()?;
    let before = said.text("before");
    let change = if said.get("becomes") == Some("rests") { WorkChange::Paused } else { WorkChange::Finished };
    store.together(|store| {
        if let Some(before) = &before {
            change_work(store, clock, before, change, None, None)?;
        }
        let name = match said.text("new") {
            Some(name) => order(store, clock, NewRug { name, size_mm, ..NewRug::default() })?,
            None => RugName(said.needed("rug", "the rug")?.to_owned()),
        };
        change_work(store, clock, &name.0, WorkChange::Started, machine, None)?;
        Ok::<_, Refused>(format!("{} is on the frame", name.0))
    })
}

/// A rug is started, rests, is finished or delivered.
///
/// # Errors
/// When there is no such rug, it cannot be, or the database does not take it.
pub fn work(store: &mut Database, clock: &PageClock, said: &Said) -> Result<String, Refused> {
    let (change, words) = match said.get("becomes") {
        Some("start") => (WorkChange::Started, "is on the frame"),
        Some("rest") => (WorkChange::Paused, "rests"),
        Some("finish") => (WorkChange::Finished, "is finished"),
        Some("deliver") => (WorkChange::Delivered, "is delivered"),
        _ => return Err(Refused::new("what becomes of it is missing", "Go back and tap again.")),
    };
    let name = said.needed("rug", "the rug")?;
    change_work(store, clock, name, change, said.machine()?, None)?;
    Ok(format!("{name} {words}"))
}

/// Takes back what was said of a rug.
///
/// # Errors
/// When it cannot be, or the database does not take it.
pub fn back(store: &mut Database, clock: &PageClock, said: &Said) -> Result<String, Refused> {
    let entry = said.whole::<i64>("entry")?;
    let entry = entry.ok_or_else(|| Refused::new("the entry is missing", "Go back and tap again."))?;
    history::take_back(store, clock, entry, "")?;
    Ok(format!("entry {entry} is taken back; it stays visible and counts no more"))
}
