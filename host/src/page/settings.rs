//! Settings: where everything lies, and the phones that may come in.

use askama::Template;

use super::answers::written;
use super::desk::Room;
use super::error::Refused;
use super::frame::{Asked, Frame};

#[derive(Template)]
#[template(path = "page/settings.html")]
struct SettingsPage {
    frame: Frame,
    file: String,
}

/// The page.
///
/// # Errors
/// When it cannot be written.
pub fn settings(room: &mut Room, asked: &Asked) -> Result<String, Refused> {
    let file = room.store.path().display().to_string();
    written(&SettingsPage { frame: Frame::new("Settings", "/settings", asked, room)?, file })
}
