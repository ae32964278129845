//! Phones: let in by a code that is good once, remembered by a cookie, forgotten all at once.

use std::sync::Mutex;
use std::time::{Duration, Instant};

use axum::http::{HeaderMap, header};

use super::forms::{chance, is_same};
use super::lock::held;

/// Bytes of chance in a code and in a cookie.
const CODE_BYTES: usize = 8;
const COOKIE_BYTES: usize = 32;
/// A code is good for so long.
const CODE_LASTS: Duration = Duration::from_secs(600);
/// So many wrong codes, and the right one is good no more.
const MOST_WRONG: u32 = 5;
/// So many phones at once.
const MOST_PHONES: usize = 8;
/// The cookie's name.
pub const COOKIE: &str = "needlehours";

/// A code that was shown.
#[derive(Debug)]
struct Code {
    code: String,
    shown: Instant,
    wrong: u32,
}

#[derive(Debug, Default)]
struct Known {
    code: Option<Code>,
    cookies: Vec<String>,
}

/// The phones that may come in.
#[derive(Debug, Default)]
pub struct Phones(Mutex<Known>);

/// Why a phone was not let in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum NotPaired {
    /// The code is wrong, was used, or is too old.
    WrongCode,
    /// Too many phones.
    TooMany,
    /// The system has no chance numbers.
    NoChance,
}

impl Phones {
    /// A new code; an older one is good no more.
    ///
    /// # Errors
    /// When the system has no chance numbers.
    pub fn new_code(&self) -> std::io::Result<String> {
        let code = chance(CODE_BYTES)?;
        held(&self.0).code = Some(Code { code: code.clone(), shown: Instant::now(), wrong: 0 });
        Ok(code)
    }

    /// Lets a phone in by its code, once; returns its cookie.
    ///
    /// # Errors
    /// When the code is not good, or there are too many phones.
    pub fn pair(&self, typed: &str) -> Result<String, NotPaired> {
        let mut known = held(&self.0);
        let code = known.code.as_mut().ok_or(NotPaired::WrongCode)?;
        let is_good = code.shown.elapsed() < CODE_LASTS && code.wrong < MOST_WRONG;
        if !is_good || !is_same(typed, &code.code) {
            code.wrong = code.wrong.saturating_add(1);
            return Err(NotPaired::WrongCode);
        }
        if known.cookies.len() >= MOST_PHONES {
            return Err(NotPaired::TooMany);
        }
        let cookie = chance(COOKIE_BYTES).map_err(|_| NotPaired::NoChance)?;
        known.code = None;
        known.cookies.push(cookie.clone());
        Ok(cookie)
    }

    /// Whether a request comes from a phone that was let in.
    pub fn is_known(&self, headers: &HeaderMap) -> bool {
        let known = held(&self.0);
        let cookies = headers.get_all(header::COOKIE).iter().filter_map(|line| line.to_str().ok());
        let mut values = cookies.flat_map(|line| line.split(';')).filter_map(|pair| {
            let (name, value) = pair.trim().split_once('=')?;
            (name == COOKIE).then_some(value)
        });
        values.any(|value| known.cookies.iter().any(|cookie| is_same(cookie, value)))
    }

    /// Nobody is let in any more, by cookie or code.
    pub fn forget(&self) {
        *held(&self.0) = Known::default();
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn cookie(value: &str) -> HeaderMap {
        let mut headers = HeaderMap::new();
        headers.insert(header::COOKIE, format!("other=1; needlehours={value}").parse().unwrap());
        headers
    }

    #[test]
    fn a_code_lets_one_phone_in_and_is_good_no_more() {
        let phones = Phones::default();
        assert_eq!(phones.pair(""), Err(NotPaired::WrongCode), "there is no code yet");
        let code = phones.new_code().unwrap();
        let key = phones.pair(&code).unwrap();
        assert!(phones.is_known(&cookie(&key)) && !phones.is_known(&cookie("")));
        assert!(!phones.is_known(&HeaderMap::new()));
        assert_eq!(phones.pair(&code), Err(NotPaired::WrongCode));
        phones.forget();
        assert!(!phones.is_known(&cookie(&key)));
    }

    #[test]
    fn after_five_wrong_codes_the_right_one_is_good_no_more() {
        let phones = Phones::default();
        let code = phones.new_code().unwrap();
        for _ in 0..4 {
            assert_eq!(phones.pair("0000000000000000"), Err(NotPaired::WrongCode));
        }
        let other = Phones::default();
        let good = other.new_code().unwrap();
        for _ in 0..4 {
            assert!(other.pair("no").is_err());
        }
        assert!(other.pair(&good).is_ok(), "four slips are forgiven");
        assert!(phones.pair("").is_err());
        assert_eq!(phones.pair(&code), Err(NotPaired::WrongCode));
    }

    #[test]
    fn no_more_than_eight_phones_come_in() {
        let phones = Phones::default();
        for _ in 0..8 {
            let code = phones.new_code().unwrap();
            assert!(phones.pair(&code).is_ok());
        }
        let code = phones.new_code().unwrap();
        assert_eq!(phones.pair(&code), Err(NotPaired::TooMany));
    }
}
