//! What a cell of a table may hold. Every complaint names the line.

use super::column_table::{TableError, at, shown};

/// A number that is not endless.
///
/// # Errors
/// Names the line otherwise.
pub fn number(cell: &str, column: &str, line: u64) -> Result<f64, TableError> {
    cell.parse::<f64>().ok().filter(|number| number.is_finite()).ok_or_else(|| {
        let comma = if cell.contains(',') { ", written with a point" } else { "" };
        at(line, format!("{column} is \"{}\"; it must be a number{comma}", shown(cell)))
    })
}

/// A number, not below zero and not endless.
///
/// # Errors
/// Names the line otherwise.
pub fn not_negative(cell: &str, column: &str, line: u64) -> Result<f64, TableError> {
    let number = number(cell, column, line)?;
    if number < 0.0 {
        return Err(at(line, format!("{column} is {number}; it cannot be below zero")));
    }
    // Minus zero is zero.
    Ok(number.abs())
}

/// Hours above zero; `why` says why zero cannot be.
///
/// # Errors
/// Names the line otherwise.
pub fn hours_above_zero(cell: &str, line: u64, why: &str) -> Result<f64, TableError> {
    let hours = not_negative(cell, "hours", line)?;
    if hours == 0.0 {
        return Err(at(line, format!("hours is 0; {why}")));
    }
    Ok(hours)
}

/// A count: a whole number, zero or more.
///
/// # Errors
/// Names the line otherwise.
pub fn whole(cell: &str, column: &str, line: u64) -> Result<u64, TableError> {
    cell.parse::<u64>().map_err(|_| {
        at(line, format!("{column} is \"{}\"; it must be a whole number, zero or more", shown(cell)))
    })
}

/// Yes or no, written as 1 or 0.
///
/// # Errors
/// Names the line otherwise.
pub fn yes_or_no(cell: &str, column: &str, line: u64) -> Result<bool, TableError> {
    match cell.parse::<f64>() {
        Ok(1.0) => Ok(true),
        Ok(0.0) => Ok(false),
        _ => Err(at(line, format!("{column} is \"{}\"; it must be 1 or 0", shown(cell)))),
    }
}

/// A value beside the table that must be above zero.
///
/// # Errors
/// Names it otherwise.
pub fn above_zero(value: f64, what: &'static str) -> Result<f64, TableError> {
    if value.is_finite() && value > 0.0 {
        Ok(value)
    } else {
        Err(TableError::Value { what, given: value.to_string() })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use rstest::rstest;

    #[rstest]
    #[case::text("many", "line 7: hours is \"many\"; it must be a number")]
    #[case::comma("2,5", "line 7: hours is \"2,5\"; it must be a number, written with a point")]
    #[case::negative("-1", "line 7: hours is -1; it cannot be below zero")]
    #[case::not_a_number("NaN", "line 7: hours is \"NaN\"; it must be a number")]
    #[case::endless("1e999", "line 7: hours is \"1e999\"; it must be a number")]
    #[case::zero("0.0", "line 7: hours is 0; it never ran")]
    #[case::minus_zero("-0", "line 7: hours is 0; it never ran")]
    fn bad_hours_are_told_with_their_line(#[case] cell: &str, #[case] words: &str) {
        assert_eq!(hours_above_zero(cell, 7, "it never ran").unwrap_err().to_string(), words);
    }

    #[test]
    fn counts_are_whole_and_believable() {
        assert_eq!(whole("12", "tears", 2), Ok(12));
        for cell in ["-1", "0.5", "99999999999999999999", "one"] {
            let told = whole(cell, "tears", 2).unwrap_err().to_string();
            assert_eq!(told, format!("line 2: tears is \"{cell}\"; it must be a whole number, zero or more"));
        }
    }

    #[test]
    fn yes_and_no_are_one_and_zero_only() {
        assert_eq!(
            ["1", "0", "1.0", "0.0"].map(|cell| yes_or_no(cell, "dirty", 2).unwrap()),
            [true, false, true, false]
        );
        for cell in ["2", "yes", "-1", "0.5", "NaN"] {
            let told = yes_or_no(cell, "dirty", 2).unwrap_err().to_string();
            assert_eq!(told, format!("line 2: dirty is \"{cell}\"; it must be 1 or 0"));
        }
    }

    #[test]
    fn costs_and_curves_are_above_zero() {
        assert_eq!(above_zero(2.5, "the planned cost"), Ok(2.5));
        for value in [0.0, -1.0, f64::NAN, f64::INFINITY] {
            assert!(matches!(above_zero(value, "the planned cost"), Err(TableError::Value { .. })));
        }
    }
}
