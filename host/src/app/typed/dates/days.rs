//! Days as they are typed. What may mean several days is read as all of them, for the maker to choose.

use std::ops::RangeInclusive;

use jiff::Span;
use jiff::civil::{Date, Weekday};

use super::error::DateError;

/// The first year in which work can have been done that somebody still enters.
pub const FIRST_YEAR: i16 = 1950;

/// What the typed letters mean as a day.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum DayRead {
    /// One day.
    Day(Date),
    /// It may be one of these, or the year has two digits.
    Unclear(Vec<Date>),
}

impl DayRead {
    /// The day, where it is clear which one.
    pub fn sure(self, typed: &str) -> Result<Date, DateError> {
        match self {
            Self::Day(day) => Ok(day),
            Self::Unclear(days) => Err(DateError::WhichDay { typed: typed.to_owned(), days }),
        }
    }

    /// The days that it may be; none where there is none. `is_sure` is whether the letters leave nothing open.
    fn of(mut days: Vec<Date>, is_sure: bool, today: Date) -> Option<Self> {
        days.dedup();
        // Only what has come can be meant by a year of two digits.
        if !is_sure && days.iter().any(|day| *day <= today) {
            days.retain(|day| *day <= today);
        }
        match days.as_slice() {
            [] => None,
            [day] if is_sure => Some(Self::Day(*day)),
            _ => Some(Self::Unclear(days)),
        }
    }
}

/// The day that small letters say; none where they say none.
pub fn read(plain: &str, today: Date) -> Option<DayRead> {
    let words: Vec<&str> = plain.split(' ').collect();
    match words.as_slice() {
        [word] => named(word, today).map(DayRead::Day).or_else(|| in_numbers(word, today)),
        [count, unit, "ago"] => ago(count, unit, today).map(DayRead::Day),
        [one, other] => in_words([one, other], None, today),
        [year, one, other] if number(year, 4..=4).is_some() => in_words([one, other], Some(year), today),
        [one, other, year] => in_words([one, other], Some(year), today),
        _ => None,
    }
}

/// Whether these are digits and what stands between them in a date.
pub fn is_in_numbers(text: &str) -> bool {
    text.bytes().all(|letter| letter.is_ascii_digit() || matches!(letter, b'-' | b'.' | b'/'))
}

/// `today`, `yesterday`, `friday`, `fri`.
fn named(word: &str, today: Date) -> Option<Date> {
    let weekday = match word {
        "today" => return Some(today),
        "yesterday" => return today.yesterday().ok(),
        "monday" | "mon" => Weekday::Monday,
        "tuesday" | "tue" | "tues" => Weekday::Tuesday,
        "wednesday" | "wed" => Weekday::Wednesday,
        "thursday" | "thu" | "thur" | "thurs" => Weekday::Thursday,
        "friday" | "fri" => Weekday::Friday,
        "saturday" | "sat" => Weekday::Saturday,
        "sunday" | "sun" => Weekday::Sunday,
        _ => return None,
    };
    // The last one before today.
    today.nth_weekday(-1, weekday).ok()
}

/// `2 days ago`, `a week ago`.
fn ago(count: &str, unit: &str, today: Date) -> Option<Date> {
    let count = match count {
        "a" | "an" => 1,
        digits => i32::from(number(digits, 1..=4)?),
    };
    let days = match unit {
        "day" | "days" => count,
        "week" | "weeks" => count * 7,
        _ => return None,
    };
    today.checked_sub(Span::new().days(days)).ok()
}

