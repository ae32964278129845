//! The answer of `heavy`.

use jiff::tz::TimeZone;
use serde::Serialize;
use shared_types::log::Fault;
use shared_types::{MachineTag, UtcMillis};

use super::chains::{Chain, chains, stretches};
use super::days::{RunDays, run_days};
use super::duty::{Busiest, USUAL_CYCLE_MINUTES, busiest};
use super::findings::{FaultSeen, Finding, Judgement, Looked, Unit};
use super::limits::{LimitInForce, Limits, Source};
use super::speed::{Driving, Sought, driving, limits_set};
use crate::entries::{DutyRated, DutyRating, EntryBody, HeavyLimit, InForce};
use crate::records::log_records::LoggedEvent;
use crate::records::not_recorded;
use crate::records::when::When;
use crate::sessions::ledger::{Ledger, LedgerLine, LedgerLog};
use crate::slowing::{Asked, Verdict, slowing_report};
use crate::stats::{HOUR_MS, MINUTE_MS, hours, number};
use crate::studio::worked::Worked;
use crate::studio::{MachineCard, Studio};

/// The knob must be above the ceiling for more than this before it counts, in milliseconds of running: the lamp waits as long.
const ABOVE_CEILING_COUNTS_MS: u64 = 3_000;
/// Run time below which a habit cannot be told, in milliseconds.
const HABIT_NEEDS_MS: u64 = 2 * HOUR_MS;

/// What to mind, always said.
pub const CAUTIONS: &[&str] = &[
    "Nothing here measures heat: if the casing is too hot to hold, stop, switch off, unplug (or shut the air off and take the hose off), and let it cool, whatever the numbers say.",
    "The machine's own plate and manual come first, and a qualified electrician for anything electric.",
];

/// The duration factor of the busiest window.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Duty {
    /// The length of the sliding window, in minutes.
    pub window_minutes: f64,
    /// The largest share of such a window during which the motor ran, 0 to 1.
    pub cyclic_duration_factor: Option<f64>,
    /// The rating that was entered.
    pub rating: Option<String>,
}

/// A limit in force.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LimitLine {
    /// Which.
    pub limit: HeavyLimit,
    /// Its value, in the unit of its name; none where it is off.
    pub value: Option<f64>,
    /// Where it comes from.
    pub source: Source,
}

/// One machine.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct MachineHeavy {
    /// Its number.
    pub machine: MachineTag,
    /// Its name.
    pub machine_name: String,
    /// Whether it has no logger board.
    pub is_without_logger: bool,
    /// Recorded run time that was looked at, in milliseconds.
    pub run_time_ms: u64,
    /// Of it, run time of which the day is not known; it counts for everything but long days.
    pub day_unknown_run_time_ms: u64,
    /// Run time that no record tells of; nothing can be found in it.
    pub not_recorded_run_time_ms: u64,
    /// Run time written by hand, in milliseconds; it is in none of the findings, because nobody wrote how it was spread.
    pub by_hand_run_time_ms: u64,
    /// Whether anything is above its limit.
    pub is_anything_too_much: bool,
    /// The duration factor.
    pub duty: Duty,
    /// Everything that was looked at.
    pub findings: Vec<Finding>,
    /// The limits in force.
    pub limits: Vec<LimitLine>,
}

/// The whole answer.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct HeavyReport {
    /// Only running that may have been since then was looked at, in milliseconds UTC.
    pub since_utc_ms: Option<i64>,
    /// The machines in the order of their numbers.
    pub machines: Vec<MachineHeavy>,
    /// What to mind.
    pub cautions: Vec<&'static str>,
}

/// Looks at some machines, at everything or at what may have been since a moment; whether one slows down is judged by all of its
/// records, as of now.
#[must_use]
pub fn heavy_report(
    entries: &InForce<'_>,
    studio: &Studio,
    ledger: &Ledger<'_>,
    machines: &[&MachineCard],
    since: Option<UtcMillis>,
    now: UtcMillis,
    zone: &TimeZone,
) -> HeavyReport {
    let set = limits_set(entries);
    let rating = |machine: MachineTag| {
        entries.iter().rev().find_map(|entry| match &entry.body {
            EntryBody::DutyRated(DutyRated { machine: of, rating }) if *of == machine => Some(*rating),
            _ => None,
        })
    };
    let looks = machines.iter().map(|card| {
        Look {
            entries,
            studio,
            ledger,
            card,
            since,
            now,
            zone,
            limits: Limits::of(card.tag, &set),
            rating: rating(card.tag).flatten(),
        }
        .machine()
    });
    HeavyReport {
        since_utc_ms: since.map(|since| since.0),
        machines: looks.collect(),
        cautions: CAUTIONS.to_vec(),
    }
}

