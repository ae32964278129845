//! Numbers as the maker types them, so that a slip gets an answer in plain words instead of a usage message.

use super::decimals::{self, Unread};
use super::error::RequestError;
use super::lasting;
use host_core::stats::{self, MINUTE_MS};

/// The answer to something typed that cannot be used; what was typed is shown on one line and in quotation marks.
#[must_use]
pub fn refused(what: &'static str, range: &'static str, text: &str) -> RequestError {
    RequestError::OutOfRange { what, range, given: format!("\"{}\"", text.trim().escape_debug()) }
}

/// A decimal number, with a point or a comma; `or_else` answers what is none.
///
/// # Errors
/// When it is none, or a comma leaves open which number it is.
pub fn decimal(text: &str, or_else: impl Fn() -> RequestError) -> Result<f64, RequestError> {
    decimals::read(text).map_err(|why| match why {
        Unread::Thousands(either) => RequestError::Thousands { given: text.trim().to_owned(), either },
        Unread::NotANumber => or_else(),
    })
}

/// A number within limits, both included, with a decimal point or comma.
///
/// # Errors
/// When the text is no number, leaves open which, or lies outside.
pub fn number(
    what: &'static str,
    range: &'static str,
    limits: (f64, f64),
    text: &str,
) -> Result<f64, RequestError> {
    let (low, high) = limits;
    let given = || refused(what, range, text);
    Some(decimal(text, given)?).filter(|number| (low..=high).contains(number)).ok_or_else(given)
}

/// Per cent within limits, both included: `60`, `60%`, `60 %`.
///
/// # Errors
/// As [`number`].
pub fn per_cent(
    what: &'static str,
    range: &'static str,
    limits: (f64, f64),
    text: &str,
) -> Result<f64, RequestError> {
    number(what, range, limits, without_sign(text)).map_err(|error| match error {
        RequestError::OutOfRange { .. } => refused(what, range, text),
        other => other,
    })
}

/// What stands before a per cent sign, or all of it where there is none.
#[must_use]
pub fn without_sign(text: &str) -> &str {
    let typed = text.trim();
    typed.strip_suffix('%').map_or(typed, str::trim_end)
}

/// A share: `0.8`, `0,8`, `80%`; none where it is no number.
#[must_use]
pub fn share(text: &str) -> Option<f64> {
    let number = decimals::read(without_sign(text)).ok()?;
    Some(if text.trim().ends_with('%') { number / 100.0 } else { number })
}

/// Minutes within limits, both included: `90`, `90 min`, `1h30`, `1:30`; a bare number means minutes.
///
/// # Errors
/// As [`number`].
pub fn minutes(
    what: &'static str,
    range: &'static str,
    limits: (f64, f64),
    text: &str,
) -> Result<f64, RequestError> {
    in_units(stats::number(MINUTE_MS), what, range, limits, text)
}

/// Hours within limits, both included: `2.5`, `2.5 h`, `2h30`, `2:30`; a bare number means hours.
///
/// # Errors
/// As [`number`].
pub fn hours(
    what: &'static str,
    range: &'static str,
    limits: (f64, f64),
    text: &str,
) -> Result<f64, RequestError> {
    in_units(HOUR_MS, what, range, limits, text)
}

/// Milliseconds in an hour.
pub const HOUR_MS: f64 = 3_600_000.0;

fn in_units(
    unit_ms: f64,
    what: &'static str,
    range: &'static str,
    limits: (f64, f64),
    text: &str,
) -> Result<f64, RequestError> {
    let (low, high) = limits;
    match with_unit(text, unit_ms) {
        Some(units) if (low..=high).contains(&units) => Ok(units),
        Some(_) => Err(refused(what, range, text)),
        None => number(what, range, limits, text),
    }
}

/// How many units of so many milliseconds a length of time with a unit behind it is; none where it is a bare number, or no
/// length at all.
#[must_use]
pub fn with_unit(text: &str, unit_ms: f64) -> Option<f64> {
    let plain = text.trim().to_lowercase();
    if !plain.contains(|letter: char| letter.is_alphabetic() || letter == ':') {
        return None;
    }
    // Hours of a machine's life are longer than any length of work that is believed.
    let hours = ["hours", "hour", "h"].into_iter().find_map(|unit| plain.strip_suffix(unit));
    match hours.and_then(|hours| decimals::read(hours).ok()) {
        Some(hours) => Some(hours * HOUR_MS / unit_ms),
        None => lasting::ms(&plain).map(|ms| stats::number(ms) / unit_ms),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_numbers_within_the_limits_pass() {
        let asked = |text: &str| number("the share", "0 to 100", (0.0, 100.0), text);
        for (text, value) in [("0", 0.0), (" 12.5 ", 12.5), ("100", 100.0), ("1e1", 10.0), ("12,5", 12.5)] {
            assert!(asked(text).is_ok_and(|found| (found - value).abs() < 1e-12), "{text}");
        }
        for text in ["", "ten", "NaN", "inf", "-1", "100.1", "1,500", "1,", "1e999", "0x1", "5 %"] {
            assert!(asked(text).is_err(), "{text}");
        }
        assert_eq!(
            asked("ten").map_err(|error| error.to_string()),
            Err("the share must be 0 to 100, not \"ten\"".to_owned())
        );
    }

    #[test]
    fn per_cent_are_read_with_the_sign_and_without() {
        let asked = |text: &str| per_cent("the share", "0 to 100", (0.0, 100.0), text);
        for text in ["60", "60%", "60 %", " 60,0 % "] {
            assert!(asked(text).is_ok_and(|found| (found - 60.0).abs() < 1e-12), "{text}");
        }
        for text in ["", "%", "60%%", "%60", "101 %", "-1%", "0.6 per"] {
            let refused = asked(text).map_err(|error| error.to_string());
            assert!(refused.is_err_and(|words| words.contains(&format!("\"{}\"", text.trim()))), "{text}");
        }
    }

    #[test]
    fn a_comma_that_leaves_the_number_open_is_asked_about() {
        let asked = number("the price", "0 to 9999", (0.0, 9_999.0), "1,500").unwrap_err();
        assert_eq!(asked.to_string(), "1,500 may mean 1500 or 1.5");
    }

    #[test]
    fn minutes_and_hours_are_read_with_a_unit_and_without() {
        let asked = |text: &str| minutes("the time", "0 to 1440", (0.0, 1_440.0), text).ok();
        for text in ["100", "100 min", "1h40", "1h 40", "1:40", "1 hour 40 minutes", "100,0"] {
            assert_eq!(asked(text), Some(100.0), "{text}");
        }
        let asked = |text: &str| hours("the time", "0 to 1000", (0.0, 1_000.0), text).ok();
        for text in ["1.5", "1,5", "1,5 h", "1h30", "1:30", "90min"] {
            assert_eq!(asked(text), Some(1.5), "{text}");
        }
        assert_eq!(asked("900 hours"), Some(900.0));
        for text in ["", "-1h", "1001", "1001h", "1:3", "h", "-1", "1e9h", "NaN h"] {
            assert_eq!(asked(text), None, "{text}");
        }
    }
}
