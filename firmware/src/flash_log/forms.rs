//! The forms of a segment: how many bits each part of it gets.
//!
//! A form's widths add up to whole bytes, so none is wasted, and the head says which form it is: all that decides an
//! entry's length stands in its first byte. The forms are ordered by length; a segment takes the first that it fits. Chosen by hand after a
//! search over the reference stream and faster, slower and busier ones; a segment that fits none is written whole.

use shared_types::limits::{SAMPLE_MS, SEGMENT_CLOSE_MS};

/// The width that stands for *closed by time*: the run less [`BY_TIME_MS`].
pub(super) const BY_TIME: u8 = 6;
/// The shortest run that a segment closed by time has, in milliseconds.
pub(super) const BY_TIME_MS: u32 = 9_800;

const _: () = assert!(
    SEGMENT_CLOSE_MS >= BY_TIME_MS && SEGMENT_CLOSE_MS + SAMPLE_MS < BY_TIME_MS + (1 << BY_TIME),
    "a segment closed by time must fit its form"
);

/// Bits of the parts of one form.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Form {
    pub(super) continues: bool,
    /// Of the time since the last segment's end; a continuing segment has none.
    pub(super) gap: u8,
    /// Of the run time; [`BY_TIME`] is special.
    pub(super) run: u8,
    /// Of the zigzag difference from the edges expected.
    pub(super) edges: u8,
    /// Of the zigzag change of the angle; zero when it is as it was.
    pub(super) angle: u8,
}

impl Form {
    pub(super) const fn bytes(&self) -> usize {
        (self.gap + self.run + self.edges + self.angle) as usize / 8
    }
}

const fn begins(gap: u8, run: u8, edges: u8, angle: u8) -> Form {
    Form { continues: false, gap, run, edges, angle }
}

const fn goes_on(run: u8, edges: u8, angle: u8) -> Form {
    Form { continues: true, gap: 0, run, edges, angle }
}

/// All forms, the shortest first; the code of a form is its place, counted from one. Released forms never change.
pub(super) const FORMS: [Form; 47] = [
    // One byte.
    goes_on(BY_TIME, 2, 0),
    // Two bytes: the rest of a burst, or a knob on its way.
    goes_on(BY_TIME, 10, 0),
    goes_on(14, 2, 0),
    goes_on(13, 3, 0),
    goes_on(12, 4, 0),
    goes_on(10, 6, 0),
    goes_on(7, 2, 7),
    // Three bytes.
    begins(16, BY_TIME, 2, 0),
    begins(15, BY_TIME, 3, 0),
    begins(14, BY_TIME, 4, 0),
    begins(13, BY_TIME, 5, 0),
    begins(12, BY_TIME, 6, 0),
    begins(13, 10, 1, 0),
    begins(12, 11, 1, 0),
    begins(11, 12, 1, 0),
    begins(11, 11, 2, 0),
    begins(10, 12, 2, 0),
    begins(10, 13, 1, 0),
    goes_on(14, 10, 0),
    goes_on(BY_TIME, 6, 12),
    goes_on(9, 5, 10),
    goes_on(10, 2, 12),
    // Four bytes: the usual burst.
    begins(14, 14, 4, 0),
    begins(13, 14, 5, 0),
    begins(15, 14, 3, 0),
    begins(16, 14, 2, 0),
    begins(15, 13, 4, 0),
    begins(16, 13, 3, 0),
    begins(14, 13, 5, 0),
    begins(18, BY_TIME, 8, 0),
    goes_on(14, 6, 12),
    goes_on(12, 8, 12),
    // Five bytes: most often the knob has moved.
    begins(18, 14, 8, 0),
    begins(24, BY_TIME, 10, 0),
    begins(13, BY_TIME, 9, 12),
    begins(15, BY_TIME, 7, 12),
    begins(12, 12, 4, 12),
    begins(13, 11, 4, 12),
    goes_on(14, 14, 12),
    // Six bytes.
    begins(14, 14, 8, 12),
    begins(13, 14, 9, 12),
    begins(15, 13, 8, 12),
    begins(18, BY_TIME, 12, 12),
    begins(26, 14, 8, 0),
    // Seven bytes: after a longer pause.
    begins(18, 14, 12, 12),
    begins(24, 14, 6, 12),
    begins(26, 14, 16, 0),
];

const _: () = {
    let mut place = 0;
    let mut before = 1;
    while let Some(form) = at(place) {
        assert!((form.gap + form.run + form.edges + form.angle).is_multiple_of(8), "a form is whole bytes");
        assert!(form.bytes() >= before, "the shortest form comes first");
        assert!(!form.continues || form.gap == 0, "what goes on has no gap");
        before = form.bytes();
        place += 1;
    }
    assert!((before + 2) * 8 <= 119, "the short check finds three flipped bits in up to 119");
};

const fn at(place: usize) -> Option<Form> {
    match FORMS.split_at_checked(place) {
        Some((_, [form, ..])) => Some(*form),
        _ => None,
    }
}
