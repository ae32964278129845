//! Numbers and dates in plain words, the same everywhere.

pub(in crate::view) mod figures;
pub mod json;
pub mod page;
pub mod sheet;
pub mod table;
pub mod values;

use std::fmt::Write as _;

pub use figures::{about, thousands};
use jiff::Timestamp;
use jiff::civil::Date;
use jiff::tz::TimeZone;
pub use page::html_of;
use shared_types::UtcMillis;

pub use crate::app::typed::lists::{all_of, one_of};
use host_core::records::bands::KnobBand;
use host_core::records::when::When;
use host_core::sessions::holder::Basis;
use host_core::sessions::session_list::{CountedTo, PartLine, SessionLine};
use host_core::stats::MINUTE_MS;
use host_core::studio::RugState;

/// A span of time as "3 h 20 min", "12 min", "40 s" or "less than a second"; rounded to the nearest minute, below a minute to
/// the nearest second, halves up. What ran is never shown as nothing.
#[must_use]
pub fn run_time(ms: u64) -> String {
    let nearest = |unit: u64| ms / unit + u64::from(ms % unit >= unit.div_ceil(2));
    let (seconds, minutes) = (nearest(1_000), nearest(MINUTE_MS));
    if seconds < 60 {
        return if ms > 0 && seconds == 0 { "less than a second".to_owned() } else { format!("{seconds} s") };
    }
    match (minutes / 60, minutes % 60) {
        (0, minutes) => format!("{minutes} min"),
        (hours, 0) => format!("{} h", thousands(hours)),
        (hours, minutes) => format!("{} h {minutes} min", thousands(hours)),
    }
}

/// What there is to say where lines, each rounded for itself, do not add up to the sum that stands below them.
#[must_use]
pub fn rounding_note(parts_ms: impl IntoIterator<Item = u64>, sum_ms: u64) -> Option<&'static str> {
    // As it stands on screen: to the second below a minute, else to the minute.
    let shown = |ms: u64| {
        let seconds = ms.saturating_add(500) / 1_000;
        if seconds < 60 { seconds } else { ms.saturating_add(MINUTE_MS / 2) / MINUTE_MS * 60 }
    };
    let together = parts_ms.into_iter().fold(0_u64, |sum, part| sum.saturating_add(shown(part)));
    (together.abs_diff(shown(sum_ms)) >= 60)
        .then_some("Each time is rounded for itself, so the lines can differ from the sum by some minutes; the sum is right.")
}

/// A count with its noun: "1 tear", "3 tears".
#[must_use]
pub fn count(number: u64, one: &str, many: &str) -> String {
    format!("{} {}", thousands(number), if number == 1 { one } else { many })
}

/// The lines of a text, none longer than a table; what goes on stands further in than its line.
#[must_use]
pub fn wrapped(text: &str) -> String {
    let mut wrapped = String::new();
    for line in text.lines() {
        let begin: String = line.chars().take_while(|letter| *letter == ' ').collect();
        let further = format!("{begin}  ");
        let options = textwrap::Options::new(table::WIDTH.into())
            .subsequent_indent(&further)
            .word_separator(textwrap::WordSeparator::AsciiSpace)
            .word_splitter(textwrap::WordSplitter::NoHyphenation)
            .wrap_algorithm(textwrap::WrapAlgorithm::FirstFit)
            .break_words(false);
        for part in textwrap::wrap(line, options) {
            push(&mut wrapped, format_args!("{part}"));
        }
    }
    wrapped
}

/// How sure the ranges of an answer are, said once in it: "Each range is right 95 times in 100."
#[must_use]
pub fn sure(level: f64) -> String {
    format!("Each range is right {}.", times_in_100(level))
}

/// "95 times in 100".
#[must_use]
pub fn times_in_100(level: f64) -> String {
    format!("{} times in 100", figures::decimal(100.0 * level, 1))
}

/// How many things a list holds, with their noun.
#[must_use]
pub fn count_of<T>(list: &[T], one: &str, many: &str) -> String {
    count(u64::try_from(list.len()).unwrap_or(u64::MAX), one, many)
}

/// A text in so many letters; of a longer one the beginning, and a mark that it goes on.
#[must_use]
pub fn cut(text: &str, most: usize) -> String {
    if text.chars().count() <= most {
        return text.to_owned();
    }
    text.chars().take(most.saturating_sub(1)).chain(['…']).collect()
}

