//! Amounts of money as whole millionths of the maker's currency unit, so that a sum of prices is exact.

use serde::{Deserialize, Serialize};
use thiserror::Error;

use crate::stats::number;

/// Millionths in one unit of the currency.
const MILLIONTHS: u64 = 1_000_000;
/// Places after the point that an amount can have.
const MOST_PLACES: usize = 6;
/// The largest amount: nobody buys a tufting machine for more than a thousand million.
const MOST_UNITS: u64 = 1_000_000_000;

/// An amount, zero or more, in millionths of the currency unit. The program has no currency of its own: all amounts
/// of one maker are in the same one.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Money(pub u64);

/// Why a text is no amount.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum NotAnAmount {
    /// No number written with digits and a point or comma.
    #[error("\"{0}\" is not an amount of money; write it like 300 or 12.50, without a currency sign")]
    NotANumber(String),
    /// Three digits behind a comma: it may part thousands, or be a decimal comma.
    #[error("\"{typed}\" may mean {} or {}; write one of them", either[0], either[1])]
    Thousands {
        /// What was typed.
        typed: String,
        /// The two amounts that it may mean.
        either: [String; 2],
    },
    /// Below zero.
    #[error("{0} is below zero")]
    Negative(String),
    /// More than six places after the point.
    #[error("{0} has more than {MOST_PLACES} places after the point")]
    TooFine(String),
    /// Beyond any machine.
    #[error("{0} is more than {MOST_UNITS}")]
    TooMuch(String),
}

impl Money {
    /// The amount in units of the currency.
    #[must_use]
    pub fn units(self) -> f64 {
        number(self.0) / number(MILLIONTHS)
    }

    /// Both together.
    #[must_use]
    pub const fn plus(self, other: Self) -> Self {
        Self(self.0.saturating_add(other.0))
    }

    /// Reads an amount in units of the currency: digits, and a point or a comma before the decimal
    /// places.
    ///
    /// # Errors
    /// When it is something else, leaves open whether a comma parts thousands, is below zero, finer than a millionth, or more than a thousand million.
    pub fn parse(text: &str) -> Result<Self, NotAnAmount> {
        let text = text.trim();
        let unclear = || NotAnAmount::NotANumber(text.to_owned());
        if let Some(rest) = text.strip_prefix('-') {
            let digits = rest.bytes().all(|byte| byte.is_ascii_digit() || matches!(byte, b'.' | b','));
            return Err(if digits && !rest.is_empty() {
                NotAnAmount::Negative(text.to_owned())
            } else {
                unclear()
            });
        }
        let (whole, places) = text.split_once(['.', ',']).unwrap_or((text, ""));
        let is_digits = |part: &str| part.bytes().all(|byte| byte.is_ascii_digit());
        if (whole.is_empty() && places.is_empty()) || !is_digits(whole) || !is_digits(places) {
            return Err(unclear());
        }
        let is_short = (1..=3).contains(&whole.len()) && !whole.starts_with('0');
        if text.contains(',') && is_short && places.len() == 3 {
            let decimal = format!("{whole}.{}", places.trim_end_matches('0'));
            let either = [format!("{whole}{places}"), decimal.trim_end_matches('.').to_owned()];
            return Err(NotAnAmount::Thousands { typed: text.to_owned(), either });
        }
        let places = places.trim_end_matches('0');
        if places.len() > MOST_PLACES {
            return Err(NotAnAmount::TooFine(text.to_owned()));
        }
        let too_much = || NotAnAmount::TooMuch(text.to_owned());
        let whole: u64 = if whole.is_empty() { 0 } else { whole.parse::<u64>().map_err(|_| too_much())? };
        let fraction: u64 = format!("{places:0<MOST_PLACES$}").parse().map_err(|_| unclear())?;
        let amount = whole.checked_mul(MILLIONTHS).and_then(|whole| whole.checked_add(fraction));
        amount.filter(|amount| *amount <= MOST_UNITS * MILLIONTHS).map(Self).ok_or_else(too_much)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn amounts_are_read_as_they_are_written_on_a_bill() {
        for (text, millionths) in [
            ("300", 300_000_000),
            ("12.50", 12_500_000),
            ("12,50", 12_500_000),
            ("0,125", 125_000),
            ("1250,125", 1_250_125_000),
            (" 0.05 ", 50_000),
            (".5", 500_000),
            ("7.", 7_000_000),
            ("0", 0),
            ("0.000001", 1),
            ("1.5000000000", 1_500_000),
            ("1000000000", 1_000_000_000_000_000),
        ] {
            assert_eq!(Money::parse(text), Ok(Money(millionths)), "{text}");
        }
    }

    #[test]
    fn what_is_no_amount_says_why() {
        let negative = |text: &str| NotAnAmount::Negative(text.to_owned());
        assert_eq!(Money::parse("-5"), Err(negative("-5")));
        assert_eq!(Money::parse("-0.01"), Err(negative("-0.01")));
        for text in [
            "",
            ".",
            "-",
            "-x",
            "ten",
            "1.200,50",
            "1,200.50",
            "1,200,000",
            ",",
            "1e3",
            "NaN",
            "inf",
            "5 EUR",
            "+5",
            "0x10",
        ] {
            assert_eq!(Money::parse(text), Err(NotAnAmount::NotANumber(text.to_owned())), "{text}");
        }
        for (text, either) in [("1,200", ["1200", "1.2"]), ("15,000", ["15000", "15"])] {
            let either = either.map(str::to_owned);
            assert_eq!(Money::parse(text), Err(NotAnAmount::Thousands { typed: text.to_owned(), either }));
        }
        assert_eq!(Money::parse("0.0000001"), Err(NotAnAmount::TooFine("0.0000001".to_owned())));
        for text in ["1000000000.000001", "99999999999999999999"] {
            assert_eq!(Money::parse(text), Err(NotAnAmount::TooMuch(text.to_owned())), "{text}");
        }
    }

    proptest! {
        #[test]
        fn an_amount_written_out_reads_back(millionths in 0_u64..=1_000_000_000_000_000) {
            let text = format!("{}.{:06}", millionths / 1_000_000, millionths % 1_000_000);
            prop_assert_eq!(Money::parse(&text), Ok(Money(millionths)));
        }
    }
}
