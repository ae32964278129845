//! What the maker told about commissions besides what was ordered and when it was on the frame: how they are made, their
//! stages, yarn, materials, the work around the frame, and what an hour of it costs. Withdrawn entries are left out.

use std::collections::{BTreeMap, HashMap};

use serde::Serialize;
use shared_types::UtcMillis;

use crate::entries::amount::Money;
use crate::entries::{
    EntryBody, EntryId, InForce, JobKind, MaterialUsed, RugDescribed, RugName, RugPriced, Stage, YarnMove,
    YarnWeighed,
};
use crate::stats::HOUR_MS;

/// A timer for work of hands that runs longer than this has probably been forgotten, in milliseconds; four hours. Common
/// practice, no source: nobody glues or shears that long without a break.
pub const LONGEST_LABOUR_TIMER_MS: u64 = 4 * HOUR_MS;
/// The same for waiting; three days. Glue is left 12 to 24 hours.
pub const LONGEST_WAITING_TIMER_MS: u64 = 72 * HOUR_MS;

/// The longest that a timer is believed without a question, in milliseconds.
#[must_use]
pub const fn longest_timer_ms(job: JobKind) -> u64 {
    if job.is_labour() { LONGEST_LABOUR_TIMER_MS } else { LONGEST_WAITING_TIMER_MS }
}

/// A stretch of job time.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct JobSpan {
    /// The entry that began or added it.
    pub entry: EntryId,
    /// For what.
    pub job: JobKind,
    /// For which commission.
    pub rug: Option<RugName>,
    /// When it began; of one that was added without a timer, when it was, about.
    pub at: UtcMillis,
    /// How long it took, in milliseconds; none while its timer runs.
    pub lasted_ms: Option<u64>,
    /// Whether a timer measured it.
    pub is_timed: bool,
    /// Anything else.
    pub note: Option<String>,
}

impl JobSpan {
    /// Whether its timer runs.
    #[must_use]
    pub const fn is_running(&self) -> bool {
        self.lasted_ms.is_none()
    }

    /// How long its timer has been running, in milliseconds.
    #[must_use]
    pub fn running_for_ms(&self, now: UtcMillis) -> Option<u64> {
        self.is_running().then(|| u64::try_from(now.0.saturating_sub(self.at.0)).unwrap_or(0))
    }

    /// Beginning and end, where a timer measured both.
    #[must_use]
    pub fn bounds(&self) -> Option<(i64, i64)> {
        let lasted = self.lasted_ms.filter(|_| self.is_timed)?;
        Some((self.at.0, self.at.0.saturating_add_unsigned(lasted)))
    }
}

/// What was told about one commission.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Told {
    /// How it is made.
    pub described: Option<RugDescribed>,
    /// Its stages in the order of time; of two at the same moment the later entry is the last.
    pub stages: Vec<(UtcMillis, Option<Stage>)>,
    /// Its yarn in the order of time.
    pub yarn: Vec<YarnWeighed>,
    /// Its materials in the order of entry.
    pub materials: Vec<MaterialUsed>,
    /// The price that was worked out for it, the last one.
    pub priced: Option<RugPriced>,
}

impl Told {
    /// The stage at a moment.
    #[must_use]
    pub fn stage_at(&self, at: UtcMillis) -> Option<Stage> {
        let next = self.stages.partition_point(|(from, _)| *from <= at);
        next.checked_sub(1).and_then(|place| self.stages.get(place)).and_then(|(_, stage)| *stage)
    }

    /// The yarn of each colour, in the order in which the colours came.
    #[must_use]
    pub fn yarn_by_colour(&self) -> Vec<ColourYarn> {
        let mut colours: Vec<ColourYarn> = Vec::new();
        for weighed in &self.yarn {
            let name = weighed.colour.to_lowercase();
            let place = colours.iter().position(|yarn| yarn.colour.to_lowercase() == name);
            let place = place.unwrap_or_else(|| {
                colours.push(ColourYarn::new(&weighed.colour));
                colours.len() - 1
            });
            if let Some(yarn) = colours.get_mut(place) {
                yarn.add(weighed);
            }
        }
        colours
    }
}

/// The yarn of one colour on one commission.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct ColourYarn {
    /// The colour.
    pub colour: String,
    /// Taken for it, in milligrams.
    pub out_mg: u64,
    /// Brought back, in milligrams.
    pub back_mg: u64,
    /// What was last found left, in milligrams, when that was weighed and none was brought back since.
    pub left_mg: Option<u64>,
    /// When that was, in milliseconds UTC.
    pub left_at_utc_ms: Option<i64>,
}

impl ColourYarn {
    fn new(colour: &str) -> Self {
        Self { colour: colour.to_owned(), out_mg: 0, back_mg: 0, left_mg: None, left_at_utc_ms: None }
    }

    fn add(&mut self, weighed: &YarnWeighed) {
        match weighed.moved {
            YarnMove::Out => {
                self.out_mg = self.out_mg.saturating_add(weighed.weight_mg);
                self.left_mg = self.left_mg.map(|left| left.saturating_add(weighed.weight_mg));
            }
            YarnMove::Back => {
                self.back_mg = self.back_mg.saturating_add(weighed.weight_mg);
                // What came back was weighed; what stays of it is not known any more.
                self.left_mg = None;
                self.left_at_utc_ms = None;
            }
            YarnMove::Left => {
                self.left_mg = Some(weighed.weight_mg);
                self.left_at_utc_ms = Some(weighed.at.0);
            }
        }
    }

