//! Bands: ranges of the knob's travel or of the stroke rate, into which running is sorted.

use serde::{Serialize, Serializer};

use super::knob::PerMille;

/// A quarter of the knob's travel.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum KnobBand {
    /// 0 to 249 per mille.
    Slowest,
    /// 250 to 499 per mille.
    LowerMiddle,
    /// 500 to 749 per mille.
    UpperMiddle,
    /// 750 to 1000 per mille.
    Fastest,
    /// The knob's place is not known: no sensor, a fault, or no end marks.
    Unknown,
}

impl KnobBand {
    /// All bands, slow to fast, the unknown one last.
    pub const ALL: [Self; 5] =
        [Self::Slowest, Self::LowerMiddle, Self::UpperMiddle, Self::Fastest, Self::Unknown];

    /// The band of a place.
    #[must_use]
    pub const fn of(place: Option<PerMille>) -> Self {
        match place {
            None => Self::Unknown,
            Some(place) => match place.get() {
                0..250 => Self::Slowest,
                250..500 => Self::LowerMiddle,
                500..750 => Self::UpperMiddle,
                _ => Self::Fastest,
            },
        }
    }

    /// Its place in [`KnobBand::ALL`].
    #[must_use]
    pub const fn index(self) -> usize {
        match self {
            Self::Slowest => 0,
            Self::LowerMiddle => 1,
            Self::UpperMiddle => 2,
            Self::Fastest => 3,
            Self::Unknown => 4,
        }
    }

    /// Its name in `--json`.
    #[must_use]
    pub const fn key(self) -> &'static str {
        match self {
            Self::Slowest => "slowest_quarter",
            Self::LowerMiddle => "lower_middle_quarter",
            Self::UpperMiddle => "upper_middle_quarter",
            Self::Fastest => "fastest_quarter",
            Self::Unknown => "unknown",
        }
    }
}

impl Serialize for KnobBand {
    fn serialize<S: Serializer>(&self, out: S) -> Result<S::Ok, S::Error> {
        out.serialize_str(self.key())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_quarters_meet_without_gap_or_overlap() {
        let band = |per_mille| KnobBand::of(PerMille::new(per_mille));
        assert_eq!([0, 249].map(band), [KnobBand::Slowest; 2]);
        assert_eq!([250, 499].map(band), [KnobBand::LowerMiddle; 2]);
        assert_eq!([500, 749].map(band), [KnobBand::UpperMiddle; 2]);
        assert_eq!([750, 1000].map(band), [KnobBand::Fastest; 2]);
        assert_eq!([1001, u16::MAX].map(band), [KnobBand::Unknown; 2]);
    }

    #[test]
    fn every_band_knows_its_place() {
        for (place, band) in KnobBand::ALL.into_iter().enumerate() {
            assert_eq!(band.index(), place);
        }
    }
}
