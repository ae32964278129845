//! The way in: a machine, with a board or without, and the first rug, from one form.

use askama::Template;
use host_core::entries::{Drive, Pile, WorkChange};

use super::answers::written;
use super::desk::{PageClock, Room};
use super::error::Refused;
use super::forms::Said;
use super::frame::{Asked, Frame};
use crate::app::machines::{NewMachine, add};
use crate::app::ports::Store as _;
use crate::app::rugs::{NewRug, change_work, order};
use crate::app::typed::measures;
use crate::store::Database;

#[derive(Template)]
#[template(path = "page/way_in.html")]
struct WayIn {
    frame: Frame,
}

/// The page.
///
/// # Errors
/// When it cannot be written.
pub fn page(room: &mut Room, asked: &Asked) -> Result<String, Refused> {
    written(&WayIn { frame: Frame::new("Welcome", "/", asked, room)? })
}

/// Enters machine and rug in one act.
///
/// # Errors
/// When something said cannot be, or the database does not take it.
pub fn first(store: &mut Database, clock: &PageClock, said: &Said) -> Result<String, Refused> {
    let machine = NewMachine {
        name: said.get("name").unwrap_or("Machine 1").to_owned(),
        pile: match said.get("pile") {
            Some("loop") => Pile::Loop,
            Some("both") => Pile::CutAndLoop,
            _ => Pile::Cut,
        },
        drive: if said.get("drive") == Some("air") { Drive::Pneumatic } else { Drive::Electric },
        hours_before: (said.get("age") == Some("new")).then_some(0),
        since: None,
        has_logger: Some(said.get("board") == Some("yes")),
        is_second_hand: (said.get("age") == Some("second-hand")).then_some(true),
    };
    let name = machine.name.clone();
    let size_mm = said.get("size").map(measures::size_mm).transpose()?;
    let rug = said.text("rug").map(|name| NewRug { name, size_mm, ..NewRug::default() });
    store.together(|store| {
        add(store, clock, machine.clone())?;
        if let Some(rug) = &rug {
            let name = order(store, clock, rug.clone())?;
            change_work(store, clock, &name.0, WorkChange::Started, None, None)?;
        }
        Ok::<_, Refused>(())
    })?;
    Ok(format!("{name} is entered"))
}
