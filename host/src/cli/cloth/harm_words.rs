//! The words in which the maker answers questions about a tear.

use clap::ValueEnum;

use host_core::entries::Stage;
use host_core::entries::harm_answers::{NeedleLook, Place, Repair, Tension, Travel};

/// Yes or no; not known is simply not said.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum YesNo {
    /// Yes.
    Yes,
    /// No.
    No,
}

impl YesNo {
    /// Whether it is yes.
    pub fn is_yes(self) -> bool {
        self == Self::Yes
    }
}

/// See [`Stage`].
#[derive(Clone, Copy, Debug, ValueEnum)]
pub enum StageWord {
    /// The outline.
    Outline,
    /// The fill.
    Fill,
    /// Small detail.
    Detail,
    /// Lines made anew.
    Rework,
}

impl From<StageWord> for Stage {
    fn from(word: StageWord) -> Self {
        match word {
            StageWord::Outline => Self::Outline,
            StageWord::Fill => Self::Fill,
            StageWord::Detail => Self::Detail,
            StageWord::Rework => Self::Rework,
        }
    }
}

/// See [`Tension`].
#[derive(Clone, Copy, Debug, ValueEnum)]
pub enum TensionWord {
    /// It gave way.
    Slack,
    /// Like a drum.
    Right,
    /// Hard, with a rebound.
    Hard,
}

impl From<TensionWord> for Tension {
    fn from(word: TensionWord) -> Self {
        match word {
            TensionWord::Slack => Self::Slack,
            TensionWord::Right => Self::Right,
            TensionWord::Hard => Self::Hard,
        }
    }
}

/// See [`Place`].
#[derive(Clone, Copy, Debug, ValueEnum)]
pub enum PlaceWord {
    /// In the middle.
    Centre,
    /// Near an edge.
    Edge,
    /// In a corner.
    Corner,
    /// Near an earlier repair.
    NearRepair,
}

impl From<PlaceWord> for Place {
    fn from(word: PlaceWord) -> Self {
        match word {
            PlaceWord::Centre => Self::Centre,
            PlaceWord::Edge => Self::Edge,
            PlaceWord::Corner => Self::Corner,
            PlaceWord::NearRepair => Self::NearRepair,
        }
    }
}

/// See [`NeedleLook`].
#[derive(Clone, Copy, Debug, ValueEnum)]
pub enum NeedleWord {
    /// Smooth.
    Smooth,
    /// Rough, with a burr.
    Rough,
}

impl From<NeedleWord> for NeedleLook {
    fn from(word: NeedleWord) -> Self {
        match word {
            NeedleWord::Smooth => Self::Smooth,
            NeedleWord::Rough => Self::Rough,
        }
    }
}

/// See [`Repair`].
#[derive(Clone, Copy, Debug, ValueEnum)]
pub enum RepairWord {
    /// Nothing needed, or threads coaxed back.
    Coaxed,
    /// Patched or darned.
    Patched,
    /// The design was moved, or the place hidden.
    Hidden,
    /// The rug was given up.
    Abandoned,
}

impl From<RepairWord> for Repair {
    fn from(word: RepairWord) -> Self {
        match word {
            RepairWord::Coaxed => Self::Coaxed,
            RepairWord::Patched => Self::Patched,
            RepairWord::Hidden => Self::Hidden,
            RepairWord::Abandoned => Self::Abandoned,
        }
    }
}

/// See [`Travel`].
#[derive(Clone, Copy, Debug, ValueEnum)]
pub enum TravelWord {
    /// The way the foot points.
    WithFoot,
    /// Slid sideways.
    Sideways,
    /// Backwards.
    Back,
    /// While it was being turned.
    Turning,
}

impl From<TravelWord> for Travel {
    fn from(word: TravelWord) -> Self {
        match word {
            TravelWord::WithFoot => Self::WithFoot,
            TravelWord::Sideways => Self::Sideways,
            TravelWord::Back => Self::Back,
            TravelWord::Turning => Self::Turning,
        }
    }
}
