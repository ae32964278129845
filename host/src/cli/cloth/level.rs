//! A level of confidence, as typed.

use host_core::stats::Level;

/// A level as typed.
pub fn level(words: &str) -> Result<Level, String> {
    words
        .parse::<f64>()
        .ok()
        .and_then(Level::new)
        .ok_or_else(|| "it must be a share above 0 and below 1, such as 0.95".to_owned())
}
