//! Pages to print: the sheet and card of a rug, the record book of a machine, and the page that leads to it.

use askama::Template;

use super::answers::written;
use super::desk::Room;
use super::error::Refused;
use super::frame::{Asked, Frame};
use crate::app::book::record_book;
use crate::app::machines::machine;
use crate::app::ports::Clock as _;
use crate::view;
use crate::view::words::sheet::Medium;

/// The sheet of a rug.
///
/// # Errors
/// When there is no such rug, or the database cannot be read.
pub fn rug_sheet(room: &mut Room, asked: &Asked) -> Result<String, Refused> {
    let sheet = super::rugs::sheet_of(room, asked)?;
    let page = view::rugs::sheet::maker(&sheet, Medium::Page, room.clock.now(), &room.clock.zone());
    Ok(page.html_linked("/paper/sheet.css"))
}

/// The card of a rug.
///
/// # Errors
/// As [`rug_sheet`].
pub fn rug_card(room: &mut Room, asked: &Asked) -> Result<String, Refused> {
    let sheet = super::rugs::sheet_of(room, asked)?;
    Ok(view::rugs::sheet::client(&sheet.as_ref().clone().card(), &room.clock.zone())
        .html_linked("/paper/card.css"))
}

/// The record book of a machine.
///
/// # Errors
/// When there is no such machine, or the database cannot be read.
pub fn record_book(room: &mut Room, asked: &Asked) -> Result<String, Refused> {
    let machine = asked.said.machine()?;
    let book =
        room.held(format!("book {machine:?}"), |store, clock| record_book::book(store, clock, machine))?;
    Ok(view::book::sheet(&book, &room.clock.zone()).html_linked("/paper/book.css"))
}

#[derive(Template)]
#[template(path = "page/book.html")]
struct BookPage {
    frame: Frame,
    machines: Vec<(u32, String)>,
}

/// The page that leads to the record books.
///
/// # Errors
/// When the database cannot be read.
pub fn book(room: &mut Room, asked: &Asked) -> Result<String, Refused> {
    let list = room.held("machines", |store, _| machine::list(store))?;
    let machines = list.machines.iter().map(|line| (line.machine, line.name.clone())).collect();
    written(&BookPage { frame: Frame::new("Record book", "/book", asked, room)?, machines })
}
