//! Whole numbers above the largest that the database knows by itself.

use rusqlite::Row;

/// A 64-bit number without sign, kept bit for bit in a signed column.
///
/// # Errors
/// As SQLite.
pub fn bits(row: &Row<'_>, column: usize) -> rusqlite::Result<u64> {
    row.get::<_, i64>(column).map(i64::cast_unsigned)
}
