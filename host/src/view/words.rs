//! Numbers and moments in the maker's words.

use jiff::Timestamp;
use jiff::tz::TimeZone;
use shared_types::UtcMillis;

use crate::core::when::When;

/// Run time as "3 h 20 min", "12 min" or "40 s"; rounded down.
#[must_use]
pub fn run_time(ms: u64) -> String {
    let (seconds, minutes) = (ms / 1000, ms / 60_000);
    match (minutes / 60, minutes % 60) {
        (0, 0) => format!("{seconds} s"),
        (0, minutes) => format!("{minutes} min"),
        (hours, 0) => format!("{hours} h"),
        (hours, minutes) => format!("{hours} h {minutes} min"),
    }
}

/// A count with its noun: "1 tear", "3 tears".
#[must_use]
pub fn count(number: u64, one: &str, many: &str) -> String {
    format!("{} {}", thousands(number), if number == 1 { one } else { many })
}

/// A number with its thousands apart: 1,234,567.
#[must_use]
pub fn thousands(number: u64) -> String {
    let digits = number.to_string();
    let mut apart = String::new();
    for (place, digit) in digits.chars().enumerate() {
        if place > 0 && (digits.len() - place).is_multiple_of(3) {
            apart.push(',');
        }
        apart.push(digit);
    }
    apart
}

/// A number with two figures that count, for sentences that begin with "about".
#[must_use]
pub fn about(number: f64) -> String {
    if !number.is_finite() {
        return "very many".to_owned();
    }
    if number < 9.95 {
        return format!("{number:.1}").trim_end_matches(".0").to_owned();
    }
    let unit = 10_f64.powi(digits_before_point(number).saturating_sub(2).max(0));
    let rounded = format!("{:.0}", (number / unit).round() * unit);
    rounded.parse::<u64>().map_or(rounded, thousands)
}

fn digits_before_point(number: f64) -> i32 {
    i32::try_from(format!("{number:.0}").len()).unwrap_or(0)
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

/// A known moment.
#[must_use]
pub fn clock(at: UtcMillis, zone: &TimeZone) -> String {
    Timestamp::from_millisecond(at.0).map_or_else(
        |_| "at a time that is not known".to_owned(),
        |at| at.to_zoned_datetime(zone.clone()).strftime("%a %-d %b %Y %H:%M").to_string(),
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn run_times_read_as_a_maker_says_them() {
        let spoken = [0, 59_999, 60_000, 3_600_000, 12_000_000].map(run_time);
        assert_eq!(spoken, ["0 s", "59 s", "1 min", "1 h", "3 h 20 min"]);
    }

    #[test]
    fn counts_are_rounded_to_two_figures_that_count() {
        let spoken = [0.42, 5.0, 12.4, 99.6, 12_345.0, 987_654.0].map(about);
        assert_eq!(spoken, ["0.4", "5", "12", "100", "12,000", "990,000"]);
        assert_eq!(about(f64::INFINITY), "very many");
    }

    #[test]
    fn a_moment_is_told_on_the_makers_clock() {
        // 20,514 days after 1970-01-01 is Monday 2 March 2026; one hour east of UTC.
        let at = UtcMillis(20_514 * 86_400_000 + 8 * 3_600_000);
        assert_eq!(clock(at, &TimeZone::fixed(jiff::tz::offset(1))), "Mon 2 Mar 2026 09:00");
    }
}
