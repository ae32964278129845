//! Exit codes; the README's table is checked against this file.

use std::process::ExitCode;

/// All is well; nothing is due.
pub const FINE: u8 = 0;
/// The program could not do what was asked, for a reason that has no code of its own.
pub const FAILED: u8 = 1;
/// The command was not understood.
pub const USAGE: u8 = 2;
/// `due`: at least one care task is due now.
pub const CARE_IS_DUE: u8 = 3;
/// The logger was not found, fell silent or refused.
pub const LOGGER: u8 = 4;
/// The database could not be opened, read or written.
pub const DATABASE: u8 = 5;
/// A file, table or value that was given cannot be used.
pub const BAD_INPUT: u8 = 6;
/// `verify`: something that was kept was changed afterwards, or the record does not reach the head that was given.
pub const RECORD_CHANGED: u8 = 7;

/// The code as the process returns it.
pub fn code(number: u8) -> ExitCode {
    ExitCode::from(number)
}

/// The exit code of an error by its own code, whose first part says what failed.
pub fn of(code: &str) -> u8 {
    match code {
        "machine::none" | "logger::none" => FAILED,
        "logger::which" | "logger::unknown" | "pull::machine" => BAD_INPUT,
        _ if code.starts_with("db::") => DATABASE,
        _ if code.starts_with("logger::") || code.starts_with("pull::") => LOGGER,
        _ => BAD_INPUT,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_error_ends_the_program_as_its_code_says() {
        for (code, exit) in [
            ("db::open", DATABASE),
            ("logger::silent", LOGGER),
            ("pull::still_making", LOGGER),
            ("pull::machine", BAD_INPUT),
            ("logger::which", BAD_INPUT),
            ("logger::none", FAILED),
            ("machine::none", FAILED),
            ("machine::unknown", BAD_INPUT),
            ("care::entry", BAD_INPUT),
        ] {
            assert_eq!(of(code), exit, "{code}");
        }
    }
}
