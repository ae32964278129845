//! A day's work that is of another rug.

use askama::Template;

use super::answers::written;
use super::desk::Room;
use super::error::Refused;
use super::frame::{Asked, Frame};
use crate::app::rugs::rug;
use host_core::studio::RugState;

#[derive(Template)]
#[template(path = "page/day.html")]
struct DayPage {
    frame: Frame,
    number: Option<u32>,
    day: String,
    rugs: Vec<String>,
}

/// The page.
///
/// # Errors
/// When the database cannot be read, or no day was named.
pub fn day(room: &mut Room, asked: &Asked) -> Result<String, Refused> {
    let list = room.held("rugs", rug::list)?;
    let begun = list.rugs.iter().filter(|rug| !matches!(rug.state, RugState::Ordered));
    let rugs = begun.map(|rug| rug.rug.clone()).collect();
    let day = asked.said.needed("day", "the day")?.to_owned();
    written(&DayPage {
        frame: Frame::new("Which rug?", "/day", asked, room)?,
        number: asked.said.machine()?,
        day,
        rugs,
    })
}
