//! Parses, calls, and turns the outcome into an exit code.

use std::process::ExitCode;

fn main() -> ExitCode {
    host::cli::main()
}
