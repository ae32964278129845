//! What an entry is about, whatever its kind.

use shared_types::{MachineTag, UtcMillis};

use super::{BurstsAssigned, EntryBody, Owner, PersonTag, RugName};

impl EntryBody {
    /// Its kind, as it is kept.
    #[must_use]
    pub fn kind(&self) -> &'static str {
        self.into()
    }

    /// The machine that it names; none where it names none, or means all.
    #[must_use]
    pub const fn machine(&self) -> Option<MachineTag> {
        match self {
            Self::MachineAdded(of) => Some(of.machine),
            Self::KnobMarked(of) => Some(of.machine),
            Self::EdgeRatioSet(of) => Some(of.machine),
            Self::LoggerFitted(of) => Some(of.machine),
            Self::RugWork(of) => of.machine,
            Self::CareDone(of) => Some(of.machine),
            Self::CareLimitSet(of) => Some(of.machine),
            Self::TearNoted(of) => Some(of.machine),
            Self::HandHours(of) => Some(of.machine),
            Self::MachineCosts(of) => Some(of.machine),
            Self::VibrationFigure(of) => Some(of.machine),
            Self::DutyRated(of) => Some(of.machine),
            Self::HeavyLimitSet(of) => Some(of.machine),
            Self::PartFitted(of) => Some(of.machine),
            Self::PartTakenOff(of) => Some(of.machine),
            Self::MachineFault(of) => Some(of.machine),
            Self::HandsAtWork(of) => of.machine,
            Self::MachineLent(of) => Some(of.machine),
            Self::MachineReturned(of) => Some(of.machine),
            Self::CeilingSet(of) => Some(of.machine),
            Self::DuePublished(of) => Some(of.machine),
            Self::CareSnoozed(of) => Some(of.machine),
            Self::CareSkipped(of) => Some(of.machine),
            Self::CareTaskAdded(of) => Some(of.machine),
            Self::CareTaskSwitched(of) => Some(of.machine),
            Self::OilPointChanged(of) => Some(of.machine),
            Self::PileHeightSet(of) => Some(of.machine),
            Self::SessionNoted(of) => Some(of.machine),
            Self::SessionBegun(of) => Some(of.machine),
            Self::MotorShareSet(of) => of.machine,
            Self::MachineRested(of) => Some(of.machine),
            Self::RugOrdered(_)
            | Self::BurstsAssigned(_)
            | Self::PressAnswered(_)
            | Self::PressWithdrawn(_)
            | Self::Withdrawn { .. }
            | Self::SampleSquare(_)
            | Self::PersonAdded(_)
            | Self::HandsOfBursts(_)
            | Self::TearAnswered(_)
            | Self::TearCosts(_)
            | Self::RugDescribed(_)
            | Self::StageBegun(_)
            | Self::YarnWeighed(_)
            | Self::MaterialUsed(_)
            | Self::JobStarted(_)
            | Self::JobStopped(_)
            | Self::JobAdded(_)
            | Self::MoneyTerms(_)
            | Self::StockMoved(_)
            | Self::StockLevelSet(_)
            | Self::DoubtAnswered(_)
            | Self::SessionAssigned(_)
            | Self::HandsOfSession(_)
            | Self::RugRenamed(_)
            | Self::PriceTerms(_)
            | Self::RugPriced(_) => None,
        }
    }

    /// Of when it tells, by the wall clock; none where it holds from its entry on, or tells of records.
    #[must_use]
    pub const fn at(&self) -> Option<UtcMillis> {
        match self {
            Self::MachineAdded(of) => Some(of.since),
            Self::RugOrdered(of) => Some(of.at),
            Self::RugWork(of) => Some(of.at),
            Self::CareDone(of) => Some(of.at),
            Self::TearNoted(of) => Some(of.at),
            Self::HandHours(of) => Some(of.at),
            Self::SampleSquare(of) => Some(of.at),
            Self::PartFitted(of) => Some(of.at),
            Self::PartTakenOff(of) => Some(of.at),
            Self::MachineFault(of) => Some(of.at),
            Self::HandsAtWork(of) => Some(of.from),
            Self::MachineLent(of) => Some(of.at),
            Self::MachineReturned(of) => Some(of.at),
            Self::StageBegun(of) => Some(of.at),
            Self::YarnWeighed(of) => Some(of.at),
            Self::MaterialUsed(of) => Some(of.at),
            Self::JobStarted(of) => Some(of.at),
            Self::JobStopped(of) => Some(of.at),
            Self::JobAdded(of) => Some(of.at),
            Self::CareSnoozed(of) => Some(of.at),
            Self::CareSkipped(of) => Some(of.at),
            Self::PileHeightSet(of) => Some(of.at),
            Self::StockMoved(of) => Some(of.at),
            Self::SessionNoted(of) => Some(of.at),
            Self::SessionBegun(of) => Some(of.at),
            Self::MachineRested(of) => Some(of.at),
            Self::RugPriced(of) => Some(of.at),
            Self::KnobMarked(_)
            | Self::EdgeRatioSet(_)
            | Self::LoggerFitted(_)
            | Self::BurstsAssigned(_)
            | Self::CareLimitSet(_)
            | Self::PressAnswered(_)
            | Self::PressWithdrawn(_)
            | Self::Withdrawn { .. }
            | Self::MachineCosts(_)
            | Self::VibrationFigure(_)
            | Self::DutyRated(_)
            | Self::HeavyLimitSet(_)
            | Self::PersonAdded(_)
            | Self::HandsOfBursts(_)
            | Self::TearAnswered(_)
            | Self::TearCosts(_)
            | Self::CeilingSet(_)
            | Self::RugDescribed(_)
            | Self::MoneyTerms(_)
            | Self::DuePublished(_)
            | Self::CareTaskAdded(_)
            | Self::CareTaskSwitched(_)
            | Self::OilPointChanged(_)
            | Self::StockLevelSet(_)
            | Self::DoubtAnswered(_)
            | Self::SessionAssigned(_)
            | Self::HandsOfSession(_)
            | Self::MotorShareSet(_)
            | Self::RugRenamed(_)
            | Self::PriceTerms(_) => None,
        }
    }

    /// The commission whose running it tells of; none where it tells of no running.
    #[must_use]
    pub const fn running_of(&self) -> Option<&RugName> {
        match self {
            Self::RugWork(of) => Some(&of.rug),
            Self::HandHours(of) => of.rug.as_ref(),
            Self::SessionNoted(of) => of.rug.as_ref(),
            Self::BurstsAssigned(BurstsAssigned { owner: Owner::Rug(rug), .. }) => Some(rug),
            _ => None,
        }
    }

    /// The person that it names; none where it names none.
    #[must_use]
    pub const fn person(&self) -> Option<PersonTag> {
        match self {
            Self::PersonAdded(of) => Some(of.person),
            Self::HandsAtWork(of) => of.person,
            Self::HandsOfBursts(of) => of.person,
            Self::MachineLent(of) => Some(of.to),
            Self::SessionNoted(of) => of.person,
            Self::SessionBegun(of) => of.person,
            Self::HandsOfSession(of) => of.person,
            _ => None,
        }
    }
}
