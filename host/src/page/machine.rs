//! The machines, and who works with them.

use askama::Template;

use super::answers::written;
use super::desk::Room;
use super::error::Refused;
use super::frame::{Asked, Frame};
use crate::app::cloth::cost;
use crate::app::machines::machine;
use crate::view;
use crate::view::words::html_of;
use crate::view::words::sheet::{Block, Section};

#[derive(Template)]
#[template(path = "page/machine.html")]
struct MachinePage {
    frame: Frame,
    body: String,
    machines: Vec<(u32, String, Option<String>)>,
}

/// The page.
///
/// # Errors
/// When the database cannot be read.
pub fn machine(room: &mut Room, asked: &Asked) -> Result<String, Refused> {
    let list = room.held("machines", |store, _| machine::list(store))?;
    let blocks = if list.machines.is_empty() {
        vec![Block::Text("No machine has been entered yet.".to_owned())]
    } else {
        vec![Block::Table(view::machines::machine::table(&list))]
    };
    let mut machines = Vec::new();
    for line in &list.machines {
        let number = Some(line.machine);
        let now = room.held(format!("ceiling {number:?}"), |store, _| cost::ceiling(store, number))?;
        let ceiling = now.knob_per_mille.map(|_| view::cloth::speed_cost::ceiling(&now));
        machines.push((line.machine, line.name.clone(), ceiling));
    }
    let body = html_of(&[Section::new("All machines", blocks)]);
    written(&MachinePage { frame: Frame::new("Machine", "/machine", asked, room)?, body, machines })
}
