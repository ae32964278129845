//! Numbers and dates in plain words, the same everywhere.

use jiff::Timestamp;
use jiff::civil::Date;
use jiff::tz::TimeZone;

use crate::core::attribution::Basis;
use crate::core::bands::KnobBand;
use crate::core::session_list::{CountedTo, PartLine, SessionLine};
use crate::core::studio::RugState;

/// A length of time, rounded down: "3 h 20 min", "12 min", "45 s".
#[must_use]
pub fn duration(ms: u64) -> String {
    let seconds = ms / 1_000;
    let (hours, minutes) = (seconds / 3_600, seconds / 60 % 60);
    match (hours, minutes) {
        (0, 0) => format!("{seconds} s"),
        (0, _) => format!("{minutes} min"),
        (_, 0) => format!("{} h", count(hours)),
        _ => format!("{} h {minutes} min", count(hours)),
    }
}

/// A count with its thousands set apart: "1,234,567".
#[must_use]
pub fn count(number: u64) -> String {
    let digits = number.to_string();
    let mut grouped = String::new();
    for (place, digit) in digits.chars().enumerate() {
        if place > 0 && (digits.len() - place).is_multiple_of(3) {
            grouped.push(',');
        }
        grouped.push(digit);
    }
    grouped
}

/// "1 session", "3 sessions".
#[must_use]
pub fn plural(number: u64, one: &str) -> String {
    if number == 1 { format!("1 {one}") } else { format!("{} {one}s", count(number)) }
}

/// "Fox", "Fox and Bear", "Fox, Bear and Owl".
#[must_use]
pub fn all_of(words: &[String]) -> String {
    match words {
        [] => String::new(),
        [one] => one.clone(),
        [first @ .., last] => format!("{} and {last}", first.join(", ")),
    }
}

const MONTHS: [&str; 12] = [
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
];

/// "Wed 4 March 2026".
#[must_use]
pub fn day(day: Date) -> String {
    let weekday = match day.weekday() {
        jiff::civil::Weekday::Monday => "Mon",
        jiff::civil::Weekday::Tuesday => "Tue",
        jiff::civil::Weekday::Wednesday => "Wed",
        jiff::civil::Weekday::Thursday => "Thu",
        jiff::civil::Weekday::Friday => "Fri",
        jiff::civil::Weekday::Saturday => "Sat",
        jiff::civil::Weekday::Sunday => "Sun",
    };
    format!("{weekday} {}", bare_day(day))
}

fn bare_day(day: Date) -> String {
    let month = usize::try_from(day.month() - 1).ok().and_then(|index| MONTHS.get(index)).unwrap_or(&"");
    format!("{} {month} {}", day.day(), day.year())
}

/// "4 March 2026", or "4 March 2026 to 9 March 2026".
#[must_use]
pub fn days(first: Option<Date>, last: Option<Date>) -> String {
    match (first, last) {
        (Some(first), Some(last)) if first != last => format!("{} to {}", bare_day(first), bare_day(last)),
        (Some(only), _) | (None, Some(only)) => bare_day(only),
        (None, None) => "date not known".to_owned(),
    }
}

/// "Wed 4 March 2026, 18:30"; nothing for a moment that no calendar can name.
#[must_use]
pub fn moment(utc_ms: i64, zone: &TimeZone) -> String {
    let Ok(at) = Timestamp::from_millisecond(utc_ms) else { return String::new() };
    let local = at.to_zoned_datetime(zone.clone()).datetime();
    format!("{}, {:02}:{:02}", day(local.date()), local.hour(), local.minute())
}

/// When a session began: a moment, a day, two limits, or "date not known".
#[must_use]
pub fn session_start(session: &SessionLine, zone: &TimeZone) -> String {
    match (session.starts_earliest_utc_ms, session.starts_latest_utc_ms) {
        (Some(earliest), Some(latest)) if earliest == latest => moment(earliest, zone),
        (Some(earliest), Some(latest)) => match session.day {
            Some(on) => day(on),
            None => format!("between {} and {}", moment(earliest, zone), moment(latest, zone)),
        },
        _ => "date not known".to_owned(),
    }
}

