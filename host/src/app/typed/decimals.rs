//! Decimal numbers as they are typed, with a point or a comma: `2.5`, `2,5`.

/// Why these letters are no decimal number.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Unread {
    /// They are none at all.
    NotANumber,
    /// Three digits stand behind a comma: it may part thousands, or be a decimal comma. Both numbers.
    Thousands([String; 2]),
}

/// The number; a comma is a decimal comma.
///
/// # Errors
/// When it is no number, is endless, or when `1,500` leaves open whether 1500 or 1.5 is meant.
pub fn read(text: &str) -> Result<f64, Unread> {
    let typed = text.trim();
    // "inf", "nan" and "infinity" are numbers to the standard library, not to a maker.
    if typed.chars().any(|letter| letter.is_alphabetic() && !matches!(letter, 'e' | 'E')) {
        return Err(Unread::NotANumber);
    }
    let plain = match typed.split_once(',') {
        None => typed.to_owned(),
        Some((whole, part)) => {
            let (whole_digits, are_digits) = (digits(whole), digits(part).is_some());
            let parts_thousands =
                |digits: &str| digits.len() <= 3 && !digits.starts_with('0') && part.len() == 3;
            match whole_digits {
                Some(digits) if are_digits && parts_thousands(digits) => {
                    let either =
                        [format!("{whole}{part}"), format!("{whole}.{}", part.trim_end_matches('0'))];
                    return Err(Unread::Thousands(
                        either.map(|number| number.trim_end_matches('.').to_owned()),
                    ));
                }
                Some(_) if are_digits => format!("{whole}.{part}"),
                _ => return Err(Unread::NotANumber),
            }
        }
    };
    plain.parse::<f64>().ok().filter(|number| number.is_finite()).ok_or(Unread::NotANumber)
}

/// The nearest whole number to one that is not below zero.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "the callers check the limits, far below 2^53; a cast stops at the ends"
)]
#[must_use]
pub fn whole(value: f64) -> u64 {
    value.round() as u64
}

/// The digits behind a sign; none where there is anything else, or nothing.
fn digits(text: &str) -> Option<&str> {
    let digits = text.strip_prefix(['-', '+']).unwrap_or(text);
    (!digits.is_empty() && digits.bytes().all(|letter| letter.is_ascii_digit())).then_some(digits)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_comma_and_a_point_are_one() {
        for (text, number) in [
            ("2.5", 2.5),
            ("2,5", 2.5),
            (" -0,25 ", -0.25),
            ("0,125", 0.125),
            ("1234,567", 1_234.567),
            ("1,5000", 1.5),
            ("7", 7.0),
            ("1e1", 10.0),
            ("1.500", 1.5),
        ] {
            assert!(read(text).is_ok_and(|read| (read - number).abs() < 1e-12), "{text}");
        }
        for text in [
            "", ",", "5,", ",5", "1,2,3", "1,234.5", "1.234,5", "1,+5", "1, 5", "ten", "NaN", "inf", "1e999",
            "5 %",
        ] {
            assert_eq!(read(text), Err(Unread::NotANumber), "{text}");
        }
    }

    #[test]
    fn a_comma_that_may_part_thousands_is_asked_about() {
        for (text, thousands, decimal) in [
            ("1,500", "1500", "1.5"),
            ("12,345", "12345", "12.345"),
            ("-1,500", "-1500", "-1.5"),
            ("2,000", "2000", "2"),
        ] {
            let either = [thousands.to_owned(), decimal.to_owned()];
            assert_eq!(read(text), Err(Unread::Thousands(either)), "{text}");
        }
    }
}
