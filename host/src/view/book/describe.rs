//! What an entry says, as a sentence that needs no other page: first what happened, then what was noted with it.

mod care;
mod cloth;
mod machine;
mod sentence;

use host_core::book::lines::BookLine;
use host_core::entries::EntryBody;
pub use sentence::{Reader, Sentence, knob, tenths};

/// The words of an entry.
pub fn describe(line: &BookLine, reader: &Reader<'_>) -> String {
    let body = &line.says;
    let known = match body {
        EntryBody::MachineAdded(_)
        | EntryBody::KnobMarked(_)
        | EntryBody::EdgeRatioSet(_)
        | EntryBody::LoggerFitted(_)
        | EntryBody::MachineCosts(_)
        | EntryBody::VibrationFigure(_)
        | EntryBody::DutyRated(_)
        | EntryBody::HeavyLimitSet(_)
        | EntryBody::HandsAtWork(_)
        | EntryBody::HandsOfBursts(_)
        | EntryBody::HandsOfSession(_)
        | EntryBody::MachineLent(_)
        | EntryBody::MachineReturned(_)
        | EntryBody::MachineRested(_) => machine::describe(body, reader),
        EntryBody::CareDone(_)
        | EntryBody::CareLimitSet(_)
        | EntryBody::PartFitted(_)
        | EntryBody::PartTakenOff(_)
        | EntryBody::MachineFault(_)
        | EntryBody::DuePublished(_)
        | EntryBody::CareSnoozed(_)
        | EntryBody::CareSkipped(_)
        | EntryBody::CareTaskAdded(_)
        | EntryBody::CareTaskSwitched(_)
        | EntryBody::OilPointChanged(_)
        | EntryBody::PileHeightSet(_) => care::describe(body, reader),
        EntryBody::RugWork(_)
        | EntryBody::RugRenamed(_)
        | EntryBody::BurstsAssigned(_)
        | EntryBody::TearNoted(_)
        | EntryBody::PressAnswered(_)
        | EntryBody::PressWithdrawn(_)
        | EntryBody::HandHours(_)
        | EntryBody::SessionNoted(_)
        | EntryBody::SessionBegun(_)
        | EntryBody::SessionAssigned(_)
        | EntryBody::MotorShareSet(_)
        | EntryBody::TearAnswered(_)
        | EntryBody::CeilingSet(_)
        | EntryBody::DoubtAnswered(_) => cloth::describe(body),
        // These name no machine, so they stand in no machine's book.
        EntryBody::RugOrdered(_)
        | EntryBody::Withdrawn { .. }
        | EntryBody::SampleSquare(_)
        | EntryBody::PersonAdded(_)
        | EntryBody::TearCosts(_)
        | EntryBody::RugDescribed(_)
        | EntryBody::StageBegun(_)
        | EntryBody::YarnWeighed(_)
        | EntryBody::MaterialUsed(_)
        | EntryBody::JobStarted(_)
        | EntryBody::JobStopped(_)
        | EntryBody::JobAdded(_)
        | EntryBody::MoneyTerms(_)
        | EntryBody::StockMoved(_)
        | EntryBody::StockLevelSet(_)
        | EntryBody::PriceTerms(_)
        | EntryBody::RugPriced(_) => None,
    };
    known.unwrap_or_else(|| line.kind.replace('_', " "))
}

#[cfg(test)]
mod tests;
