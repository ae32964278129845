//! Lengths of time as they are typed: `1h40`, `1h 40`, `1:40` (hours and minutes), `90`, `90 min`, `1.5h`, `1,5 h`,
//! `1 hour 40 minutes`, `90s`; a bare number means minutes.

use super::decimals::{self, whole};

/// The longest time that is believed, in hours.
pub const MOST_HOURS: f64 = 744.0;

/// The length in milliseconds; none where it is none, zero, or longer than 31 days.
#[must_use]
pub fn ms(text: &str) -> Option<u64> {
    let lower = text.trim().to_lowercase();
    let seconds = match lower.split_once(':') {
        Some((hours, minutes)) => hours_and_minutes(hours, minutes)?,
        None => with_units(&lower)?,
    };
    let ms = (seconds * 1_000.0).round();
    (ms > 0.0 && seconds <= MOST_HOURS * 3_600.0).then_some(whole(ms))
}

fn hours_and_minutes(hours: &str, minutes: &str) -> Option<f64> {
    // Minutes of one digit are refused: 1:4 may have been meant as 1:40.
    let fit = (1..=3).contains(&hours.len()) && minutes.len() == 2;
    let number =
        |digits: &str| digits.bytes().all(|it| it.is_ascii_digit()).then(|| digits.parse::<u32>().ok())?;
    let minutes = number(minutes).filter(|minutes| *minutes < 60 && fit)?;
    Some(f64::from(number(hours)? * 60 + minutes) * 60.0)
}

fn with_units(lower: &str) -> Option<f64> {
    let (mut rest, mut seconds, mut unit_before) = (lower, 0.0, None);
    while !rest.is_empty() {
        let is_of_number = |letter: char| letter.is_ascii_digit() || matches!(letter, '.' | ',');
        let digits = rest.find(|letter| !is_of_number(letter)).unwrap_or(rest.len());
        let (typed, behind) = rest.split_at(digits);
        let value = decimals::read(typed).ok()?;
        let behind = behind.trim_start();
        let letters = behind.find(|letter: char| !letter.is_alphabetic()).unwrap_or(behind.len());
        let (unit, next) = behind.split_at(letters);
        let unit = match (unit, unit_before) {
            ("h" | "hr" | "hrs" | "hour" | "hours", None) => 3_600.0,
            ("min" | "m" | "mins" | "minute" | "minutes", None | Some(3_600.0)) => 60.0,
            ("s" | "sec" | "second" | "seconds", _) => 1.0,
            // "1h30" and a bare "40".
            ("", None | Some(3_600.0)) => 60.0,
            _ => return None,
        };
        if unit_before.is_some_and(|before| before <= unit) {
            return None;
        }
        seconds += value * unit;
        unit_before = Some(unit);
        rest = next.trim_start();
    }
    unit_before.map(|_| seconds)
}
