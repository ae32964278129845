//! What the maker tells the program. Entries are only ever added; a correction is an entry too, and the corrected one
//! stays visible.

mod about;
pub mod amount;
mod calendar;
mod care;
mod cloth;
mod commission;
mod costs;
mod hand;
pub mod harm_answers;
mod heavy;
mod in_force;
mod machine;
mod parts;
mod people;
mod price;
mod renames;
mod rug;
mod sample;
mod session;
mod stock;

use serde::{Deserialize, Serialize};
use shared_types::UtcMillis;
use strum::IntoStaticStr;

pub use calendar::*;
pub use care::*;
pub use cloth::*;
pub use commission::*;
pub use costs::*;
pub use hand::*;
pub use heavy::*;
pub use in_force::{InForce, Withdrawal};
pub use machine::*;
pub use parts::*;
pub use people::*;
pub use price::*;
pub use renames::Renames;
pub use rug::*;
pub use sample::*;
pub use session::*;
pub use stock::*;

/// The number of an entry, in the order of arrival.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub struct EntryId(pub i64);

/// One entry as it is kept.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Entry {
    /// Its number.
    pub id: EntryId,
    /// When it was entered, which may be long after what it tells of.
    pub entered_at: UtcMillis,
    /// What it says.
    pub body: EntryBody,
}

/// What an entry says. New kinds are added at the end; a kind that was ever written is never renamed.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, IntoStaticStr)]
#[serde(tag = "kind", rename_all = "snake_case")]
#[strum(serialize_all = "snake_case")]
pub enum EntryBody {
    /// A machine joins the studio.
    MachineAdded(MachineAdded),
    /// The knob's end marks were read.
    KnobMarked(KnobMarks),
    /// The number of magnets on the crank, or the gear ratio, was set right. Holds for all records, old ones too.
    EdgeRatioSet(EdgeRatio),
    /// A logger sits on a machine from a record on, until its next fitting.
    LoggerFitted(Fitting),
    /// A commission was taken.
    RugOrdered(RugOrdered),
    /// Work on a commission began, rested or ended.
    RugWork(RugWork),
    /// Some bursts belong to a commission, to care, or to nobody.
    BurstsAssigned(BurstsAssigned),
    /// Care was given.
    CareDone(CareDone),
    /// A care limit was changed by the maker.
    CareLimitSet(CareLimitSet),
    /// A tear or near-miss without the machine's button.
    TearNoted(TearNoted),
    /// More about a button press: which commission or cloth lot, and so on.
    PressAnswered(PressAnswered),
    /// A button was pressed by mistake.
    PressWithdrawn(PressWithdrawn),
    /// Hours written by hand, without a logger.
    HandHours(HandHours),
    /// An earlier entry was wrong; it stays visible but counts no more.
    Withdrawn {
        /// Which.
        entry: EntryId,
        /// Why, in the maker's words.
        reason: String,
    },
    /// What a machine costs.
    MachineCosts(MachineCosts),
    /// How strongly a machine vibrates, by its manufacturer or a measurement.
    VibrationFigure(VibrationFigure),
    /// How a machine's motor may be loaded.
    DutyRated(DutyRated),
    /// A limit of heavy use was changed by the maker.
    HeavyLimitSet(HeavyLimitSet),
    /// A sample square was tufted and timed.
    SampleSquare(SampleSquare),
    /// A part that wears was fitted.
    PartFitted(PartFitted),
    /// A part was taken off.
    PartTakenOff(PartTakenOff),
    /// Something on the machine failed at work and was mended.
    MachineFault(MachineFault),
    /// Somebody works in the studio, or borrows from it.
    PersonAdded(PersonAdded),
    /// Who works from a moment on.
    HandsAtWork(HandsAtWork),
    /// Who worked some bursts.
    HandsOfBursts(HandsOfBursts),
    /// A machine was lent out.
    MachineLent(MachineLent),
    /// A machine came back.
    MachineReturned(MachineReturned),
    /// More about a tear or near-miss noted by hand.
    TearAnswered(TearAnswered),
    /// What a tear and an hour cost the maker.
    TearCosts(TearCosts),
    /// The highest place of the knob that the maker accepts.
    CeilingSet(CeilingSet),
    /// How a commission is made.
    RugDescribed(RugDescribed),
    /// A commission is in a stage from a moment on.
    StageBegun(StageBegun),
    /// Yarn was weighed.
    YarnWeighed(YarnWeighed),
    /// Material was used up.
    MaterialUsed(MaterialUsed),
    /// A timer was started.
    JobStarted(JobStarted),
    /// A timer was stopped.
    JobStopped(JobStopped),
    /// Job time without a timer.
    JobAdded(JobAdded),
    /// What labour costs, and the currency.
    MoneyTerms(MoneyTerms),
    /// A care task's due date went into a calendar file.
    DuePublished(DuePublished),
    /// A care task was put off.
    CareSnoozed(CareSnoozed),
    /// A care task was left out this time.
    CareSkipped(CareSkipped),
    /// The maker added a care task.
    CareTaskAdded(CareTaskAdded),
    /// A care task was switched off or on again.
    CareTaskSwitched(CareTaskSwitched),
    /// A point to be oiled was added, renamed, taken away or given another lubricant.
    OilPointChanged(OilPointChanged),
    /// The pile height was changed.
    PileHeightSet(PileHeightSet),
    /// Spares or oil came in, went out or were counted.
    StockMoved(StockMoved),
    /// How a spare is counted, and when to buy more.
    StockLevelSet(StockLevelSet),
    /// Whether doubtful bursts were real work.
    DoubtAnswered(DoubtAnswered),
    /// A session was typed in.
    SessionNoted(SessionNoted),
    /// Work at the frame began, to be timed.
    SessionBegun(SessionBegun),
    /// Whose a session is that was typed in.
    SessionAssigned(SessionAssigned),
    /// Who worked a session that was typed in.
    HandsOfSession(HandsOfSession),
    /// How long the motor runs in an hour at the frame.
    MotorShareSet(MotorShareSet),
    /// A commission goes by another name.
    RugRenamed(RugRenamed),
    /// A machine was taken out of use, or back into use.
    MachineRested(MachineRested),
    /// What a price is worked out from.
    PriceTerms(PriceTerms),
    /// A price was worked out for a commission.
    RugPriced(RugPriced),
}
