//! How a page is answered and a tap is done: all work on the database goes over its desk.

use askama::Template;
use axum::http::{StatusCode, header};
use axum::response::{Html, IntoResponse, Redirect, Response};

use super::desk::{PageClock, Room};
use super::error::Refused;
use super::forms::Said;
use super::frame::{Asked, Frame};
use super::guard::Door;
use crate::store::Database;
use crate::view::words::capital;

/// Makes a page.
pub type Make = fn(&mut Room, &Asked) -> Result<String, Refused>;
/// Does what a tap says; returns the words that say so.
pub type Tap = fn(&mut Database, &PageClock, &Said) -> Result<String, Refused>;

/// Fields that are typed: where they go, their name, and their label. What was refused can be corrected where that is told.
const TYPED: [(&str, &str, &str); 7] = [
    ("/tap/first", "name", "The machine's name"),
    ("/tap/first", "rug", "The rug on the frame"),
    ("/tap/first", "size", "Its size"),
    ("/tap/next", "new", "The new rug"),
    ("/tap/next", "size", "Its size"),
    ("/tap/who", "new", "Somebody new"),
    ("/tap/press", "task", "What was done"),
];

/// What is tapped once more: where it goes, and all that was filled in.
#[derive(Debug)]
struct Again {
    action: &'static str,
    fields: Vec<(String, String)>,
}

impl Again {
    fn label(&self, name: &str) -> Option<&'static str> {
        TYPED.iter().find(|(action, field, _)| *action == self.action && *field == name).map(|typed| typed.2)
    }
}

#[derive(Template)]
#[template(path = "page/refused.html")]
struct NotDone {
    frame: Frame,
    heading: &'static str,
    words: String,
    refused: Refused,
    again: Option<Again>,
    back: String,
}

/// A page written out.
///
/// # Errors
/// When it cannot be, which is a mistake of the program.
pub fn written(page: &impl Template) -> Result<String, Refused> {
    page.render().map_err(|_| Refused::new("the page could not be written", "Please report this."))
}

fn asked(door: &Door, said: Said) -> Asked {
    let shared = &door.shared;
    Asked { said, forms: shared.forms.clone(), live: shared.live.borrow().clone(), is_phone: door.is_phone }
}

/// Shows the page of an address.
pub async fn show(door: Door, address: &'static str, make: Make, said: Said) -> Response {
    door.shared.looked.now();
    let asked = asked(&door, said);
    let made = door.shared.desk.ask(move |room| {
        let (what, again) = (format!("{address} {:?}", asked.said), asked.clone());
        // Whoever asks for it is told what is wrong.
        room.was_shown(what, move |room| make(room, &again).map_or_else(drop, drop));
        make(room, &asked).map_err(|refused| {
            let not_shown = Asked { said: Said::default(), ..asked };
            not_done(room, &not_shown, "This cannot be shown", refused, None)
        })
    });
    match made.await {
        Ok(Ok(page)) => Html(page).into_response(),
        Ok(Err(page)) => (StatusCode::NOT_FOUND, Html(page)).into_response(),
        Err(refused) => closed(&refused),
    }
}

/// Shows a picture.
pub async fn picture(door: Door, make: Make, said: Said) -> Response {
    let asked = asked(&door, said);
    match door.shared.desk.ask(move |room| make(room, &asked)).await.flatten() {
        Ok(picture) => ([(header::CONTENT_TYPE, "image/svg+xml")], picture).into_response(),
        Err(_) => StatusCode::NOT_FOUND.into_response(),
    }
}

/// Does a tap, and leads on to a page. A refusal is a page of its own, from which it can be tapped again.
pub async fn tap(door: Door, action: &'static str, act: Tap, can_be_undone: bool, said: Said) -> Response {
    let number = door.shared.forms.number(&said).map(|number| format!("{action} {number}"));
    let back = said.back().to_owned();
    let asked = asked(&door, said);
    let done = door.shared.desk.ask(move |room| {
        let outcome = number.map_err(|refused| (refused, false)).and_then(|number| {
            let said = asked.said.clone();
            let act = move |store: &mut Database, clock: &PageClock| act(store, clock, &said);
            room.tap(&number, can_be_undone, &act).map_err(|refused| (refused, true))
        });
        outcome.map_err(|(refused, is_again)| not_saved(room, asked, refused, is_again.then_some(action)))
    });
    led_on(&door, done.await, &back)
}

/// Takes back what was saved last, and leads on to a page.
pub async fn undo(door: Door, said: Said) -> Response {
    let number = door.shared.forms.number(&said).map(|number| format!("/undo {number}"));
    let back = said.back().to_owned();
    let asked = asked(&door, said);
    let done = door.shared.desk.ask(move |room| {
        let outcome = number.and_then(|number| room.undo(&number));
        outcome.map_err(|refused| not_saved(room, asked, refused, Some("/undo")))
    });
    led_on(&door, done.await, &back)
}

fn led_on(door: &Door, done: Result<Result<(), String>, Refused>, back: &str) -> Response {
    match done {
        Ok(Ok(())) => {
            door.shared.has_changed();
            Redirect::to(back).into_response()
        }
        Ok(Err(page)) => (StatusCode::CONFLICT, Html(page)).into_response(),
        Err(refused) => closed(&refused),
    }
}

fn not_saved(room: &Room, asked: Asked, refused: Refused, action: Option<&'static str>) -> String {
    let fields = asked.said.0.iter().filter(|(name, _)| name != "token").cloned().collect();
    let again = action.map(|action| Again { action, fields });
    not_done(room, &asked, "Not saved", refused, again)
}

fn not_done(
    room: &Room,
    asked: &Asked,
    heading: &'static str,
    refused: Refused,
    again: Option<Again>,
) -> String {
    let back = asked.said.back().to_owned();
    // What was asked for may be what cannot be read.
    let without = Asked { said: Said::default(), ..asked.clone() };
    let page = Frame::new(heading, "/", &without, room).and_then(|mut frame| {
        frame.saved = None;
        written(&NotDone { frame, heading, words: capital(&refused.what), refused, again, back })
    });
    page.unwrap_or_else(|refused| refused.what)
}

fn closed(refused: &Refused) -> Response {
    let words = format!("Not saved: {}. {}", refused.what, refused.remedy);
    (StatusCode::INTERNAL_SERVER_ERROR, [(header::CONTENT_TYPE, "text/plain; charset=utf-8")], words)
        .into_response()
}