    /// Taken and not brought back, in milligrams.
    #[must_use]
    pub const fn with_the_rug_mg(&self) -> u64 {
        self.out_mg.saturating_sub(self.back_mg)
    }

    /// Used, in milligrams, where something was weighed after the work: what was brought back, or what is left.
    #[must_use]
    pub fn used_mg(&self) -> Option<u64> {
        match self.left_mg {
            Some(left) => Some(self.with_the_rug_mg().saturating_sub(left)),
            None if self.back_mg > 0 => Some(self.with_the_rug_mg()),
            None => None,
        }
    }
}

/// The first weighing by which more yarn of one colour comes back or is left than was there then, with what was there in
/// milligrams. The weighings are of one colour.
#[must_use]
pub fn first_too_much<'all>(
    weighed: impl IntoIterator<Item = &'all YarnWeighed>,
) -> Option<(&'all YarnWeighed, u64)> {
    let mut in_order: Vec<&YarnWeighed> = weighed.into_iter().collect();
    in_order.sort_by_key(|weighed| weighed.at);
    let mut yarn = ColourYarn::new("");
    in_order.into_iter().find_map(|weighed| {
        let there = yarn.with_the_rug_mg();
        yarn.add(weighed);
        (weighed.moved != YarnMove::Out && weighed.weight_mg > there).then_some((weighed, there))
    })
}

/// What labour costs, and the currency of all amounts.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Terms {
    /// An hour of labour.
    pub wage_per_hour: Option<Money>,
    /// The currency, as it stands on a bill.
    pub currency: Option<String>,
}

/// What was told about all commissions.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Commissions {
    told: HashMap<RugName, Told>,
    /// All job time, in the order of entry.
    pub jobs: Vec<JobSpan>,
    /// What labour costs.
    pub terms: Terms,
}

impl Commissions {
    /// Reads all entries, in the order of arrival.
    #[must_use]
    pub fn of(entries: &InForce<'_>) -> Self {
        let mut all = Self::default();
        let mut running: BTreeMap<EntryId, usize> = BTreeMap::new();
        for entry in entries.iter() {
            match &entry.body {
                EntryBody::RugDescribed(described) => {
                    all.of_rug(&described.rug).described = Some(described.clone());
                }
                EntryBody::StageBegun(begun) => all.of_rug(&begun.rug).stages.push((begun.at, begun.stage)),
                EntryBody::YarnWeighed(weighed) => all.of_rug(&weighed.rug).yarn.push(weighed.clone()),
                EntryBody::MaterialUsed(used) => all.of_rug(&used.rug).materials.push(used.clone()),
                EntryBody::RugPriced(priced) => all.of_rug(&priced.rug).priced = Some(priced.clone()),
                EntryBody::JobStarted(started) => {
                    running.insert(entry.id, all.jobs.len());
                    all.jobs.push(JobSpan {
                        entry: entry.id,
                        job: started.job,
                        rug: started.rug.clone(),
                        at: started.at,
                        lasted_ms: None,
                        is_timed: true,
                        note: started.note.clone(),
                    });
                }
                EntryBody::JobStopped(stopped) => {
                    let place = running.get(&stopped.started);
                    if let Some(span) = place.and_then(|place| all.jobs.get_mut(*place)) {
                        let lasted = stopped.at.0.saturating_sub(span.at.0);
                        span.lasted_ms = Some(u64::try_from(lasted).unwrap_or(0));
                    }
                }
                EntryBody::JobAdded(added) => all.jobs.push(JobSpan {
                    entry: entry.id,
                    job: added.job,
                    rug: added.rug.clone(),
                    at: added.at,
                    lasted_ms: Some(added.lasted_ms),
                    is_timed: false,
                    note: added.note.clone(),
                }),
                EntryBody::MoneyTerms(terms) => {
                    all.terms.wage_per_hour = terms.wage_per_hour.or(all.terms.wage_per_hour);
                    if terms.currency.is_some() {
                        all.terms.currency.clone_from(&terms.currency);
                    }
                }
                _ => {}
            }
        }
        for told in all.told.values_mut() {
            told.stages.sort_by_key(|(at, _)| *at);
            told.yarn.sort_by_key(|weighed| weighed.at);
        }
        all
    }

    fn of_rug(&mut self, rug: &RugName) -> &mut Told {
        self.told.entry(rug.clone()).or_default()
    }

    /// What was told about a commission.
    #[must_use]
    pub fn told(&self, rug: &RugName) -> Option<&Told> {
        self.told.get(rug)
    }

    /// How a commission is made.
    #[must_use]
    pub fn described(&self, rug: &RugName) -> Option<&RugDescribed> {
        self.told(rug).and_then(|told| told.described.as_ref())
    }

    /// Job time of a commission, in the order of entry.
    pub fn jobs_of<'all>(&'all self, rug: &'all RugName) -> impl Iterator<Item = &'all JobSpan> + 'all {
        self.jobs.iter().filter(move |span| span.rug.as_ref() == Some(rug))
    }

    /// Timers that run.
    pub fn running(&self) -> impl Iterator<Item = &JobSpan> {
        self.jobs.iter().filter(|span| span.is_running())
    }
}

#[cfg(test)]
#[path = "commission_tests.rs"]
mod tests;
