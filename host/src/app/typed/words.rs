//! Numbers as the maker types them, so that a slip gets an answer in plain words instead of a usage message.

use super::error::RequestError;

/// The answer to something typed that cannot be used; what was typed is shown on one line and in quotation marks.
#[must_use]
pub fn refused(what: &'static str, range: &'static str, text: &str) -> RequestError {
    RequestError::OutOfRange { what, range, given: format!("\"{}\"", text.trim().escape_debug()) }
}

/// A number within limits, both included.
///
/// # Errors
/// When the text is no number, or lies outside.
pub fn number(
    what: &'static str,
    range: &'static str,
    limits: (f64, f64),
    text: &str,
) -> Result<f64, RequestError> {
    let (low, high) = limits;
    let given = || refused(what, range, text);
    let typed = text.trim();
    // "inf", "nan" and "infinity" are numbers to the standard library, not to a maker.
    if typed.chars().any(|letter| letter.is_alphabetic() && !matches!(letter, 'e' | 'E')) {
        return Err(given());
    }
    typed.parse::<f64>().ok().filter(|number| (low..=high).contains(number)).ok_or_else(given)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_numbers_within_the_limits_pass() {
        let asked = |text: &str| number("the share", "0 to 100", (0.0, 100.0), text);
        for (text, value) in [("0", 0.0), (" 12.5 ", 12.5), ("100", 100.0), ("1e1", 10.0)] {
            assert!(asked(text).is_ok_and(|found| (found - value).abs() < 1e-12), "{text}");
        }
        for text in ["", "ten", "NaN", "inf", "-1", "100.1", "1,5", "1e999", "0x1", "5 %"] {
            assert!(asked(text).is_err(), "{text}");
        }
        assert_eq!(
            asked("ten").map_err(|error| error.to_string()),
            Err("the share must be 0 to 100, not \"ten\"".to_owned())
        );
    }
}
