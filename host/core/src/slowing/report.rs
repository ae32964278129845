//! What `slowing` says, and why it may be.

use jiff::tz::TimeZone;
use serde::Serialize;
use shared_types::{MachineTag, UtcMillis};

use super::chart::{BASELINE_SESSIONS, Chart, chart};
use super::dry::{DRY_LEAST, DryChart, dry_chart};
use super::gather::{Gathered, gather};
use super::limit::HEALTHY_SESSIONS_PER_ALARM;
use crate::entries::{Drive, Entry, EntryBody, InForce, Pile, RETENSION};
use crate::records::when::When;
use crate::sessions::ledger::Ledger;
use crate::stats::{DAY_MS, Estimate, Level, days, waiting_time};
use crate::studio::{MachineCard, Studio};

/// Whether the machine is slowing down.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Verdict {
    /// Neither chart has enough to go by.
    CannotTell,
    /// No chart says so.
    Fine,
    /// It is slower than it was at the same place of the knob.
    Slower,
    /// A chart said so, and the machine was cared for since; the next sessions and dry runs will tell.
    CaredForSince,
}

/// What may slow a machine, in the order in which it is looked for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Cause {
    /// Dry: it wants oil.
    Dry,
    /// Choked: lint in the needle, the scissors or the vents.
    Choked,
    /// Dull or misplaced scissors.
    DullScissors,
    /// Thicker yarn or denser cloth.
    YarnOrCloth,
    /// Lower supply voltage: a long lead, another socket, a cold evening.
    SupplyVoltage,
    /// Worn carbon brushes.
    WornBrushes,
    /// A belt too slack or too tight.
    Belt,
    /// Too little pressure in the air line.
    AirPressure,
}

impl Cause {
    /// Whether a machine can have it: no scissors go dull in loop pile, and compressed air has neither plug nor belt.
    #[must_use]
    pub const fn concerns(self, pile: Pile, drive: Drive) -> bool {
        match self {
            Self::Dry | Self::Choked | Self::YarnOrCloth => true,
            Self::DullScissors => !matches!(pile, Pile::Loop),
            Self::SupplyVoltage | Self::WornBrushes | Self::Belt => matches!(drive, Drive::Electric),
            Self::AirPressure => matches!(drive, Drive::Pneumatic),
        }
    }
}

/// Causes of a slow session.
const ON_CLOTH: &[Cause] = &[
    Cause::Dry,
    Cause::Choked,
    Cause::DullScissors,
    Cause::YarnOrCloth,
    Cause::SupplyVoltage,
    Cause::WornBrushes,
    Cause::Belt,
    Cause::AirPressure,
];
/// Causes of a slow dry run, which has neither cloth nor yarn in it.
const WITHOUT_CLOTH: &[Cause] =
    &[Cause::Dry, Cause::Choked, Cause::SupplyVoltage, Cause::WornBrushes, Cause::Belt, Cause::AirPressure];

/// The maker's pace is looked at over so many days.
const PACE_DAYS: u64 = 84;
/// ... and told from so many days
const PACE_LEAST_DAYS: f64 = 28.0;
/// ... with so many sessions on.
const PACE_LEAST_SESSIONS: u64 = 5;
/// The share of cases in the range of a pace.
const PACE_RANGE: f64 = 0.8;

/// One dry run.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct DryLine {
    /// When.
    pub when: When,
    /// Where the knob stood, per mille of its travel.
    pub knob_per_mille: f64,
    /// How fast it ran.
    pub strokes_per_second: f64,
    /// Whether the knob stood at the usual place.
    pub at_usual_place: bool,
    /// The rate as a share of the freshly oiled value.
    pub rate_share: Option<f64>,
    /// The share below which it is slow.
    pub limit_share: Option<f64>,
    /// Whether it is.
    pub is_slow: bool,
}

/// How the dry runs stand.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct DryState {
    /// The usual place of the knob, per mille.
    pub place_per_mille: Option<f64>,
    /// The machine's own freshly oiled value there, in strokes per second.
    pub fresh_strokes_per_second: Option<f64>,
    /// Dry runs still missing before one can be judged.
    pub missing: u64,
    /// The dry runs, the oldest first.
    pub runs: Vec<DryLine>,
}

/// One session on one commission.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SessionLine {
    /// When it began.
    pub starts: When,
    /// The commission.
    pub rug: String,
    /// Bursts of three seconds and more at a steady, known place of the knob.
    pub bursts: u64,
    /// Its median rate as a share of the knob curve; what differs between commissions is cloth and yarn.
    pub rate_share: Option<f64>,
    /// The moving average as a share: 1 is as before.
    pub average_share: f64,
    /// Whether the chart said here that the machine is slower.
    pub is_alarm: bool,
}

