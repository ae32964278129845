//! Comma-separated values, for a spreadsheet.

/// The table of these rows. Its texts went through [`safe`]; a number stays a number, below zero too.
///
/// # Errors
/// When it cannot be written, which it has no reason to.
pub fn csv<const N: usize>(columns: [&str; N], rows: &[[String; N]]) -> Result<String, csv::Error> {
    let mut table = csv::Writer::from_writer(Vec::new());
    table.write_record(columns)?;
    for row in rows {
        table.write_record(row)?;
    }
    let bytes = table.into_inner().map_err(|error| error.into_error())?;
    Ok(String::from_utf8_lossy(&bytes).into_owned())
}

/// A text that no spreadsheet takes for a formula: an apostrophe in front has it shown as text.
#[must_use]
pub fn safe(text: &str) -> String {
    let is_formula = text.starts_with(['=', '+', '-', '@', '\t', '\r', '\n', '＝', '＋', '－', '＠']);
    if is_formula { format!("'{text}") } else { text.to_owned() }
}

#[cfg(test)]
mod tests {
    use super::safe;

    #[test]
    fn what_begins_like_a_formula_is_made_text() {
        let said = ["=1+1", "+49", "-5", "@sum", "\tx", "\rx", "Fox", "a=b", ""].map(safe);
        assert_eq!(said, ["'=1+1", "'+49", "'-5", "'@sum", "'\tx", "'\rx", "Fox", "a=b", ""]);
    }
}
