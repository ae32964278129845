//! Sessions that the maker typed in, added up.

use serde::Serialize;

use crate::studio::worked::Worked;

/// Sessions that the maker typed in.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Entered {
    /// Motor moving, in milliseconds.
    pub run_time_ms: u64,
    /// At the frame, in milliseconds; of a session of which only the running is known, that.
    pub frame_time_ms: u64,
    /// Sessions.
    pub sessions: u64,
    /// Strokes exist only where they were counted: always null.
    pub strokes: Option<u64>,
    /// Whether some of the running only follows from the time at the frame.
    pub about: bool,
}

impl Entered {
    /// Both together.
    #[must_use]
    pub const fn plus(self, other: Self) -> Self {
        Self {
            run_time_ms: self.run_time_ms.saturating_add(other.run_time_ms),
            frame_time_ms: self.frame_time_ms.saturating_add(other.frame_time_ms),
            sessions: self.sessions.saturating_add(other.sessions),
            strokes: None,
            about: self.about || other.about,
        }
    }

    /// Adds a session.
    pub fn add(&mut self, session: &Worked) {
        self.run_time_ms = self.run_time_ms.saturating_add(session.run_ms);
        self.frame_time_ms = self.frame_time_ms.saturating_add(session.frame_ms());
        self.sessions += 1;
        self.about |= session.is_about;
    }
}