/// The session chart.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SessionChart {
    /// Sessions, from the first on, that say how fast the machine is when it is well.
    pub baseline_sessions: u64,
    /// The moving average below which the machine is said to be slower, as a share.
    pub limit_share: f64,
    /// A healthy machine passes it once in so many sessions, by simulation.
    pub healthy_sessions_per_alarm: f64,
    /// How much sessions differ by chance, as a share.
    pub scatter_share: f64,
    /// The machine's own curve: knob in per mille and strokes per second.
    pub knob_curve: Vec<(f64, f64)>,
    /// The last time it was said.
    pub last_alarm: Option<AlarmLine>,
}

/// When the machine was said to be slower.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct AlarmLine {
    /// The session at which it was said.
    pub at: When,
    /// The session with which it most likely began.
    pub since: When,
    /// The rate since then as a share of that before, on the same commission.
    pub rate_share: f64,
    /// Whether the machine was cared for since.
    pub is_cared_for_since: bool,
}

/// How the sessions stand.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct SessionState {
    /// Sessions on commissions with enough bursts to look at.
    pub sessions: u64,
    /// So many it takes at the least.
    pub sessions_needed: u64,
    /// In so many days those that are missing will have come at the maker's pace of late, with the range in which that lies in
    /// eight of ten cases; nothing where none is missing, or fewer than five came in the last twelve weeks.
    pub days_until_enough: Estimate,
    /// The chart; none while there is too little.
    pub chart: Option<SessionChart>,
    /// The sessions on the chart, the oldest first.
    pub lines: Vec<SessionLine>,
    /// Bursts of three seconds and more.
    pub bursts: u64,
    /// Of them left out: the knob's place is not known.
    pub bursts_knob_unknown: u64,
    /// Of them left out: the knob was moved.
    pub bursts_knob_moved: u64,
    /// Of them left out: counted to no commission.
    pub bursts_of_nobody: u64,
}

/// The answer of `slowing`.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SlowingReport {
    /// The machine.
    pub machine: MachineTag,
    /// Its name.
    pub machine_name: String,
    /// Whether it has no logger board, so that nothing can be told.
    pub is_without_logger: bool,
    /// Whether it is slowing down.
    pub verdict: Verdict,
    /// How fast it runs at the same place of the knob, as a share of before, where it is slower.
    pub rate_share: Option<f64>,
    /// What may be the cause, where it is slower.
    pub causes: Vec<Cause>,
    /// Dry runs: the main chart.
    pub dry: DryState,
    /// Sessions: the second chart.
    pub sessions: SessionState,
}

/// What is looked at.
#[derive(Clone, Copy, Debug)]
pub struct Asked<'a> {
    /// What the maker said and did not take back.
    pub entries: &'a InForce<'a>,
    /// The same put together.
    pub studio: &'a Studio,
    /// All running.
    pub ledger: &'a Ledger<'a>,
    /// The machine.
    pub card: &'a MachineCard,
    /// The maker's zone.
    pub zone: &'a TimeZone,
    /// Only from here on; the baseline begins here too.
    pub since: Option<UtcMillis>,
    /// Now, from which a pace is counted.
    pub now: UtcMillis,
}

impl Asked<'_> {
    /// When the machine was last cleaned, oiled, or given a new part. Stretching the cloth is no care of the machine.
    fn last_care(&self) -> Option<UtcMillis> {
        let machine = self.card.tag;
        let at = |entry: &Entry| match &entry.body {
            EntryBody::CareDone(done) if done.machine == machine && done.task.0 != RETENSION => Some(done.at),
            EntryBody::PartFitted(fitted) if fitted.machine == machine => Some(fitted.at),
            _ => None,
        };
        self.entries.iter().filter_map(at).max()
    }
}

/// Draws both charts and judges them. Pure: the same log always gives the same answer.
#[must_use]
pub fn slowing_report(asked: Asked<'_>) -> SlowingReport {
    let gathered = gather(asked.studio, asked.ledger, asked.card.tag, asked.zone, asked.since);
    let dry = dry_state(&gathered, &dry_chart(&gathered.dry_runs));
    let drawn = chart(&gathered.sessions);
    let sessions = session_state(asked, &gathered, drawn.as_ref());
    let last_dry = dry.runs.iter().rfind(|run| run.rate_share.is_some());
    let slow_dry = last_dry.filter(|run| run.is_slow);
    let alarm = sessions.chart.as_ref().and_then(|chart| chart.last_alarm);
    let (verdict, rate_share, causes) = match (slow_dry, alarm) {
        (Some(run), _) => (Verdict::Slower, run.rate_share, WITHOUT_CLOTH),
        (None, Some(alarm)) if alarm.is_cared_for_since => {
            (Verdict::CaredForSince, Some(alarm.rate_share), ON_CLOTH)
        }
        (None, Some(alarm)) => (Verdict::Slower, Some(alarm.rate_share), ON_CLOTH),
        (None, None) if last_dry.is_none() && sessions.chart.is_none() => {
            (Verdict::CannotTell, None, &[][..])
        }
        (None, None) => (Verdict::Fine, None, &[][..]),
    };
    let (pile, drive) = (asked.card.pile, asked.card.drive);
    SlowingReport {
        machine: asked.card.tag,
        machine_name: asked.card.name.clone(),
        is_without_logger: asked.studio.is_without_logger(asked.card.tag),
        verdict,
        rate_share,
        causes: causes.iter().copied().filter(|cause| cause.concerns(pile, drive)).collect(),
        dry,
        sessions,
    }
}

