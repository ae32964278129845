//! Numbers in options, read as a maker types them.

use std::error::Error;

use crate::app::typed::{decimals, words};
use host_core::stats::Level;

type Refused = Box<dyn Error + Send + Sync>;

/// A decimal number, with a point or a comma.
pub fn decimal(text: &str) -> Result<f64, Refused> {
    match decimals::read(text) {
        Ok(number) => Ok(number),
        Err(decimals::Unread::Thousands([one, other])) => {
            Err(format!("{text} may mean {one} or {other}").into())
        }
        // What is no number to a maker, as "nan", is refused where its limits are known.
        Err(decimals::Unread::NotANumber) => Ok(text.trim().parse::<f64>()?),
    }
}

/// Hours: `2.5`, `2,5h`, `2h30`, `2:30`.
pub fn hours(text: &str) -> Result<f64, Refused> {
    words::with_unit(text, words::HOUR_MS).map_or_else(|| decimal(text), Ok)
}

/// Whole per cent from 0 to 100: `60`, `60%`, `60 %`.
pub fn per_cent(text: &str) -> Result<u8, Refused> {
    let percent: i64 = words::without_sign(text).parse()?;
    let within = u8::try_from(percent).ok().filter(|percent| *percent <= 100);
    within.ok_or_else(|| format!("{percent} is not in 0..=100").into())
}

/// A level of confidence: `0.95`, `0,95`, `95%`.
pub fn level(text: &str) -> Result<Level, String> {
    let level = words::share(text).and_then(Level::new);
    level.ok_or_else(|| "it must be a share above 0 and below 1, such as 0.9".to_owned())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_read_as_they_are_typed() {
        let near =
            |read: Result<f64, Refused>, number: f64| read.is_ok_and(|read| (read - number).abs() < 1e-9);
        assert!(
            near(decimal("2,5"), 2.5)
                && near(decimal("1e-3"), 0.001)
                && decimal("NaN").is_ok_and(f64::is_nan)
        );
        assert!(
            near(hours("2,5"), 2.5)
                && near(hours("2h30"), 2.5)
                && near(hours("2:30"), 2.5)
                && near(hours("1000 h"), 1e3)
        );
        for text in ["", "two", "1,500", "2:3", "2h:30", "1,500 h"] {
            assert!(hours(text).is_err(), "{text}");
        }
    }

    #[test]
    fn per_cent_are_whole_with_the_sign_or_without() {
        for text in ["60", "60%", "60 %", " 60 % "] {
            assert_eq!(per_cent(text).ok(), Some(60), "{text}");
        }
        for text in ["", "%", "101", "-1%", "0.5", "60%%", "half"] {
            assert!(per_cent(text).is_err(), "{text}");
        }
        assert_eq!(per_cent("101 %").map_err(|why| why.to_string()), Err("101 is not in 0..=100".to_owned()));
    }

    #[test]
    fn a_level_is_a_share() {
        for text in ["0.95", "0,95", "95%", "95 %"] {
            assert_eq!(level(text), Ok(Level::new(0.95).unwrap()), "{text}");
        }
        for text in ["", "1", "0", "95", "100%", "0%", "sure", "nan"] {
            assert!(level(text).is_err(), "{text}");
        }
    }
}
