//! Who works.

use askama::Template;

use super::answers::written;
use super::desk::{PageClock, Room};
use super::error::Refused;
use super::forms::Said;
use super::frame::{Asked, Frame};
use crate::app::hand::who::{WhoSaid, say};
use crate::app::hand::{People, add};
use crate::app::ports::Clock as _;
use crate::app::ports::Store as _;
use crate::app::typed::dates::Given;
use crate::store::Database;

#[derive(Template)]
#[template(path = "page/who.html")]
struct WhoPage {
    frame: Frame,
    number: Option<u32>,
    people: Vec<String>,
}

/// The page.
///
/// # Errors
/// When the database cannot be read.
pub fn who(room: &mut Room, asked: &Asked) -> Result<String, Refused> {
    let known = People::read(&room.store)?;
    let people = known.people.iter().filter(|person| person.name.is_some());
    let people = people.map(|person| known.called(person.person)).collect();
    let frame = Frame::new("Who works?", "/who", asked, room)?;
    written(&WhoPage { frame, number: asked.said.machine()?, people })
}

/// Says who works from now on; a new name is entered first.
///
/// # Errors
/// When the name cannot be, or the database does not take it.
pub fn set(store: &mut Database, clock: &PageClock, said: &Said) -> Result<String, Refused> {
    let name = said.get("new").or_else(|| said.get("who"));
    let name =
        name.ok_or_else(|| Refused::new("the name is missing", "Fill it in and tap again."))?.to_owned();
    let is_new = said.get("new").is_some();
    let machine = said.machine()?;
    store.together(|store| {
        if is_new {
            add(store, clock, &name)?;
        }
        let from = Some(Given::Moment(clock.now()));
        say(store, clock, &WhoSaid { person: name.clone(), from, machine, ..WhoSaid::default() })?;
        Ok::<_, Refused>(format!("{name} works from now on"))
    })
}