/// To whom a stretch is counted: "Fox", "Fox (assumed)", "care", "nobody: two rugs were on the frame".
#[must_use]
pub fn counted_to(part: &PartLine) -> String {
    let whose = match part.counted_to {
        CountedTo::Rug => part.rug.clone().unwrap_or_default(),
        CountedTo::Care => "care".to_owned(),
        CountedTo::Nobody => "nobody".to_owned(),
        CountedTo::Undated => "nobody yet".to_owned(),
    };
    match part.because {
        Basis::Explicit | Basis::Confirmed => whose,
        Basis::Assumed => format!("{whose} (assumed)"),
        Basis::NothingActive => format!("{whose}: no rug was on the frame"),
        Basis::SeveralActive => format!("{whose}: more than one rug was on the frame"),
        Basis::RugIsGone => format!("{whose}: its rug was taken back"),
        Basis::TimeUncertain => format!("{whose}: its date is not known well enough"),
    }
}

/// How a commission stands.
#[must_use]
pub const fn rug_state(state: RugState) -> &'static str {
    match state {
        RugState::Ordered => "not begun",
        RugState::OnTheFrame => "on the frame",
        RugState::Resting => "resting",
        RugState::Finished => "finished",
    }
}

/// A band of the knob.
#[must_use]
pub const fn knob_band(band: KnobBand) -> &'static str {
    match band {
        KnobBand::Slowest => "slowest quarter",
        KnobBand::LowerMiddle => "lower middle",
        KnobBand::UpperMiddle => "upper middle",
        KnobBand::Fastest => "fastest quarter",
        KnobBand::Unknown => "knob not known",
    }
}

/// Millimetres as the trade writes a size: "80 x 120 cm", "80.5 x 120 cm".
#[must_use]
pub fn size(width_mm: u32, height_mm: u32) -> String {
    let side = |mm: u32| match mm % 10 {
        0 => format!("{}", mm / 10),
        rest => format!("{}.{rest}", mm / 10),
    };
    format!("{} x {} cm", side(width_mm), side(height_mm))
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;
    use jiff::tz::offset;

    #[test]
    fn lengths_of_time_are_rounded_down_and_leave_out_what_is_zero() {
        let said = [
            (0, "0 s"),
            (59_999, "59 s"),
            (60_000, "1 min"),
            (3_599_999, "59 min"),
            (3_600_000, "1 h"),
            (12_000_000, "3 h 20 min"),
            (3_600_000_000 * 2, "2,000 h"),
        ];
        for (ms, words) in said {
            assert_eq!(duration(ms), words);
        }
    }

    #[test]
    fn thousands_are_set_apart() {
        assert_eq!([0, 999, 1_000, 1_234_567].map(count), ["0", "999", "1,000", "1,234,567"]);
        assert_eq!(
            [0, 1, 2_000].map(|number| plural(number, "stroke")),
            ["0 strokes", "1 stroke", "2,000 strokes"]
        );
    }

    #[test]
    fn days_and_moments_are_words() {
        // 4 March 2026 is a Wednesday; 20,516 days after 1970-01-01.
        assert_eq!(day(date(2026, 3, 4)), "Wed 4 March 2026");
        let zone = TimeZone::fixed(offset(2));
        assert_eq!(moment((20_516 * 24 + 16) * 3_600_000, &zone), "Wed 4 March 2026, 18:00");
        assert_eq!(days(Some(date(2026, 3, 4)), Some(date(2026, 3, 9))), "4 March 2026 to 9 March 2026");
        assert_eq!(days(Some(date(2026, 3, 4)), Some(date(2026, 3, 4))), "4 March 2026");
        assert_eq!(days(None, None), "date not known");
    }

    #[test]
    fn names_are_joined_as_in_a_sentence() {
        let names = ["Fox", "Bear", "Owl"].map(str::to_owned);
        assert_eq!(all_of(&names[..0]), "");
        assert_eq!(all_of(&names[..1]), "Fox");
        assert_eq!(all_of(&names[..2]), "Fox and Bear");
        assert_eq!(all_of(&names), "Fox, Bear and Owl");
    }

    #[test]
    fn sizes_are_centimetres() {
        assert_eq!(size(800, 1_200), "80 x 120 cm");
        assert_eq!(size(805, 1_200), "80.5 x 120 cm");
    }
}
