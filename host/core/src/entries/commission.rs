//! Entries about what a commission is and takes besides running: how it is made, its stages, its yarn, its materials, the
//! work around the frame, and what an hour of it costs.

use serde::{Deserialize, Serialize};
use shared_types::UtcMillis;

use super::amount::Money;
use super::sample::Style;
use super::{EntryId, RugName};

/// How a commission is made. Each entry tells all of it; the last one counts.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct RugDescribed {
    /// Which.
    pub rug: RugName,
    /// Cut, looped or both.
    pub style: Option<Style>,
    /// Height of the pile in tenths of a millimetre.
    pub pile_height_tenths_mm: Option<u32>,
    /// The colours of the design, as the maker calls them.
    pub colours: Vec<String>,
}

/// A stage of the tufting.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Stage {
    /// Lines around the shapes.
    Outline,
    /// Areas.
    Fill,
    /// Lettering and fine things.
    Detail,
    /// Pulled out and tufted anew.
    Rework,
}

/// From a moment on a commission is in a stage, until the next such entry.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct StageBegun {
    /// Which commission.
    pub rug: RugName,
    /// The stage; none: no stage any more.
    pub stage: Option<Stage>,
    /// From when on.
    pub at: UtcMillis,
}

/// What became of the yarn that was put on the scales.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum YarnMove {
    /// Taken for the commission.
    Out,
    /// Brought back from it.
    Back,
    /// Stays with the commission; only weighed.
    Left,
}

/// Yarn of one colour was weighed.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct YarnWeighed {
    /// For which commission.
    pub rug: RugName,
    /// The colour, as the maker calls it.
    pub colour: String,
    /// What became of it.
    pub moved: YarnMove,
    /// Weight in milligrams.
    pub weight_mg: u64,
    /// When.
    pub at: UtcMillis,
}

/// Something that a commission used up and that was paid for.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct MaterialUsed {
    /// For which commission.
    pub rug: RugName,
    /// What, in the maker's words.
    pub what: String,
    /// Its price.
    pub amount: Money,
    /// When.
    pub at: UtcMillis,
}

/// Work on a commission away from the frame.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum JobKind {
    /// Putting the cloth on the frame.
    Stretching,
    /// Bringing the drawing onto the cloth.
    Tracing,
    /// Gluing the back.
    Gluing,
    /// Waiting for the glue. Nobody works.
    Drying,
    /// Shearing and carving the pile.
    Shearing,
    /// Backing cloth and edge.
    Backing,
    /// Anything else.
    Other,
    /// Drawing the design.
    Designing,
    /// Talking with whoever ordered it.
    Client,
    /// Packing and sending.
    Packing,
}

impl JobKind {
    /// Whether it is work of hands; drying is waiting.
    #[must_use]
    pub const fn is_labour(self) -> bool {
        !matches!(self, Self::Drying)
    }
}

/// A timer was started.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct JobStarted {
    /// For what.
    pub job: JobKind,
    /// For which commission.
    pub rug: Option<RugName>,
    /// When.
    pub at: UtcMillis,
    /// Anything else.
    pub note: Option<String>,
}

/// A timer was stopped.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct JobStopped {
    /// The entry that started it.
    pub started: EntryId,
    /// When.
    pub at: UtcMillis,
}

/// Job time written down without a timer.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct JobAdded {
    /// For what.
    pub job: JobKind,
    /// For which commission.
    pub rug: Option<RugName>,
    /// How long, in milliseconds.
    pub lasted_ms: u64,
    /// When it was, about.
    pub at: UtcMillis,
    /// Anything else.
    pub note: Option<String>,
}

/// What an hour of the maker's work costs, and in which currency all amounts are. The last entry counts, each part for
/// itself.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct MoneyTerms {
    /// An hour of labour.
    pub wage_per_hour: Option<Money>,
    /// The currency, as it stands on a bill.
    pub currency: Option<String>,
}
