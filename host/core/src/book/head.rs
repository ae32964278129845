//! The head of the chain as it is printed and typed: how many steps, a dash, and the last link in hexadecimal.

use std::fmt;

use thiserror::Error;

use super::chain::Link;

/// The head of a chain.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Head {
    /// How many steps the chain had; none where only the link was typed.
    pub steps: Option<u64>,
    /// The last link.
    pub link: Link,
}

/// What was typed is no head.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[error("\"{0}\" is not a head of the chain: it is a number, a dash and 64 digits and letters from a to f")]
pub struct NotAHead(pub String);

impl fmt::Display for Head {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.steps {
            Some(steps) => write!(f, "{steps}-{}", self.link),
            None => self.link.fmt(f),
        }
    }
}

impl serde::Serialize for Head {
    fn serialize<S: serde::Serializer>(&self, out: S) -> Result<S::Ok, S::Error> {
        out.collect_str(self)
    }
}

impl std::str::FromStr for Head {
    type Err = NotAHead;

    /// Blanks and line breaks do not matter, as print groups the digits; nor do capitals. The number may be left out.
    fn from_str(text: &str) -> Result<Self, NotAHead> {
        let refused = || NotAHead(text.trim().escape_debug().to_string());
        let typed: String = text.chars().filter(|letter| !letter.is_whitespace()).collect();
        let (steps, digits) = match typed.split_once('-') {
            None => (None, typed.as_str()),
            Some((steps, digits)) if steps.bytes().all(|digit| digit.is_ascii_digit()) => {
                (Some(steps.parse().map_err(|_| refused())?), digits)
            }
            Some(_) => return Err(refused()),
        };
        let link = Link::of_digits(digits).ok_or_else(refused)?;
        Ok(Self { steps, link })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_head_is_read_as_it_is_printed_also_with_blanks_and_capitals() {
        let head = Head { steps: Some(57), link: Link([0x1F; 32]) };
        let printed = format!("57-{}", "1f".repeat(32));
        assert_eq!(head.to_string(), printed);
        let grouped = format!(" 57- {} \n", "1F1F1F1F ".repeat(8));
        for typed in [printed.as_str(), &grouped] {
            assert_eq!(typed.parse::<Head>().unwrap(), head, "{typed}");
        }
        let bare = "1f".repeat(32).parse::<Head>().unwrap();
        assert_eq!((bare.steps, bare.link), (None, head.link));
    }

    #[test]
    fn anything_else_is_refused() {
        let short = format!("57-{}", "1f".repeat(31));
        let negative = format!("-{}", "1f".repeat(32));
        let huge = format!("99999999999999999999-{}", "1f".repeat(32));
        for typed in ["", "57", "abc-1f", &short, &negative, &huge] {
            assert!(typed.parse::<Head>().is_err(), "{typed}");
        }
    }
}
