//! How loggers and logs are called in messages.

use shared_types::{LogId, LoggerId};

/// Names of logs, for messages.
#[must_use]
pub fn log_name(log: LogId) -> String {
    format!("{:08x}", log.0)
}

/// Names of loggers, for messages.
#[must_use]
pub fn logger_name(logger: LoggerId) -> String {
    format!("{:016x}", logger.0)
}
