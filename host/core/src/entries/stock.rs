//! Entries about the stock of spares and oil.

use serde::{Deserialize, Serialize};
use shared_types::UtcMillis;

use super::EntryId;

/// A spare or supply, for example "needle" or "oil": small letters, hyphens for blanks.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(transparent)]
pub struct SpareName(pub String);

impl SpareName {
    /// A name as the maker typed it.
    #[must_use]
    pub fn of(typed: &str) -> Self {
        let words: Vec<String> = typed.split_whitespace().map(str::to_lowercase).collect();
        Self(words.join("-"))
    }

    /// In what it is counted until the maker says otherwise: oil by the millilitre, everything else by the piece.
    #[must_use]
    pub fn usual_unit(&self) -> StockUnit {
        if self.0 == "oil" || self.0.ends_with("-oil") { StockUnit::Millilitres } else { StockUnit::Pieces }
    }
}

/// In what a spare is counted.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum StockUnit {
    /// Pieces.
    #[default]
    Pieces,
    /// Millilitres.
    Millilitres,
}

/// What happened to the stock of a spare, in its own unit.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum StockChange {
    /// So much came in.
    In(u32),
    /// So much was used up or thrown away.
    Out(u32),
    /// So much was counted; what was thought before does not matter.
    Counted(u32),
}

/// Spares came in, went out or were counted.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct StockMoved {
    /// What.
    pub item: SpareName,
    /// How much.
    pub change: StockChange,
    /// When.
    pub at: UtcMillis,
    /// Anything else.
    pub note: Option<String>,
    /// The care that used it up; taken back with it.
    #[serde(default)]
    pub of_care: Option<EntryId>,
}

/// How a spare is counted, and at which stock to buy more.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct StockLevelSet {
    /// What.
    pub item: SpareName,
    /// Its unit.
    pub unit: StockUnit,
    /// Buy more when so much or less is left; none: never asked for.
    pub reorder_at: Option<u32>,
}