/// Adds a line to a text.
pub fn push(text: &mut String, line: std::fmt::Arguments<'_>) {
    // Writing to a string cannot fail.
    if writeln!(text, "{line}").is_err() {
        text.push('\n');
    }
}

/// "4 Mar 2026", "4 Mar to 9 Mar 2026" or "30 Dec 2025 to 2 Jan 2026".
#[must_use]
pub fn days(first: Option<Date>, last: Option<Date>) -> String {
    let day = |day: Date| day.strftime("%-d %b %Y").to_string();
    match (first, last) {
        (Some(first), Some(last)) if first == last => day(first),
        (Some(first), Some(last)) if first.year() == last.year() => {
            format!("{} to {}", first.strftime("%-d %b"), day(last))
        }
        (Some(first), Some(last)) => format!("{} to {}", day(first), day(last)),
        (Some(only), _) | (None, Some(only)) => day(only),
        (None, None) => "date not known".to_owned(),
    }
}

/// A moment as "Mon 2 Mar 2026 09:05", with its limits where it is not known better.
#[must_use]
pub fn moment(when: When, zone: &TimeZone) -> String {
    match when {
        When::Dated(at) => clock(at, zone),
        When::Between { earliest, latest } => {
            format!("between {} and {}", clock(earliest, zone), clock(latest, zone))
        }
        When::Undated => "at a time that is not known".to_owned(),
    }
}

/// How much of what a picture or a sum shows was typed in; nothing where nothing was.
#[must_use]
pub fn typed_in(run_ms: u64) -> String {
    if run_ms == 0 { String::new() } else { format!(" {} of it typed in.", run_time(run_ms)) }
}

/// How the running of a picture is known: "Typed in" where all of it was.
#[must_use]
pub const fn known_by(run_ms: u64, entered_ms: u64) -> &'static str {
    if run_ms > 0 && entered_ms == run_ms { "Typed in" } else { "Measured" }
}

/// A known moment.
#[must_use]
pub fn clock(at: UtcMillis, zone: &TimeZone) -> String {
    Timestamp::from_millisecond(at.0).map_or_else(
        |_| "at a time that is not known".to_owned(),
        |at| at.to_zoned_datetime(zone.clone()).strftime("%a %-d %b %Y %H:%M").to_string(),
    )
}

/// When a session began: a moment, a day, two limits, or "date not known".
#[must_use]
pub fn session_start(session: &SessionLine, zone: &TimeZone) -> String {
    match (session.starts_earliest_utc_ms, session.starts_latest_utc_ms, session.day) {
        (Some(earliest), Some(latest), _) if earliest == latest => clock(UtcMillis(earliest), zone),
        (Some(_), Some(_), Some(day)) => day.strftime("%a %-d %b %Y").to_string(),
        (Some(earliest), Some(latest), None) => {
            moment(When::Between { earliest: UtcMillis(earliest), latest: UtcMillis(latest) }, zone)
        }
        _ => "date not known".to_owned(),
    }
}

