//! How running comes to be counted, for hints and remedies.

/// The command by which running comes to be counted: read from a logger, or typed in where there is none.
#[must_use]
pub const fn how_to_count(is_without_logger: bool) -> &'static str {
    if is_without_logger { "needlehours worked 1h40" } else { "needlehours pull" }
}