/// A look at one machine.
struct Look<'a> {
    entries: &'a InForce<'a>,
    studio: &'a Studio,
    ledger: &'a Ledger<'a>,
    card: &'a MachineCard,
    since: Option<UtcMillis>,
    now: UtcMillis,
    zone: &'a TimeZone,
    limits: Limits,
    rating: Option<DutyRating>,
}

impl Look<'_> {
    fn counts(&self, when: When) -> bool {
        let Some(since) = self.since else { return true };
        when.latest().is_none_or(|latest| latest >= since)
    }

    fn machine(&self) -> MachineHeavy {
        let counts = |line: &LedgerLine| self.counts(line.when);
        let chained: Vec<(&LedgerLog<'_>, Vec<Chain>)> =
            self.ledger.logs.iter().map(|log| (log, chains(log, self.card.tag, counts))).collect();
        let days =
            run_days(self.ledger, self.card.tag, self.zone, counts).with_typed(self.typed(), self.zone);
        let sought = Sought {
            ceiling_per_mille: self
                .get(HeavyLimit::KnobCeilingPercent)
                .thousandths
                .map(|percent| percent / 100),
            slow_strokes_per_second: self.get(HeavyLimit::SlowStrokesPerSecond).value(),
        };
        let driven = driving(self.studio, self.ledger, self.card.tag, sought, counts);
        let (duty, duty_finding) = self.duty(&chained);
        let findings = vec![
            self.as_rated(self.stretch(Looked::LongestRun, HeavyLimit::RunMinutes, &chained, 0)),
            self.as_rated(self.stretch(
                Looked::LongestStretch,
                HeavyLimit::StretchMinutes,
                &chained,
                self.pause_ms(),
            )),
            duty_finding,
            self.knob(&driven),
            self.long_day(&days),
            self.slow_running(&driven),
            self.sag(),
            self.faults(),
        ];
        MachineHeavy {
            machine: self.card.tag,
            machine_name: self.card.name.clone(),
            is_without_logger: self.studio.is_without_logger(self.card.tag),
            run_time_ms: days.by_day.values().fold(days.day_unknown_ms, |sum, run| sum.saturating_add(*run)),
            day_unknown_run_time_ms: days.day_unknown_ms,
            not_recorded_run_time_ms: self.not_recorded_ms(),
            by_hand_run_time_ms: days.entered_ms,
            is_anything_too_much: findings.iter().any(|found| found.judgement == Judgement::TooMuch),
            duty,
            findings,
            limits: HeavyLimit::ALL.into_iter().map(|limit| self.limit_line(limit)).collect(),
        }
    }

    fn get(&self, limit: HeavyLimit) -> LimitInForce {
        self.limits.get(limit)
    }

    fn limit_line(&self, limit: HeavyLimit) -> LimitLine {
        let now = self.get(limit);
        LimitLine { limit, value: now.value(), source: now.source }
    }

    fn pause_ms(&self) -> u64 {
        self.get(HeavyLimit::PauseSeconds).ms(1_000).unwrap_or(0)
    }

    fn not_recorded_ms(&self) -> u64 {
        let losses =
            self.ledger.logs.iter().flat_map(|log| not_recorded::of_log(log.facts, &self.studio.fittings));
        losses
            .filter(|loss| loss.machine == Some(self.card.tag))
            .fold(0, |sum, loss| sum.saturating_add(loss.run.0))
    }

    fn typed(&self) -> impl Iterator<Item = &Worked> {
        let of_machine = self.studio.worked.iter().filter(|session| session.said.machine == self.card.tag);
        of_machine.filter(|session| self.counts(When::Dated(session.said.at)))
    }

    /// The longest stretch with pauses up to `pause_ms`.
    fn stretch(
        &self,
        looked_at: Looked,
        limit: HeavyLimit,
        chained: &[(&LedgerLog<'_>, Vec<Chain>)],
        pause_ms: u64,
    ) -> Finding {
        let now = self.get(limit);
        let most_ms = now.ms(MINUTE_MS);
        let (mut longest, mut times) = (None, 0);
        for (log, chains) in chained {
            for stretch in chains.iter().flat_map(|chain| stretches(chain, pause_ms)) {
                times += u64::from(most_ms.is_some_and(|most| stretch.span_ms > most));
                if longest.is_none_or(|(span, _)| stretch.span_ms > span) {
                    longest = Some((stretch.span_ms, when_of(log, stretch.line)));
                }
            }
        }
        Finding {
            found: longest.map(|(span, _)| number(span) / number(MINUTE_MS)),
            limit: now.value(),
            times,
            when: longest.and_then(|(_, when)| when),
            ..judged(looked_at, Unit::Minutes, now, longest.map(|_| times > 0))
        }
    }

    /// The busiest window, against an S3 rating, or all of it for S1; an S2 rating is held against the longest stretch.
    fn duty(&self, chained: &[(&LedgerLog<'_>, Vec<Chain>)]) -> (Duty, Finding) {
        let own = self.get(HeavyLimit::WindowMinutes);
        let window_ms = match self.rating {
            Some(DutyRating::S3 { cycle_minutes: Some(cycle), .. }) => u64::from(cycle) * MINUTE_MS,
            _ => own.ms(MINUTE_MS).unwrap_or(u64::from(USUAL_CYCLE_MINUTES) * MINUTE_MS),
        };
        let percent = match self.rating {
            Some(DutyRating::S3 { percent, .. }) => Some(percent),
            // Continuous running asks for no rest: no share of running is too much.
            Some(DutyRating::S1) => Some(100),
            Some(DutyRating::S2 { .. }) | None => None,
        };
        let most_ms = percent.map(|percent| window_ms * u64::from(percent) / 100);
        let mut best: Option<(Busiest, Option<When>)> = None;
        let mut times = 0;
        for (log, chains) in chained {
            for chain in chains {
                let found = busiest(chain, window_ms, most_ms);
                times += found.times_above;
                if best.is_none_or(|(best, _)| found.run_ms > best.run_ms) {
                    best = Some((found, when_of(log, found.line)));
                }
            }
        }
        let factor = best.map(|(found, _)| number(found.run_ms) / number(window_ms));
        let duty = Duty {
            window_minutes: number(window_ms) / number(MINUTE_MS),
            cyclic_duration_factor: factor,
            rating: self.rating.map(|rating| rating.to_string()),
        };
        if let Some(DutyRating::S2 { minutes }) = self.rating {
            return (duty, self.short_time_duty(minutes, chained));
        }
        let in_force =
            LimitInForce { thousandths: percent.map(|percent| percent * 1_000), source: Source::DutyRating };
        let finding = Finding {
            found: factor.map(|factor| factor * 100.0),
            limit: percent.map(f64::from),
            times,
            when: best.and_then(|(_, when)| when),
            ..judged(Looked::DutyFactor, Unit::Percent, in_force, best.map(|_| times > 0))
        };
        (duty, finding)
    }

    /// A motor that is rated for continuous running is not worked too hard by a long run alone; a limit of the program's own
    /// is a hint then, one of the maker's stays a limit.
    fn as_rated(&self, finding: Finding) -> Finding {
        let is_continuous = self.rating == Some(DutyRating::S1);
        if is_continuous && finding.judgement == Judgement::TooMuch && finding.source != Source::SetByYou {
            return Finding { judgement: Judgement::Hint, ..finding };
        }
        finding
    }

    fn short_time_duty(&self, minutes: u32, chained: &[(&LedgerLog<'_>, Vec<Chain>)]) -> Finding {
        let most_ms = u64::from(minutes) * MINUTE_MS;
        let spans = chained.iter().flat_map(|(log, chains)| {
            let stretches = chains.iter().flat_map(|chain| stretches(chain, self.pause_ms()));
            stretches.map(move |stretch| (stretch.span_ms, when_of(log, stretch.line)))
        });
        let (mut longest, mut times) = (None, 0);
        for (span, when) in spans {
            times += u64::from(span > most_ms);
            if longest.is_none_or(|(longest, _)| span > longest) {
                longest = Some((span, when));
            }
        }
        let in_force = LimitInForce { thousandths: Some(minutes * 1_000), source: Source::DutyRating };
        Finding {
            found: longest.map(|(span, _)| number(span) / number(MINUTE_MS)),
            limit: Some(f64::from(minutes)),
            times,
            when: longest.and_then(|(_, when)| when),
            ..judged(Looked::DutyFactor, Unit::Minutes, in_force, longest.map(|_| times > 0))
        }
    }

    fn knob(&self, driven: &Driving) -> Finding {
        let now = self.get(HeavyLimit::KnobCeilingPercent);
        let is_known = driven.knob_known_ms > 0;
        let is_above = driven.above_ceiling_ms > ABOVE_CEILING_COUNTS_MS;
        Finding {
            found: driven.highest_per_mille.map(|per_mille| f64::from(per_mille) / 10.0),
            limit: now.value(),
            run_time_above_ms: now.thousandths.filter(|_| is_known).map(|_| driven.above_ceiling_ms),
            when: driven.last_above.filter(|_| is_above),
            ..judged(Looked::KnobAboveCeiling, Unit::Percent, now, is_known.then_some(is_above))
        }
    }

    fn long_day(&self, days: &RunDays) -> Finding {
        let now = self.get(HeavyLimit::DayHours);
        let most_ms = now.ms(HOUR_MS);
        let longest = days.by_day.iter().max_by_key(|(_, run)| **run);
        let above = days.by_day.values().filter(|run| most_ms.is_some_and(|most| **run > most)).count();
        let times = u64::try_from(above).unwrap_or(u64::MAX);
        Finding {
            found: longest.map(|(_, run)| hours(*run)),
            limit: now.value(),
            times,
            day: longest.map(|(day, _)| *day),
            ..judged(Looked::LongDay, Unit::Hours, now, longest.map(|_| times > 0))
        }
    }

    fn slow_running(&self, driven: &Driving) -> Finding {
        let (rate, share) =
            (self.get(HeavyLimit::SlowStrokesPerSecond), self.get(HeavyLimit::SlowSharePercent));
        let both =
            LimitInForce { thousandths: rate.thousandths.and(share.thousandths), source: share.source };
        let percent = 100.0 * number(driven.slow_ms) / number(driven.rate_known_ms);
        let is_known = driven.rate_known_ms >= HABIT_NEEDS_MS;
        let is_habit = share.value().is_some_and(|most| percent > most);
        Finding {
            found: (is_known && rate.thousandths.is_some()).then_some(percent),
            limit: share.value(),
            ..judged(Looked::SlowRunning, Unit::Percent, both, is_known.then_some(is_habit))
        }
    }

    /// What `slowing` says; several things may be behind a slower rate, so it is a hint at most.
    fn sag(&self) -> Finding {
        let &Self { entries, studio, ledger, card, zone, now, .. } = self;
        let slowing = slowing_report(Asked { entries, studio, ledger, card, zone, since: None, now });
        let judgement = match slowing.verdict {
            Verdict::Slower => Judgement::Hint,
            Verdict::Fine | Verdict::CaredForSince => Judgement::Fine,
            Verdict::CannotTell => Judgement::CannotTellYet,
        };
        let slower = slowing.rate_share.filter(|_| judgement == Judgement::Hint);
        Finding {
            found: slower.map(|share| 100.0 * (1.0 - share)),
            slowing: Some(slowing.verdict),
            ..finding_of(Looked::StrokeRateSag, Unit::Percent, Source::Slowing, judgement)
        }
    }

    fn faults(&self) -> Finding {
        let mut seen: Vec<FaultSeen> = Vec::new();
        for log in &self.ledger.logs {
            for event in &log.facts.events {
                let LoggedEvent::Fault(change) = &event.what else { continue };
                let is_here =
                    self.studio.fittings.machine_of(log.facts.key, event.seq) == Some(self.card.tag);
                let when = log.timeline.when(event.boot, event.at);
                if !is_here || !Fault::is_input_fault(change.fault) {
                    continue;
                }
                match seen.iter_mut().find(|seen| seen.fault == change.fault) {
                    Some(seen) => {
                        seen.is_still_there = change.present;
                        if change.present && self.counts(when) {
                            (seen.times, seen.last) = (seen.times + 1, when);
                        }
                    }
                    None if change.present => seen.push(FaultSeen {
                        fault: change.fault,
                        times: u64::from(self.counts(when)),
                        last: when,
                        is_still_there: true,
                    }),
                    None => {}
                }
            }
        }
        seen.retain(|seen| seen.times > 0 || seen.is_still_there);
        let times = seen.iter().fold(0, |sum: u64, seen| sum.saturating_add(seen.times));
        let in_force = LimitInForce { thousandths: Some(0), source: Source::Logger };
        Finding {
            found: Some(number(times)),
            limit: None,
            times,
            when: seen.iter().map(|seen| seen.last).max_by_key(|when| when.latest()),
            faults: seen.clone(),
            ..judged(Looked::SensorFaults, Unit::Times, in_force, Some(!seen.is_empty()))
        }
    }
}

/// A finding held against a limit, without its numbers. `is_above` is none where too little is recorded.
fn judged(looked_at: Looked, unit: Unit, in_force: LimitInForce, is_above: Option<bool>) -> Finding {
    let judgement = match (is_above, in_force.thousandths) {
        (None, _) => Judgement::CannotTellYet,
        (_, None) => Judgement::NotJudged,
        (Some(true), _) => Judgement::TooMuch,
        (Some(false), _) => Judgement::Fine,
    };
    finding_of(looked_at, unit, in_force.source, judgement)
}

/// A finding without its numbers.
fn finding_of(looked_at: Looked, unit: Unit, source: Source, judgement: Judgement) -> Finding {
    let wants_doing = matches!(judgement, Judgement::TooMuch | Judgement::Hint);
    Finding {
        looked_at,
        judgement,
        found: None,
        limit: None,
        unit,
        times: 0,
        run_time_above_ms: None,
        when: None,
        day: None,
        faults: Vec::new(),
        slowing: None,
        source,
        source_in_words: source.words(),
        what_to_do: if wants_doing { looked_at.what_to_do() } else { "" },
    }
}

fn when_of(log: &LedgerLog<'_>, line: usize) -> Option<When> {
    log.lines.get(line).map(|line| line.when)
}

#[cfg(test)]
#[path = "report_tests.rs"]
mod tests;
