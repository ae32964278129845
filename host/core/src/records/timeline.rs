//! From boot and uptime to the wall clock.
//!
//! Uptime stands still while the logger has no power, so the powered time of all boots before a moment, plus its
//! uptime, is the least time that must have passed since the first start. What a clock reading adds to that, its
//! *offset*, is the same for every reading of one boot and never falls from boot to boot. Everything here follows from
//! that one rule: a reading that breaks it is a jump, a boot without readings lies between the offsets around it.

use std::collections::BTreeMap;

use serde::Serialize;
use shared_types::log::ClockSource;
use shared_types::{BootId, RecordSeq, UptimeMillis, UtcMillis};

use super::clock_marks::{
    CLOCKS_AGREE_WITHIN_MS, ClockReading, DRIFT_DIVISOR, FIRST_PLAUSIBLE, Mark, contradict, in_drift,
};
use super::clock_votes;
use super::log_records::{LogKey, LogRecords, LoggedEvent};
use super::when::When;

/// Readings of one boot that differ by no more than this are the same clock, drifting. Milliseconds; a chip reads
/// whole seconds, and setting it takes a moment.
pub const SAME_CLOCK_WITHIN_MS: i64 = 2_000;
/// Two readings, one after the other, that cannot both be right.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct ClockJump {
    /// The earlier one.
    pub before: ClockReading,
    /// The later one.
    pub after: ClockReading,
    /// Step of the clock against elapsed time, in milliseconds; negative where it went back.
    pub by_ms: i64,
}

/// A logger was heard: what its records below `next` tell of had happened by then.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct HeardAt {
    /// Which log.
    pub log: LogKey,
    /// The number that its next record would have got.
    pub next: RecordSeq,
    /// When, by the computer's clock.
    pub at: UtcMillis,
}

/// Dates every moment of one log, as far as its clock readings allow.
#[derive(Clone, Debug, Default)]
pub struct Timeline {
    boots: BTreeMap<BootId, Boot>,
    jumps: Vec<ClockJump>,
    distrusted: Vec<ClockReading>,
}

/// Bounds of one boot's place in time.
#[derive(Clone, Debug, Default)]
struct Boot {
    /// Powered time of all boots before, in milliseconds.
    powered_before: i64,
    /// Trusted readings: uptime and wall clock, in the order of uptime.
    readings: Vec<(i64, i64)>,
    /// The offset cannot be smaller.
    offset_min: Option<i64>,
    /// The offset cannot be larger.
    offset_max: Option<i64>,
}

impl Timeline {
    /// Builds the timeline of one log from its own clock readings.
    #[must_use]
    pub fn of(log: &LogRecords) -> Self {
        Self::of_heard(log, &[])
    }

    /// Builds the timeline of one log; the times at which it was heard are latest limits where nothing better is known.
    #[must_use]
    pub fn of_heard(log: &LogRecords, heard: &[HeardAt]) -> Self {
        let mut boots = boots_in_order(log);
        let mut marks = marks_in_order(log, &boots);
        let jumps = jumps_between(&marks);
        clock_votes::distrust_outvoted(&mut marks);
        distrust_chips(&mut marks);
        let distrusted = marks.iter().filter(|mark| !mark.trusted).map(|mark| mark.reading).collect();
        place_readings(&mut boots, &marks);
        limit_boots(&mut boots, &marks);
        limit_by_hearing(&mut boots, log, heard);
        Self { boots, jumps, distrusted }
    }

    /// When the moment was: dated where its boot has a trusted reading, else between the neighbours' limits, else
    /// undated.
    #[must_use]
    pub fn when(&self, boot: BootId, at: UptimeMillis) -> When {
        self.in_order().when(boot, at)
    }

    /// Dates moments that are asked for in their order, without a search for each.
    #[must_use]
    pub const fn in_order(&self) -> InOrder<'_> {
        InOrder { timeline: self, boot: None, split: 0 }
    }

    /// Readings, one after the other, that cannot both be right. Both are kept.
    #[must_use]
    pub fn jumps(&self) -> &[ClockJump] {
        &self.jumps
    }

    /// Readings that date nothing, because better ones contradict them or because they name an impossible year.
    #[must_use]
    pub fn distrusted(&self) -> &[ClockReading] {
        &self.distrusted
    }
}

