//! Where should a range of due dates be read? Learns the weights of `host/core/src/care/forecast/place_weights.rs` on made-up makers:
//! in each cell of them both ends should be missed about one time in ten, at places no farther from 0.1 than that takes.

pub mod cells;
pub mod in_words;
pub mod learn;
pub mod loss;

/// One end of a range.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Side {
    /// Missed by what comes true before it.
    Early,
    /// Missed by what comes true after it.
    Late,
}

impl Side {
    /// Both.
    pub const BOTH: [Self; 2] = [Self::Early, Self::Late];
}