/// `28.9.2026`, `28.9.`, `28.9`, `2026-03-04`, `28/9/2026`, `28/9`.
fn in_numbers(word: &str, today: Date) -> Option<DayRead> {
    let between = word.chars().find(|letter| !letter.is_ascii_digit())?;
    let parts: Vec<&str> = match between {
        '.' => word.strip_suffix('.').unwrap_or(word).split('.').collect(),
        '-' | '/' => word.split(between).collect(),
        _ => return None,
    };
    match *parts.as_slice() {
        [year, month, day] if year.len() == 4 && !word.ends_with('.') => {
            let dates = dates(Some(year), [(day, month)], today);
            DayRead::of(dates, true, today)
        }
        // Numbers with points between them go up everywhere.
        [day, month] if between == '.' => DayRead::of(dates(None, [(day, month)], today), true, today),
        [day, month, year] if between == '.' && !word.ends_with('.') => {
            let year_first = (year.len() == 2).then_some((day, month, year));
            let mut days = dates(Some(year), [(day, month)], today);
            days.extend(
                year_first
                    .into_iter()
                    .flat_map(|(year, month, day)| dates(Some(year), [(day, month)], today)),
            );
            DayRead::of(days, year.len() == 4, today)
        }
        [one, other] if between == '/' => {
            DayRead::of(dates(None, [(one, other), (other, one)], today), true, today)
        }
        [one, other, year] if between != '.' => {
            let mut days = dates(Some(year), [(one, other), (other, one)], today);
            if year.len() == 2 {
                days.extend(dates(Some(one), [(year, other)], today));
            }
            DayRead::of(days, year.len() == 4, today)
        }
        _ => None,
    }
}

/// `26 Nov`, `Nov 26`, `26 November 2026`, `Nov 26, 2026`, `2026 Nov 26`.
fn in_words([one, other]: [&str; 2], year: Option<&str>, today: Date) -> Option<DayRead> {
    let other = other.trim_end_matches(',');
    let (day, month) = match (month(one), month(other)) {
        (Some(month), None) => (other, month),
        (None, Some(month)) => (one, month),
        _ => return None,
    };
    let ends = ["st", "nd", "rd", "th", "."];
    let day = ends.iter().find_map(|end| day.strip_suffix(end)).unwrap_or(day);
    let month = month.to_string();
    let mut days = dates(year, [(day, month.as_str())], today);
    let is_sure = year.is_none_or(|year| year.len() == 4);
    if let (Some(year), false, true) = (year, is_sure, self::month(other).is_some()) {
        days.extend(dates(Some(day), [(year, month.as_str())], today));
    }
    DayRead::of(days, is_sure, today)
}

/// The days of these days and months that there are. Without a year, the last that has come; of a year of two digits, what
/// can have been worked in.
fn dates<const N: usize>(year: Option<&str>, days_and_months: [(&str, &str); N], today: Date) -> Vec<Date> {
    let years: Vec<i16> = match year.map(|year| (year.len(), number(year, 2..=4))) {
        None => Vec::new(),
        Some((4, Some(year))) => vec![year],
        Some((2, Some(year))) => [1900, 2000]
            .into_iter()
            .map(|age| age + year)
            .filter(|year| (FIRST_YEAR..=today.year()).contains(year))
            .collect(),
        Some(_) => return Vec::new(),
    };
    let mut found = Vec::new();
    for (day, month) in days_and_months {
        let (Some(day), Some(month)) = (small(day), small(month)) else { continue };
        if year.is_none() {
            found.extend(last(month, day, today));
        }
        found.extend(years.iter().filter_map(|year| Date::new(*year, month, day).ok()));
    }
    found
}

/// The last such day that has come. There is a 29 February in every eight years.
fn last(month: i8, day: i8, today: Date) -> Option<Date> {
    (0..=8).filter_map(|back| Date::new(today.year() - back, month, day).ok()).find(|day| *day <= today)
}

fn small(digits: &str) -> Option<i8> {
    number(digits, 1..=2).and_then(|number| i8::try_from(number).ok())
}

fn number(digits: &str, lengths: RangeInclusive<usize>) -> Option<i16> {
    let are_digits = digits.bytes().all(|letter| letter.is_ascii_digit());
    (are_digits && lengths.contains(&digits.len())).then(|| digits.parse().ok())?
}

/// The number of a month's name, whole or cut to its first three letters.
fn month(word: &str) -> Option<i8> {
    const NAMES: [&str; 12] = [
        "january",
        "february",
        "march",
        "april",
        "may",
        "june",
        "july",
        "august",
        "september",
        "october",
        "november",
        "december",
    ];
    let word = word.trim_end_matches('.');
    let is_meant = |name: &&str| {
        *name == word || name.get(..3) == Some(word) || (word == "sept" && *name == "september")
    };
    NAMES.iter().zip(1..).find(|(name, _)| is_meant(name)).map(|(_, number)| number)
}