fn dry_state(gathered: &Gathered, chart: &DryChart) -> DryState {
    let lines = gathered.dry_runs.iter().zip(&gathered.dry_starts).zip(&chart.points);
    let runs: Vec<DryLine> = lines
        .map(|((run, when), point)| DryLine {
            when: *when,
            knob_per_mille: run.knob_per_mille,
            strokes_per_second: run.ln_rate.exp(),
            at_usual_place: point.at_place,
            rate_share: point.rate_share,
            limit_share: point.limit_share,
            is_slow: point.slow,
        })
        .collect();
    let there = runs.iter().filter(|run| run.at_usual_place).count();
    DryState {
        place_per_mille: chart.place_per_mille,
        fresh_strokes_per_second: chart.fresh_strokes_per_second,
        missing: counted((DRY_LEAST + 1).saturating_sub(there)),
        runs,
    }
}

fn session_state(asked: Asked<'_>, gathered: &Gathered, chart: Option<&Chart>) -> SessionState {
    let start = |session: usize| gathered.starts.get(session).copied().unwrap_or(When::Undated);
    let lines = chart.map_or_else(Vec::new, |chart| {
        let of = |(point, session): (&super::ChartPoint, &super::WorkSession)| SessionLine {
            starts: start(point.session),
            rug: rug_name(asked.studio, session.rug),
            bursts: counted(session.bursts.len()),
            rate_share: point.level.map(f64::exp),
            average_share: point.average.exp(),
            is_alarm: point.alarm,
        };
        chart.points.iter().zip(&gathered.sessions).map(of).collect()
    });
    let last_alarm = chart.and_then(|chart| chart.alarms.last()).map(|alarm| AlarmLine {
        at: start(alarm.session),
        since: start(alarm.since),
        rate_share: alarm.rate_share,
        is_cared_for_since: asked
            .last_care()
            .zip(start(alarm.session).latest())
            .is_some_and(|(care, alarm)| care > alarm),
    });
    SessionState {
        sessions: counted(gathered.sessions.len()),
        sessions_needed: counted(BASELINE_SESSIONS),
        days_until_enough: until_enough(gathered, asked.now),
        chart: chart.map(|chart| SessionChart {
            baseline_sessions: counted(chart.baseline),
            limit_share: (-chart.limit).exp(),
            healthy_sessions_per_alarm: HEALTHY_SESSIONS_PER_ALARM,
            scatter_share: chart.scatter,
            knob_curve: chart.curve.shown(),
            last_alarm,
        }),
        lines,
        bursts: gathered.bursts,
        bursts_knob_unknown: gathered.knob_unknown,
        bursts_knob_moved: gathered.knob_moved,
        bursts_of_nobody: gathered.nobodys,
    }
}

/// The pace of the last twelve weeks, or of the time since the first session where that is shorter but four weeks at least.
fn until_enough(gathered: &Gathered, now: UtcMillis) -> Estimate {
    let missing = BASELINE_SESSIONS.saturating_sub(gathered.sessions.len());
    let began: Vec<UtcMillis> = gathered.starts.iter().filter_map(|when| when.latest()).collect();
    let Some(first) = began.iter().min() else { return Estimate::default() };
    let pace_ms = i64::try_from(PACE_DAYS * DAY_MS).unwrap_or(i64::MAX);
    let from = UtcMillis(first.0.max(now.0.saturating_sub(pace_ms)));
    let seen = counted(began.iter().filter(|at| **at >= from).count());
    let days = days(u64::try_from(now.0.saturating_sub(from.0)).unwrap_or(0));
    if seen < PACE_LEAST_SESSIONS || days < PACE_LEAST_DAYS {
        return Estimate::default();
    }
    Level::new(PACE_RANGE)
        .map_or_else(Estimate::default, |level| waiting_time(seen, days, counted(missing), level))
}

fn rug_name(studio: &Studio, rug: usize) -> String {
    studio.rugs.get(rug).map(|rug| rug.order.rug.0.clone()).unwrap_or_default()
}

fn counted(count: usize) -> u64 {
    u64::try_from(count).unwrap_or(u64::MAX)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn named(pile: Pile, drive: Drive) -> Vec<Cause> {
        ON_CLOTH.iter().copied().filter(|cause| cause.concerns(pile, drive)).collect()
    }

    #[test]
    fn a_machine_is_told_only_of_causes_that_it_can_have() {
        let air = named(Pile::Loop, Drive::Pneumatic);
        assert_eq!(air, [Cause::Dry, Cause::Choked, Cause::YarnOrCloth, Cause::AirPressure]);
        let motor = named(Pile::Cut, Drive::Electric);
        assert!(motor.contains(&Cause::DullScissors) && motor.contains(&Cause::WornBrushes), "{motor:?}");
        assert!(!motor.contains(&Cause::AirPressure), "{motor:?}");
    }
}
