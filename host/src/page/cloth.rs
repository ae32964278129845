//! Cloth: whether speed tears it, the list of tears, and the picture.

use std::rc::Rc;

use askama::Template;

use super::answers::written;
use super::desk::Room;
use super::error::Refused;
use super::frame::{Asked, Frame};
use crate::app::cloth::{cost, tears};
use crate::app::machines::machine;
use crate::app::ports::Clock as _;
use crate::view::cloth::{in_short, speed, tears as words};
use crate::view::plot;
use crate::view::words::sheet::{Block, Section};
use crate::view::words::{capital, html_of};
use host_core::cloth::{HarmLine, SpeedBy, SpeedReport};
use host_core::stats::Level;

/// What a machine's tears say.
#[derive(Debug)]
struct ClothLine {
    number: u32,
    name: String,
    answer: String,
    ceiling: String,
    bands: String,
    has_picture: bool,
}

#[derive(Template)]
#[template(path = "page/cloth.html")]
struct ClothPage {
    frame: Frame,
    machines: Vec<ClothLine>,
    tears: String,
    several: bool,
}

/// The page.
///
/// # Errors
/// When the database cannot be read, or there is no such machine.
pub fn cloth(room: &mut Room, asked: &Asked) -> Result<String, Refused> {
    let zone = room.clock.zone();
    let wanted = asked.said.machine()?;
    let all = room.held("machines", |store, _| machine::list(store))?;
    let asked_for = all
        .machines
        .iter()
        .map(|line| line.machine)
        .filter(|number| wanted.is_none_or(|only| only == *number));
    let mut machines = Vec::new();
    for number in asked_for {
        let report = speed_of(room, Some(number))?;
        let cost =
            room.held(format!("cost {number}"), |store, _| cost::report(store, Some(number), Level::USUAL))?;
        machines.push(ClothLine {
            number,
            name: report.machine_name.clone(),
            answer: format!("Speed: {}.", speed::answer(&report)),
            ceiling: in_short(&cost),
            bands: bands(&report),
            has_picture: !report.bands.is_empty(),
        });
    }
    let list = room.held("tears", |store, _| tears::list(store))?;
    let lines: Vec<&HarmLine> = list.harms.iter().rev().collect();
    let mut blocks = vec![Block::Text(words::totals(&list))];
    if !lines.is_empty() {
        blocks.push(Block::Table(words::table(&lines, &zone)));
        blocks.extend(words::legend(&lines).iter().map(|line| Block::Note(capital(line))));
    }
    let frame = Frame::new("Cloth", "/cloth", asked, room)?;
    let tears = html_of(&[Section::new("Tears and near-misses", blocks)]);
    written(&ClothPage { frame, several: machines.len() > 1, machines, tears })
}

fn speed_of(room: &Room, machine: Option<u32>) -> Result<Rc<SpeedReport>, Refused> {
    room.held(format!("speed {machine:?}"), |store, _| {
        tears::speed(store, machine, SpeedBy::Knob, Level::USUAL)
    })
}

fn bands(report: &SpeedReport) -> String {
    if report.totals.strokes == 0 {
        return String::new();
    }
    html_of(&[Section::new("", [Block::Table(speed::by_place(report))])])
}

/// The picture, as SVG.
///
/// # Errors
/// When the database cannot be read, there is no such machine, or nothing to draw.
pub fn picture(room: &mut Room, asked: &Asked) -> Result<String, Refused> {
    let report = speed_of(room, asked.said.machine()?)?;
    plot::tears::svg(&report).map_err(|error| Refused::new(error.to_string(), "Please report this."))
}
