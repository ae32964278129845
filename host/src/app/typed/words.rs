//! Numbers as the maker types them, so that a slip gets an answer in plain words instead of a usage message.

use super::decimals::{self, Unread};
use super::error::RequestError;

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
    let typed = text.trim();
    let typed = typed.strip_suffix('%').unwrap_or(typed);
    number(what, range, limits, typed).map_err(|error| match error {
        RequestError::OutOfRange { .. } => refused(what, range, text),
        other => other,
    })
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
}
