//! Numbers with as many figures as count.

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

/// Rounded to a whole number, with its thousands apart.
pub fn whole(number: f64) -> String {
    let digits = format!("{number:.0}");
    digits.parse().map_or(digits, thousands)
}

/// So many places after the point at most, idle noughts left out.
pub fn decimal(number: f64, places: usize) -> String {
    let fixed = format!("{number:.places$}");
    if fixed.contains('.') { fixed.trim_end_matches('0').trim_end_matches('.').to_owned() } else { fixed }
}

/// A whole number of tenths as a decimal number.
pub fn tenths(number: u32) -> String {
    match number % 10 {
        0 => (number / 10).to_string(),
        rest => format!("{}.{rest}", number / 10),
    }
}

/// A number with two figures that count, for sentences that begin with "about".
#[must_use]
pub fn about(number: f64) -> String {
    if !number.is_finite() {
        return "very many".to_owned();
    }
    if number < 9.95 {
        return decimal(number, 1);
    }
    let unit = 10_f64.powi(digits_before_point(number).saturating_sub(2).max(0));
    whole((number / unit).round() * unit)
}

fn digits_before_point(number: f64) -> i32 {
    i32::try_from(format!("{number:.0}").len()).unwrap_or(0)
}

/// Three figures; very large and very small numbers by powers of ten.
pub fn figures(number: f64) -> String {
    counting(number, 3)
}

/// Two figures, for what is known from a few events only.
pub fn two_figures(number: f64) -> String {
    counting(number, 2)
}

/// Whole numbers keep all of theirs, and idle noughts after the point are left out.
fn counting(number: f64, figures: usize) -> String {
    let size = number.abs();
    let more = figures.saturating_sub(1);
    if number == 0.0 {
        return "0".to_owned();
    }
    if !(0.001..1e9).contains(&size) {
        return format!("{number:.more$e}");
    }
    if size >= 999.5 {
        let sign = if number < 0.0 { "-" } else { "" };
        return format!("{sign}{}", whole(size));
    }
    // Taken after rounding: 99.96 is a hundred.
    let rounded = format!("{size:.more$e}");
    let power = rounded.split_once('e').and_then(|(_, power)| power.parse::<isize>().ok()).unwrap_or(0);
    let places = more.checked_add_signed(-power).unwrap_or(0);
    decimal(number, places)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn three_figures_count() {
        let told = [
            0.0,
            493.047,
            12_345.6,
            5.0,
            0.003_462_04,
            60.0,
            1.7208,
            606.528,
            1e12,
            2.5e-5,
            -75.1346,
            999.7,
            99.96,
            0.099_96,
        ];
        assert_eq!(
            told.map(figures),
            [
                "0", "493", "12,346", "5", "0.00346", "60", "1.72", "607", "1.00e12", "2.50e-5", "-75.1",
                "1,000", "100", "0.1"
            ]
        );
    }

    #[test]
    fn two_figures_count_where_little_is_known() {
        let told = [0.0, 0.083_33, 0.002_11, 0.36, 12.0, 1.234, 493.047, 0.004_01, 0.996];
        assert_eq!(told.map(two_figures), ["0", "0.083", "0.0021", "0.36", "12", "1.2", "493", "0.004", "1"]);
    }

    #[test]
    fn counts_are_rounded_to_two_figures_that_count() {
        let spoken = [0.42, 5.0, 12.4, 99.6, 12_345.0, 987_654.0].map(about);
        assert_eq!(spoken, ["0.4", "5", "12", "100", "12,000", "990,000"]);
        assert_eq!(about(f64::INFINITY), "very many");
    }
}
