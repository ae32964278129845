//! What stands around every page.

use super::desk::Room;
use super::error::Refused;
use super::forms::{Forms, Said};
use super::live::LiveNow;
use crate::app::ports::Clock as _;
use crate::view::words::capital;

/// Where a page can lead to: the address, its word, and whether it needs a wide screen.
pub const PLACES: [(&str, &str, bool); 8] = [
    ("/", "Now", false),
    ("/rugs", "Rugs", false),
    ("/care", "Care", false),
    ("/cloth", "Cloth", false),
    ("/machine", "Machine", false),
    ("/heavy", "Heavy use and hand", false),
    ("/book", "Record book", true),
    ("/settings", "Settings", true),
];

/// What was asked, and from where.
#[derive(Clone, Debug)]
pub struct Asked {
    /// What stands in the address.
    pub said: Said,
    /// Tokens of forms.
    pub forms: Forms,
    /// What the board tells.
    pub live: LiveNow,
    /// Whether it is a phone.
    pub is_phone: bool,
}

/// What was saved last, and whether a tap takes it back.
#[derive(Debug)]
pub struct SavedLine {
    /// The words.
    pub words: String,
    /// Whether a tap takes it back.
    pub can_be_undone: bool,
}

/// The frame of a page.
#[derive(Debug)]
pub struct Frame {
    /// What it is called.
    pub title: String,
    /// The address of its part of the whole.
    pub place: &'static str,
    /// The machine's number, as an addition to an address; empty where none was asked for.
    pub machine: String,
    /// What was saved last.
    pub saved: Option<SavedLine>,
    /// Whether strokes come in.
    pub hands_off: bool,
    /// Whether it is a phone.
    pub is_phone: bool,
    forms: Forms,
}

impl Frame {
    /// Frames a page.
    ///
    /// # Errors
    /// When the machine asked for is no number.
    pub fn new(
        title: impl Into<String>,
        place: &'static str,
        asked: &Asked,
        room: &Room,
    ) -> Result<Self, Refused> {
        let now = room.clock.now();
        let machine = asked.said.machine()?;
        Ok(Self {
            title: title.into(),
            place,
            machine: machine.map(|number| format!("?machine={number}")).unwrap_or_default(),
            saved: room.saved.as_ref().map(|saved| SavedLine {
                words: capital(&saved.words),
                can_be_undone: saved.can_be_undone(now),
            }),
            hands_off: asked.live.hands_off,
            is_phone: asked.is_phone,
            forms: asked.forms.clone(),
        })
    }

    /// The hidden fields of a form.
    #[must_use]
    pub fn hidden(&self) -> String {
        self.forms.hidden()
    }

    /// The token of a form that keeps its number.
    #[must_use]
    pub fn token(&self) -> String {
        self.forms.token_field()
    }

    /// The places that this page leads to.
    #[must_use]
    pub fn places(&self) -> &'static [(&'static str, &'static str, bool)] {
        &PLACES
    }
}
