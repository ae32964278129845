//! Heavy use of the machines, and vibration of the hand.

use askama::Template;

use super::answers::written;
use super::desk::Room;
use super::error::Refused;
use super::frame::{Asked, Frame};
use super::sentences::{sentences, without_command};
use crate::app::hand::exposure;
use crate::app::heavy;
use crate::app::machines::machine;
use crate::app::ports::Clock as _;
use crate::view;
use crate::view::words::html_of;
use crate::view::words::sheet::{Block, Section};

#[derive(Template)]
#[template(path = "page/heavy.html")]
struct HeavyPage {
    frame: Frame,
    body: String,
}

/// The page.
///
/// # Errors
/// When the database cannot be read, or there is no such machine.
pub fn heavy(room: &mut Room, asked: &Asked) -> Result<String, Refused> {
    let (machine, frame) = (asked.said.machine()?, Frame::new("Heavy use and hand", "/heavy", asked, room)?);
    if room.held("machines", |store, _| machine::list(store))?.machines.is_empty() {
        return written(&HeavyPage { frame, body: String::new() });
    }
    let report =
        room.held(format!("heavy {machine:?}"), |store, clock| heavy::report(store, clock, machine, None))?;
    let hand =
        room.held(format!("hand {machine:?}"), |store, clock| exposure::of_log(store, clock, machine, None))?;
    let of_hand = view::hand::exposure::log_blocks(&hand).into_iter().filter_map(|block| match block {
        Block::Text(text) => {
            let said = without_command(&text);
            (!said.is_empty()).then(|| Block::Text(said.replace("are in --json", "are not shown here")))
        }
        other => Some(other),
    });
    let sections = [
        Section::new("Heavy use", sentences(&view::heavy::text(&report, false, &room.clock.zone()))),
        Section::new("The hand, day by day", of_hand),
    ];
    written(&HeavyPage { frame, body: html_of(&sections) })
}
