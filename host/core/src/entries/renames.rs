//! Which commission a name means now. A commission that is renamed keeps all that was ever said of it, by whichever name.

use std::collections::BTreeMap;

use super::{EntryBody, Owner, RugName};

/// The names that commissions had or have, each with the name that it goes by now.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Renames(BTreeMap<RugName, RugName>);

impl Renames {
    /// Of entries in force, in the order of arrival.
    pub fn of<'all>(bodies: impl Iterator<Item = &'all EntryBody>) -> Self {
        let mut renames = Self::default();
        for body in bodies {
            if let EntryBody::RugRenamed(renamed) = body
                && renamed.rug.0 != renamed.now.0
            {
                renames.add(&renamed.rug, &renamed.now);
            }
        }
        renames
    }

    fn add(&mut self, rug: &RugName, now: &RugName) {
        let before = self.now(rug).clone();
        for name in self.0.values_mut().filter(|name| **name == before) {
            name.clone_from(now);
        }
        for name in [rug, &before, now] {
            self.0.insert(name.clone(), now.clone());
        }
    }

    /// Whether no commission was ever renamed.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// The name that a commission goes by now.
    #[must_use]
    pub fn now<'all>(&'all self, name: &'all RugName) -> &'all RugName {
        self.0.get(name).unwrap_or(name)
    }

    /// Every former name with the name of now.
    pub fn former(&self) -> impl Iterator<Item = (&RugName, &RugName)> {
        self.0.iter().filter(|(name, now)| name != now)
    }

    /// What an entry says, with the name of now.
    #[must_use]
    pub fn named_now(&self, body: &EntryBody) -> EntryBody {
        let mut body = body.clone();
        for name in names(&mut body) {
            let now = self.now(name).clone();
            *name = now;
        }
        body
    }
}

/// The commissions that an entry names.
fn names(body: &mut EntryBody) -> Vec<&mut RugName> {
    match body {
        EntryBody::RugOrdered(of) => vec![&mut of.rug],
        EntryBody::RugWork(of) => vec![&mut of.rug],
        EntryBody::RugDescribed(of) => vec![&mut of.rug],
        EntryBody::StageBegun(of) => vec![&mut of.rug],
        EntryBody::YarnWeighed(of) => vec![&mut of.rug],
        EntryBody::MaterialUsed(of) => vec![&mut of.rug],
        EntryBody::RugPriced(of) => vec![&mut of.rug],
        EntryBody::RugRenamed(of) => vec![&mut of.rug, &mut of.now],
        EntryBody::HandHours(of) => of.rug.iter_mut().collect(),
        EntryBody::SessionNoted(of) => of.rug.iter_mut().collect(),
        EntryBody::SessionBegun(of) => of.rug.iter_mut().collect(),
        EntryBody::JobStarted(of) => of.rug.iter_mut().collect(),
        EntryBody::JobAdded(of) => of.rug.iter_mut().collect(),
        EntryBody::TearNoted(of) => of.details.rug.iter_mut().collect(),
        EntryBody::PressAnswered(of) => of.details.rug.iter_mut().collect(),
        EntryBody::TearAnswered(of) => of.details.rug.iter_mut().collect(),
        EntryBody::BurstsAssigned(of) => owned(&mut of.owner),
        EntryBody::SessionAssigned(of) => owned(&mut of.owner),
        EntryBody::MachineAdded(_)
        | EntryBody::KnobMarked(_)
        | EntryBody::EdgeRatioSet(_)
        | EntryBody::LoggerFitted(_)
        | EntryBody::CareDone(_)
        | EntryBody::CareLimitSet(_)
        | EntryBody::PressWithdrawn(_)
        | EntryBody::Withdrawn { .. }
        | EntryBody::MachineCosts(_)
        | EntryBody::VibrationFigure(_)
        | EntryBody::DutyRated(_)
        | EntryBody::HeavyLimitSet(_)
        | EntryBody::SampleSquare(_)
        | EntryBody::PartFitted(_)
        | EntryBody::PartTakenOff(_)
        | EntryBody::MachineFault(_)
        | EntryBody::PersonAdded(_)
        | EntryBody::HandsAtWork(_)
        | EntryBody::HandsOfBursts(_)
        | EntryBody::MachineLent(_)
        | EntryBody::MachineReturned(_)
        | EntryBody::TearCosts(_)
        | EntryBody::CeilingSet(_)
        | EntryBody::JobStopped(_)
        | EntryBody::MoneyTerms(_)
        | EntryBody::DuePublished(_)
        | EntryBody::CareSnoozed(_)
        | EntryBody::CareSkipped(_)
        | EntryBody::CareTaskAdded(_)
        | EntryBody::CareTaskSwitched(_)
        | EntryBody::OilPointChanged(_)
        | EntryBody::PileHeightSet(_)
        | EntryBody::StockMoved(_)
        | EntryBody::StockLevelSet(_)
        | EntryBody::DoubtAnswered(_)
        | EntryBody::HandsOfSession(_)
        | EntryBody::MotorShareSet(_)
        | EntryBody::MachineRested(_)
        | EntryBody::PriceTerms(_) => Vec::new(),
    }
}

fn owned(owner: &mut Owner) -> Vec<&mut RugName> {
    match owner {
        Owner::Rug(rug) => vec![rug],
        Owner::Care | Owner::Nobody => Vec::new(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::test_facts::{renamed, rug};

    fn now(said: &[(&str, &str)], name: &str) -> String {
        let bodies: Vec<EntryBody> = said.iter().map(|(rug, now)| renamed(rug, now)).collect();
        Renames::of(bodies.iter()).now(&RugName(name.to_owned())).0.clone()
    }

    #[test]
    fn a_name_leads_to_the_last_one_however_often_it_changed() {
        let twice = [("Fox", "Bear"), ("Bear", "Owl")];
        assert_eq!(["Fox", "bear", "Owl", "Cat"].map(|name| now(&twice, name)), ["Owl", "Owl", "Owl", "Cat"]);
        let by_the_oldest = [("Fox", "Bear"), ("Fox", "Owl")];
        assert_eq!(["Fox", "Bear", "Owl"].map(|name| now(&by_the_oldest, name)), ["Owl", "Owl", "Owl"]);
        let back = [("Fox", "Bear"), ("Bear", "Fox")];
        assert_eq!(["Fox", "Bear"].map(|name| now(&back, name)), ["Fox", "Fox"]);
        assert_eq!(["fox", "FOX"].map(|name| now(&[("fox", "Fox")], name)), ["Fox", "Fox"]);
    }

    #[test]
    fn an_entry_is_read_with_the_name_of_now() {
        let bodies = [rug("Fox"), renamed("Fox", "Bear")];
        let renames = Renames::of(bodies.iter());
        assert_eq!(renames.named_now(&bodies[0]), rug("Bear"));
        assert_eq!(
            renames.former().map(|(was, now)| (was.0.as_str(), now.0.as_str())).collect::<Vec<_>>(),
            [("Fox", "Bear")]
        );
        assert!(Renames::of(bodies[..1].iter()).is_empty());
    }
}
