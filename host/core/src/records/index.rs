//! Places in lists, in half the room of `usize`: a million bursts hold several each.

/// A place in a list; of one with more than four thousand million items, the last place that it can tell.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Index(u32);

impl Index {
    /// This place.
    #[must_use]
    #[expect(clippy::cast_possible_truncation, reason = "checked; `try_from` is not const")]
    pub const fn of(place: usize) -> Self {
        Self(if place > u32::MAX as usize { u32::MAX } else { place as u32 })
    }

    /// The place.
    #[must_use]
    pub const fn place(self) -> usize {
        self.0 as usize
    }
}