/// To whom a stretch is counted: "Fox", "Fox (assumed)", "care", "nobody: two rugs were on the frame".
#[must_use]
pub fn counted_to(part: &PartLine) -> String {
    let whose = match part.counted_to {
        CountedTo::Rug => part.rug.clone().unwrap_or_default(),
        CountedTo::Care => "care".to_owned(),
        CountedTo::Nobody | CountedTo::Undated => "no rug yet".to_owned(),
    };
    match part.because {
        Basis::Explicit | Basis::Confirmed => whose,
        Basis::Assumed => format!("{whose} (assumed)"),
        Basis::NothingActive => format!("{whose}: no rug was on the frame"),
        Basis::SeveralActive => format!("{whose}: more than one rug was on the frame"),
        Basis::LentOut => format!("{whose}: the machine was lent out"),
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
        RugState::Delivered => "delivered",
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
    format!("{} x {} cm", figures::tenths(width_mm), figures::tenths(height_mm))
}

/// "are none", "is 1 week" or "are 3 weeks".
#[must_use]
pub fn so_many_weeks(weeks: usize) -> String {
    match u64::try_from(weeks).unwrap_or(u64::MAX) {
        0 => "are none".to_owned(),
        1 => "is 1 week".to_owned(),
        weeks => format!("are {}", count(weeks, "week", "weeks")),
    }
}

/// A name as it is typed into a command: within quotation marks where it has a blank.
#[must_use]
pub fn argument(name: &str) -> String {
    if name.contains(char::is_whitespace) { format!("\"{name}\"") } else { name.to_owned() }
}

/// With a capital first letter.
#[must_use]
pub fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

/// The currency of amounts, in words where the maker named none.
#[must_use]
pub fn currency(said: Option<&str>) -> &str {
    said.unwrap_or("your own currency")
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;
    use jiff::tz::offset;

    #[test]
    fn run_times_are_rounded_to_the_nearest_and_never_to_nothing() {
        let said = [
            (0, "0 s"),
            (1, "less than a second"),
            (499, "less than a second"),
            (500, "1 s"),
            (1_499, "1 s"),
            (59_499, "59 s"),
            (59_500, "1 min"),
            (59_900, "1 min"),
            (60_000, "1 min"),
            (89_999, "1 min"),
            (90_000, "2 min"),
            (3_569_999, "59 min"),
            (3_570_000, "1 h"),
            (3_600_000, "1 h"),
            (12_000_000, "3 h 20 min"),
            (7_199_999, "2 h"),
            (7_200_000_000, "2,000 h"),
        ];
        for (ms, words) in said {
            assert_eq!(run_time(ms), words, "{ms}");
        }
        assert!(run_time(u64::MAX).ends_with(" min"));
    }

    #[test]
    fn lines_that_do_not_add_up_to_their_sum_are_explained() {
        // By hand: 90 s are shown as 2 min each, their sum of 3 min as 3.
        assert!(rounding_note([90_000, 90_000], 180_000).is_some());
        assert!(rounding_note([60_000, 120_000], 180_000).is_none());
        // 40 s and 50 s stand as such, their sum as 2 min.
        assert!(rounding_note([40_000, 50_000], 90_000).is_none());
        assert!(rounding_note([], 0).is_none());
    }

    #[test]
    fn thousands_are_set_apart() {
        assert_eq!([0, 999, 1_000, 1_234_567].map(thousands), ["0", "999", "1,000", "1,234,567"]);
        let strokes = [0, 1, 2_000].map(|number| count(number, "stroke", "strokes"));
        assert_eq!(strokes, ["0 strokes", "1 stroke", "2,000 strokes"]);
    }

    #[test]
    fn moments_are_told_on_the_makers_clock() {
        // 2026-03-04 is a Wednesday, 20,516 days after 1970-01-01; two hours east of UTC.
        let at = UtcMillis((20_516 * 24 + 16) * 3_600_000);
        assert_eq!(clock(at, &TimeZone::fixed(offset(2))), "Wed 4 Mar 2026 18:00");
        assert_eq!(days(Some(date(2026, 3, 4)), Some(date(2026, 3, 9))), "4 Mar to 9 Mar 2026");
        let over_new_year = days(Some(date(2025, 12, 30)), Some(date(2026, 1, 2)));
        assert_eq!(over_new_year, "30 Dec 2025 to 2 Jan 2026");
        assert_eq!(days(Some(date(2026, 3, 4)), Some(date(2026, 3, 4))), "4 Mar 2026");
        assert_eq!(days(None, None), "date not known");
    }

    #[test]
    fn a_long_line_goes_on_further_in_and_no_word_is_broken() {
        let long = format!("  {} {}", "a".repeat(70), "b-".repeat(60));
        let text = wrapped(&format!("one\n\n{long}\n"));
        let lines: Vec<&str> = text.lines().collect();
        assert_eq!(lines.len(), 4, "{text}");
        assert_eq!((lines[0], lines[1], lines[3].trim_start()), ("one", "", "b-".repeat(60).as_str()));
        assert!(lines[2].starts_with("  a") && lines[3].starts_with("    b"), "{text}");
    }

    #[test]
    fn sizes_are_centimetres() {
        assert_eq!(size(800, 1_200), "80 x 120 cm");
        assert_eq!(size(805, 1_200), "80.5 x 120 cm");
    }
}
