//! What is read as a whole, on a screen or as a page: sections of facts, sentences, tables and lists.

use jiff::tz::TimeZone;
use shared_types::UtcMillis;

use super::clock;
use super::table::Table;

/// Where a sheet is read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Medium {
    /// A terminal: its tables are named by the head of their first column.
    Screen,
    /// A page, to be printed.
    Page,
}

impl Medium {
    /// The words for this medium.
    pub const fn pick(self, screen: &'static str, page: &'static str) -> &'static str {
        match self {
            Self::Screen => screen,
            Self::Page => page,
        }
    }
}

/// What a page is printed on, and its looks.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Paper {
    /// A sheet of A4.
    Sheet,
    /// A card of A5, half of it, to lay beside the rug.
    Card,
    /// A form on A4, to be filled in by hand.
    Form,
    /// The record book, on A4.
    Book,
}

const SHEET: &str = include_str!("sheet.css");
const RECORD_BOOK: &str = include_str!("record_book.css");
const ON_A4: &str = "@page { size: A4; margin: 14mm; }\n";
const FORM: &str = "table { width: 100%; table-layout: fixed; }\nth, td { border: 0.3mm solid #888; }\ntd { height: 9mm; }\n@media screen and (max-width: 130mm) { th { font-size: 7.5pt; padding-inline: 0.3mm; } }\n";
const CARD: &str = "@page { size: A5; margin: 11mm; }\nbody { max-width: 126mm; font-size: 10pt; }\nh1 { font-size: 17pt; }\n";

impl Paper {
    /// The style of a page.
    #[must_use]
    pub fn css(self) -> String {
        match self {
            Self::Sheet => [SHEET, ON_A4].concat(),
            Self::Form => [SHEET, ON_A4, FORM].concat(),
            Self::Card => [SHEET, CARD].concat(),
            Self::Book => RECORD_BOOK.to_owned(),
        }
    }
}

/// A sheet.
#[derive(Debug)]
pub struct Sheet {
    /// What a window of the page is called.
    pub title: String,
    /// What it is about; may be empty.
    pub heading: String,
    /// What kind of sheet it is; may be empty.
    pub kind: &'static str,
    /// What a page of it is printed on.
    pub paper: Paper,
    /// Its sections, in order.
    pub sections: Vec<Section>,
    /// What stands below a page; may be empty.
    pub footer: String,
}

/// A section.
#[derive(Debug)]
pub struct Section {
    /// Its heading; may be empty.
    pub heading: &'static str,
    /// What it holds, in order.
    pub blocks: Vec<Block>,
}

/// A part of a section.
#[derive(Debug)]
pub enum Block {
    /// Pairs of a word and what it is.
    Facts(Vec<(&'static str, String)>),
    /// A sentence or several.
    Text(String),
    /// The sentence that matters most.
    Strong(String),
    /// What there is to add.
    Note(String),
    /// A sentence in a frame.
    Warning(String),
    /// A line that is copied from paper.
    Head(String),
    /// A table.
    Table(Table),
    /// Lines of a list.
    List(Vec<&'static str>),
}

impl Section {
    /// A section.
    pub fn new(heading: &'static str, blocks: impl IntoIterator<Item = Block>) -> Self {
        Self { heading, blocks: blocks.into_iter().collect() }
    }

    /// A table and what there is to add to it.
    pub fn of(heading: &'static str, table: Table, notes: impl IntoIterator<Item = String>) -> Self {
        let notes = notes.into_iter().map(Block::Note);
        Self::new(heading, [Block::Table(table)].into_iter().chain(notes))
    }

    /// Sentences alone.
    pub fn text(text: String) -> Self {
        Self::new("", [Block::Text(text)])
    }
}

/// When a page was written, and from what.
pub fn written(now: UtcMillis, zone: &TimeZone) -> String {
    format!("Written {} from what was counted and what was entered.", clock(now, zone))
}

impl Sheet {
    /// For a terminal.
    #[must_use]
    pub fn text(&self) -> String {
        let sections: Vec<String> = self.sections.iter().map(section).collect();
        let heading = if self.heading.is_empty() { String::new() } else { format!("{}\n", self.heading) };
        format!("{heading}{}", sections.join("\n\n"))
    }
}

fn section(section: &Section) -> String {
    let heading = Some(section.heading.to_owned()).filter(|heading| !heading.is_empty());
    let blocks = section.blocks.iter().map(|block| match block {
        Block::Facts(facts) => lines(facts.iter().map(|(what, is)| format!("  {what}: {is}"))),
        Block::List(all) => lines(all.iter().map(|line| format!("- {line}"))),
        Block::Table(table) => table.text(),
        Block::Text(text) | Block::Strong(text) | Block::Note(text) => text.clone(),
        Block::Warning(text) | Block::Head(text) => text.clone(),
    });
    lines(heading.into_iter().chain(blocks))
}

fn lines(lines: impl Iterator<Item = String>) -> String {
    lines.collect::<Vec<_>>().join("\n")
}
