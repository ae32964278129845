//! What all answers of the server are made from.

use std::sync::Arc;

use tokio::sync::{Semaphore, watch};

use super::desk::Desk;
use super::forms::Forms;
use super::live::{LiveNow, Looked};
use super::phones::Phones;

/// Streams of live values to phones at once.
pub const MOST_PHONE_STREAMS: usize = 8;

/// What the answers share.
#[derive(Clone)]
pub struct Shared {
    /// The way to the database.
    pub desk: Desk,
    /// Tokens of forms.
    pub forms: Forms,
    /// What the board tells.
    pub live: watch::Receiver<LiveNow>,
    /// Grows whenever something was saved or read.
    pub changes: Arc<watch::Sender<u64>>,
    /// When somebody last looked.
    pub looked: Looked,
    /// True when the server ends.
    pub ends: watch::Receiver<bool>,
    /// The phones that may come in.
    pub phones: Arc<Phones>,
    /// Streams to phones that may still be opened.
    pub phone_streams: Arc<Semaphore>,
}

impl Shared {
    /// Everybody who looks is told to look anew.
    pub fn has_changed(&self) {
        self.changes.send_modify(|changes| *changes += 1);
    }
}