/// See [`Timeline::in_order`]; any other order gives the same dates, slower.
#[derive(Debug)]
pub struct InOrder<'timeline> {
    timeline: &'timeline Timeline,
    boot: Option<(BootId, &'timeline Boot)>,
    /// The place of the first reading after the last moment.
    split: usize,
}

impl InOrder<'_> {
    /// As [`Timeline::when`].
    pub fn when(&mut self, boot: BootId, at: UptimeMillis) -> When {
        if self.boot.is_none_or(|(last, _)| last != boot) {
            self.boot = self.timeline.boots.get(&boot).map(|found| (boot, found));
            self.split = 0;
        }
        let Some((_, boot)) = self.boot else { return When::Undated };
        let uptime = signed(at.0);
        self.split = split_near(&boot.readings, uptime, self.split);
        if let Some(utc) = dated(&boot.readings, uptime, self.split) {
            return When::Dated(UtcMillis(utc));
        }
        let powered = boot.powered_before.saturating_add(uptime);
        match (boot.offset_min, boot.offset_max) {
            (Some(min), Some(max)) if max.saturating_sub(min) >= -CLOCKS_AGREE_WITHIN_MS => When::Between {
                earliest: UtcMillis(min.min(max).saturating_add(powered)),
                latest: UtcMillis(min.max(max).saturating_add(powered)),
            },
            _ => When::Undated,
        }
    }
}

/// The place of the first reading after an uptime; tried first: a place, and the one after it.
fn split_near(readings: &[(i64, i64)], uptime: i64, place: usize) -> usize {
    let is_split = |place: &usize| {
        let before = place.checked_sub(1).and_then(|before| readings.get(before));
        before.is_none_or(|(at, _)| *at <= uptime) && readings.get(*place).is_none_or(|(at, _)| *at > uptime)
    };
    let near = [place, place.saturating_add(1)].into_iter().find(is_split);
    near.filter(|near| *near <= readings.len())
        .unwrap_or_else(|| readings.partition_point(|(at, _)| *at <= uptime))
}

fn signed(ms: u64) -> i64 {
    i64::try_from(ms).unwrap_or(i64::MAX)
}

/// Every boot with the powered time before it: the sum of the last known uptimes.
fn boots_in_order(log: &LogRecords) -> BTreeMap<BootId, Boot> {
    let mut lengths: BTreeMap<BootId, u64> = BTreeMap::new();
    let mut reach = |boot: BootId, until: u64| {
        let length = lengths.entry(boot).or_default();
        *length = (*length).max(until);
    };
    for segment in &log.segments {
        reach(segment.boot, segment.at.0.saturating_add(segment.run.0));
    }
    for event in &log.events {
        reach(event.boot, event.at.0);
    }
    let mut powered = 0_i64;
    lengths
        .into_iter()
        .map(|(boot, length)| {
            let placed = Boot { powered_before: powered, ..Boot::default() };
            powered = powered.saturating_add(signed(length));
            (boot, placed)
        })
        .collect()
}

fn marks_in_order(log: &LogRecords, boots: &BTreeMap<BootId, Boot>) -> Vec<Mark> {
    let mut marks: Vec<Mark> = log
        .events
        .iter()
        .filter_map(|event| {
            let LoggedEvent::Anchor(anchor) = &event.what else { return None };
            let boot = boots.get(&event.boot)?;
            let powered = boot.powered_before.saturating_add(signed(event.at.0));
            let reading = ClockReading {
                seq: event.seq,
                boot: event.boot,
                at: event.at,
                utc: anchor.utc,
                source: anchor.source,
            };
            let offset = anchor.utc.0.saturating_sub(powered);
            Some(Mark { reading, powered, offset, trusted: anchor.utc >= FIRST_PLAUSIBLE })
        })
        .collect();
    marks.sort_by_key(|mark| (mark.reading.boot, mark.reading.at, mark.reading.seq));
    marks
}

fn jumps_between(marks: &[Mark]) -> Vec<ClockJump> {
    marks
        .iter()
        .zip(marks.iter().skip(1))
        .filter(|(before, after)| contradict(before, after))
        .map(|(before, after)| ClockJump {
            before: before.reading,
            after: after.reading,
            by_ms: after.offset.saturating_sub(before.offset),
        })
        .collect()
}

