//! The week card: a page to print and fill in by hand beside the frame, in the order in which it is typed in later.

use crate::app::hand::People;
use crate::view::words::sheet::{Block, Paper, Section, Sheet};
use crate::view::words::table::Column::Words;
use crate::view::words::table::Table;
use host_core::studio::{RugState, Studio};

/// As many lines as a week of two sessions a day takes.
const LINES: usize = 14;

/// The card.
#[must_use]
pub fn week_card(studio: &Studio, people: &People) -> Sheet {
    let mut columns = vec![Words("date"), Words("rug"), Words("from"), Words("to")];
    let several = people.people.len() > 1;
    columns.extend(several.then_some(Words("who")));
    columns.extend(["brush", "screws", "oil", "tears"].map(Words));
    let mut table = Table::new(&columns);
    for _ in 0..LINES {
        table.row(columns.iter().map(|_| "\u{A0}".to_owned()));
    }
    let on_frame: Vec<&str> = studio
        .rugs
        .iter()
        .filter(|rug| rug.state() == RugState::OnTheFrame)
        .map(|rug| rug.order.rug.0.as_str())
        .collect();
    let rugs = if on_frame.is_empty() { "none yet".to_owned() } else { on_frame.join(", ") };
    let machines: Vec<&str> = studio.machines.iter().map(|card| card.name.as_str()).collect();
    let facts =
        vec![("machine", machines.join(", ")), ("on the frame", rugs), ("week of", "\u{A0}".to_owned())];
    let how = "From and to by the clock on the wall; threading and looking count. A tick for brush, screws and oil when it was \
               done, a stroke for each tear. Unplug before hands go near the needle.";
    let typed = "Typed in at the end of the week: needlehours worked 1h40 --when \"26 Nov 18:30\" --rug Fox, or as a table: \
                 needlehours worked --table FILE";
    Sheet {
        title: "Week card".to_owned(),
        heading: "At the frame".to_owned(),
        kind: "week card",
        paper: Paper::Form,
        sections: vec![
            Section::new("", [Block::Facts(facts), Block::Text(how.to_owned())]),
            Section::of("", table, [typed.to_owned()]),
        ],
        footer: String::new(),
    }
}
