//! What comes with a form: its token, its one-time number, and the fields that were filled in.

use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};

use super::error::Refused;

/// Bytes of chance in a token.
const TOKEN_BYTES: usize = 16;

/// Chance numbers as hexadecimal digits.
///
/// # Errors
/// When the system has none.
pub fn chance(bytes: usize) -> std::io::Result<String> {
    let mut drawn = vec![0_u8; bytes];
    getrandom::fill(&mut drawn).map_err(|error| std::io::Error::other(error.to_string()))?;
    Ok(drawn.iter().map(|byte| format!("{byte:02x}")).collect())
}

/// Whether two texts are the same, in a time that does not depend on where they differ.
pub fn is_same(one: &str, other: &str) -> bool {
    one.len() == other.len() && one.bytes().zip(other.bytes()).fold(0, |unlike, (a, b)| unlike | (a ^ b)) == 0
}

/// Gives forms their token and number. The token is of this run of the program.
#[derive(Clone, Debug)]
pub struct Forms {
    token: Arc<str>,
    next: Arc<AtomicU64>,
}

impl Forms {
    /// With a new token.
    ///
    /// # Errors
    /// When the system has no chance numbers.
    pub fn new() -> std::io::Result<Self> {
        Ok(Self { token: chance(TOKEN_BYTES)?.into(), next: Arc::default() })
    }

    /// The hidden fields of a new form; neither needs to be escaped.
    #[must_use]
    pub fn hidden(&self) -> String {
        let number = self.next.fetch_add(1, Ordering::Relaxed);
        let number = format!("<input type=\"hidden\" name=\"number\" value=\"{number}\">");
        self.token_field() + &number
    }

    /// The token alone, for a form that keeps its number.
    #[must_use]
    pub fn token_field(&self) -> String {
        format!("<input type=\"hidden\" name=\"token\" value=\"{}\">", self.token)
    }

    /// The number of a form that came in.
    ///
    /// # Errors
    /// When its token is not of this run.
    pub fn number(&self, said: &Said) -> Result<String, Refused> {
        let is_ours = said.get("token").is_some_and(|token| is_same(token, &self.token));
        let number = said.get("number").filter(|number| number.len() <= 20);
        match (is_ours, number) {
            (true, Some(number)) => Ok(number.to_owned()),
            _ => Err(Refused::new(
                "this form is from before the page was started again",
                "Nothing was saved by this tap. Go back to the page, look what stands there, and tap again.",
            )),
        }
    }
}

/// What was filled in, or asked for in an address.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Said(pub Vec<(String, String)>);

impl Said {
    /// A field with something in it.
    #[must_use]
    pub fn get(&self, name: &str) -> Option<&str> {
        let field = self.0.iter().find(|(field, _)| field == name);
        field.map(|(_, value)| value.trim()).filter(|value| !value.is_empty())
    }

    /// The same for good.
    #[must_use]
    pub fn text(&self, name: &str) -> Option<String> {
        self.get(name).map(str::to_owned)
    }

    /// All fields of a name.
    #[must_use]
    pub fn all(&self, name: &str) -> Vec<String> {
        let fields = self.0.iter().filter(|(field, value)| field == name && !value.trim().is_empty());
        fields.map(|(_, value)| value.trim().to_owned()).collect()
    }

    /// A whole number.
    ///
    /// # Errors
    /// When something else stands there.
    pub fn whole<N: std::str::FromStr>(&self, name: &str) -> Result<Option<N>, Refused> {
        let read = |text: &str| {
            text.parse().map_err(|_| {
                Refused::new(
                    format!("\"{text}\" is no number that {name} can have"),
                    "Correct it and tap again.",
                )
            })
        };
        self.get(name).map(read).transpose()
    }

    /// The machine's number.
    ///
    /// # Errors
    /// As [`Self::whole`].
    pub fn machine(&self) -> Result<Option<u32>, Refused> {
        self.whole("machine")
    }

    /// A field that must be there.
    ///
    /// # Errors
    /// When it is empty.
    pub fn needed(&self, name: &str, what: &str) -> Result<&str, Refused> {
        self.get(name).ok_or_else(|| Refused::new(format!("{what} is missing"), "Fill it in and tap again."))
    }

    /// Where to go afterwards: a page of ours, never elsewhere.
    #[must_use]
    pub fn back(&self) -> &str {
        let is_ours = |path: &&str| {
            path.starts_with('/')
                && !path.starts_with("//")
                && path.chars().all(|letter| letter.is_ascii_graphic() && letter != '\\')
        };
        self.get("back").filter(is_ours).unwrap_or("/")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn said(fields: &[(&str, &str)]) -> Said {
        Said(fields.iter().map(|(name, value)| ((*name).to_owned(), (*value).to_owned())).collect())
    }

    #[test]
    fn a_form_of_another_run_or_without_a_token_is_refused() {
        let (ours, theirs) = (Forms::new().unwrap(), Forms::new().unwrap());
        let token = |forms: &Forms| forms.token.to_string();
        assert_eq!(ours.number(&said(&[("token", &token(&ours)), ("number", "7")])).unwrap(), "7");
        for fields in [
            vec![("token", token(&theirs)), ("number", "7".to_owned())],
            vec![("token", String::new()), ("number", "7".to_owned())],
            vec![("number", "7".to_owned())],
            vec![("token", token(&ours))],
        ] {
            let fields: Vec<(&str, &str)> =
                fields.iter().map(|(name, value)| (*name, value.as_str())).collect();
            assert!(ours.number(&said(&fields)).is_err(), "{fields:?}");
        }
    }

    #[test]
    fn nobody_is_sent_to_another_place_afterwards() {
        for elsewhere in
            ["//evil.example", "http://evil.example", "/\\evil.example", "/a\r\nSet-Cookie: x", "x"]
        {
            assert_eq!(said(&[("back", elsewhere)]).back(), "/", "{elsewhere:?}");
        }
        assert_eq!(said(&[("back", "/care?machine=2")]).back(), "/care?machine=2");
    }
}