/// A chip that the computer's readings contradict dates nothing, nor does anything else that it said between two
/// settings or jumps: it is the same wrong clock.
fn distrust_chips(marks: &mut [Mark]) {
    let contradicted = contradicted_chips(marks);
    let mut start = 0;
    while start < marks.len() {
        let end = end_of_chip_run(marks, start);
        let wrong = contradicted.get(start..end).is_some_and(|run| run.contains(&true));
        for mark in marks.get_mut(start..end).into_iter().flatten() {
            mark.trusted &= !wrong;
        }
        start = end.max(start + 1);
    }
}

/// The end of the run of chip readings that begins at `start`; `start` itself when that is no chip reading.
fn end_of_chip_run(marks: &[Mark], start: usize) -> usize {
    let run = marks.get(start..).unwrap_or_default();
    let chips = run.iter().take_while(|mark| mark.reading.source == ClockSource::ClockChip).count();
    let jump = run.windows(2).take(chips.saturating_sub(1)).position(|pair| {
        let [before, mark] = pair else { return false };
        contradict(before, mark)
    });
    start + jump.map_or(chips, |place| place + 1)
}

/// For each reading, whether it is a chip's that cannot be right, by itself or beside the nearest trusted readings of a
/// computer before and after it.
fn contradicted_chips(marks: &[Mark]) -> Vec<bool> {
    let is_chip = |mark: &Mark| mark.reading.source == ClockSource::ClockChip;
    let mut wrong = Vec::with_capacity(marks.len());
    let mut host: Option<&Mark> = None;
    for mark in marks {
        wrong.push(is_chip(mark) && (!mark.trusted || host.is_some_and(|host| contradict(host, mark))));
        host = Some(mark).filter(|mark| !is_chip(mark) && mark.trusted).or(host);
    }
    host = None;
    for (mark, wrong) in marks.iter().zip(&mut wrong).rev() {
        *wrong |= is_chip(mark) && host.is_some_and(|host| contradict(mark, host));
        host = Some(mark).filter(|mark| !is_chip(mark) && mark.trusted).or(host);
    }
    wrong
}

/// Gives each boot its trusted readings. Where the computer and the chip differ by more than drift within one boot,
/// only the computer's count.
fn place_readings(boots: &mut BTreeMap<BootId, Boot>, marks: &[Mark]) {
    for of_boot in marks.chunk_by(|one, next| one.reading.boot == next.reading.boot) {
        let Some(boot) = of_boot.first().and_then(|mark| boots.get_mut(&mark.reading.boot)) else { continue };
        let trusted: Vec<&Mark> = of_boot.iter().filter(|mark| mark.trusted).collect();
        let agrees = agrees_with_hosts(&trusted);
        let kept = trusted.iter().zip(agrees).filter(|(_, agrees)| *agrees);
        boot.readings = kept.map(|(mark, _)| (signed(mark.reading.at.0), mark.reading.utc.0)).collect();
    }
}

/// For each reading of a boot, in the order of uptime, whether it is a computer's, or tells the time of all of the
/// computer's: their offsets differ by no more than [`SAME_CLOCK_WITHIN_MS`] and drift over the time between them.
fn agrees_with_hosts(marks: &[&Mark]) -> Vec<bool> {
    let mut agrees = vec![true; marks.len()];
    judge_by_hosts_before(marks.iter().copied().zip(&mut agrees), Mark::with_drift, Mark::less_drift);
    judge_by_hosts_before(marks.iter().copied().zip(&mut agrees).rev(), Mark::less_drift, Mark::with_drift);
    agrees
}

/// Of each reading only the most and the least of the computer's before it need to be looked at.
fn judge_by_hosts_before<'m>(
    marks: impl Iterator<Item = (&'m Mark, &'m mut bool)>,
    upper: impl Fn(&Mark) -> i128,
    lower: impl Fn(&Mark) -> i128,
) {
    let within = in_drift(SAME_CLOCK_WITHIN_MS);
    let mut hosts: Option<(i128, i128)> = None;
    for (mark, agrees) in marks {
        let (up, low) = (upper(mark), lower(mark));
        if mark.reading.source == ClockSource::Host {
            hosts = Some(hosts.map_or((up, low), |(most, least)| (most.max(up), least.min(low))));
        } else if let Some((most, least)) = hosts {
            *agrees &= most <= up + within && low - within <= least;
        }
    }
}

