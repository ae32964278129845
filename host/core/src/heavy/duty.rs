//! The cyclic duration factor over a sliding window, and the duty rating of the motor, in the words of IEC 60034-1:
//! S1 continuous running duty, S2 short-time duty, S3 intermittent periodic duty.
//!
//! The standard defines the factor for identical cycles of load and rest, N / (N + R). A hand at a frame has no cycles,
//! so the factor here is that of the busiest window of a stated length; for identical cycles that fill the window both
//! are the same.

use std::fmt;
use std::str::FromStr;

use thiserror::Error;

use super::chains::Chain;
use crate::entries::DutyRating;

/// The length of a cycle where a rating names none, in minutes (IEC 60034-1).
pub const USUAL_CYCLE_MINUTES: u32 = 10;
/// The longest cycle or running time of a rating, in minutes.
const MOST_MINUTES: u32 = 240;

impl fmt::Display for DutyRating {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match *self {
            Self::S1 => f.write_str("S1"),
            Self::S2 { minutes } => write!(f, "S2 {minutes} min"),
            Self::S3 { percent, cycle_minutes: None } => write!(f, "S3 {percent} %"),
            Self::S3 { percent, cycle_minutes: Some(cycle) } => {
                write!(f, "S3 {percent} %, cycle {cycle} min")
            }
        }
    }
}

/// Not a rating that this program knows.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[error("\"{0}\" is not a duty rating; it is written S1, S2 60 min, S3 25 % or S3 25 % 20 min")]
pub struct NotARating(pub String);

impl FromStr for DutyRating {
    type Err = NotARating;

    fn from_str(text: &str) -> Result<Self, Self::Err> {
        let unclear = || NotARating(text.to_owned());
        let lower = text.to_lowercase().replace("cycle", " ").replace([',', '-'], " ");
        let spaced = lower.replace('%', " % ").replace("min", " min ");
        let words: Vec<&str> = spaced.split_whitespace().collect();
        let number = |word: &str, most: u32| {
            word.parse::<u32>().ok().filter(|number| (1..=most).contains(number)).ok_or_else(unclear)
        };
        match words.as_slice() {
            ["s1"] => Ok(Self::S1),
            ["s2", minutes, "min"] => Ok(Self::S2 { minutes: number(minutes, MOST_MINUTES)? }),
            ["s3", percent, "%"] => Ok(Self::S3 { percent: number(percent, 100)?, cycle_minutes: None }),
            ["s3", percent, "%", cycle, "min"] => Ok(Self::S3 {
                percent: number(percent, 100)?,
                cycle_minutes: Some(number(cycle, MOST_MINUTES)?),
            }),
            _ => Err(unclear()),
        }
    }
}

/// The busiest window of a chain, and how often a share was passed.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Busiest {
    /// Running in the busiest window, in milliseconds; at most the window.
    pub run_ms: u64,
    /// The line of the ledger with which that window begins.
    pub line: usize,
    /// Windows, not overlapping, in which running passed the share.
    pub times_above: u64,
}

/// Slides a window over a chain. `most_run_ms` is the running that a window may hold; none judges nothing.
///
/// Only windows that begin with a run need a look: moving a window that begins inside a run back to its start loses no
/// running, and moving one that begins in a pause on to the next run does not either. So one pass over the runs is
/// enough.
#[must_use]
pub fn busiest(chain: &Chain, window_ms: u64, most_run_ms: Option<u64>) -> Busiest {
    let mut found = Busiest::default();
    let (mut inside_ms, mut next) = (0_u64, 0_usize);
    let mut counted_until = 0_u64;
    for run in chain {
        let window_ends = run.at_ms.saturating_add(window_ms);
        while let Some(entering) = chain.get(next).filter(|entering| entering.at_ms < window_ends) {
            inside_ms = inside_ms.saturating_add(entering.run_ms);
            next += 1;
        }
        let last_ends = next.checked_sub(1).and_then(|last| chain.get(last)).map_or(0, |last| last.ends_ms());
        let running = inside_ms.saturating_sub(last_ends.saturating_sub(window_ends)).min(window_ms);
        if running > found.run_ms {
            (found.run_ms, found.line) = (running, run.line);
        }
        if most_run_ms.is_some_and(|most| running > most) && run.at_ms >= counted_until {
            // A run may fill many windows by itself.
            let whole = (run.run_ms / window_ms.max(1)).max(1);
            found.times_above += whole;
            counted_until = run.at_ms.saturating_add(window_ms.saturating_mul(whole));
        }
        inside_ms = inside_ms.saturating_sub(run.run_ms);
    }
    found
}

#[cfg(test)]
#[path = "duty_tests.rs"]
mod tests;
