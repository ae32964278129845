//! One JSON object on standard output: the report struct with a `schema` version beside its keys.

use serde::Serialize;
use serde_json::Value;

/// The version of every `--json` object; grows when a key changes its meaning or goes away.
pub const SCHEMA: u32 = 1;

/// The report as one object. Numbers that are infinite or do not exist become `null`.
///
/// # Errors
/// When the report is not an object, which is a mistake of the programmer.
pub fn object<R: Serialize>(report: &R) -> Result<String, serde_json::Error> {
    let mut value = serde_json::to_value(report)?;
    if let Value::Object(keys) = &mut value {
        keys.insert("schema".to_owned(), Value::from(SCHEMA));
    }
    serde_json::to_string_pretty(&value)
}