/// The wall clock at an uptime: on the line through the two readings around it, else from the nearest one. `split` is the place
/// of the first reading after it.
fn dated(readings: &[(i64, i64)], uptime: i64, split: usize) -> Option<i64> {
    let before = split.checked_sub(1).and_then(|index| readings.get(index));
    let after = readings.get(split);
    let from = |&(at, utc): &(i64, i64)| utc.saturating_add(uptime.saturating_sub(at));
    match (before, after) {
        (None, None) => None,
        (Some(one), None) | (None, Some(one)) => Some(from(one)),
        (Some(before), Some(after)) => {
            let elapsed = after.0.saturating_sub(before.0);
            let told = after.1.saturating_sub(before.1);
            if told.abs_diff(elapsed) > (SAME_CLOCK_WITHIN_MS + elapsed / DRIFT_DIVISOR).unsigned_abs() {
                let nearer_before = uptime - before.0 <= after.0 - uptime;
                return Some(from(if nearer_before { before } else { after }));
            }
            let part = i128::from(uptime - before.0) * i128::from(told) / i128::from(elapsed.max(1));
            Some(before.1.saturating_add(i64::try_from(part).unwrap_or(i64::MAX)))
        }
    }
}

/// Limits every boot's offset by the nearest trusted readings before and after it.
fn limit_boots(boots: &mut BTreeMap<BootId, Boot>, marks: &[Mark]) {
    let trusted: Vec<&Mark> = marks.iter().filter(|mark| mark.trusted).collect();
    for (id, boot) in boots {
        let split = trusted.partition_point(|mark| mark.reading.boot < *id);
        boot.offset_min = split.checked_sub(1).and_then(|index| trusted.get(index)).map(|mark| mark.offset);
        boot.offset_max = trusted.get(split).map(|mark| mark.offset);
    }
}

/// Lowers each boot's latest limit to what was heard of it or of a later boot, unless that contradicts its earliest.
fn limit_by_hearing(boots: &mut BTreeMap<BootId, Boot>, log: &LogRecords, heard: &[HeardAt]) {
    let mut limits: BTreeMap<BootId, i64> = BTreeMap::new();
    for hearing in heard.iter().filter(|hearing| hearing.log == log.key && hearing.at >= FIRST_PLAUSIBLE) {
        let Some((boot, until)) = newest_below(log, hearing.next) else { continue };
        let Some(powered) = boots.get(&boot).map(|placed| placed.powered_before.saturating_add(until)) else {
            continue;
        };
        let limit = hearing.at.0.saturating_sub(powered);
        limits.entry(boot).and_modify(|least| *least = (*least).min(limit)).or_insert(limit);
    }
    let mut least: Option<i64> = None;
    for (id, boot) in boots.iter_mut().rev() {
        least = least.into_iter().chain(limits.get(id).copied()).min();
        let Some(limit) = least else { continue };
        let fits = boot.offset_min.is_none_or(|min| min <= limit);
        if fits && boot.offset_max.is_none_or(|max| limit < max) {
            boot.offset_max = Some(limit);
        }
    }
}

/// Boot and uptime at the end of the newest record below a number.
fn newest_below(log: &LogRecords, next: RecordSeq) -> Option<(BootId, i64)> {
    let segments = log.segments.partition_point(|segment| segment.seq < next);
    let events = log.events.partition_point(|event| event.seq < next);
    let segment = segments.checked_sub(1).and_then(|index| log.segments.get(index));
    let event = events.checked_sub(1).and_then(|index| log.events.get(index));
    let of_segment =
        segment.map(|segment| (segment.boot, signed(segment.at.0.saturating_add(segment.run.0))));
    of_segment.max(event.map(|event| (event.boot, signed(event.at.0))))
}

#[cfg(test)]
#[path = "timeline_tests.rs"]
mod tests;
