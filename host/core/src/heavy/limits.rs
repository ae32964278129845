//! The limits of heavy use: start values, where they come from, and the maker's own.

use serde::Serialize;
use shared_types::MachineTag;

use crate::entries::{HeavyLimit, HeavyLimitSet};
use crate::stats::number;

/// How well a limit is founded.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Source {
    /// The maker set it.
    SetByYou,
    /// The maker entered it from the machine's plate or manual; the words are those of IEC 60034-1.
    DutyRating,
    /// "Carbon Buildup", a page of a sewing-machine repair institute on brushed motors.
    CarbonBuildup,
    /// "Understanding Why Power Tool Motors Overheat", an article.
    MotorsOverheat,
    /// Common practice among makers; no source could be named.
    CommonPracticeNoSource,
    /// Engineering memory; nobody could be named.
    FromMemoryNoSource,
    /// The logger's own watch over its sensors.
    Logger,
    /// The control charts of `slowing`.
    Slowing,
}

impl Source {
    /// The mark in words.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::SetByYou => "limit set by you",
            Self::DutyRating => "duty rating as you entered it, in the words of IEC 60034-1",
            Self::CarbonBuildup => {
                "\"Carbon Buildup\", a sewing-machine repair institute's page on brushed motors; the number is from memory"
            }
            Self::MotorsOverheat => {
                "the article \"Understanding Why Power Tool Motors Overheat\"; the number is from memory"
            }
            Self::CommonPracticeNoSource => "common practice, no source",
            Self::FromMemoryNoSource => "from memory, no source",
            Self::Logger => "the logger's own watch over its sensors",
            Self::Slowing => "the charts of `needlehours slowing`",
        }
    }
}

impl HeavyLimit {
    /// All that can be set, in the order in which they are listed.
    pub const ALL: [Self; 8] = [
        Self::RunMinutes,
        Self::StretchMinutes,
        Self::PauseSeconds,
        Self::WindowMinutes,
        Self::KnobCeilingPercent,
        Self::DayHours,
        Self::SlowStrokesPerSecond,
        Self::SlowSharePercent,
    ];

    /// The start value in thousandths of the unit; none: not judged until the maker sets it.
    #[must_use]
    pub const fn start_thousandths(self) -> Option<u32> {
        match self {
            Self::RunMinutes | Self::WindowMinutes => Some(10_000),
            Self::StretchMinutes | Self::PauseSeconds => Some(30_000),
            Self::KnobCeilingPercent | Self::SagPercent => None,
            Self::DayHours => Some(5_000),
            Self::SlowStrokesPerSecond => Some(6_000),
            Self::SlowSharePercent => Some(50_000),
        }
    }

    /// The lowest and the highest value that make sense, in the unit.
    #[must_use]
    pub const fn range(self) -> (u32, u32) {
        match self {
            Self::RunMinutes | Self::StretchMinutes | Self::WindowMinutes => (1, 240),
            Self::PauseSeconds => (1, 600),
            Self::KnobCeilingPercent | Self::SlowSharePercent | Self::SagPercent => (1, 100),
            Self::DayHours => (1, 24),
            Self::SlowStrokesPerSecond => (1, 45),
        }
    }

    /// Whether it can be switched off; a window and a pause are part of what is measured.
    #[must_use]
    pub const fn can_be_off(self) -> bool {
        !matches!(self, Self::PauseSeconds | Self::WindowMinutes)
    }

    /// Where its start value comes from.
    #[must_use]
    pub const fn source(self) -> Source {
        match self {
            Self::RunMinutes => Source::MotorsOverheat,
            Self::StretchMinutes => Source::CommonPracticeNoSource,
            Self::SlowStrokesPerSecond | Self::SlowSharePercent => Source::CarbonBuildup,
            Self::PauseSeconds
            | Self::WindowMinutes
            | Self::KnobCeilingPercent
            | Self::DayHours
            | Self::SagPercent => Source::FromMemoryNoSource,
        }
    }
}

/// A limit in force.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct LimitInForce {
    /// Its value in thousandths of its unit; none where it is off.
    pub thousandths: Option<u32>,
    /// Where it comes from.
    pub source: Source,
}

impl LimitInForce {
    /// The value in its unit.
    #[must_use]
    pub fn value(self) -> Option<f64> {
        self.thousandths.map(|thousandths| number(u64::from(thousandths)) / 1_000.0)
    }

    /// The value in milliseconds, for a unit of so many.
    #[must_use]
    pub fn ms(self, ms_per_unit: u64) -> Option<u64> {
        self.thousandths.map(|thousandths| u64::from(thousandths) * ms_per_unit / 1_000)
    }
}

/// All limits of a machine as they are now.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Limits {
    set: Vec<HeavyLimitSet>,
}

impl Limits {
    /// The limits of a machine; `set` in the order of entry.
    #[must_use]
    pub fn of<'a>(machine: MachineTag, set: impl IntoIterator<Item = &'a HeavyLimitSet>) -> Self {
        Self { set: set.into_iter().filter(|one| one.machine == machine).copied().collect() }
    }

    /// A limit as it is now.
    #[must_use]
    pub fn get(&self, limit: HeavyLimit) -> LimitInForce {
        match self.set.iter().rfind(|set| set.limit == limit) {
            Some(set) => LimitInForce {
                thousandths: (set.thousandths > 0).then_some(set.thousandths),
                source: Source::SetByYou,
            },
            None => LimitInForce { thousandths: limit.start_thousandths(), source: limit.source() },
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const MACHINE: MachineTag = MachineTag(1);

    fn set(machine: u32, limit: HeavyLimit, thousandths: u32) -> HeavyLimitSet {
        HeavyLimitSet { machine: MachineTag(machine), limit, thousandths }
    }

    #[test]
    fn the_makers_last_word_counts_and_zero_is_off() {
        let said = [
            set(1, HeavyLimit::DayHours, 4_000),
            set(1, HeavyLimit::DayHours, 3_500),
            set(2, HeavyLimit::RunMinutes, 1_000),
            set(1, HeavyLimit::StretchMinutes, 0),
        ];
        let limits = Limits::of(MACHINE, &said);
        let day = limits.get(HeavyLimit::DayHours);
        assert_eq!((day.value(), day.source), (Some(3.5), Source::SetByYou));
        assert_eq!(day.ms(3_600_000), Some(12_600_000));
        assert_eq!(limits.get(HeavyLimit::StretchMinutes).value(), None);
        assert_eq!(
            limits.get(HeavyLimit::RunMinutes).source,
            Source::MotorsOverheat,
            "set for another machine"
        );
    }

    #[test]
    fn start_values_lie_in_their_ranges_and_the_ceiling_has_none() {
        for limit in HeavyLimit::ALL {
            let (low, high) = limit.range();
            let start = limit.start_thousandths();
            assert!(start.is_none_or(|start| (low * 1_000..=high * 1_000).contains(&start)), "{limit:?}");
        }
        assert_eq!(Limits::default().get(HeavyLimit::KnobCeilingPercent).value(), None);
    }
}
